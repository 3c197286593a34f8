"""What an item's past says of its use: mean, spread, trend and season, from what was used day by day.

Quantities are base units, days are ordinals (`date.toordinal`). Days on which nothing was used count, from the item's
first day on. Today is never part of the past: it is not over.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from math import sqrt

WEEK, FOUR_WEEKS, YEAR_OF_WEEKS = 7, 28, 364
# Fewer days, or fewer days of use, are too little to tell a mean and a spread. Common practice, no source.
LITTLE_DAYS, LITTLE_USES = 28, 4
# A trend is told when the weeks' slope is this many standard errors from level, and moves the rate by this much.
TREND_T, TREND_SHARE, TREND_WEEKS = 2.0, 0.15, 6
# A season is told when last year's same weeks were this far from the weeks before them, further than by chance, and
# used within these bounds.
PEAK, DIP = Fraction(5, 4), Fraction(4, 5)
SEASON_T = 2.0
FACTOR_LEAST, FACTOR_MOST = Fraction(1, 4), Fraction(3)

Used = Mapping[int, int]


@dataclass(frozen=True)
class Trend:
    """Which way use is going: `word` is rising, falling, steady or unknown; `share` the change over four weeks."""

    word: str
    share: float = 0.0

    @property
    def sentence(self) -> str:
        """The trend in words."""
        if self.word == "unknown":
            return "too little to tell a trend"
        if self.word == "steady":
            return "no trend that stands out from the ups and downs"
        return f"{self.word}, by about {abs(self.share):.0%} in four weeks".replace(
            "%", "\N{NO-BREAK SPACE}%"
        )


@dataclass(frozen=True)
class Demand:
    """Use over `days` days that are past: `used` in all, on `uses` of them; `sd` is the spread of a day's use.

    `wanted_days` is how far was asked to look back; `factors` what the season makes of the mean, for each of the
    coming stretches of four weeks. `squares` and `cubes` are each day's use squared and cubed, added up.
    """

    days: int
    wanted_days: int
    used: int
    uses: int
    sd: float
    trend: Trend = Trend("unknown")
    factors: tuple[Fraction, ...] = ()
    squares: int = 0
    cubes: int = 0

    @property
    def rate(self) -> Fraction:
        """Mean use of a day, exact."""
        return Fraction(self.used, self.days) if self.days else Fraction(0)

    @property
    def mean(self) -> float:
        """Mean use of a day."""
        return float(self.rate)

    @property
    def is_little(self) -> bool:
        """Whether the history is too short to lean on."""
        return self.days < min(LITTLE_DAYS, self.wanted_days) or self.uses < LITTLE_USES

    @property
    def is_lumpy(self) -> bool:
        """Whether use comes in lumps: a day's use differs by more than a day's mean. Of a short history nobody can tell."""
        return bool(self.used) and not self.is_little and self.sd > self.mean

    @property
    def below(self) -> float:
        """By how much one day's use takes a level below a mark that it passes, on average: Σx² ÷ 2Σx."""
        return self._now * self.squares / (2 * self.used) if self.used else 0.0

    @property
    def below_sd(self) -> float:
        """The spread of that; the mean of its square is Σx³ ÷ 3Σx."""
        if not self.used:
            return 0.0
        mean, square = Fraction(self.squares, 2 * self.used), Fraction(self.cubes, 3 * self.used)
        return self._now * sqrt(square - mean * mean)

    @property
    def season(self) -> str:
        """What the coming four weeks are, by last year: peak, dip or nothing."""
        if not self.factors:
            return ""
        return "peak" if self.factors[0] > 1 else "dip" if self.factors[0] < 1 else ""

    @property
    def now(self) -> float:
        """Mean use of a day in the coming four weeks, season and all."""
        return float(self.rate * (self.factors[0] if self.factors else 1))

    @property
    def spread_now(self) -> float:
        """The spread of a day's use in the coming four weeks: it grows and shrinks with the mean."""
        return self.sd * self._now

    @property
    def _now(self) -> float:
        return float(self.factors[0] if self.factors else 1)


NOTHING = Demand(0, 0, 0, 0, 0.0)


def between(used: Used, first: int, end: int) -> dict[int, int]:
    """What was used from `first` up to the day before `end`."""
    return {day: amount for day, amount in used.items() if first <= day < end}


def summary(used: Used, *, today: int, window: int, known_since: int | None) -> Demand:
    """The demand of the `window` days before today, of which an item known since a later day has fewer."""
    if known_since is None or known_since >= today:
        return replace(NOTHING, wanted_days=window)
    first = max(today - window, known_since)
    days = today - first
    past = between(used, first, today)
    total = sum(past.values())
    found = Demand(
        days=days,
        wanted_days=window,
        used=total,
        uses=sum(1 for amount in past.values() if amount),
        sd=_spread(past.values(), total, days),
        squares=sum(amount**2 for amount in past.values()),
        cubes=sum(amount**3 for amount in past.values()),
    )
    return replace(found, trend=trend(past, first, today)) if total else found


def _spread(amounts: Iterable[int], total: int, days: int) -> float:
    """The sample standard deviation over `days` days, those without use included."""
    if days < 2:
        return 0.0
    squares = sum(amount * amount for amount in amounts)  # whole numbers: nothing is lost on the way
    return sqrt(max(Fraction(squares * days - total * total, days * (days - 1)), Fraction(0)))


def trend(past: Used, first: int, end: int) -> Trend:
    """The slope of weekly use by least squares, told only where it stands out from the ups and downs.

    Whole weeks, counted back from the last day.
    """
    weeks = (end - first) // WEEK
    if weeks < TREND_WEEKS:
        return Trend("unknown")
    sums = [0] * weeks
    for day, amount in past.items():
        back = (end - 1 - day) // WEEK
        if back < weeks:
            sums[weeks - 1 - back] += amount
    mean, middle = sum(sums) / weeks, (weeks - 1) / 2
    if not mean or sum(1 for each in sums if each) < LITTLE_USES:
        return Trend("unknown")
    across = sum((week - middle) ** 2 for week in range(weeks))
    slope = sum((week - middle) * (each - mean) for week, each in enumerate(sums)) / across
    left = sum((each - mean - slope * (week - middle)) ** 2 for week, each in enumerate(sums))
    error = sqrt(left / (weeks - 2) / across)
    share = 4 * slope / mean
    if abs(share) < TREND_SHARE or abs(slope) < TREND_T * error:
        return Trend("steady")
    return Trend("rising" if slope > 0 else "falling", share)


def season(
    used: Used, *, today: int, window: int, known_since: int | None, stretches: int
) -> tuple[Fraction, ...]:
    """What the same weeks of last year say of the coming ones: a factor for each stretch of four weeks from tomorrow.

    Last year's stretch against the `window` days before it began, both a whole number of weeks ago. Where no stretch stands
    out by itself, all of them together may: use in lumps says little in four weeks. Nothing where the item was not known
    all that time, or too little was used to tell; 1 for a stretch that did not stand out.
    """
    then = today - YEAR_OF_WEEKS
    first = then - window
    if known_since is None or known_since > first:
        return ()
    base = between(used, first, then)
    if sum(1 for amount in base.values() if amount) < LITTLE_USES:
        return ()

    def factor_of(begins: int, days: int) -> Fraction:
        same = between(used, begins, begins + days)
        if not _stand_apart(base, window, same, days):
            return Fraction(1)
        return _factor(Fraction(sum(same.values()), days) / Fraction(sum(base.values()), window))

    whole = min(stretches, (today - then - 1) // FOUR_WEEKS)
    factors = tuple(factor_of(then + 1 + number * FOUR_WEEKS, FOUR_WEEKS) for number in range(whole))
    if whole > 1 and all(factor == 1 for factor in factors):
        factors = (factor_of(then + 1, whole * FOUR_WEEKS),) * whole
    return factors if any(factor != 1 for factor in factors) else ()


def _stand_apart(base: Used, base_days: int, same: Used, same_days: int) -> bool:
    """Whether use of two times differs by more than chance: their means, by the spread of both together."""
    total, other = sum(base.values()), sum(same.values())
    days = base_days + same_days
    sd = _spread([*base.values(), *same.values()], total + other, days)
    apart = abs(float(Fraction(total, base_days) - Fraction(other, same_days)))
    return apart > 0 and apart >= SEASON_T * sd * sqrt(1 / base_days + 1 / same_days)


def _factor(ratio: Fraction) -> Fraction:
    if DIP < ratio < PEAK:
        return Fraction(1)
    return min(max(ratio, FACTOR_LEAST), FACTOR_MOST)


def with_season(found: Demand, factors: tuple[Fraction, ...]) -> Demand:
    """The demand with what the season makes of it."""
    return replace(found, factors=factors)
