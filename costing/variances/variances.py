"""Why a run cost other than it should have: price, usage, yield, labour rate and time, overhead.

The standard is that of the good units that came out. Each part is rounded once and taken as a difference of the same
rounded figures, so that the parts add up to actual less standard to the last micro. Above zero a part made the run dearer.
Plain arithmetic; nothing here reads the database. Price and quantity variances as in OpenStax, Principles of Accounting
Vol. 2, 8.2.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from studio.core.percent import WHOLE

PARTS = ("price", "usage", "yield", "labour_rate", "labour_time", "overhead")


@dataclass(frozen=True)
class MaterialUse:
    """One line of the formula: what it should have taken for what was made, and what it took, in base units.

    `standard_each` is micros for one base unit; None where nothing says, and then what was paid counts as the standard.
    `actual` is micros, labour and overhead of a blend among them.
    """

    name: str
    unit: str
    standard_quantity: int
    standard_each: Fraction | None
    quantity: int
    actual: int

    @property
    def each(self) -> Fraction:
        """The price it is held against."""
        if self.standard_each is not None:
            return self.standard_each
        return Fraction(self.actual, self.quantity) if self.quantity else Fraction(0)

    @property
    def standard(self) -> int:
        """What it should have cost, in micros."""
        return round(self.standard_quantity * self.each)

    @property
    def price(self) -> int:
        """More paid for what was used than the standard price."""
        return self.actual - round(self.quantity * self.each)

    @property
    def usage(self) -> int:
        """More used than the formula needs for what was made, at the standard price."""
        return round(self.quantity * self.each) - self.standard


@dataclass(frozen=True)
class TimeUse:
    """One task: minutes it should have taken for what was made, at a rate in micros an hour, and what it took and cost."""

    name: str
    standard_minutes: Fraction
    standard_rate: int | None
    minutes: int
    actual: int

    @property
    def per_hour(self) -> Fraction:
        """The rate it is held against; what was paid, where no rate is set."""
        if self.standard_rate is not None:
            return Fraction(self.standard_rate)
        return Fraction(self.actual * 60, self.minutes) if self.minutes else Fraction(0)

    @property
    def standard(self) -> int:
        """What it should have cost, in micros."""
        return round(self.standard_minutes * self.per_hour / 60)

    @property
    def rate(self) -> int:
        """More paid for the time than the standard rate."""
        return self.actual - round(self.minutes * self.per_hour / 60)

    @property
    def time(self) -> int:
        """More time than the standard, at the standard rate."""
        return round(self.minutes * self.per_hour / 60) - self.standard


@dataclass(frozen=True)
class RunFigures:
    """A run beside its standard. `made` are base units, `good` of them good; `spoilage_ppm` were expected not to be.

    `overhead` is the run's own in micros, `standard_overhead` for what was made. `recovered` is what melt that can be
    used again took along.
    """

    made: int
    good: int
    spoilage_ppm: int
    materials: tuple[MaterialUse, ...]
    work: tuple[TimeUse, ...]
    standard_overhead: int
    overhead: int
    recovered: int = 0


@dataclass(frozen=True)
class Variances:
    """Micros: `standard` of the good units plus `parts` (in the order of PARTS) is `actual`."""

    standard: int
    actual: int
    parts: dict[str, int]

    @property
    def difference(self) -> int:
        """Actual less standard."""
        return self.actual - self.standard


def variances(run: RunFigures) -> Variances:
    """Take a run's difference apart."""
    for_made = (
        sum(each.standard for each in run.materials)
        + sum(each.standard for each in run.work)
        + run.standard_overhead
    )
    expected_good = Fraction(run.made * (WHOLE - run.spoilage_ppm), WHOLE)
    standard = round(for_made * run.good / expected_good) if expected_good else 0
    paid = sum(each.actual for each in run.materials) + sum(each.actual for each in run.work)
    actual = paid + run.overhead - run.recovered
    parts = {
        "price": sum(each.price for each in run.materials),
        "usage": sum(each.usage for each in run.materials) - run.recovered,
        "yield": for_made - standard,
        "labour_rate": sum(each.rate for each in run.work),
        "labour_time": sum(each.time for each in run.work),
        "overhead": run.overhead - run.standard_overhead,
    }
    return Variances(standard, actual, parts)


def together(several: Iterable[Variances]) -> Variances:
    """Those of several runs added up."""
    parts = dict.fromkeys(PARTS, 0)
    standard = actual = 0
    for each in several:
        standard += each.standard
        actual += each.actual
        parts = {name: parts[name] + each.parts[name] for name in PARTS}
    return Variances(standard, actual, parts)
