"""Goods leave for a customer's order: the lots suggested, and what really left."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse
from django.shortcuts import redirect

from inventory.ledger.books import BookError, WrongTime
from inventory.lots.shelves import as_shelf
from inventory.lots.suggestion import suggest_lots
from inventory.models import CustomerOrder, Dispatch, Grade, Lot
from inventory.sales_orders.customer_orders import CustomerOrderError
from inventory.sales_orders.designs import lots_not_approved
from inventory.sales_orders.forms import LotChoice
from inventory.sales_orders.order_standing import OrderLineStatus, ready_lots, standings
from inventory.sales_orders.views import customer_order_of
from inventory.shipments import for_order
from inventory.shipments.forms import SendOrderedForm, keys_typed
from inventory.shipments.picking import LOTS_AT_MOST
from studio.people.access import MAKERS, allow
from studio.web.requests import StudioRequest, answer, sign, today
from studio.web.submissions import once


@allow(see=MAKERS, do=MAKERS)
def customer_order_send(request: StudioRequest, code: str) -> HttpResponse:
    """Send goods out for an order: the fewest lots, among those the first to expire and the oldest, filled in."""
    order = customer_order_of(code)
    if not order.is_open and request.method != "POST":
        messages.warning(request, f"Order {order.spaced_code} is {order.get_state_display().lower()}.")
        return redirect(order)
    form = SendOrderedForm(request.POST or None, choices=_choices(request, order))
    if request.method == "POST" and form.is_valid() and (url := _send(request, order, form)):
        return redirect(url)
    context = {"order": order, "form": form, "any_lot": bool(form.lots)}
    context["unapproved_lots"] = lots_not_approved(form.lots.values())
    return answer(request, "inventory/customer_order_send.html", context, refused=form.is_bound)


def _choices(request: StudioRequest, order: CustomerOrder) -> list[LotChoice]:
    """Every line that lacks something with its lots; a lot that was typed into stays on the page."""
    day = today()
    lines = [line for line in standings(day, order=order)[order.pk] if line.left]
    keys = keys_typed(request.POST)
    items = {line.line.item_id for line in lines}
    lots: dict[int, list[Lot]] = {item_id: [] for item_id in items}
    ready = ready_lots(day).filter(item__in=items)
    named = Lot.objects.filter(pk__in=keys, item__in=items)
    for lot in (ready | named).first_to_expire().select_related("item"):
        lots[lot.item_id].append(lot)
    return [_choice(line, lots[line.line.item_id]) for line in lines]


def _choice(line: OrderLineStatus, lots: list[Lot]) -> LotChoice:
    firsts = [lot for lot in lots if lot.grade == Grade.FIRST]
    # What an order wanted earlier has a claim to is not filled in.
    suggestion = suggest_lots(line.ready, map(as_shelf, firsts))
    picked = {pick.lot_id for pick in suggestion.picks}
    shown = [lot for place, lot in enumerate(lots) if place < LOTS_AT_MOST or lot.pk in picked]
    return LotChoice(line, shown, suggestion, len(lots) - len(shown))


def _send(request: StudioRequest, order: CustomerOrder, form: SendOrderedForm) -> str | None:
    """Send it; None when it was refused, with the sentence beside its lot."""
    data: dict[str, Any] = form.cleaned_data
    signature = sign(request, happened_at=data["happened_at"])

    def act() -> str:
        kind = Dispatch.Kind(data["kind"])
        for_order.send(order.pk, data["takings"], kind=kind, signature=signature)
        now = CustomerOrder.objects.get(pk=order.pk)
        rest = "Everything on it is sent." if not now.is_open else "The rest is still to be sent."
        messages.success(request, f"Sent to {order.customer.display_name(request.user)}. {rest}")
        return order.get_absolute_url()

    try:
        return once(request, act)
    except CustomerOrderError as error:
        field = next(
            (f"lot-{pk}" for pk, lot in form.lots.items() if lot.item_id == error.item_id), NON_FIELD_ERRORS
        )
        form.add_error(field, str(error))
    except WrongTime as error:
        form.add_error("happened_at", str(error))
    except BookError as error:
        form.add_error(f"lot-{error.lot_id}" if error.lot_id in form.lots else NON_FIELD_ERRORS, str(error))
    return None
