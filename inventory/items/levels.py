"""How much of an item was there at the end of each day: from its movements, whatever their number, in one query."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Min, Q, Sum
from django.db.models.functions import Coalesce, TruncDate
from django.utils import timezone

from inventory.models import Item, Movement
from studio.core.days import begin


@dataclass(frozen=True)
class Day:
    """A day on which stock came or went, in base units: `came` and `went` are both zero or more."""

    on: date
    came: int
    went: int
    level: int


@dataclass(frozen=True)
class History:
    """The level at the beginning of the first day, and every day since on which it moved, up to the last."""

    first: date
    last: date
    opening: int
    days: tuple[Day, ...]


def first_day(item: Item) -> date | None:
    """The day of an item's first movement."""
    first = Movement.objects.filter(lot__item=item).aggregate(first=Min("posting__happened_at"))["first"]
    return timezone.localtime(first).date() if first else None


def history(item: Item, on_hand: int, *, first: date, last: date) -> History:
    """The item's level from `first` to `last`, the present day, worked backwards from what is `on_hand` now.

    What was reversed, and what was poured from one container into another, moved nothing.
    """
    moved = (
        Movement.objects.standing()
        .filter(lot__item=item, posting__happened_at__gte=begin(first))
        .exclude(kind=Movement.Kind.DECANTED)
        .exclude(quantity=0)
        .order_by()
        .annotate(day=TruncDate("posting__happened_at"))
        .values("day")
        .annotate(
            came=Coalesce(Sum("quantity", filter=Q(quantity__gt=0)), 0),
            went=Coalesce(Sum("quantity", filter=Q(quantity__lt=0)), 0),
        )
        .order_by("day")
    )
    rows = [(row["day"], int(row["came"]), -int(row["went"])) for row in moved]
    level = opening = on_hand - sum(came - went for _, came, went in rows)
    days = []
    for day, came, went in rows:
        level += came - went
        days.append(Day(day, came, went, level))
    return History(first, last, opening, tuple(days))


def periods(past: History, days_each: int) -> list[tuple[date, date, int, int, int]]:
    """The days on which stock moved told together, so many days each: first day, last, came, went, level after."""
    told: list[tuple[date, date, int, int, int]] = []
    for day in past.days:
        gone = (day.on - past.first).days // days_each * days_each
        begins = past.first + timedelta(days=gone)
        ends = min(begins + timedelta(days=days_each - 1), past.last)
        if told and told[-1][0] == begins:
            _, _, came, went, _ = told.pop()
            told.append((begins, ends, came + day.came, went + day.went, day.level))
        else:
            told.append((begins, ends, day.came, day.went, day.level))
    return told
