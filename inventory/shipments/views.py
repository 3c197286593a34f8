"""What left to whom, and what came back: the list, one dispatch with its packing slip, and returns."""

from collections.abc import Iterator
from itertools import islice
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Prefetch, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from inventory.customers.customers import customers_like
from inventory.customers.tables import DISPATCHES
from inventory.ledger.books import BookError, WrongTime
from inventory.models import Dispatch, Lot, Movement, Return, ReturnLine
from inventory.sales_orders.designs import lots_not_approved
from inventory.shipments import dispatching
from inventory.shipments.dispatching import CannotReturn, still_out
from inventory.shipments.forms import ChangeHeadForm, DispatchFilter, ReturnForm
from inventory.shipments.packing_slip_pdf import slip_pdf
from inventory.shipments.packing_slip_text import slip_of
from inventory.shipments.tables import SENT_LINES, SentLine, returns_table
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import panels, tables
from studio.web.requests import StudioRequest, answer, page_of, printed_by, shown_pdf, sign, today
from studio.web.submissions import once

LINES_SHOWN = 4
CHUNK = 2000  # lines of a table that leaves, read at once


# The list


@allow(see=EVERYONE)
def dispatch_list(request: StudioRequest) -> HttpResponse:
    """What left, the latest first, by what, channel, customer, product and time."""
    form = DispatchFilter(request.GET or None)
    rows = _filtered(request, form)
    if tables.wanted(request):
        return SENT_LINES.file(request, _every_line(request, rows))
    lines = Movement.objects.filter(kind=Movement.Kind.DISPATCHED).select_related("lot__item").order_by("pk")
    shown = rows.prefetch_related(Prefetch("posting__movements", lines, to_attr="sent_lines"))
    page = page_of(request, shown)
    context = {
        "page": page,
        "table": DISPATCHES.shown(request, list(page)),
        "form": form,
        "any": bool(page.object_list) or Dispatch.objects.exists(),
        "filtered": bool(request.GET.keys() - {"page"}),
    }
    return answer(request, "inventory/dispatch_list.html", context)


def _filtered(request: StudioRequest, form: DispatchFilter) -> Any:
    rows = Dispatch.objects.with_heads().order_by("-posting__happened_at", "-pk")
    if not form.is_bound or not form.is_valid():
        return rows
    said = form.cleaned_data
    if said["kind"]:
        rows = rows.filter(kind=said["kind"])
    if said["channel"]:
        rows = rows.filter(channel=said["channel"])
    if said["product"]:
        rows = rows.filter(posting__in=Movement.objects.filter(lot__item=said["product"]).values("posting"))
    if text := said["q"].replace("\x00", "").strip():
        rows = rows.filter(Q(reference__icontains=text) | customers_like(text, request.user, "customer__"))
    first, end = form.span()
    if first:
        rows = rows.filter(posting__happened_at__gte=first)
    if end:
        rows = rows.filter(posting__happened_at__lt=end)
    return rows


def _every_line(request: StudioRequest, rows: Any) -> Iterator[SentLine]:
    """A row for each lot of each dispatch, read in chunks."""
    lines = (
        Movement.objects.filter(kind=Movement.Kind.DISPATCHED, posting__dispatch__in=rows.order_by())
        .exclude(posting__reverses__isnull=False)
        .select_related(
            "posting__by",
            "posting__reversal",
            "posting__dispatch__customer",
            "posting__dispatch__channel",
            "lot__item",
        )
        .order_by("-posting__happened_at", "-posting_id", "pk")
    )
    back = _back_by_line()
    left = lines.iterator(chunk_size=CHUNK)
    while some := list(islice(left, CHUNK)):
        unapproved = lots_not_approved(line.lot for line in some)
        for line in some:
            dispatch, lot = line.posting.dispatch, line.lot_id
            to = dispatch.customer.display_name(request.user) if dispatch.customer else ""
            yield SentLine(line, to, back.get((dispatch.pk, lot), 0), lot in unapproved)


def _back_by_line() -> dict[tuple[int, int], int]:
    """What came back by dispatch and lot, in base units; one query."""
    found: dict[tuple[int, int], int] = {}
    standing = ReturnLine.objects.filter(goods_return__posting__reversal__isnull=True)
    for dispatch_id, lot_id, quantity in standing.values_list("goods_return__dispatch", "source", "quantity"):
        found[dispatch_id, lot_id] = found.get((dispatch_id, lot_id), 0) + quantity
    return found


# One dispatch


def dispatch_of(pk: int) -> Dispatch:
    """The dispatch of a number, with who, where and when."""
    return get_object_or_404(
        Dispatch.objects.with_heads().select_related("for_order__order", "from_shop__shop"), pk=pk
    )


def _lines(dispatch: Dispatch) -> list[Movement]:
    rows = dispatch.posting.movements.filter(kind=Movement.Kind.DISPATCHED).select_related("lot__item")
    return list(rows.order_by("pk"))


@allow(see=EVERYONE)
def dispatch_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One dispatch: who, when, through which channel, by which lots, and what came back."""
    dispatch = dispatch_of(pk)
    returns = (
        Return.objects.filter(dispatch=dispatch)
        .select_related("posting__by", "posting__reversal__by")
        .prefetch_related(Prefetch("lines", ReturnLine.objects.select_related("source", "lot__item")))
    )
    stands = not hasattr(dispatch.posting, "reversal")
    out, lines = still_out(dispatch), _lines(dispatch)
    context = {
        "dispatch": dispatch,
        "posting": dispatch.posting,
        "lines": lines,
        "unapproved_lots": lots_not_approved(line.lot for line in lines),
        "returns": list(returns.order_by("posting__happened_at", "pk")),
        "stands": stands,
        "changes": dispatch.changes.select_related("by"),
        "may_return": stands and any(each.quantity for each in out.values()),
        "panels": panels.shown("dispatch", request, dispatch),
    }
    return answer(request, "inventory/dispatch_detail.html", context)


@allow(see=MAKERS)
def dispatch_slip(request: StudioRequest, pk: int) -> HttpResponse:
    """The packing slip: what is in the parcel, with the codes of its lots."""
    dispatch = dispatch_of(pk)
    slip = slip_of(dispatch, _lines(dispatch), request.studio, printed=printed_by(request))
    return shown_pdf(slip_pdf(slip), f"packing-slip-{dispatch.pk}")


@allow(see=MAKERS, do=MAKERS)
def dispatch_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Put right to whom it went, why, and by which channel and order; what left is only ever reversed."""
    dispatch = dispatch_of(pk)
    form = ChangeHeadForm(request.POST or None, dispatch=dispatch)
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            return dispatching.write_head(pk, signature=sign(request), **form.said()).get_absolute_url()

        try:
            return redirect(once(request, act))
        except BookError as error:
            form.add_error("kind", str(error))
    context = {"dispatch": dispatch, "form": form, **ChangeHeadForm.names()}
    return answer(request, "inventory/dispatch_change.html", context, refused=form.is_bound)


# What came back


@allow(see=MAKERS, do=MAKERS)
def dispatch_return(request: StudioRequest, pk: int) -> HttpResponse:
    """Goods of a dispatch came back: how many of which lot, why; each becomes a lot of its own, on hold."""
    dispatch = dispatch_of(pk)
    out = still_out(dispatch)
    lots = Lot.objects.select_related("item").in_bulk(out)
    rows = [(lots[lot_id], each) for lot_id, each in out.items()]
    form = ReturnForm(request.POST or None, rows=rows)
    if request.method == "POST" and form.is_valid() and (url := _take_back(request, dispatch, form)):
        return redirect(url)
    context = {"dispatch": dispatch, "form": form, "stands": not hasattr(dispatch.posting, "reversal")}
    return answer(request, "inventory/dispatch_return.html", context, refused=form.is_bound)


def _take_back(request: StudioRequest, dispatch: Dispatch, form: ReturnForm) -> str | None:
    """Book it; None when it was refused, with the sentence beside its lot."""
    data = form.cleaned_data
    signature = sign(request, happened_at=data["happened_at"], reason=data["reason"])

    def act() -> str:
        made = dispatching.take_back(dispatch.pk, data["backs"], signature=signature)
        codes = ", ".join(lot.spaced_code for lot in made)
        messages.success(request, f"Taken back and put on hold. Write on what came back: {codes}")
        return dispatch.get_absolute_url()

    try:
        return once(request, act)
    except WrongTime as error:
        form.add_error("happened_at", str(error))
    except (BookError, CannotReturn) as error:
        name = f"lot-{error.lot_id}"
        form.add_error(name if name in form.fields else NON_FIELD_ERRORS, str(error))
    return None


@allow(see=EVERYONE)
def return_list(request: StudioRequest) -> HttpResponse:
    """What came back, the latest first, and whether it still waits to be looked at."""
    rows = ReturnLine.objects.select_related(
        "goods_return__posting__by",
        "goods_return__posting__reversal",
        "goods_return__dispatch__customer",
        "source",
        "lot__item",
    ).order_by("-goods_return__posting__happened_at", "-pk")
    if tables.wanted(request):
        lines = list(rows)
        unapproved = lots_not_approved(line.lot for line in lines)
        return returns_table(request.user, today(), unapproved).file(request, lines)
    page = page_of(request, rows)
    context = {"page": page, "table": returns_table(request.user, today()).shown(request, list(page))}
    return answer(request, "inventory/return_list.html", context)
