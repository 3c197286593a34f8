"""At the shelf: what was found is written down, lot by lot or many at once, then explained and posted."""

from collections.abc import Callable

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from inventory.counting import counting
from inventory.counting.figures import Finding, findings, tally
from inventory.counting.forms import CountedAtForm, DifferenceForm, LookForm
from inventory.counting.views import count_of, ended
from inventory.ledger.books import WrongTime
from inventory.models import Count, CountLine, Reason
from studio.core.codes import normalise
from studio.people.access import MAKERS, allow
from studio.web.filters import whole_number
from studio.web.requests import StudioRequest, answer, page_of, sign
from studio.web.submissions import once

ROWS_ON_A_PAGE = 25
# The button that keeps the reasons and posts nothing yet.
SAVE = "save"


@allow(see=MAKERS, do=MAKERS)
def count_enter(request: StudioRequest, pk: int) -> HttpResponse:
    """Lots that are still to be counted, many on one page; those left empty wait."""
    count = count_of(pk)
    if not count.is_open:
        return ended(request, count)
    lines = count.lines.select_related("lot__item").by_place()
    if request.method == "POST":
        sent = [line for line in lines if f"lot{line.lot_id}-net" in request.POST]
        rows = [
            LookForm(request.POST, line=line, empty_permitted=True, use_required_attribute=False)
            for line in sent
        ]
        form = CountedAtForm(request.POST)
        refused = [row for row in rows if not row.is_valid()]
        if form.is_valid() and not refused and (url := _enter(request, count, form, rows)):
            return redirect(url)
        page = None
    else:
        page = page_of(request, lines.waiting(), ROWS_ON_A_PAGE)
        rows = [LookForm(line=line, use_required_attribute=False) for line in page]
        form = CountedAtForm()
    context = {"count": count, "rows": rows, "form": form, "page": page}
    return answer(request, "inventory/count_enter.html", context, refused=request.method == "POST")


def _enter(request: StudioRequest, count: Count, form: CountedAtForm, rows: list[LookForm]) -> str | None:
    """Write the rows down, or none; None when one was refused, with the sentence beside it."""
    filled = [row for row in rows if row.is_filled]
    if not filled:
        form.add_error(NON_FIELD_ERRORS, "Type what was found of at least one lot.")
        return None
    by_lot = {row.lot.pk: row for row in filled}

    def act() -> str:
        counting.count_lots(
            count.pk,
            [row.look() for row in filled],
            signature=sign(request, happened_at=form.cleaned_data["counted_at"]),
        )
        return _say_how_far(request, count, set(by_lot))

    return _write_down(request, act, form, lambda lot_id: by_lot.get(lot_id) if lot_id else None)


def _say_how_far(request: StudioRequest, count: Count, lot_ids: set[int]) -> str:
    """Tell what was written and what is left; where to go on."""
    found = findings(count)
    figures = tally(found)
    done = "1 lot is" if len(lot_ids) == 1 else f"{len(lot_ids)} lots are"
    left = f"{figures.not_counted} to go" if figures.not_counted else "that was the last"
    messages.success(request, f"{done} written down; {left}.")
    off = [
        each.line.lot.spaced_code for each in found if each.must_look_again and each.line.lot_id in lot_ids
    ]
    if off:
        messages.warning(request, f"Further off than the tolerance, look again: {', '.join(off)}.")
    return (
        reverse("inventory:count-enter", args=[count.pk]) if figures.not_counted else count.get_absolute_url()
    )


def _write_down(
    request: StudioRequest,
    act: Callable[[], str],
    form: CountedAtForm,
    row_of: Callable[[int | None], Form | None],
) -> str | None:
    """Do it once; None when it was refused, with the sentence beside the row or the time it is about."""
    try:
        return once(request, act)
    except WrongTime as error:
        form.add_error("counted_at", str(error))
    except counting.CannotCount as error:
        row = row_of(error.lot_id)
        (row or form).add_error("net" if row else NON_FIELD_ERRORS, str(error))
    return None


@allow(see=MAKERS, do=MAKERS)
def count_lot(request: StudioRequest, pk: int, code: str) -> HttpResponse:
    """One lot of a count: counted, or looked at once more."""
    count = count_of(pk)
    line = get_object_or_404(
        CountLine.objects.select_related("lot__item"), count=count, lot__code=normalise(code)
    )
    if not count.is_open:
        return ended(request, count)
    row = LookForm(request.POST or None, line=line, prefix="lot")
    form = CountedAtForm(request.POST or None)
    if request.method == "POST" and all([row.is_valid(), form.is_valid()]):
        signature = sign(request, happened_at=form.cleaned_data["counted_at"])

        def act() -> str:
            counting.count_lots(count.pk, [row.look(_seen(request))], signature=signature)
            return _after_look(request, count, line)

        if url := _write_down(request, act, form, lambda lot_id: row):
            return redirect(url)
    found = next(each for each in findings(count) if each.line.pk == line.pk)
    context = {
        "count": count,
        "found": found,
        "line": found.line,
        "lot": found.line.lot,
        "row": row,
        "form": form,
        "rows": [row],
        "seen": "" if found.line.counted is None else str(found.line.counted),
        "hides": count.blind and not found.is_counted,
    }
    return answer(request, "inventory/count_lot.html", context, refused=request.method == "POST")


def _seen(request: StudioRequest) -> int | None:
    """The figure the page showed before; -1, which is never one, when it was tampered with."""
    text = request.POST.get("seen", "")
    number = whole_number(text, 19)
    return (-1 if number is None else number) if text else None


def _after_look(request: StudioRequest, count: Count, line: CountLine) -> str:
    """Back to the count; or here again, when the lot is further off than it may be."""
    found = next(each for each in findings(count) if each.line.pk == line.pk)
    if found.must_look_again:
        return line.get_absolute_url()
    messages.success(request, f"Lot {line.lot.spaced_code} is written down.")
    return count.get_absolute_url()


def _reasons() -> dict[int, Reason]:
    return {reason.pk: reason for reason in Reason.objects.filter(kind=Reason.Kind.COUNT)}


@allow(see=MAKERS, do=MAKERS)
def count_post(request: StudioRequest, pk: int) -> HttpResponse:
    """What differs, with the reasons; then everything is put into the books as one event."""
    count = count_of(pk)
    if not count.is_open:
        return ended(request, count)
    found = findings(count)
    figures = tally(found)
    differing = [each for each in found if each.difference]
    reasons = _reasons()
    data = request.POST if request.method == "POST" else None
    rows = [(each, DifferenceForm(data, line=each.line, reasons=reasons)) for each in differing]
    form = Form(data)
    wrong = [row for _, row in rows if not row.is_valid()]
    if request.method == "POST" and not wrong:
        try:
            if url := _post(request, count, form, rows):
                return redirect(url)
        except counting.CountEnded:
            return ended(request, count_of(pk))
    context = {
        "count": count,
        "tally": figures,
        "rows": rows,
        "lines": [row for _, row in rows],
        "form": form,
        "again": [each for each in differing if each.must_look_again],
        "shown": _as_text(differing),
        "save": SAVE,
    }
    return answer(request, "inventory/count_post.html", context, refused=request.method == "POST")


def _as_text(differing: list[Finding]) -> str:
    """The differences a page shows, as the page carries them."""
    return " ".join(f"{each.line.pk}:{each.difference}" for each in differing)


def _as_shown(text: str) -> dict[int, int]:
    """What the page carried; nothing that fits when it was tampered with."""
    try:
        pairs = [pair.split(":") for pair in text.split()]
        return {int(key): int(difference) for key, difference in pairs}
    except ValueError:
        return {-1: 0}


def _post(
    request: StudioRequest, count: Count, form: Form, rows: list[tuple[Finding, DifferenceForm]]
) -> str | None:
    """Keep the reasons, and post unless only that was asked; None when it was refused, with the sentence."""
    only_save = SAVE in request.POST
    missing = [row for _, row in rows if not only_save and row.given()[0] is None]
    for row in missing:
        row.add_error("reason", "Choose a reason.")
    if missing:
        return None
    given = {each.line.pk: row.given() for each, row in rows}
    signature = sign(request)

    def act() -> str:
        counting.explain(count.pk, given, signature=signature)
        if only_save:
            messages.success(request, "The reasons are kept.")
            return reverse("inventory:count-post", args=[count.pk])
        shown = _as_shown(request.POST.get("shown", ""))
        done = counting.post(count.pk, signature=signature, shown=shown)
        messages.success(request, _posted_words(done))
        return done.get_absolute_url()

    try:
        return once(request, act)
    except counting.CountEnded:
        raise
    except counting.CannotCount as error:
        about = next((row for each, row in rows if each.line.lot_id == error.lot_id), None)
        (about or form).add_error(NON_FIELD_ERRORS, str(error))
    return None


def _posted_words(count: Count) -> str:
    """What was done, and how many lots nobody looked at."""
    done = "In the books." if count.posting else "All agreed; nothing had to be posted."
    left = count.lines.waiting().count()
    if not left:
        return done
    if left == 1:
        return f"{done} 1 lot was not looked at and stays as the books have it."
    return f"{done} {left} lots were not looked at and stay as the books have them."
