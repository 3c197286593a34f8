"""The level to come, day by day: what is there and may be used, less what will be used and what goes off, plus what comes.

Plain Python; whole base units, days counted from today, which is 0. A level below zero is what pours wait for.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import floor

from inventory.replenishment.daily_forecast import Forecast


@dataclass(frozen=True)
class UsableStock:
    """Part of the stock: how much, and the last day on which it may be used, None where it keeps."""

    quantity: int
    until: int | None = None


@dataclass(frozen=True)
class Projection:
    """`levels` at the end of each day from today; `expired` what goes off unused on each, and `arrived` what comes."""

    levels: Sequence[int]
    expired: Sequence[int]
    arrived: Sequence[int]

    @property
    def wasted(self) -> int:
        """What goes off before it is used, in all."""
        return sum(self.expired)

    def at(self, day: int) -> int:
        """The level at the end of a day, that of the last day told after it."""
        return self.levels[min(max(day, 0), len(self.levels) - 1)]


def project(
    shelf: Iterable[UsableStock], use: Forecast, coming: Mapping[int, int], *, keeps_days: int | None = None
) -> Projection:
    """The level from today to the last day of the forecast.

    What expires first is used first. `coming` is what arrives by day, there to be used on that very day; it keeps
    `keeps_days`, or for ever.
    """
    last = use.last
    arrived = [0] * (last + 1)
    for day, quantity in coming.items():
        if 0 <= day <= last:
            arrived[day] += quantity
    stock = [each for each in shelf if each.quantity > 0]
    soon = any(each.until is not None and each.until < last for each in stock)
    if not soon and (keeps_days is None or keeps_days >= last or not coming):
        there = sum(each.quantity for each in stock)
        levels = [there + came - used for came, used in zip(accumulate(arrived), use.total, strict=True)]
        return Projection(levels, [0] * (last + 1), arrived)
    return _by_lots(stock, use, arrived, keeps_days)


def _by_lots(
    stock: Iterable[UsableStock], use: Forecast, arrived: Sequence[int], keeps_days: int | None
) -> Projection:
    never = use.last + 1
    lots = sorted([never if each.until is None else each.until, each.quantity] for each in stock)
    levels, expired, owed = [], [], 0
    for day, (came, used) in enumerate(zip(arrived, use.each_day, strict=True)):
        gone = sum(lot[1] for lot in lots if lot[0] < day)
        lots = [lot for lot in lots if lot[0] >= day]
        if came:
            lots.append([never if keeps_days is None else day + keeps_days, came])
            lots.sort()
        owed += used
        for lot in lots:
            taken = min(lot[1], owed)
            lot[1] -= taken
            owed -= taken
            if not owed:
                break
        lots = [lot for lot in lots if lot[1]]
        levels.append(sum(lot[1] for lot in lots) - owed)
        expired.append(gone)
    return Projection(levels, expired, arrived)


def first_below(levels: Sequence[int], level: int, start: int = 0) -> int | None:
    """The first day from `start` at whose end less than `level` is there."""
    return next((day for day in range(start, len(levels)) if levels[day] < level), None)


def runs_out(levels: Sequence[int], use: Forecast) -> int | None:
    """The first day at whose end nothing is left although something is wanted by the end of the next."""
    days = (day for day, level in enumerate(levels) if level < 1 and use.through(day + 1) > 0)
    return next(days, None)


def last_day_to_order(levels: Sequence[int], keep: int, lead: float) -> int | None:
    """The last day on which an order still comes before the level falls below `keep`; below zero: days ago.

    An order sent on a day comes `lead` days later and can be used that day; of part of a day, part of that day's change
    counts. So it is the day on which the level falls below what is used in that time and `keep` together, the reorder
    point. Dips before the first day on which an order sent today would come are no reason to order by themselves: it
    could not help. None: not within the days told.
    """
    whole = floor(lead + 1e-9)
    part = max(lead - whole, 0.0)
    along = range(len(levels) - whole - (1 if part else 0))

    def is_short(day: int) -> bool:
        level = levels[day + whole]
        if part:
            level += round(part * (levels[day + whole + 1] - level))
        return level < keep

    day = next((day for day in along if is_short(day)), None)
    if day == 0:
        while day + whole and is_short(day - 1):
            day -= 1
    return day
