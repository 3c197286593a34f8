"""Decanting: part of a lot moves into other containers, each of which becomes a lot of its own.

From a pail into jars: one parent, several children. Several lots of one item poured together: one child with
several parents, which every trace then names. A container is never topped up: what is poured into an empty jar is
a new lot with a new code.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction

from inventory.ledger import books
from inventory.lots import holding
from inventory.lots.moving import Taking
from inventory.models import Lot, Movement, Posting
from studio.core.money import allocate
from studio.numbering import next_codes
from studio.people.signature import Signature

LOT_PREFIX = "L"
INHERITED_HOLD = "Decanted from a lot on hold"


class CannotDecant(Exception):
    """What was asked for is not a decanting. Its text is a sentence that says what to do."""


@dataclass(frozen=True)
class Jar:
    """A container to be filled with `quantity` base units; `tare_ug` is what it weighs empty."""

    quantity: int
    container: str = ""
    place: str = ""
    tare_ug: int | None = None


@transaction.atomic
def decant(
    takings: Sequence[Taking],
    jars: Sequence[Jar],
    *,
    signature: Signature,
    emptied: bool = False,
    book_found: bool = False,
) -> list[Lot]:
    """Pour what is taken from one lot into jars, or from several lots of one item into one jar; the jars' lots.

    Quantities are base units; what is taken and what is filled are the same. A jar inherits the item, the earliest
    expiry, any hold (the owner's as the owner's) and the wait for a release, and, from a single parent, the supplier and
    the supplier's lot. Value goes along with the quantity, split over the jars to the last millionth. `emptied`: whatever
    the parents still hold afterwards stayed in the container and is scrapped in the same posting. `book_found`: a parent
    gave more than its books held.

    Raises CannotDecant, LotShort, WrongTime, BookError.
    """
    _check(takings, jars)
    parents = books.lock(taking.lot_id for taking in takings)
    item_ids = {lot.item_id for lot in parents.values()}
    if len(item_ids) > 1:
        raise CannotDecant("Only lots of one item can be poured together.")
    waiting = next((lot for lot in parents.values() if lot.awaits_release), None)
    if waiting and len(parents) > 1:
        # What is asked before a release is asked of one batch.
        raise CannotDecant(
            f"Lot {waiting.spaced_code} waits to be released. Release it first, or decant it by itself."
        )
    lines, worth = _out(takings, parents, emptied, book_found)
    made = _lots(jars, list(parents.values()), signature)
    lines += [
        books.Line(lot.pk, Movement.Kind.DECANTED, jar.quantity, value)
        for lot, jar, value in zip(made, jars, allocate(worth, [jar.quantity for jar in jars]), strict=True)
    ]
    books.post(Posting.Kind.DECANT, signature, lines, book_found=book_found)
    _hold_on(made, parents, signature)
    return made


def _check(takings: Sequence[Taking], jars: Sequence[Jar]) -> None:
    if not takings or not jars or min(*(t.quantity for t in takings), *(j.quantity for j in jars)) <= 0:
        raise CannotDecant("Say how much goes into each container, above zero.")
    if len({taking.lot_id for taking in takings}) < len(takings):
        raise CannotDecant("Each lot can be named once. Add the two quantities together.")
    if len(takings) > 1 and len(jars) > 1:
        raise CannotDecant(
            "Several lots poured together make one new lot. Pour them into one container first."
        )
    if sum(taking.quantity for taking in takings) != sum(jar.quantity for jar in jars):
        raise CannotDecant("What is taken and what the containers hold must be the same.")


def _out(
    takings: Sequence[Taking], parents: dict[int, Lot], emptied: bool, book_found: bool
) -> tuple[list[books.Line], int]:
    """The lines that leave the locked parents, and what they carry in all, in millionths."""
    lines, worth = [], 0
    for taking in takings:
        lot = parents[taking.lot_id]
        if taking.quantity > lot.on_hand and not book_found:
            raise books.LotShort(lot, taking.quantity)
        value = books.carried(lot, taking.quantity)
        rest = lot.on_hand - taking.quantity
        if emptied and rest > 0:
            # What clings to the pail was paid for by what came out of it: the jars carry everything.
            lines.append(books.Line(lot.pk, Movement.Kind.SCRAPPED, -rest, 0))
            value = lot.value
        lines.append(books.Line(lot.pk, Movement.Kind.DECANTED, -taking.quantity, -value))
        worth += value
    return lines, worth


def _lots(jars: Sequence[Jar], parents: Sequence[Lot], signature: Signature) -> list[Lot]:
    """The jars as lots, still empty."""
    first = parents[0]
    expiries: list[date] = [lot.expires_on for lot in parents if lot.expires_on]
    ready = [lot.ready_on for lot in parents if lot.ready_on]
    alone = len(parents) == 1
    return Lot.objects.bulk_create(
        Lot(
            code=code,
            item=first.item,
            grade=first.grade,
            supplier_id=first.supplier_id if len({lot.supplier_id for lot in parents}) == 1 else None,
            supplier_lot=first.supplier_lot if alone else "",
            arrived_at=signature.happened_at,
            expires_on=min(expiries, default=None),
            ready_on=max(ready, default=None),
            awaits_release=first.awaits_release,
            place=jar.place or first.item.place,
            container=jar.container,
            tare_ug=jar.tare_ug,
        )
        for code, jar in zip(next_codes(LOT_PREFIX, len(jars)), jars, strict=True)
    )


def _hold_on(made: Sequence[Lot], parents: dict[int, Lot], signature: Signature) -> None:
    """A jar filled from a lot on hold is on hold too, and says from which; what the owner decides there, here as well."""
    held = [lot for lot in parents.values() if lot.held]
    if not held:
        return
    why = f"{INHERITED_HOLD}: {', '.join(lot.spaced_code for lot in held)}"
    holding.hold_all([lot.pk for lot in made], signature=signature.because(why))
    stands = holding.standing_on(lot.pk for lot in held)
    owners = [hold for lot in held for hold in holding.owners(stands.get(lot.pk, ()))]
    holding.pass_on({lot.pk: owners for lot in made}, signature=signature)
    for lot in made:
        lot.held = True
