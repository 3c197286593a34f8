"""Recalls and drills: begun, looked at, answered customer by customer, closed and reported; and how wide one would be."""

import itertools
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from batches.complaints.reporting import duties, notice_rule
from batches.lineage.recall_scope import Width, widths
from batches.models import Complaint, Recall, RecallAnswer
from batches.recalls import recalling
from batches.recalls.facts import Reach, came_back, reach
from batches.recalls.forms import AnswerForm, CloseForm, RecallForm, suppliers_siblings
from batches.recalls.letters import Letter
from batches.recalls.letters_text import letter_to
from batches.recalls.progress import PartyProgress, Progress, progress_of
from batches.recalls.report_pdf import report_pdf
from batches.recalls.report_text import (
    ANSWERS_HEAD,
    CUSTOMERS_HEAD,
    LOTS_HEAD,
    SENT_HEAD,
    answer_rows,
    customer_rows,
    head_of,
    lot_rows,
    reach_of,
    report_of,
    sent_rows,
)
from batches.recalls.tables import RECALLS, WIDTHS, RecallRow, WidthRow
from inventory.models import Item, Kind, Lot
from inventory.models.dispatches import party_called
from studio.core.codes import normalise
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import tables
from studio.web.forms import ReasonForm
from studio.web.requests import StudioRequest, answer, page_of, printed_by, shown_pdf, sign, today
from studio.web.submissions import once


def recall_of(code: str) -> Recall:
    """The recall of a code in whatever way it was typed into the address."""
    recalls = Recall.objects.select_related("started_by", "ended_by", "complaint")
    return get_object_or_404(recalls, code=normalise(code))


@allow(see=MAKERS)
def recall_list(request: StudioRequest) -> HttpResponse:
    """Recalls and drills, the latest first."""
    recalls = Recall.objects.select_related("started_by").prefetch_related("lots__lot__item")
    if tables.wanted(request):
        return RECALLS.file(request, (RecallRow(recall, (), None) for recall in recalls))
    page = page_of(request, recalls)
    rows = [
        RecallRow(recall, [lot for lot in recall.lots.all() if lot.suspect], recall.ran(timezone.now()))
        for recall in page
    ]
    last_drill = Recall.objects.filter(is_drill=True, state=Recall.State.CLOSED).first()
    drill_due = last_drill is None or last_drill.started_at < timezone.now() - timedelta(days=365)
    context = {
        "page": page,
        "table": RECALLS.shown(request, rows),
        "last_drill": last_drill,
        "drill_due": drill_due,
    }
    return answer(request, "batches/recall_list.html", context)


@allow(see=MAKERS, do=MAKERS)
def recall_start(request: StudioRequest) -> HttpResponse:
    """From suspect lots to everything that carries some of them: seen first, then begun with one press."""
    asked = request.GET.getlist("lot")
    initial = {"codes": " ".join(asked)[:1000], "is_drill": "yes" if "drill" in request.GET else "no"}
    complaint = Complaint.objects.filter(code=normalise(request.GET.get("complaint", ""))).first()
    form = RecallForm(request.POST or None, initial=initial)
    looking = "look" in request.POST
    if request.method == "POST" and form.is_valid() and not looking:
        data = form.cleaned_data

        def act() -> str:
            recall = recalling.start(
                [lot.pk for lot in form.lots],
                why=data["why"],
                advice=data["advice"],
                is_drill=data["is_drill"] == "yes",
                complaint=complaint,
                signature=sign(request),
            )
            return recall.get_absolute_url()

        return redirect(once(request, act))
    lots = form.lots or list(Lot.objects.filter(code__in=map(normalise, asked)).select_related("item"))
    for lot, others in form.replaced:
        there = " and ".join(other.spaced_code for other in others)
        messages.info(request, f"The code {lot.spaced_code} was replaced by {there}; the recall is of that.")
    if looking and "codes" not in form.errors:
        form.errors.clear()
    found = reach({lot.pk for lot in lots}) if lots else None
    context = {
        "form": form,
        "complaint": complaint,
        "lots": lots,
        "found": found,
        "seen": _outline(found) if found else None,
        "siblings": suppliers_siblings(lots),
        "duties": duties(request.studio.market),
    }
    refused = request.method == "POST" and bool(form.errors)
    return answer(request, "batches/recall_start.html", context, refused=refused)


def _outline(found: Reach) -> dict[str, Any]:
    """What a recall would reach, before it is begun."""
    goods = {lot.pk: lot for lot in found.lots if lot.item.kind == Kind.FINISHED}
    here = [lot for lot in found.lots if lot.on_hand]
    sent = [each for each in found.went if each.lot_id in goods]
    customers = {each.dispatch.customer_id for each in found.went if each.dispatch.customer_id}
    return {
        "lots": len(found.lots),
        "here": here,
        "to_hold": [lot for lot in here if not lot.held],
        "units_here": sum(lot.on_hand for lot in goods.values()),
        "units_sent": sum(each.quantity for each in sent),
        "customers": len(customers),
        "unknown": sum(each.quantity for each in sent if not each.dispatch.customer_id),
        "running": [batch for batch in found.batches if batch.is_open],
    }


@allow(see=MAKERS)
def recall_detail(request: StudioRequest, code: str) -> HttpResponse:
    """The snapshot, what was added, who was told and what came back; as a file one of its tables."""
    recall = recall_of(code)
    progress = progress_of(recall)
    if tables.wanted(request):
        return _file(request, progress)
    now = timezone.now()
    fresh = recalling.fresh_since(recall)
    context = {
        "recall": recall,
        "progress": progress,
        "fresh": fresh,
        "more_again": _more_again(request, fresh, progress),
        "ran": progress.ran(now),
        "against_practice": progress.against_practice(now),
        "parties": [
            (each, each.party.display_name(request.user), reach_of(each, request.user))
            for each in progress.parties
        ],
        "untold": recall.is_open and not recall.is_drill and progress.told < len(progress.parties),
        "batches": recall.batches.select_related("batch__version__formula__item", "step"),
        "steps": recall.steps.select_related("by"),
    }
    return answer(request, "batches/recall_detail.html", context)


def _more_again(
    request: StudioRequest, fresh: recalling.Fresh, progress: Progress
) -> list[tuple[str, Lot, int]]:
    """Who has more of a lot again than was frozen, the lot, and how much more in base units."""
    lots = {row.lot_id: row.lot for row in progress.lots}
    return [
        (
            party_called(went.dispatch.customer, went.dispatch.channel, request.user),
            lots[went.lot_id],
            went.quantity,
        )
        for went in fresh.again
    ]


def _file(request: StudioRequest, progress: Progress) -> HttpResponse:
    """The table asked for by `?table=`; the goods sent where none is named."""
    by, studio = request.user, request.studio
    made: dict[str, tuple[tuple[str, ...], Any]] = {
        "lots": (LOTS_HEAD, lot_rows(progress)),
        "customers": (CUSTOMERS_HEAD, customer_rows(progress, by)),
        "answers": (ANSWERS_HEAD, answer_rows(progress, by)),
    }
    name = request.GET.get("table", "")
    head, rows = made.get(name, (SENT_HEAD, sent_rows(progress, studio, by)))
    part = name if name in made else "sent"
    recall = progress.recall
    head = head_of(head, is_drill=recall.is_drill)
    return tables.export(request, f"{recall.file_name}-{part}", head, rows)


@allow(see=MAKERS)
def recall_report(request: StudioRequest, code: str) -> HttpResponse:
    """The report as a PDF, of a recall that is still open too."""
    recall = recall_of(code)
    report = report_of(
        progress_of(recall),
        request.studio,
        by=request.user,
        now=timezone.now(),
        printed=printed_by(request),
    )
    return shown_pdf(report_pdf(report), recall.file_name)


@allow(do=MAKERS)
def recall_take_in(request: StudioRequest, code: str) -> HttpResponse:
    """Add what became affected since the last look."""
    recall = recall_of(code)

    def act() -> str:
        recalling.take_in(recall.pk, signature=sign(request))
        return recall.get_absolute_url()

    try:
        return redirect(once(request, act))
    except recalling.RecallError as error:
        messages.warning(request, str(error))
        return redirect(recall)


@allow(see=MAKERS, do=MAKERS)
def recall_party(request: StudioRequest, code: str, pk: int) -> HttpResponse:
    """What was told to one customer, what they answered, and what became of their goods."""
    recall = recall_of(code)
    progress = progress_of(recall)
    each = next((each for each in progress.parties if each.party.pk == pk), None)
    if each is None:
        raise Http404
    form = AnswerForm(
        request.POST or None, goods=list(each.goods.values()), initial={"on": today(), "kind": _next(each)}
    )
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data

        def act() -> str:
            recalling.answer(
                pk,
                RecallAnswer.Kind(data["kind"]),
                on=data["on"],
                quantities=form.quantities(),
                note=data["note"],
                signature=sign(request),
            )
            return f"{recall.get_absolute_url()}#customers"

        try:
            return redirect(once(request, act))
        except recalling.RecallError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    context = {
        "recall": recall,
        "each": each,
        "who": each.party.display_name(request.user),
        "reach": reach_of(each, request.user),
        "letter": _letter(request, each),
        "not_entered": _not_entered(each),
        "form": form,
    }
    return answer(request, "batches/recall_party.html", context, refused=request.method == "POST")


def _not_entered(each: PartyProgress) -> list[tuple[Item, int]]:
    """What of theirs is back here by the books and not entered as returned, so that nobody is asked for it again."""
    back = came_back(each.sent, each.party.recall.started_at)
    goods = each.goods
    return [
        (goods[pk].item, quantity - goods[pk].returned)
        for pk, quantity in back.items()
        if quantity > goods[pk].returned
    ]


def _next(each: PartyProgress) -> str:
    """What is most likely entered next."""
    if not each.told_on:
        return RecallAnswer.Kind.TOLD
    return RecallAnswer.Kind.RETURNED if each.answered_on else RecallAnswer.Kind.ANSWERED


@allow(see=MAKERS, do=MAKERS)
def recall_answer_take_back(request: StudioRequest, code: str, pk: int) -> HttpResponse:
    """Take back an entry that was a slip."""
    recall = recall_of(code)
    found = get_object_or_404(
        RecallAnswer.objects.select_related("party__customer", "party__channel", "item"),
        pk=pk,
        party__recall=recall,
    )
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        signature = sign(request, reason=form.cleaned_data["reason"])

        def act() -> str:
            recalling.take_back(found.pk, signature=signature)
            return f"{recall.get_absolute_url()}#customers"

        try:
            return redirect(once(request, act))
        except recalling.RecallError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    context = {"recall": recall, "said": found, "who": found.party.display_name(request.user), "form": form}
    return answer(request, "batches/recall_take_back.html", context, refused=request.method == "POST")


@allow(see=MAKERS)
def recall_letters(request: StudioRequest, code: str) -> HttpResponse:
    """A letter and a message for everybody who got affected goods, to copy or print."""
    recall = recall_of(code)
    progress = progress_of(recall)
    letters = [
        (each, each.party.display_name(request.user), _letter(request, each)) for each in progress.parties
    ]
    context = {"recall": recall, "letters": letters, "notice_rule": notice_rule(request.studio.market)}
    return answer(request, "batches/recall_letters.html", context)


def _letter(request: StudioRequest, each: PartyProgress) -> Letter:
    return letter_to(each, studio=request.studio, by=request.user, now=timezone.now())


@allow(see=MAKERS, do=MAKERS)
def recall_close(request: StudioRequest, code: str) -> HttpResponse:
    """End it, and stop its clock."""
    recall = recall_of(code)
    form = CloseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            recalling.close(recall.pk, finding=form.cleaned_data["finding"], signature=sign(request))
            return recall.get_absolute_url()

        try:
            return redirect(once(request, act))
        except recalling.RecallError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    elif request.method != "POST" and not recall.is_open:
        messages.warning(request, "This recall is closed already.")
        return redirect(recall)
    progress = progress_of(recall)
    context = {"recall": recall, "form": form, "progress": progress, "ran": progress.ran(timezone.now())}
    return answer(request, "batches/recall_close.html", context, refused=request.method == "POST")


def _by_width(pair: tuple[Lot, Width]) -> tuple[int, int, int, int]:
    lot, width = pair
    return (-width.units, -width.customers, -width.value, lot.pk)


@allow(see=EVERYONE)
def recall_width(request: StudioRequest) -> HttpResponse:
    """Every lot on the shelf, the one whose recall would be widest first."""
    shelf = Lot.objects.on_shelf().exclude(item__kind=Kind.FINISHED).select_related("item", "supplier")
    lots = list(shelf)
    found = widths([lot.pk for lot in lots])
    ranked = sorted(((lot, found[lot.pk]) for lot in lots), key=_by_width)
    if tables.wanted(request):
        return WIDTHS.file(request, itertools.starmap(WidthRow, ranked))
    return answer(request, "batches/recall_width.html", {"page": page_of(request, ranked)})
