"""How many units customers had: what complaints are counted for and held against.

What came back counts as had, since somebody had it and most of it comes back for what is complained of. What came back and
was released to be sold again does not: it was as new. It counts once more when it leaves again, with the lot it first
left as.
"""

from collections.abc import Collection, Iterator
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet, Sum

from inventory.models import HoldRecord, Kind, Movement, ReturnLine


def by_item(items: Collection[int]) -> dict[int, int]:
    """Units of each of these items; two queries."""
    sums = dict.fromkeys(items, 0)
    for _, item_id, quantity in _rows("item", items):
        sums[item_id] += quantity
    return sums


def by_lot(lots: Collection[int]) -> dict[int, int]:
    """Units of each of these lots; a few queries, one more for each time something came back again."""
    first = first_lots(lots)
    sums = dict.fromkeys(lots, 0)
    for lot_id, _, quantity in _rows("pk", first):
        sums[first[lot_id]] += quantity
    return sums


def of_all(items: Collection[int] | None) -> int:
    """Units of all finished goods, or of these items alone; two queries."""
    field, among = ("item__kind", [Kind.FINISHED]) if items is None else ("item", items)
    sums = (rows.aggregate(every=Sum("quantity"))["every"] for _, rows in _had(field, among))
    return -sum(each or 0 for each in sums)


def first_lots(lots: Collection[int]) -> dict[int, int]:
    """These lots and all that came back of them, each with the one of these that it left as first."""
    first = {lot_id: lot_id for lot_id in lots}
    level = set(lots)
    while level:
        back = dict(ReturnLine.objects.filter(source__in=level).values_list("lot", "source"))
        level = back.keys() - first.keys()
        first |= {lot_id: first[back[lot_id]] for lot_id in level}
    return first


def _rows(field: str, among: Collection[Any]) -> Iterator[tuple[int, int, int]]:
    """Lot, item and units of lots with such a field: what left, and below zero what was as new when it came back."""
    for lot, rows in _had(field, among):
        sums = rows.order_by().values_list(lot, f"{lot}__item").annotate(Sum("quantity"))
        yield from ((lot_id, item_id, -quantity) for lot_id, item_id, quantity in sums)


def _had(field: str, among: Collection[Any]) -> list[tuple[str, QuerySet[Any]]]:
    """The rows that count, each with the way to its lot; what left is below zero in the books."""
    left = Movement.objects.standing().filter(kind=Movement.Kind.DISPATCHED)
    released = HoldRecord.objects.filter(lot=OuterRef("lot"), held=False)
    unsold = ReturnLine.objects.filter(Exists(released), goods_return__posting__reversal__isnull=True)
    return [
        (lot, rows.filter(**{f"{lot}__{field}__in": among}))
        for lot, rows in (("lot", left), ("source", unsold))
    ]
