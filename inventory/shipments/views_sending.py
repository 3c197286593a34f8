"""Sending out: what is wanted or scanned first, then the lots picked for it, then the press that books it."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.forms import Form
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect

from inventory.fetch import lot_of
from inventory.ledger.books import BookError, WrongTime
from inventory.lots.moving import Taking
from inventory.models import Customer, Item, Kind
from inventory.sales_orders.designs import lots_not_approved, products_not_approved
from inventory.shipments import dispatching
from inventory.shipments.forms import (
    LINES_AT_MOST,
    HeadForm,
    MaybeWanted,
    PickedLotsForm,
    ScanForm,
    SendForm,
    keys_typed,
)
from inventory.shipments.picking import pickings, stop
from inventory.shipments.scanning import Scanned, read_scans
from studio.people.access import MAKERS, allow
from studio.web.filters import whole_number
from studio.web.line_forms import ADD_LINE, FormSet, hush, with_another_line
from studio.web.requests import StudioRequest, answer, sign, today
from studio.web.submissions import once

PREFIX = "lines"
LINES_AT_FIRST = 2
PICK, SEND = "pick", "send"


@allow(see=MAKERS, do=MAKERS)
def dispatch_add(request: StudioRequest) -> HttpResponse:
    """Send goods of one or several products: say what, or scan it; look at the lots; send."""
    if request.method != "POST":
        lines = _lines(None)
        return _page(request, HeadForm(initial=_known(request)), lines, ScanForm(), None)
    data: QueryDict = request.POST
    adding = ADD_LINE in data
    if adding:
        data = with_another_line(data, PREFIX, LINES_AT_MOST)
    head, lines, scan = HeadForm(data), _lines(data), ScanForm(data)
    picked = _picked(data) if keys_typed(data) else None
    if adding:
        hush(head, lines)
        hush(scan, lines)
        return _page(request, head, lines, scan, picked)
    if SEND in data and picked is not None:
        whole = [form.is_valid() for form in (head, picked)]
        if all(whole) and (url := _send(request, head, picked)):
            return redirect(url)
        return _page(request, head, lines, scan, picked, refused=True)
    return _pick(request, head, lines, scan)


def _known(request: StudioRequest) -> dict[str, str]:
    """What the address says already: to whom it goes."""
    key = whole_number(request.GET.get("customer", ""))
    if key is None:
        return {}
    known = Customer.objects.filter(pk=key, erased_at=None).first()
    return {"customer": known.name, "reach": known.reach, "contact": known.contact} if known else {}


def _lines(data: QueryDict | None) -> FormSet:
    items = list(Item.objects.current().filter(kind=Kind.FINISHED))
    kwargs = {"items": items, "unapproved": products_not_approved(items)}
    lines = MaybeWanted(data, prefix=PREFIX, form_kwargs=kwargs)
    lines.extra = LINES_AT_FIRST
    return lines


def _picked(data: QueryDict) -> PickedLotsForm:
    """The lots that stood on the page, as they were filled in."""
    return PickedLotsForm(data, choices=pickings({}, {}, keys_typed(data), today()))


def _pick(request: StudioRequest, head: HeadForm, lines: Any, scan: ScanForm) -> HttpResponse:
    """Show the lots for what is wanted and scanned; nothing is booked yet."""
    # What is not known of the head yet may wait until it is sent.
    whole = [form.is_valid() for form in (lines, scan)]
    wanted: Mapping[int, int] = lines.wanted() if whole[0] else {}
    scanned = _scanned(scan, wanted) if whole[1] else Scanned()
    for words in scanned.replaced_words:
        messages.info(request, words)
    if all(whole) and not wanted and not scanned.pieces and not scanned.problems:
        scan.add_error("scanned", "Say what is to be sent above, or scan it here.")
    picked = None
    if wanted or scanned.pieces:
        choices = pickings(wanted, scanned.pieces, [], today())
        picked = PickedLotsForm(choices=choices)
    refused = bool(lines.total_error_count() or scan.errors)
    if head.is_bound:
        hush(head, lines if whole[0] else _hushed())
    return _page(request, head, lines, scan, picked, refused=refused)


def _hushed() -> FormSet:
    return _lines(None)


def _scanned(scan: ScanForm, wanted: Mapping[int, int]) -> Scanned:
    """What was scanned and may leave; the rest is told beside the box, which keeps what was scanned."""
    found = stop(read_scans(scan.cleaned_data["scanned"]), wanted, today())
    for problem in found.problems:
        scan.add_error("scanned", problem)
    return found


def _send(request: StudioRequest, head: HeadForm, picked: PickedLotsForm) -> str | None:
    """Send it; None when the books refused, with the sentence beside its lot."""
    signature = sign(request, happened_at=head.cleaned_data["happened_at"])

    def act() -> str:
        sent = dispatching.send(picked.cleaned_data["takings"], signature=signature, **head.said())
        messages.success(request, f"Sent. This is dispatch {sent.pk}; its packing slip is ready to print.")
        return sent.get_absolute_url()

    try:
        return once(request, act)
    except WrongTime as error:
        head.add_error("happened_at", str(error))
    except BookError as error:
        explain(error, picked)
    return None


def explain(error: BookError, picked: Form) -> None:
    """Put the books' sentence beside the lot it is about."""
    name = f"lot-{error.lot_id}"
    picked.add_error(name if name in picked.fields else NON_FIELD_ERRORS, str(error))


def _page(
    request: StudioRequest,
    head: HeadForm,
    lines: FormSet,
    scan: ScanForm,
    picked: PickedLotsForm | None,
    *,
    refused: bool = False,
) -> HttpResponse:
    context: dict[str, Any] = {"head": head, "lines": lines, "scan": scan, "picked": picked}
    context |= HeadForm.names()
    context["unapproved_lots"] = lots_not_approved(picked.lots.values()) if picked else set()
    return answer(request, "inventory/dispatch_form.html", context, refused=refused)


@allow(see=MAKERS, do=MAKERS)
def lot_send(request: StudioRequest, code: str) -> HttpResponse:
    """Finished goods of one lot leave to a customer, a market or an event."""
    lot = lot_of(code)
    if lot.item.kind != Kind.FINISHED:
        messages.warning(request, "Only finished goods are sent out.")
        return redirect(lot)
    form = SendForm(request.POST or None, lot=lot)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        signature = sign(request, happened_at=data["happened_at"])

        def act() -> str:
            taking = Taking(lot.pk, data["quantity"])
            return dispatching.send([taking], signature=signature, **form.said()).get_absolute_url()

        try:
            url = once(request, act)
        except BookError as error:
            form.add_error("happened_at" if isinstance(error, WrongTime) else "quantity", str(error))
        else:
            to = f" to {data['customer']}" if data["customer"] else ""
            messages.success(request, f"{lot.item.quantity(data['quantity'])} × {lot.item} sent{to}.")
            return redirect(url)
    context = {"form": form, "lot": lot, "unapproved_lots": lots_not_approved([lot]), **HeadForm.names()}
    return answer(request, "inventory/lot_send.html", context, refused=form.is_bound)
