"""What will be used, day by day: the usual rate, and what planned runs and open orders want, never both twice.

Today is part of it, less what was used today already: what is asked in the morning and in the evening comes to the same.
What is planned takes the place of the usual use of the days before it: of its own day first, then of the day before, and
so on for at most four weeks and not before today, until its quantity is used up; each day's usual use is taken once.
What a plan wants beyond is on top. So a week's run takes the place of the week it is poured for, and an order much larger
than usual does not hide in the average. Plain Python; quantities in whole base units, days counted from today, which is 0.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from operator import add, sub

from inventory.replenishment.demand import FOUR_WEEKS, Demand

STANDS_FOR_DAYS = FOUR_WEEKS


@dataclass(frozen=True)
class Requirement:
    """A planned run or an open order: how much it wants, and on which day from today; what is overdue wants it today."""

    day: int
    quantity: int


@dataclass(frozen=True)
class Forecast:
    """Use from today on, added up day by day in `total`; `after` is the mean rate of a day beyond the last one.

    `left` is the usual use of each day that no plan stands for, `plans` what plans want on it; None where nothing is
    planned.
    """

    total: Sequence[int]
    after: Fraction
    left: Sequence[int] | None = None
    plans: Sequence[int] | None = None

    @property
    def usual(self) -> Sequence[int]:
        """The usual use of each day that no plan stands for."""
        return _each_day(self.total) if self.left is None else self.left

    @property
    def planned(self) -> Sequence[int]:
        """What plans want on each day."""
        return [0] * len(self.total) if self.plans is None else self.plans

    @property
    def each_day(self) -> Sequence[int]:
        """The whole use of each day."""
        return _each_day(self.total)

    @property
    def last(self) -> int:
        """The last day that is told one by one."""
        return len(self.total) - 1

    def through(self, day: int) -> int:
        """Everything used up to the end of a day, 0 before today."""
        if day < 0:
            return 0
        if day <= self.last:
            return self.total[day]
        return self.total[-1] + _floor(self.after * (day - self.last))

    def day_of(self, quantity: int) -> int | None:
        """The day on which this much will have been used; None when it never is."""
        if quantity <= self.total[-1]:
            return next(day for day, total in enumerate(self.total) if total >= quantity)
        if not self.after:
            return None
        return self.last - _floor(-(quantity - self.total[-1]) / self.after)


def _floor(number: Fraction) -> int:
    return number.numerator // number.denominator


def _each_day(sums: Sequence[int]) -> list[int]:
    return [sums[0], *map(sub, sums[1:], sums)]


def usual_sums(
    demand: Demand, last: int, then: tuple[int, Fraction] | None = None, used_today: int = 0
) -> list[int]:
    """The usual use from now to the end of each day, season and all; of today what is not used yet.

    Never more than a base unit below the mean. `then`: from a day on another mean takes its place.
    """
    if not demand.factors and then is None:
        used, days = demand.used, demand.days
        if not used:
            return [0] * (last + 1)
        begun = max(used - used_today * days, 0)
        return [(begun + used * day) // days for day in range(last + 1)]
    sums, reached = [], Fraction(0)
    for day in range(last + 1):
        stretch = max(day - 1, 0) // FOUR_WEEKS
        factor = demand.factors[stretch] if stretch < len(demand.factors) else 1
        usual = (then[1] if then and day >= then[0] else demand.rate) * factor
        reached += usual if day else max(usual - used_today, Fraction(0))
        sums.append(_floor(reached))
    return sums


def forecast(
    demand: Demand,
    wanted: Iterable[Requirement],
    *,
    last: int,
    then: tuple[int, Fraction] | None = None,
    used_today: int = 0,
) -> Forecast:
    """The use of each day from today to `last`. What is wanted later than that is left out."""
    sums, after = usual_sums(demand, last, then, used_today), then[1] if then else demand.rate
    near = [each for each in wanted if each.day <= last]
    if not near:
        return Forecast(sums, after)
    usual, planned = _each_day(sums), [0] * (last + 1)
    for each in near:
        planned[max(each.day, 0)] += each.quantity
    for day, quantity in enumerate(planned):
        if quantity:
            _take_the_place(usual, day, quantity)
    return Forecast(list(accumulate(map(add, usual, planned))), after, usual, planned)


def _take_the_place(usual: list[int], day: int, quantity: int) -> None:
    """Take the usual use away that a plan on a day stands for, from its own day backwards."""
    for before in range(day, max(day - STANDS_FOR_DAYS, -1), -1):
        taken = min(usual[before], quantity)
        usual[before] -= taken
        quantity -= taken
        if not quantity:
            return
