"""How far a customer's order has got: what was sent of it, what it still needs, and whether it is over.

What was sent is asked of the books: the movements of its dispatches that stand. So the state of an order and what is
committed to it follow every dispatch and every reversal. Locking: the order's row before any lot.
"""

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import Sum

from inventory.ledger.reservations import commit
from inventory.models import CustomerOrder, CustomerOrderLine, Movement
from studio.people.signature import Signature

ERASED = "The customer was erased."


@dataclass(frozen=True)
class Progress:
    """A line of an order and what was `sent` of it, in base units."""

    line: CustomerOrderLine
    sent: int

    @property
    def left(self) -> int:
        """What is still to be sent, in base units."""
        return max(self.line.quantity - self.sent, 0)


def progress_of(order_ids: Collection[int]) -> dict[int, list[Progress]]:
    """The lines of these orders with what was sent of each, by order; two queries for any number."""
    gone = sent_of(order_ids)
    found: dict[int, list[Progress]] = {order_id: [] for order_id in order_ids}
    for line in CustomerOrderLine.objects.filter(order__in=found).select_related("item").order_by("pk"):
        found[line.order_id].append(Progress(line, gone.get((line.order_id, line.item_id), 0)))
    return found


def sent_of(order_ids: Collection[int]) -> dict[tuple[int, int], int]:
    """Base units that standing dispatches sent of each of these orders, by order and item; one query."""
    gone = (
        Movement.objects.standing()
        .filter(kind=Movement.Kind.DISPATCHED, posting__dispatch__for_order__order__in=order_ids)
        .order_by()
        .values_list("posting__dispatch__for_order__order", "lot__item")
        .annotate(total=Sum("quantity"))
    )
    return {(order_id, item_id): -total for order_id, item_id, total in gone}


def lock(order_id: int) -> CustomerOrder:
    """The order, locked until the transaction ends. Its customer is read only then: PostgreSQL drops a row whose join no
    longer holds once the lock was waited for."""
    return CustomerOrder.objects.select_for_update(no_key=True).get(pk=order_id)


def lock_of_posting(posting_id: int) -> CustomerOrder | None:
    """The order that a dispatch, by its posting, was sent for, locked; None for all other postings."""
    orders = CustomerOrder.objects.filter(dispatches__dispatch__posting=posting_id)
    return orders.select_for_update(of=("self",), no_key=True).first()


def settle(order: CustomerOrder, signature: Signature) -> None:
    """Close a locked order of which everything was sent, open one again that lacks something, and commit what is left.

    One that was called off stays so, and one whose customer was erased meanwhile is called off: nobody waits for it.
    """
    lines = progress_of([order.pk])[order.pk]
    lacking = any(each.left for each in lines)
    if order.state == CustomerOrder.State.OPEN and not lacking:
        end(order, CustomerOrder.State.SENT, signature.because(""))
    elif order.state == CustomerOrder.State.SENT and lacking and order.customer.erased_at:
        end(order, CustomerOrder.State.CALLED_OFF, signature.because(ERASED))
    elif order.state == CustomerOrder.State.SENT and lacking:
        order.state, order.closed_by, order.closed_at = CustomerOrder.State.OPEN, None, None
        order.save(update_fields=["state", "closed_by", "closed_at"])
    needs = {each.line.item_id: each.left for each in lines} if order.is_open else {}
    commit(order.code, needs, order.wanted_on)


def end(order: CustomerOrder, state: CustomerOrder.State, signature: Signature) -> None:
    """Write down that a locked order is over, by whom and why."""
    order.state, order.closed_by, order.closed_at = state, signature.by, signature.recorded_at
    order.closed_reason = signature.reason
    order.save(update_fields=["state", "closed_by", "closed_at", "closed_reason"])
