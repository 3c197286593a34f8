"""Ninefold Lane's accountant: what is counted into goods, and the books closed after each quarter went out."""

from datetime import date, datetime, time, timedelta

from django.utils import timezone

from costing.models import GoodsRule
from costing.valuation.closing import close_books
from studio.demonstration.stage import Stage
from studio.people.signature import Signature

# When a quarter is closed; until then late invoices still find their way into it.
DAYS_AFTER = 40


def close_quarters(shop: Stage, now: datetime) -> None:
    """Close the last two quarters that are over long enough, and say before what goods hold."""
    owner, keeper = shop.people.owner, shop.people.bookkeeper
    GoodsRule.objects.create(
        from_on=shop.first_day,
        with_labour=True,
        with_owner=False,
        with_overhead=True,
        normal_loss_ppm=40_000,
        set_by=keeper,
        set_at=now - timedelta(days=(shop.today - shop.first_day).days),
    )
    ended = _quarter_ended(shop.today - timedelta(days=DAYS_AFTER))
    for through in (_quarter_ended(ended - timedelta(days=1)), ended):
        if through > shop.first_day:
            at = timezone.make_aware(datetime.combine(through + timedelta(days=DAYS_AFTER), time(17, 20)))
            signature = Signature(owner, min(at, now), min(at, now), "The quarter went to the accountant")
            close_books(through, signature=signature)


def _quarter_ended(day: date) -> date:
    """The last day of the last quarter that is over on a day; the day itself where it is one."""
    after = day + timedelta(days=1)
    return date(after.year, (after.month - 1) // 3 * 3 + 1, 1) - timedelta(days=1)
