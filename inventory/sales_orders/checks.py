"""What `manage.py check_books` proves about customers' orders; see `inventory.checks`."""

from collections.abc import Iterator
from datetime import date

from django.db.models import Exists, F, OuterRef

from inventory.models import Commitment, CustomerOrder, CustomerOrderLine, Movement
from inventory.sales_orders.customer_orders import CUSTOMER_ORDER_PREFIX
from inventory.sales_orders.order_progress import progress_of
from studio.core.codes import is_valid


def orders_follow_dispatches() -> Iterator[str]:
    """An order is open while something of it is to be sent, and commits exactly that; one that is over commits nothing."""
    committed: dict[str, dict[int, tuple[int, date]]] = {}
    rows = Commitment.objects.filter(source__startswith=CUSTOMER_ORDER_PREFIX)
    for source, item_id, quantity, needed_on in rows.values_list(
        "source", "item_id", "quantity", "needed_on"
    ):
        committed.setdefault(source, {})[item_id] = (quantity, needed_on)
    orders = list(CustomerOrder.objects.select_related("customer").order_by("pk"))
    lines = progress_of([order.pk for order in orders])
    for order in orders:
        left = {each.line.item_id: (each.left, order.wanted_on) for each in lines[order.pk] if each.left}
        if not is_valid(order.code):
            yield f"Order {order.code} of a customer has a code whose check character is wrong."
        if not lines[order.pk]:
            yield f"Order {order.code} of a customer asks for nothing."
        if order.state == CustomerOrder.State.SENT and left:
            yield f"Order {order.code} of a customer counts as sent; not everything was."
        if order.is_open and not left:
            yield f"Order {order.code} of a customer is open, though everything on it was sent."
        if order.customer.erased_at and (order.is_open or order.note):
            yield f"Order {order.code} waits for a customer who was erased, or says something of them."
        if order.state == CustomerOrder.State.CALLED_OFF and not order.closed_reason:
            yield f"Order {order.code} of a customer is called off and nobody said why."
        if committed.pop(order.code, {}) != (left if order.is_open else {}):
            yield f"Order {order.code} of a customer needs other quantities than it committed."
    for source in committed:
        yield f"Stock is committed to {source}, which is no order."


def dispatches_fit_their_orders() -> Iterator[str]:
    """What was sent for an order is something it asks for, and no more than it asks for."""
    wanted = CustomerOrderLine.objects.filter(
        order=OuterRef("posting__dispatch__for_order__order"), item=OuterRef("lot__item")
    )
    sent = Movement.objects.standing().filter(
        kind=Movement.Kind.DISPATCHED, posting__dispatch__for_order__isnull=False
    )
    odd = sent.exclude(Exists(wanted)).annotate(of=F("posting__dispatch__for_order__order__code"))
    for code in odd.order_by().values_list("of", flat=True).distinct():
        yield f"Something was sent for order {code} of a customer that is not on it."
    codes = dict(CustomerOrder.objects.order_by("pk").values_list("pk", "code"))
    for order_id, lines in progress_of(codes).items():
        if any(each.sent > each.line.quantity for each in lines):
            yield f"More was sent for order {codes[order_id]} of a customer than it asks for."


CHECKS = (orders_follow_dispatches, dispatches_fit_their_orders)
