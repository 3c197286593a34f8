"""Which lots a complaint may be about when the code on the jar is lost: narrowed by what is known, ranked, with reasons."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction

from django.db.models import Count, Q
from django.utils import timezone

from batches.models import Complaint
from inventory.models import Lot, Movement
from studio.core.days import begin, first_instant_after

# A jar may stand in a shop for so long before it is sold; common practice, no source.
STANDS_DAYS = 120
AT_MOST = 25
SAME_REFERENCE, SAME_CUSTOMER, IN_PERIOD, STOOD_IN_A_SHOP = range(4)


@dataclass(frozen=True)
class Gone:
    """So many of a lot went out by one dispatch, and what of it fits the complaint."""

    lot_id: int
    units: int
    sent_on: date
    same_reference: bool = False
    same_customer: bool = False
    to_a_shop: bool = False


@dataclass
class Candidate:
    """A lot that the jar may be of. `units` of it fit what is known; `share` is of all units that fit."""

    lot_id: int
    rank: int
    units: int = 0
    share: Fraction = Fraction(0)
    others: int = 0
    reasons: list[str] = field(default_factory=list)
    lot: Lot | None = None


def rank(
    gone: Iterable[Gone], *, bought: tuple[date | None, date | None], others: dict[int, int]
) -> list[Candidate]:
    """Candidates, the likeliest first.

    Where something carries the order's reference it is one of those, else where something went to the same customer one of
    those. Otherwise what went out in the days between which it was bought comes before what a shop had got within the
    months before. `others` are other complaints by lot.
    """
    placed = [(place, each) for each in gone if (place := _place(each, bought)) is not None]
    best = min((place for place, _ in placed), default=IN_PERIOD)
    if best < IN_PERIOD:
        # What is known for sure leaves no room for what merely may be.
        placed = [(place, each) for place, each in placed if place == best]
    found: dict[int, Candidate] = {}
    parts: dict[int, dict[int, int]] = {}
    for place, each in placed:
        one = found.setdefault(each.lot_id, Candidate(each.lot_id, place))
        one.rank = min(one.rank, place)
        one.units += each.units
        of_lot = parts.setdefault(each.lot_id, {})
        of_lot[place] = of_lot.get(place, 0) + each.units
    every = sum(one.units for one in found.values())
    for one in found.values():
        one.share = Fraction(one.units, every)
        one.others = others.get(one.lot_id, 0)
        one.reasons = [_reason(place, units) for place, units in sorted(parts[one.lot_id].items())]
        if one.others:
            one.reasons.append(f"{one.others} other complaint{'' if one.others == 1 else 's'} about it")
    return sorted(found.values(), key=lambda one: (one.rank, -one.others, -one.units, one.lot_id))


def _place(each: Gone, bought: tuple[date | None, date | None]) -> int | None:
    """How well it fits; None where it cannot be that one."""
    begin, end = bought
    if end and each.sent_on > end:
        return None
    if each.same_reference:
        return SAME_REFERENCE
    if each.same_customer:
        return SAME_CUSTOMER
    if begin is None or each.sent_on >= begin:
        return IN_PERIOD
    if each.to_a_shop and each.sent_on >= begin - timedelta(days=STANDS_DAYS):
        return STOOD_IN_A_SHOP
    return None


def _reason(place: int, units: int) -> str:
    return {
        SAME_REFERENCE: f"{units} went out under this order reference",
        SAME_CUSTOMER: f"{units} went to this customer",
        IN_PERIOD: f"{units} went out in these days",
        STOOD_IN_A_SHOP: f"{units} went to a shop or a market in the {STANDS_DAYS} days before, and may have stood there",
    }[place]


def candidates(complaint: Complaint) -> list[Candidate]:
    """The lots this complaint may be about, at most `AT_MOST`; a fixed number of queries."""
    since = complaint.sold_from
    end = complaint.sold_until or complaint.happened_on or timezone.localtime(complaint.told_at).date()
    found = rank(_gone(complaint, since, end), bought=(since, end), others=_others(complaint))[:AT_MOST]
    lots = Lot.objects.select_related("item", "outcome__batch").in_bulk([one.lot_id for one in found])
    for one in found:
        one.lot = lots[one.lot_id]
    return found


def _gone(complaint: Complaint, since: date | None, end: date) -> Sequence[Gone]:
    """What of the product left to where it can have been bought."""
    left = Movement.objects.standing().filter(
        kind=Movement.Kind.DISPATCHED,
        lot__item=complaint.item_id,
        posting__happened_at__lt=first_instant_after(end),
    )
    sure = Q(pk=None)
    if complaint.reference:
        sure |= Q(posting__dispatch__reference__iexact=complaint.reference)
    if complaint.customer_id:
        sure |= Q(posting__dispatch__customer=complaint.customer_id)
    chance = Q()
    if complaint.channel_id:
        chance &= Q(posting__dispatch__channel=complaint.channel_id)
    if since:
        chance &= Q(posting__happened_at__gte=begin(since - timedelta(days=STANDS_DAYS)))
    rows = (
        left.filter(sure | chance)
        .order_by()
        .values_list(
            "lot",
            "quantity",
            "posting__happened_at",
            "posting__dispatch__reference",
            "posting__dispatch__customer",
            "posting__dispatch__customer__is_person",
        )
    )
    wanted = complaint.reference.casefold()
    return [
        Gone(
            lot_id,
            -quantity,
            timezone.localtime(at).date(),
            same_reference=bool(wanted) and (reference or "").casefold() == wanted,
            same_customer=complaint.customer_id is not None and customer == complaint.customer_id,
            to_a_shop=is_person is False,
        )
        for lot_id, quantity, at, reference, customer, is_person in rows
    ]


def _others(complaint: Complaint) -> dict[int, int]:
    """Other complaints about the product's lots, by lot."""
    rows = Complaint.objects.filter(item=complaint.item_id).exclude(pk=complaint.pk).exclude(lot=None)
    return dict(rows.order_by().values_list("lot").annotate(Count("pk")))
