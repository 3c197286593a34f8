"""The end of a batch: finished at once or in parts, given up, taken back; and the list of defects."""

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Count, Sum
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from batches.fetch import batch_of
from batches.models import Batch, Defect, Flaw, Outcome
from batches.output.yields import OutputPart, came_out, parts_of, yield_of
from batches.planning import plans
from batches.planning.planning import plan_of_batch
from batches.production import finishing, left_over, recounting, runs
from batches.production.forms_finishing import DefectForm, FinishForm, GiveUpForm
from batches.production.meanwhile import CameMeanwhile, batch_words, check_came_meanwhile
from batches.production.outcome_context import drawn_into_the_pot
from batches.production.views import with_reason
from inventory.ledger import books, closing
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web.filters import text_of, whole_number
from studio.web.requests import StudioRequest, answer, sign, today
from studio.web.submissions import accepted, once


def _standing(batch: Batch) -> list[Outcome]:
    """What came out so far, in order."""
    outcomes = batch.outcomes.standing().select_related("posting__reversal", "lot__item")
    return list(outcomes.prefetch_related("flaws").order_by("pk"))


@allow(see=MAKERS, do=MAKERS)
def batch_finish(request: StudioRequest, code: str) -> HttpResponse:
    """Say what came out, all of it or a part, and put it on the shelf."""
    batch = batch_of(code)
    if request.method == "POST" and (url := accepted(request)):
        return redirect(url)
    if not batch.is_open and request.method != "POST":
        messages.warning(request, f"Batch {batch.spaced_code} is {batch.get_state_display().lower()}.")
        return redirect(batch)
    earlier = _standing(batch)
    so_far = yield_of(batch, came_out(earlier), drawn_into_the_pot(batch))
    form = FinishForm(
        request.POST or None,
        initial={
            "seen": max((line.posting_id for line in earlier), default=0),
            "happened_at": _ended_before(batch),
        },
        batch=batch,
        earlier=so_far.made,
        melt_ug=so_far.melt_ug,
        recovered_ug=sum(
            line.quantity
            for line in earlier
            if line.result == Outcome.Result.MELT and line.emptied_id is None
        ),
        parts=left_over.set_out(batch),
        melt_unit=request.studio.mass_unit,
        person=request.user,
    )
    if not batch.is_open:
        _over_meanwhile(form, earlier)
    elif request.method == "POST" and _is_sure(form, batch):
        done = (
            "is finished and on the shelf"
            if form.cleaned_data["is_last"]
            else "goes on; this part is on the shelf"
        )
        if url := _ended(request, form, lambda: _finish(request, batch, form)):
            messages.success(request, f"Batch {batch.spaced_code} {done}.")
            return redirect(url)
    plan = plan_of_batch(batch, on=today(), drawn=plans.drawn_by_line(batch))
    context = {
        "form": form,
        "batch": batch,
        "undrawn": [need for need in plan.needs if need.is_untouched],
        "so_far": so_far,
        "theoretical": so_far.theoretical_words(batch.item),
        "parts": parts_of(earlier),
        "noted": batch.labour.aggregate(minutes=Sum("minutes"))["minutes"],
        "may_add_item": not form.made_by_weight.exists(),
    }
    return answer(request, "batches/batch_finish.html", context, refused=form.is_bound)


def _is_sure(form: FinishForm, batch: Batch) -> bool:
    """Whether the form may be taken; what a colleague recorded meanwhile is asked about before the figures are judged,
    as they are judged together with it."""
    form.is_valid()
    try:
        if (seen := _seen(form)) is not None:
            check_came_meanwhile(batch, seen)
    except CameMeanwhile as error:
        form.errors.clear()
        _told_meanwhile(form, str(error))
    return form.is_valid()


def _seen(form: FinishForm) -> int | None:
    """The latest output the page showed; None once it was answered that this came beside what came meanwhile."""
    data = form.cleaned_data
    return None if data.get("as_well") else data.get("seen")


def _told_meanwhile(form: FinishForm, words: str) -> None:
    form.meanwhile = True
    form.add_error(NON_FIELD_ERRORS, words)


def _over_meanwhile(form: FinishForm, earlier: list[Outcome]) -> None:
    """Say that a colleague ended the batch while this was typed; what was typed stays on the page."""
    form.is_valid()
    form.errors.clear()
    batch, words = form.batch, ", ".join(batch_words(form.batch, line) for line in earlier)
    by = f" by {earlier[-1].posting.by}" if earlier else ""
    form.add_error(
        NON_FIELD_ERRORS,
        f"Meanwhile the batch was ended{by}: it is {batch.get_state_display().lower()}, with {words or 'no output'}. "
        "Nothing of yours was saved. If something is missing there, open the batch again on its page.",
    )


def _ended_before(batch: Batch) -> datetime | None:
    """When a batch that was opened again had ended, to the next minute: it is asked for what came out then."""
    end = batch.ends.order_by("-pk").first()
    if end is None or end.sign > 0 or end.happened_at > timezone.now():
        return None
    when = (end.happened_at + timedelta(seconds=59)).replace(second=0, microsecond=0)
    return timezone.localtime(min(when, timezone.now()))


def _finish(request: StudioRequest, batch: Batch, form: FinishForm) -> str:
    data = form.cleaned_data
    signature = sign(request, happened_at=data["happened_at"])
    left_over.settle(batch.pk, data["left"], reason=data["left_reason"], signature=signature)
    finishing.finish(
        batch.pk,
        data["result"],
        signature=signature,
        without=data["without"],
        last=data["is_last"],
        seen=_seen(form),
    )
    for person, step, minutes in data["worked"]:
        runs.note_labour(
            batch,
            person_id=person.pk,
            step=step,
            minutes=minutes,
            worked_on=timezone.localdate(signature.happened_at),
            signature=signature,
        )
    return batch.get_absolute_url()


def _ended(request: StudioRequest, form: Any, act: Callable[[], str]) -> str:
    """Do it once; "" when it was refused, with the sentence on the form."""
    try:
        return once(request, act)
    except CameMeanwhile as error:
        _told_meanwhile(form, str(error))
    except finishing.NothingDrawn as error:
        form.nothing_drawn = True
        form.add_error("without", str(error))
    except finishing.MoreThanDrawn as error:
        form.add_error("remelt_amount" if error.of_remelt else "melt_amount", str(error))
    except books.WrongTime as error:
        form.add_error("happened_at", str(error))
    except (plans.BatchError, books.BookError) as error:
        form.add_error(NON_FIELD_ERRORS, str(error))
    return ""


@allow(see=MAKERS, do=MAKERS)
def batch_give_up(request: StudioRequest, code: str) -> HttpResponse:
    """Give up a run of which nothing more will come, and keep the melt that is good again."""
    batch = batch_of(code)
    if not batch.is_open:
        messages.warning(request, f"Batch {batch.spaced_code} is {batch.get_state_display().lower()}.")
        return redirect(batch)
    form = GiveUpForm(request.POST or None, batch=batch, melt_unit=request.studio.mass_unit)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        signature = sign(request, happened_at=data["happened_at"], reason=data["reason"])

        def act() -> str:
            return finishing.abandon(batch.pk, data["recovered"], signature=signature).get_absolute_url()

        if url := _ended(request, form, act):
            messages.success(request, f"Batch {batch.spaced_code} is given up.")
            return redirect(url)
    context = {
        "form": form,
        "batch": batch,
        "melt_ug": drawn_into_the_pot(batch),
        "may_add_item": not form.made_by_weight.exists(),
    }
    return answer(request, "batches/batch_give_up.html", context, refused=form.is_bound)


OPEN_AGAIN = {
    "heading": "Open the batch again",
    "what": "What came out is taken off the shelf again by a reversal, and the batch is in progress. "
    "Enter what really came out afterwards; it keeps its lot and the code on the jars. This works while all of it is "
    "still on the shelf.",
    "button": "Open it again",
    "done": "The batch is open again.",
}
LAST_PART = {
    "heading": "Take back the last part",
    "what": "What came out last is taken off the shelf again by a reversal; the parts before stay. Enter what really "
    "came out afterwards. This works while all of the part is still on the shelf.",
    "button": "Take it back",
    "done": "The last part is taken back.",
}
TAKEN_UP = {
    "heading": "Take the run up again",
    "what": "The batch is in progress again, with all that was drawn into it. Melt that was recovered goes back into "
    "it; this works while all of that is still on the shelf.",
    "button": "Take it up again",
    "done": "The batch is in progress again.",
}


@allow(see=MAKERS, do=MAKERS)
def batch_reopen(request: StudioRequest, code: str) -> HttpResponse:
    """Undo the finishing, its last part, or the giving up."""
    batch = batch_of(code)
    standing = _standing(batch)
    parts = parts_of(standing)
    words = OPEN_AGAIN
    if batch.state == Batch.State.ABANDONED:
        words = TAKEN_UP
    elif len(parts) > 1 or batch.is_open:
        words = LAST_PART
    ended = [outcome.posting.happened_at for outcome in standing] or [
        end.happened_at for end in batch.ends.filter(sign=1)
    ]
    closed = closing.put_right_when(max(ended)) if ended else ""
    gone = recounting.gone(parts[-1].outcomes) if parts else []
    if gone and (url := _recount(request, gone)):
        return redirect(url)
    shown = ", ".join(batch_words(batch, line) for line in parts[-1].outcomes) if parts else ""
    context = {**words, "closed": closed, "gone": gone, "seen": _last(parts), "shown": shown}
    act = partial(finishing.undo_finish, seen=_posted_seen(request))
    return with_reason(request, batch, act, context)


def _last(parts: Sequence[OutputPart]) -> int:
    """The posting of the last part, by key; 0 where nothing stands."""
    return parts[-1].posting.pk if parts else 0


def _posted_seen(request: StudioRequest) -> int:
    """What the page showed as the last part; -1, which none is, where it did not say."""
    seen = whole_number(request.POST.get("seen", ""))
    return -1 if seen is None else seen


def _recount(request: StudioRequest, gone: list[recounting.Gone]) -> str:
    """Where the lot of a count that was wrong is adjusted, with the difference filled in; "" where none was typed or it
    cannot be, with the sentence beside it."""
    for each in gone:
        if (text := text_of(request, f"came-{each.lot.code}", 40)) and (url := each.adjust(text)):
            return url
    return ""


# Defects


@allow(see=EVERYONE)
def defect_list(request: StudioRequest) -> HttpResponse:
    """What goes wrong with a candle, in the studio's own words, and how often each was given."""
    of_scrap = Outcome.objects.standing().exclude(defect="").order_by().values_list("defect")
    of_seconds = Flaw.objects.filter(outcome__posting__reversal=None).order_by().values_list("defect")
    times: Counter[str] = Counter()
    for given in (of_scrap, of_seconds):
        times.update(dict(given.annotate(times=Count("pk"))))
    defects = list(Defect.objects.all())
    known = {defect.words for defect in defects}
    rows = [(defect, times.get(defect.words, 0)) for defect in defects]
    context = {"rows": rows, "others": sorted(set(times) - known)}
    return answer(request, "batches/defect_list.html", context)


def _defect(request: StudioRequest, form: DefectForm, heading: str) -> HttpResponse:
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            form.save()
            return reverse("batches:defect-list")

        return redirect(once(request, act))
    return answer(
        request, "batches/defect_form.html", {"form": form, "heading": heading}, refused=form.is_bound
    )


@allow(see=MAKERS, do=MAKERS)
def defect_add(request: StudioRequest) -> HttpResponse:
    """A new defect."""
    return _defect(request, DefectForm(request.POST or None), "Add a defect")


@allow(see=MAKERS, do=MAKERS)
def defect_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Reword a defect that no yield carries yet, or offer it no longer."""
    defect = get_object_or_404(Defect, pk=pk)
    return _defect(request, DefectForm(request.POST or None, instance=defect), "Change a defect")
