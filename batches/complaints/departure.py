"""Whether a candle that is complained of can have left the studio by the day it was bought, as the books have it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from batches.complaints.complaining import Candle
from batches.lineage.lineage import descendants
from batches.models import Complaint
from inventory.models import Movement, ReturnLine
from studio.core.days import first_instant_after


@dataclass(frozen=True)
class NotLeft:
    """Nothing of a lot or batch, by its code, had left by the end of a day; `later`: when the first of it did, if ever."""

    what: str
    spaced_code: str
    by: date
    later: datetime | None


def not_left(candle: Candle, by: date) -> NotLeft | None:
    """What the books say against this candle having been sold by a day; None where some of it had left, or none is known.

    What came back is followed to what it was when it left, and what was decanted to where it went. What earlier records say
    was sent out counts. A few queries, one more for each time something came back again.
    """
    thing = candle.lot or candle.batch
    if thing is None:
        return None
    lots = _as_it_left([candle.lot.pk]) if candle.lot else set()
    batches = set() if candle.lot else {thing.pk}
    left = Movement.objects.standing().filter(
        kind=Movement.Kind.DISPATCHED, lot__in=descendants(lots, batches).lots
    )
    first = left.order_by("posting__happened_at").values_list("posting__happened_at", flat=True).first()
    if first and first < first_instant_after(by):
        return None
    return NotLeft("lot" if candle.lot else "batch", thing.spaced_code, by, first)


def day_it_was_bought_by(complaint: Complaint) -> date:
    """The last day on which the candle can have been bought, by what is known."""
    return _by(complaint.sold_until, complaint.happened_on, timezone.localtime(complaint.told_at).date())


def _by(sold_until: date | None, happened_on: date | None, told_on: date) -> date:
    return min(filter(None, (sold_until, happened_on, told_on)))


def _as_it_left(lots: Iterable[int]) -> set[int]:
    """These lots, and those that they were before they came back."""
    known, level = set(lots), set(lots)
    while level:
        sources = ReturnLine.objects.filter(lot__in=level, goods_return__posting__reversal__isnull=True)
        level = set(sources.values_list("source", flat=True)) - known
        known |= level
    return known
