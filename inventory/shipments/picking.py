"""Which lots to take for what is to be sent: what is in somebody's hands already, and for the rest the fewest lots.

Among those the first to expire and the oldest first, of what is released, cured, not on hold and of first quality.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from inventory.ledger.books import LotNotUsable, check_usable_on
from inventory.lots.shelves import as_shelf
from inventory.lots.suggestion import suggest_lots
from inventory.models import Grade, Item, Kind, Lot
from inventory.sales_orders.order_standing import ready_lots
from inventory.shipments.scanning import Scanned

LOTS_AT_MOST = 30  # of one product; beyond that the oldest are shown


@dataclass(frozen=True)
class Picking:
    """A product with its lots that may leave; `wanted`, `short` and what is `filled` in by lot in base units."""

    item: Item
    wanted: int
    lots: Sequence[Lot]
    filled: Mapping[int, int] = field(default_factory=dict)
    reason: str = ""
    short: int = 0
    more: int = 0  # lots that are not shown


def pickings(
    wanted: Mapping[int, int], scanned: Mapping[int, int], named: Collection[int], on: date
) -> list[Picking]:
    """For so many base units by item, with the pieces by lot that were scanned and lots that were `named` (by key).

    Three queries for any number of products.
    """
    chosen = Lot.objects.filter(pk__in={*scanned, *named}, item__kind=Kind.FINISHED)
    items = {*wanted, *chosen.values_list("item", flat=True)}
    lots: dict[int, list[Lot]] = {item_id: [] for item_id in wanted}
    both = Lot.objects.filter(item__in=items) & ready_lots(on)
    for lot in (both | chosen).first_to_expire().select_related("item"):
        lots.setdefault(lot.item_id, []).append(lot)
    names = Item.objects.in_bulk(items)
    return [
        _picking(names[item_id], wanted.get(item_id, 0), here, scanned)
        for item_id, here in lots.items()
        if item_id in names
    ]


def _picking(item: Item, wanted: int, lots: list[Lot], scanned: Mapping[int, int]) -> Picking:
    filled = {lot.pk: scanned[lot.pk] for lot in lots if lot.pk in scanned}
    held = sum(filled.values())
    wanted = max(wanted, held)
    left = wanted - held
    # A lot that is opened for this anyway goes on before another is begun.
    for lot in lots:
        if lot.pk in filled and left:
            more = min(lot.on_hand - filled[lot.pk], left)
            filled[lot.pk] += more
            left -= more
    fresh = [as_shelf(lot) for lot in lots if lot.grade == Grade.FIRST and lot.pk not in filled]
    suggestion = suggest_lots(left, fresh)
    filled |= {pick.lot_id: pick.quantity for pick in suggestion.picks}
    reason = suggestion.reason if left else "As scanned." if held else ""
    shown = [lot for place, lot in enumerate(lots) if place < LOTS_AT_MOST or lot.pk in filled]
    return Picking(item, wanted, shown, filled, reason, suggestion.short, len(lots) - len(shown))


def stop(scanned: Scanned, wanted: Mapping[int, int], on: date) -> Scanned:
    """What was scanned without the lots that may not leave, each of which is told with what to do instead."""
    pieces: dict[int, int] = {}
    problems = list(scanned.problems)
    of_item: dict[int, int] = {}
    for pk, count in scanned.pieces.items():
        lot = scanned.lots[pk]
        of_item[lot.item_id] = of_item.get(lot.item_id, 0) + count
        if problem := _why_not(lot, count, of_item[lot.item_id], wanted, on):
            problems.append(problem)
        else:
            pieces[pk] = count
    return replace(scanned, pieces=pieces, problems=problems)


def _why_not(lot: Lot, count: int, of_item: int, wanted: Mapping[int, int], on: date) -> str:
    """Why so many of a lot may not leave, in a sentence that says what to do; empty where they may."""
    item = lot.item
    if item.kind != Kind.FINISHED:
        return f"Lot {lot.spaced_code} is {item}. Only finished goods are sent out; check the code."
    if wanted and lot.item_id not in wanted:
        return f"{item}, lot {lot.spaced_code}, is not on the list. Put it back, or add a line for it."
    if wanted and of_item > wanted[lot.item_id]:
        return (
            f"{item.quantity(of_item)} of {item} are scanned and {item.quantity(wanted[lot.item_id])} wanted. Put "
            "the rest back, or raise the line."
        )
    try:
        check_usable_on(lot, on)
    except LotNotUsable as error:
        return str(error)
    if count > lot.on_hand:
        return (
            f"Lot {lot.spaced_code} holds {item.quantity(lot.on_hand)} by the books and {item.quantity(count)} are "
            "scanned. Count the lot, or look at the other codes."
        )
    return ""
