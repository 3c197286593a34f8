"""Stock moves: drawn into a batch, made by one; and a cost that is corrected afterwards."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction

from inventory.ledger import books
from inventory.models import Grade, Item, Lot, Movement, Posting
from studio.core.money import share
from studio.numbering import next_codes
from studio.people.signature import Signature


@dataclass(frozen=True)
class Taking:
    """A quantity in base units to be taken from one lot."""

    lot_id: int
    quantity: int


@dataclass(frozen=True)
class Making:
    """A lot to be made: so many base units of an item, worth `value` millionths, from one batch.

    `again` is the lot (by key) that it was before its result was taken back: it keeps that one and its code.
    """

    item: Item
    grade: Grade
    quantity: int
    value: int
    expires_on: date | None = None
    ready_on: date | None = None
    place: str = ""
    awaits_release: bool = False
    again: int | None = None


def leaving(kind: Movement.Kind, takings: Sequence[Taking]) -> list[books.Line]:
    """The lines of what is taken. Raises BookError when nothing is."""
    if not takings or any(taking.quantity <= 0 for taking in takings):
        raise books.BookError("Choose a lot and enter a quantity above zero.")
    return [books.Line(taking.lot_id, kind, -taking.quantity) for taking in takings]


@transaction.atomic
def draw(
    takings: Sequence[Taking],
    *,
    signature: Signature,
    book_found: bool = False,
    used: Collection[int] = (),
    despite: str = "",
) -> Posting:
    """Take quantities from lots for use. What the scale said is what is recorded.

    With `book_found`, a lot that held less by the books is topped up by what was found, worth nothing, in the
    same posting, which is then flagged for review. Lots in `used` (by key) were in use at the time and are taken
    even if they are on hold or expired by now; so are others for the reason in `despite`, flagged too.

    Raises LotShort, LotNotUsable, WrongTime, BookError.
    """
    lines = leaving(Movement.Kind.DRAWN, takings)
    return books.post(
        Posting.Kind.DRAW,
        signature,
        lines,
        usable_only=True,
        book_found=book_found,
        used=used,
        despite=despite,
    )


@transaction.atomic
def make(makings: Sequence[Making], *, prefix: str, signature: Signature) -> tuple[Posting, list[Lot]]:
    """Put what a batch yielded on the shelf, each making as a lot with a new code or in the lot it was before; the lots
    come in the order of the makings. Raises WrongTime.
    """
    if signature.happened_at > signature.recorded_at:
        raise books.WrongTime("This lies in the future. Give a time that has passed.")
    before = books.lock(making.again for making in makings if making.again)
    fresh = iter(_new_lots([making for making in makings if not making.again], prefix, signature))
    lots = [
        _once_more(before[making.again], making, signature) if making.again else next(fresh)
        for making in makings
    ]
    lines = [
        books.Line(lot.pk, Movement.Kind.MADE, making.quantity, making.value)
        for lot, making in zip(lots, makings, strict=True)
    ]
    return books.post(Posting.Kind.YIELD, signature, lines), lots


def _new_lots(makings: Sequence[Making], prefix: str, signature: Signature) -> list[Lot]:
    codes = next_codes(prefix, len(makings)) if makings else []
    return Lot.objects.bulk_create(
        Lot(
            code=code,
            item=making.item,
            grade=making.grade,
            arrived_at=signature.happened_at,
            expires_on=making.expires_on,
            ready_on=making.ready_on,
            awaits_release=making.awaits_release,
            place=making.place or making.item.place,
        )
        for code, making in zip(codes, makings, strict=True)
    )


def _once_more(lot: Lot, making: Making, signature: Signature) -> Lot:
    """A locked lot whose result is entered anew: its days follow, its place, holds and release stay."""
    lot.ready_on, lot.arrived_at = making.ready_on, min(lot.arrived_at, signature.happened_at)
    if not lot.changes.filter(what="expiry").exists():
        lot.expires_on = making.expires_on
    lot.save(update_fields=["ready_on", "arrived_at", "expires_on"])
    return lot


@transaction.atomic
def revalue(changes: Sequence[tuple[Lot, int, int]], *, signature: Signature) -> Posting:
    """Correct the cost of lots that exist: (lot, quantity it came with, change in millionths).

    The share of what is still here joins the lot's value; the share of what has gone is kept as a cost of the
    period, tied to the lot. Together they are the change, exactly.
    """
    lines, periods = [], []
    fresh = books.lock(lot.pk for lot, _, _ in changes)
    for lot, came_with, change in changes:
        now = fresh[lot.pk]
        # Never below zero: what cannot be taken off the stock is taken off the period.
        here = max(share(change, now.on_hand, came_with), -now.value) if now.on_hand else 0
        if here:
            lines.append(books.Line(lot.pk, Movement.Kind.REVALUED, 0, here))
        periods.append((lot.pk, change - here))
    return books.post(Posting.Kind.REVALUATION, signature, lines, period_costs=periods)
