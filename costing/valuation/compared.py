"""First in first out and averages beside the lots of the books, item by item over a period: figures to compare by.

Every method starts from the lots that were there at the beginning, as the books had them, oldest first.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.db.models import Q

from costing.valuation.ledger_as_of import Instant, lots_before
from costing.valuation.methods import (
    Event,
    Inflow,
    MethodResult,
    Outflow,
    first_in_first_out,
    moving_average,
    periodic_average,
    specific,
)
from inventory.models import Item, Movement
from studio.core.days import begin, first_instant_after

METHODS = {
    "Specific lots": specific,
    "First in, first out": first_in_first_out,
    "Moving average": moving_average,
    "Period average": periodic_average,
}


@dataclass(frozen=True)
class Compared:
    """One item: by each method what left it and what is left of it, in millionths."""

    item: Item
    told: dict[str, MethodResult]


def compare(first: date, last: date) -> list[Compared]:
    """Every item that was there or moved, by name; a few queries. Decanting moves nothing here."""
    start, end = Instant(begin(first)), Instant(first_instant_after(last))
    events: dict[int, list[Event]] = defaultdict(list)
    for item_id, quantity, value in lots_before(start):
        events[item_id].append(Inflow(quantity, value))
    for item_id, quantity, value in _stream(start, end):
        left = quantity < 0 or (not quantity and value < 0)
        events[item_id].append(Outflow(-quantity, -value) if left else Inflow(quantity, value))
    items = Item.objects.in_bulk()
    rows = [
        Compared(items[item_id], {name: method(told) for name, method in METHODS.items()})
        for item_id, told in events.items()
    ]
    return sorted(rows, key=lambda row: row.item.name.casefold())


def _stream(start: Instant, end: Instant) -> Iterable[tuple[int, int, int]]:
    """What came and went in the order it happened; what was reversed within the period did not."""
    earlier = Q(posting__reverses__happened_at__lt=start.until)
    moved = end.standing(Movement.objects.filter(posting__happened_at__gte=start.until))
    rows = moved.filter(Q(posting__reverses=None) | earlier).exclude(kind=Movement.Kind.DECANTED)
    rows = rows.order_by("posting__happened_at", "posting_id", "pk")
    return rows.values_list("lot__item_id", "quantity", "value").iterator(chunk_size=5000)


def sums(rows: Iterable[Compared]) -> dict[str, MethodResult]:
    """Over all items, by each method."""
    told = [row.told for row in rows]
    return {
        name: MethodResult(
            sum((each[name].cost for each in told), Fraction(0)),
            sum((each[name].left for each in told), Fraction(0)),
        )
        for name in METHODS
    }
