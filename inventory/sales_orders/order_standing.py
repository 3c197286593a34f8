"""How far the shelf covers customers' orders: ready to send, curing, being made, still to be poured.

Goods on the shelf are nobody's until they are sent; here they are counted towards the orders in the order of the days
they are wanted, so that no jar counts twice. What is being made for an order is told by the package that makes it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, Sum

from inventory.models import CustomerOrder, CustomerOrderLine, Grade, Item, Lot
from inventory.neighbors import neighbors
from inventory.querysets import LotQuerySet
from inventory.sales_orders.order_progress import sent_of


@dataclass(frozen=True)
class OrderLineStatus:
    """A line of an order in base units: `sent`, and of what is left `ready`, `curing`, `making` and `to_pour`.

    `curing` waits to be cured, looked at or released; `making` is planned or in progress for this line.
    """

    line: CustomerOrderLine
    sent: int
    ready: int = 0
    curing: int = 0
    making: int = 0

    @property
    def item(self) -> Item:
        """What is wanted."""
        return self.line.item

    @property
    def left(self) -> int:
        """What is still to be sent."""
        return max(self.line.quantity - self.sent, 0)

    @property
    def to_pour(self) -> int:
        """What nothing on the shelf and no run covers."""
        return max(self.left - self.ready - self.curing - self.making, 0)


def ready_lots(on: date) -> LotQuerySet:
    """Lots of finished goods that may leave on a day: cured, released, neither held nor expired unless allowed."""
    goods = Lot.objects.on_shelf().usable(on).filter(item__kind="finished", awaits_release=False)
    return goods.exclude(ready_on__gt=on)


def standings(on: date, *, order: CustomerOrder | None = None) -> dict[int, list[OrderLineStatus]]:
    """The lines of every open order, or of the items of one, by order; a handful of queries for any number.

    An order that is over has nothing ready, curing or being made for it.
    """
    lines = CustomerOrderLine.objects.select_related("item", "order__customer")
    wanted = Q(order__state=CustomerOrder.State.OPEN)
    if order is not None:
        of_items = Q(item__in=CustomerOrderLine.objects.filter(order=order).values("item"))
        wanted = (wanted & of_items) | Q(order=order)
    rows = list(lines.filter(wanted).order_by("order__wanted_on", "order_id", "pk"))
    sent = sent_of({line.order_id for line in rows})
    items = {line.item_id for line in rows}
    ready, curing = _on_shelf(items, on)
    making = _being_made([line.pk for line in rows])
    found: dict[int, list[OrderLineStatus]] = {}
    for line in rows:
        gone = sent.get((line.order_id, line.item_id), 0)
        standing = OrderLineStatus(line, gone)
        if line.order.is_open:
            left = standing.left
            covered = _take(ready, line.item_id, left)
            soon = _take(curing, line.item_id, left - covered)
            coming = min(making.get(line.pk, 0), left - covered - soon)
            standing = OrderLineStatus(line, gone, covered, soon, coming)
        found.setdefault(line.order_id, []).append(standing)
    return found


def _take(pool: dict[int, int], item_id: int, wanted: int) -> int:
    """Take up to `wanted` of an item out of the pool, and say how much."""
    taken = min(pool.get(item_id, 0), wanted)
    if taken:
        pool[item_id] -= taken
    return taken


def _on_shelf(items: set[int], on: date) -> tuple[dict[int, int], dict[int, int]]:
    """First quality on the shelf by item: what may leave today, and what waits to be cured or released."""
    mine = Q(item__in=items, grade=Grade.FIRST)
    waiting = Lot.objects.on_shelf().usable(on).filter(Q(awaits_release=True) | Q(ready_on__gt=on))
    return _sums(ready_lots(on).filter(mine)), _sums(waiting.filter(mine))


def _sums(lots: LotQuerySet) -> dict[int, int]:
    rows = lots.order_by().values_list("item").annotate(total=Sum("on_hand"))
    return {item_id: int(total) for item_id, total in rows}


def _being_made(line_ids: Sequence[int]) -> dict[int, int]:
    found: dict[int, int] = {}
    for neighbor in neighbors():
        for line_id, quantity in neighbor.units_being_made(line_ids).items():
            found[line_id] = found.get(line_id, 0) + quantity
    return found
