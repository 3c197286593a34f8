"""Goods leave for a sales order: no more of any than it still wants, and the order's state follows."""

from collections.abc import Sequence

from django.db import transaction

from inventory.lots.moving import Taking
from inventory.models import (
    Dispatch,
    Lot,
    OrderDispatch,
)
from inventory.sales_orders.customer_orders import CustomerOrderError, open_order
from inventory.sales_orders.order_progress import Progress, progress_of, settle
from inventory.shipments import dispatching
from studio.people.signature import Signature


@transaction.atomic
def send(
    order_id: int,
    takings: Sequence[Taking],
    *,
    signature: Signature,
    kind: Dispatch.Kind = Dispatch.Kind.SALE,
) -> OrderDispatch:
    """Goods leave for an order, no more of any than it still wants.

    Raises CustomerOrderError, and what `dispatching.send` raises.
    """
    order = open_order(order_id)
    _check_wanted(progress_of([order.pk])[order.pk], takings)
    dispatch = dispatching.send(
        takings,
        to=order.customer,
        kind=kind,
        channel=order.channel.name if order.channel else "",
        reference=order.reference,
        signature=signature,
    )
    sent = OrderDispatch.objects.create(order=order, dispatch=dispatch)
    settle(order, signature)
    return sent


def _check_wanted(lines: Sequence[Progress], takings: Sequence[Taking]) -> None:
    """Refuse goods the order does not ask for, and more of one than it still wants."""
    lots = Lot.objects.select_related("item").in_bulk({taking.lot_id for taking in takings})
    wanted = {each.line.item_id: each for each in lines}
    leaving: dict[int, int] = {}
    for taking in takings:
        lot = lots.get(taking.lot_id)
        if lot is None:
            continue  # told by the books
        if lot.item_id not in wanted:
            raise CustomerOrderError(f"{lot.item} is not on this order.", lot.item_id)
        leaving[lot.item_id] = leaving.get(lot.item_id, 0) + taking.quantity
    for item_id, quantity in leaving.items():
        each = wanted[item_id]
        if quantity > each.left:
            item = each.line.item
            raise CustomerOrderError(
                f"The order wants {item.quantity(each.left)} more of {item}, and {item.quantity(quantity)} are chosen. "
                "Send what is beyond the order from the lot's own page.",
                item_id,
            )
