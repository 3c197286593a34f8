"""Control charts of fill weights, and how well the filling keeps within limits. Exact figures in, exact figures out.

Factors: "Factors for Constructing Control Charts", Table A.22, read in two prints. A σ estimated from ranges is R̄/d2.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from batches.fill_checks.spread import mean

Figures = Sequence[int | Fraction]


@dataclass(frozen=True)
class Factors:
    """A2 for the limits of means, d2 for σ, D3 and D4 for the limits of ranges."""

    a2: Fraction
    d2: Fraction
    d3: Fraction
    d4: Fraction


def _factors(a2: int, d2: int, d3: int, d4: int) -> Factors:
    return Factors(*(Fraction(thousandths, 1000) for thousandths in (a2, d2, d3, d4)))


# By the size of a subgroup.
FACTORS = {
    2: _factors(1880, 1128, 0, 3267),
    3: _factors(1023, 1693, 0, 2574),
    4: _factors(729, 2059, 0, 2282),
    5: _factors(577, 2326, 0, 2114),
    6: _factors(483, 2534, 0, 2004),
    7: _factors(419, 2704, 76, 1924),
    8: _factors(373, 2847, 136, 1864),
    9: _factors(337, 2970, 184, 1816),
    10: _factors(308, 3078, 223, 1777),
}
# Western Electric rule 4: so many in a row on one side of the centre line.
ROW = 8
# Fewer weights than this say little about what a filling can do. Common practice, no source.
ENOUGH = 25


@dataclass(frozen=True)
class Limits:
    """A centre line with its lower and upper control limit."""

    centre: Fraction
    low: Fraction
    high: Fraction

    def outside(self, points: Figures) -> list[int]:
        """The places, from 0, of points beyond a limit."""
        return [place for place, point in enumerate(points) if not self.low <= point <= self.high]


@dataclass(frozen=True)
class Chart:
    """Points in order with their limits, the ranges beside them with theirs, and σ from the mean range.

    `size` 1: individual weights and moving ranges of two; otherwise means and ranges of subgroups. `left_over`: how
    many weights at the end made no whole subgroup.
    """

    size: int
    points: tuple[Fraction, ...]
    limits: Limits
    ranges: tuple[Fraction, ...]
    range_limits: Limits
    sigma: Fraction
    left_over: int = 0


def of_individuals(weights: Figures) -> Chart | None:
    """The chart of single weights, limits 3·M̄R/d2 either side of the mean; None for fewer than two."""
    if len(weights) < 2:
        return None
    points = tuple(Fraction(weight) for weight in weights)
    ranges = tuple(abs(after - before) for before, after in pairwise(points))
    middle, spread, of_two = mean(points), mean(ranges), FACTORS[2]
    reach = 3 * spread / of_two.d2
    return Chart(
        1,
        points,
        Limits(middle, middle - reach, middle + reach),
        ranges,
        Limits(spread, of_two.d3 * spread, of_two.d4 * spread),
        spread / of_two.d2,
    )


def of_subgroups(weights: Figures, size: int) -> Chart | None:
    """The chart of means of `size` weights in a row, limits A2·R̄ either side; None for fewer than two subgroups."""
    count = len(weights) // size
    if count < 2:
        return None
    groups = [weights[number * size : (number + 1) * size] for number in range(count)]
    points = tuple(mean(group) for group in groups)
    ranges = tuple(Fraction(max(group) - min(group)) for group in groups)
    middle, spread, factors = mean(points), mean(ranges), FACTORS[size]
    return Chart(
        size,
        points,
        Limits(middle, middle - factors.a2 * spread, middle + factors.a2 * spread),
        ranges,
        Limits(spread, factors.d3 * spread, factors.d4 * spread),
        spread / factors.d2,
        len(weights) - count * size,
    )


def in_a_row(points: Figures, centre: Fraction) -> list[int]:
    """The places, from 0, where a point is the eighth or a later one in a row on one side of the centre line.

    Western Electric rule 4. A point on the line belongs to neither side.
    """
    found, row, side = [], 0, 0
    for place, point in enumerate(points):
        here = (point > centre) - (point < centre)
        row = row + 1 if here and here == side else abs(here)
        side = here
        if row >= ROW:
            found.append(place)
    return found


@dataclass(frozen=True)
class Capability:
    """The width of the limits over six σ, and the nearer limit's distance from the mean over three σ."""

    wide: Fraction
    near: Fraction


def capability(
    middle: Fraction, sigma: Fraction | Decimal, low: Fraction, high: Fraction
) -> Capability | None:
    """Cp and Cpk when σ is from ranges, Pp and Ppk when it is the standard deviation of all; None where it is 0."""
    spread = Fraction(sigma)
    if not spread:
        return None
    return Capability((high - low) / (6 * spread), min(high - middle, middle - low) / (3 * spread))
