"""Stock that leaves or appears outside a batch: scrap, samples, back to the supplier, found, put right.

Each carries a reason from the list the studio keeps, and what was written beside it.
"""

from django.db import transaction
from django.db.models import Max

from inventory.ledger import books
from inventory.models import Lot, Movement, Posting, Reason
from studio.people.signature import Signature

LEAVING = {
    Reason.Kind.SCRAP: (Posting.Kind.SCRAP, Movement.Kind.SCRAPPED),
    Reason.Kind.SAMPLE: (Posting.Kind.SAMPLE, Movement.Kind.SAMPLED),
    Reason.Kind.SENT_BACK: (Posting.Kind.SENT_BACK, Movement.Kind.SENT_BACK),
}


@transaction.atomic
def take_out(
    lot_id: int, quantity: int, *, kind: Reason.Kind, signature: Signature, book_found: bool = False
) -> Posting:
    """Take `quantity` base units out of a lot as scrap, as a sample or back to the supplier, held or expired as it is.

    The value goes with it. Raises LotShort, WrongTime, BookError.
    """
    posting_kind, movement_kind = LEAVING[kind]
    if quantity <= 0:
        raise books.BookError("Enter a quantity above zero.", lot_id)
    return books.post(
        posting_kind, signature, [books.Line(lot_id, movement_kind, -quantity)], book_found=book_found
    )


class ChangedSince(books.BookError):
    """Something came into the lot or left it since somebody looked. `seen` is how it stands now."""

    def __init__(self, lot: Lot, seen: str) -> None:
        super().__init__(
            f"Something came into this lot or left it since the page was opened: the books hold "
            f"{lot.item.quantity(lot.on_hand)} now. Check how much there really is, then press again.",
            lot.pk,
        )
        self.seen = seen


def seen_of(lot: Lot) -> str:
    """How a lot stands, for a page to carry: the last movement that changed what it holds.

    Not what it holds: that may be the same again after a shipment was reversed, and what was put right before is then
    put right twice.
    """
    moved = lot.movements.exclude(quantity=0).aggregate(latest=Max("pk"))
    return str(moved["latest"] or "")


def _change(lot_id: int, on_hand: int, seen: str | None) -> int:
    """How far a lot's books are from `on_hand`; the lot stays locked. Raises ChangedSince, BookError when they agree."""
    lot = books.lock([lot_id])[lot_id]
    if seen is not None and (now := seen_of(lot)) != seen:
        raise ChangedSince(lot, now)
    change = on_hand - lot.on_hand
    if not change:
        raise books.BookError("The books hold exactly this. Nothing needs putting right.", lot_id)
    return change


@transaction.atomic
def find(lot_id: int, on_hand: int, *, signature: Signature, seen: str | None = None) -> Posting:
    """Book what a lot holds beyond its books, `on_hand` base units in all, as found: nothing was paid for it, so it
    is worth nothing. `seen` is how the lot stood when it was looked at (`seen_of`), where that is known.

    Raises ChangedSince, WrongTime, BookError.
    """
    found = _change(lot_id, on_hand, seen)
    if found < 0:
        raise books.BookError(
            "That is less than the books hold. What is missing is taken out as scrap.", lot_id
        )
    return books.post(Posting.Kind.FOUND, signature, [books.Line(lot_id, Movement.Kind.FOUND, found, 0)])


@transaction.atomic
def put_right(lot_id: int, on_hand: int, *, signature: Signature, seen: str | None = None) -> Posting:
    """Put a lot's quantity right at `on_hand` base units, because it was entered wrongly, as pounds for kilograms.

    What was paid for stays what it was: the lot's value does not change, so its unit cost does. What was drawn at
    the wrong cost until now stays as it was. `seen` as for `find`. Raises ChangedSince, WrongTime, BookError.
    """
    if on_hand <= 0:
        raise books.BookError(
            "Nothing would be left to carry what was paid. Scrap the lot, or reverse its delivery.", lot_id
        )
    change = _change(lot_id, on_hand, seen)
    line = books.Line(lot_id, Movement.Kind.CORRECTED, change, 0)
    return books.post(Posting.Kind.CORRECTION, signature, [line])
