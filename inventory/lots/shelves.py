"""The lots on the shelf that may be used, as the suggestion of lots sees them."""

from collections.abc import Iterable
from datetime import date

from inventory.lots.suggestion import Shelf
from inventory.models import Lot


def shelves(item_ids: Iterable[int], on: date) -> dict[int, list[Lot]]:
    """The usable lots of several items in one query, first to expire first, by item id."""
    found: dict[int, list[Lot]] = {item_id: [] for item_id in item_ids}
    lots = Lot.objects.filter(item__in=found).on_shelf().usable(on).first_to_expire().select_related("item")
    for lot in lots:
        found[lot.item_id].append(lot)
    return found


def as_shelf(lot: Lot) -> Shelf:
    """A lot as the suggestion of lots sees it."""
    return Shelf(lot.pk, lot.code, lot.on_hand, lot.expires_on, lot.arrived_at.date())
