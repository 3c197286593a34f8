"""Stock that leaves or appears outside a batch: scrap, samples, back to the supplier, found, put right.

Each carries a reason from the list the studio keeps, and what was written beside it.
"""

from django.db import transaction

from inventory.ledger import books
from inventory.models import Movement, Posting, Reason
from studio.signature import Signature

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


def _change(lot_id: int, on_hand: int) -> int:
    """How far a lot's books are from `on_hand`; the lot stays locked. Raises BookError when they agree."""
    change = on_hand - books.lock([lot_id])[lot_id].on_hand
    if not change:
        raise books.BookError("The books hold exactly this. Nothing needs putting right.", lot_id)
    return change


@transaction.atomic
def find(lot_id: int, on_hand: int, *, signature: Signature) -> Posting:
    """Book what a lot holds beyond its books, `on_hand` base units in all, as found: nothing was paid for it, so it
    is worth nothing. Raises WrongTime, BookError.
    """
    found = _change(lot_id, on_hand)
    if found < 0:
        raise books.BookError(
            "That is less than the books hold. What is missing is taken out as scrap.", lot_id
        )
    return books.post(Posting.Kind.FOUND, signature, [books.Line(lot_id, Movement.Kind.FOUND, found, 0)])


@transaction.atomic
def put_right(lot_id: int, on_hand: int, *, signature: Signature) -> Posting:
    """Put a lot's quantity right at `on_hand` base units, because it was entered wrongly, as pounds for kilograms.

    What was paid for stays what it was: the lot's value does not change, so its unit cost does. What was drawn at
    the wrong cost until now stays as it was. Raises WrongTime, BookError.
    """
    if on_hand <= 0:
        raise books.BookError(
            "Nothing would be left to carry what was paid. Scrap the lot, or reverse its delivery.", lot_id
        )
    change = _change(lot_id, on_hand)
    line = books.Line(lot_id, Movement.Kind.CORRECTED, change, 0)
    return books.post(Posting.Kind.CORRECTION, signature, [line])
