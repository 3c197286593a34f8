"""How a lot begins, whichever way it came: with the next code of its own, empty, in its item's usual place.

What it holds and is worth is told by movements alone. Nothing else makes lots; a test looks.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta

from inventory.models import Grade, Item, Lot
from studio.numbering import next_codes

LOT_PREFIX = "L"


@dataclass(frozen=True, kw_only=True)
class NewLot:
    """A lot that is to be: what is known of it besides its code. No place: where its item usually stands."""

    item: Item
    arrived_at: datetime
    grade: str = Grade.FIRST
    supplier_id: int | None = None
    supplier_lot: str = ""
    expires_on: date | None = None
    ready_on: date | None = None
    opened_on: date | None = None
    place: str = ""
    container: str = ""
    tare_ug: int | None = None
    held: bool = False
    awaits_release: bool = False


def begin(wanted: Sequence[NewLot]) -> list[Lot]:
    """The lots, each with the next code, in the order wanted; not written yet. Codes are taken last, after every lock."""
    codes = next_codes(LOT_PREFIX, len(wanted)) if wanted else []
    lots = []
    for code, new in zip(codes, wanted, strict=True):
        lot = Lot(code=code, **{field.name: getattr(new, field.name) for field in fields(new)})
        lot.place = new.place.strip() or new.item.place
        lots.append(lot)
    return lots


def make(wanted: Sequence[NewLot]) -> list[Lot]:
    """`begin`, and written; movements can name them."""
    return Lot.objects.bulk_create(begin(wanted))


def expiry(item: Item, arrived_on: date, written: date | None) -> date | None:
    """When a lot that arrives expires: as written on it, else by its item's shelf life; None where neither says."""
    if written is None and item.shelf_life_days:
        return arrived_on + timedelta(days=item.shelf_life_days)
    return written
