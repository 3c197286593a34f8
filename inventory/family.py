"""Which lots were decanted into which: read from the books, two queries for any number of lots."""

from collections.abc import Collection
from dataclasses import dataclass

from inventory.models import Lot, Movement


@dataclass(frozen=True)
class Pouring:
    """`quantity` base units that went from one lot into another."""

    parent: Lot
    child: Lot
    quantity: int


def poured_into(children: Collection[int]) -> list[Pouring]:
    """What was decanted into these lots (by key), and from where; reversed decantings left out."""
    return _pourings(children, incoming=True)


def poured_from(parents: Collection[int]) -> list[Pouring]:
    """What was decanted from these lots (by key), and into what; reversed decantings left out."""
    return _pourings(parents, incoming=False)


def _pourings(lots: Collection[int], *, incoming: bool) -> list[Pouring]:
    decanted = Movement.objects.standing().filter(kind=Movement.Kind.DECANTED)
    own = decanted.filter(quantity__gt=0) if incoming else decanted.filter(quantity__lt=0)
    postings = list(own.filter(lot__in=lots).values_list("posting_id", flat=True))
    if not postings:
        return []
    sides: dict[int, tuple[list[Movement], list[Movement]]] = {}
    rows = decanted.filter(posting__in=postings).select_related(
        "lot__item", "lot__supplier", "lot__delivery_line__delivery"
    )
    for movement in rows.order_by("pk"):
        sides.setdefault(movement.posting_id, ([], []))[movement.quantity > 0].append(movement)
    # A decanting has one parent or one child, so the smaller of the two is what went along this edge.
    return [
        Pouring(out.lot, into.lot, min(-out.quantity, into.quantity))
        for leaving, arriving in sides.values()
        for out in leaving
        for into in arriving
        if (into.lot_id if incoming else out.lot_id) in lots
    ]
