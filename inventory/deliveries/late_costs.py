"""Freight or duty billed after its delivery: the cost follows the goods to where they are by now.

Transport and duty are part of what goods cost (IAS 2, read in summaries). What is still here takes its share, in
jars decanted from the delivery too; what was used, sent out or lost has left, and its share is a cost of the period.
Lots made from the goods keep the cost they were made at.
"""

from collections.abc import Collection
from dataclasses import dataclass, field

from django.db import transaction
from django.db.models import Sum

from inventory.deliveries.receiving import CannotSpread, spread_freight
from inventory.ledger import books
from inventory.lots.family import poured_from
from inventory.models import Delivery, LateCost, Lot, Movement, Posting
from studio.core.money import allocate
from studio.people.signature import Signature


@dataclass(frozen=True)
class LotShare:
    """What of a late cost joined a lot's value and what is a cost of the period, in millionths."""

    lot: Lot
    joined: int
    period: int


@dataclass
class _Left:
    """What has left a lot, in base units: by decanting, for each posting, and in every other way."""

    decanted: dict[int, int] = field(default_factory=dict)
    gone: int = 0


@transaction.atomic
def add_cost(
    delivery: Delivery, *, amount: int, spread: str, reference: str, signature: Signature
) -> LateCost:
    """Add a cost that was billed after the delivery came, in millionths; a credit note's is below zero.

    Shared over the delivery's lots by what their lines cost, without freight, or by weight; in each lot by quantity
    over what is here, what was decanted from it and what has gone. A credit never takes a lot below zero: the rest
    of it is taken off the period. What joined the lots and what the period bears come to the amount exactly.
    `signature` says when the invoice came and, as its reason, what it was for.

    Raises CannotSpread, WrongTime (before the delivery or before a decanting, or in the future), BookError when the
    delivery was reversed.
    """
    if not amount:
        raise CannotSpread("Enter the amount of the invoice or the credit note, above zero.")
    amounts = _shared_over_lots(delivery, amount, spread)
    lots = _hold_family(amounts)
    if Posting.objects.filter(reverses=delivery.posting_id).exists():
        raise books.BookError("This delivery was reversed. Add the cost to the delivery that took its place.")
    if signature.happened_at < delivery.posting.happened_at:
        arrived = f"{books.local(delivery.posting.happened_at):%d %b %Y, %H:%M}"
        raise books.WrongTime(f"The delivery arrived on {arrived}. Give a time after that.")
    joined, period = _spread_down(amounts, lots)
    _check_there(joined, lots, signature)
    lines = [books.Line(lot_id, Movement.Kind.REVALUED, 0, value) for lot_id, value in joined.items()]
    posting = books.post(Posting.Kind.REVALUATION, signature, lines, period_costs=period.items())
    return LateCost.objects.create(
        delivery=delivery, posting=posting, amount=amount, spread=spread, reference=reference
    )


def _shared_over_lots(delivery: Delivery, amount: int, spread: str) -> dict[int, int]:
    """Each lot's share as if the cost had been billed with the delivery, by key."""
    lines = list(delivery.lines.select_related("item").prefetch_related("lots").order_by("pk"))
    amounts: dict[int, int] = {}
    for line, part in zip(lines, spread_freight(amount, lines, spread), strict=True):
        lot_ids = sorted(lot.pk for lot in line.lots.all())
        amounts |= zip(lot_ids, allocate(part, [1] * len(lot_ids)), strict=True)
    return amounts


def _hold_family(roots: Collection[int]) -> dict[int, Lot]:
    """The lots and all that was decanted from them, locked in the order of their keys."""
    lots = books.lock(_family(roots))
    # A jar that was filled meanwhile is younger than all that are locked, so the order is kept.
    while fresh := _family(roots) - lots.keys():
        lots |= books.lock(fresh)
    return lots


def _family(roots: Collection[int]) -> set[int]:
    found = set(roots)
    level = found
    while level:
        level = {pouring.child for pouring in poured_from(level) if not pouring.returned} - found
        found = found | level
    return found


def _spread_down(amounts: dict[int, int], lots: dict[int, Lot]) -> tuple[dict[int, int], dict[int, int]]:
    """What joins each lot and what is a cost of the period, by lot; parts that are nothing are left out."""
    left, jars = _what_left(lots), _jars_filled(lots)
    reaching = dict.fromkeys(lots, 0) | amounts
    joined: dict[int, int] = {}
    period: dict[int, int] = {}
    # By key: a jar is younger than what it was filled from, so all that reaches it is known by then.
    for lot_id in sorted(lots):
        lot, out = lots[lot_id], left.get(lot_id, _Left())
        weights = [lot.on_hand, out.gone, *out.decanted.values()]
        here, gone, *onwards = allocate(reaching[lot_id], weights)
        for posting, part in zip(out.decanted, onwards, strict=True):
            filled = jars[posting]
            for jar, jar_part in zip(filled, allocate(part, list(filled.values())), strict=True):
                reaching[jar] += jar_part
        bearable = max(here, -lot.value)
        joined |= {lot_id: bearable} if bearable else {}
        rest = gone + here - bearable
        period |= {lot_id: rest} if rest else {}
    return joined, period


def _what_left(lots: Collection[int]) -> dict[int, _Left]:
    """What has left each lot. What clung to an emptied container was paid for by the jars, so it counts with them."""
    taken = Movement.objects.standing().filter(lot__in=lots, quantity__lt=0).order_by("lot", "posting")
    rows = taken.values_list("lot_id", "posting_id", "posting__kind").annotate(total=Sum("quantity"))
    left: dict[int, _Left] = {}
    for lot_id, posting_id, kind, total in rows:
        out = left.setdefault(lot_id, _Left())
        if kind == Posting.Kind.DECANT:
            out.decanted[posting_id] = -total
        else:
            out.gone -= total
    return left


def _jars_filled(lots: Collection[int]) -> dict[int, dict[int, int]]:
    """For each decanting, the base units that went into each jar."""
    filled: dict[int, dict[int, int]] = {}
    decanted = Movement.objects.standing().filter(kind=Movement.Kind.DECANTED, quantity__gt=0)
    rows = decanted.filter(lot__in=lots).order_by("lot")
    for posting_id, lot_id, quantity in rows.values_list("posting_id", "lot_id", "quantity"):
        filled.setdefault(posting_id, {})[lot_id] = quantity
    return filled


def _check_there(joined: Collection[int], lots: dict[int, Lot], signature: Signature) -> None:
    """Raise WrongTime when a jar that bears a share was filled only after the invoice came."""
    for lot_id in joined:
        lot = lots[lot_id]
        if lot.arrived_at > signature.happened_at:
            filled = f"{books.local(lot.arrived_at):%d %b %Y, %H:%M}"
            raise books.WrongTime(
                f"Lot {lot.spaced_code} was filled from this delivery on {filled} and bears a share. "
                "Give a later time, or none for now.",
                lot.pk,
            )


def shares_of(late: LateCost) -> list[LotShare]:
    """Where a late cost went, lot by lot in the order of their keys. Reads the posting's lines."""
    lots: dict[int, Lot] = {}
    joined: dict[int, int] = {}
    period: dict[int, int] = {}
    for line in late.posting.movements.all():
        lots[line.lot_id], joined[line.lot_id] = line.lot, line.value
    for cost in late.posting.period_costs.all():
        lots[cost.lot_id], period[cost.lot_id] = cost.lot, cost.value
    return [LotShare(lots[pk], joined.get(pk, 0), period.get(pk, 0)) for pk in sorted(lots)]
