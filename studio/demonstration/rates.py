"""What an hour, a roof and a pot cost at Ninefold Lane, and how long its candles should take."""

from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Any

from batches.models import Labour
from costing.models import OverheadRate
from costing.rates.rates import set_labour_rate, set_overhead_paid, set_overhead_rate
from costing.rates.work_standards import set_work_standard
from studio.demonstration.work import Workshop

CENT = 10_000
# Rent, insurance and the rest of a month, in cents, over the hours that a usual month has; energy of a pot, in cents.
HOURS = 45
FIRST, SINCE = (1_900, 27_900, 85), (2_050, 30_600, 95)
LOST_PPM = {"tides_jar": 60_000, "cedar_bowl": 40_000}
UNSET = ("fig_jar", "odd_tin", "hay_jar")  # trials and one-offs: their runs say how long they take


def set_rates(shop: Workshop) -> None:
    """What an hour and a roof cost, with one change of each half a year ago, set on the day it began."""
    owner, keeper = shop.people.owner, shop.people.bookkeeper
    first, change = shop.first_day, shop.today - timedelta(days=183)
    opened_at = shop.sign(keeper, 8 * 60).recorded_at
    hourly = OverheadRate.Basis.LABOUR_HOUR
    for from_on, (everybody, month, pot) in ((first, FIRST), (change, SINCE)):
        signed: dict[str, Any] = {"from_on": from_on, "by": keeper, "now": opened_at + (from_on - first)}
        set_labour_rate(person=None, per_hour=everybody * CENT, **signed)
        set_overhead_rate(
            name="Rent and insurance",
            basis=hourly,
            amount=month * CENT // HOURS,
            per_month=month * CENT,
            capacity=Fraction(HOURS),
            **signed,
        )
        set_overhead_rate(name="Energy", basis=OverheadRate.Basis.MELT, amount=pot * CENT, **signed)
    set_labour_rate(from_on=first, person=owner, per_hour=2_600 * CENT, by=keeper, now=opened_at)
    packing: dict[str, Any] = {"task": Labour.Step.LABEL.value, "per_hour": 1_800 * CENT}
    set_labour_rate(from_on=first, person=None, by=keeper, now=opened_at, **packing)


def set_standards(shop: Workshop) -> None:
    """How long each product should take: weighing for a run, the rest for each unit."""
    keeper = shop.people.bookkeeper
    for key, product in shop.products.items():
        if key in UNSET:
            continue
        weigh, *tens = product.story.minutes
        pour, finish, pack = (0, 0, 0) if product.story.blend_of else tens
        set_work_standard(
            formula=product.formula,
            from_on=shop.first_day,
            # Minutes for ten units are six times as many seconds for one.
            steps={
                "weigh": (weigh, 0),
                "pour": (0, pour * 6),
                "finish": (0, finish * 6),
                "label": (0, pack * 6),
            },
            spoilage_ppm=0 if product.story.blend_of else LOST_PPM.get(key, 20_000),
            by=keeper,
            now=shop.sign(keeper, 8 * 60 + 10).recorded_at,
        )


def overhead_paid(shop: Workshop, now: datetime) -> None:
    """What each whole month really came to: dearer in winter, when the workshop is heated."""
    keeper = shop.people.bookkeeper
    month = (shop.first_day.replace(day=1) + timedelta(days=32)).replace(day=1)
    while (after := (month + timedelta(days=32)).replace(day=1)) <= shop.today:
        set_overhead_paid(
            month=month,
            amount=_came_to(month, shop) * CENT,
            note="Heating" if month.month in (11, 12, 1, 2) else "",
            by=keeper,
            now=now,
        )
        month = after


def _came_to(month: date, shop: Workshop) -> int:
    """Cents: what rent and the rest usually are, energy by the season, and a little chance."""
    usual = SINCE[1] if (shop.today - month).days < 183 else FIRST[1]
    return usual + (5_400 if month.month in (11, 12, 1, 2) else 1_600) + 100 * ((month.month * 7) % 11)
