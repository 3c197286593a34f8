"""What a batch cost, by head: materials drawn, labour minutes and overhead, over the good units.

Value is in micros (millionths of the currency unit) and every rounding is half to even, once per line. Plain
arithmetic; nothing here reads the database or the clock. Job costing as in OpenStax, Principles of Accounting
Vol. 2, 4.4 and 4.5.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from studio.core.money import allocate, share
from studio.core.percent import WHOLE

HEADS = (
    "wax",
    "fragrance",
    "colour_additives",
    "wick",
    "vessel_lid",
    "label_packaging",
    "labour",
    "overhead",
)
UG_PER_KG = 10**9


class OverheadBasis(StrEnum):
    """What an overhead rate is charged on."""

    PER_LABOUR_HOUR = "per_labour_hour"
    PER_BATCH = "per_batch"
    PER_UNIT = "per_unit"  # of every unit made, good or not: all of them took the bench; a blend has none
    PER_MELT = "per_melt"  # of every pot that was heated
    PER_KG = "per_kg"  # of every kilogram of melt
    OF_LABOUR = "of_labour"


@dataclass(frozen=True)
class Material:
    """Value drawn, in micros, under one of HEADS; a blend passes labour and overhead on under theirs."""

    head: str
    value_micros: int


@dataclass(frozen=True)
class Labour:
    """Minutes worked at a rate in micros per hour."""

    minutes: Fraction | int
    rate_micros_per_hour: int

    @property
    def cost(self) -> int:
        """What they cost, in micros."""
        return round(Fraction(self.minutes) * self.rate_micros_per_hour / 60)


@dataclass(frozen=True)
class OverheadRule:
    """An overhead rate: micros per labour hour, batch, unit, pot or kilogram; for OF_LABOUR ppm of the labour's cost."""

    basis: OverheadBasis
    amount: int
    name: str = "Overhead"


@dataclass(frozen=True)
class ChargedOn:
    """What overhead can be measured by in one batch. `units` are those made, good or not; `melt_ug` is the melt."""

    hours: Fraction
    labour_micros: int
    units: Fraction | int
    pots: int
    melt_ug: Fraction | int

    def cost(self, rule: OverheadRule) -> int:
        """What a rule comes to, in micros. Raises ValueError for a rate below zero."""
        if rule.amount < 0:
            raise ValueError("An overhead rate cannot be below zero.")
        times = {
            OverheadBasis.PER_LABOUR_HOUR: self.hours,
            OverheadBasis.PER_BATCH: Fraction(1),
            OverheadBasis.PER_UNIT: Fraction(self.units),
            OverheadBasis.PER_MELT: Fraction(self.pots),
            OverheadBasis.PER_KG: Fraction(self.melt_ug) / UG_PER_KG,
            OverheadBasis.OF_LABOUR: Fraction(self.labour_micros, WHOLE),
        }
        return round(rule.amount * times[rule.basis])


@dataclass(frozen=True)
class JobCost:
    """Micros by head, in the order of HEADS, which add up to `total`.

    `per_good_unit` is None when no unit is good. `lost_units_cost` is the part of `total` that seconds and
    scrap took, already within it: shown apart, not added. It is 0 while nothing has come out.
    """

    heads: dict[str, int]
    total: int
    per_good_unit: Fraction | None
    lost_units_cost: int


@dataclass(frozen=True)
class Spoilage:
    """A loss split into what is to be expected and what is not, in micros. `carried` is what the good units bear."""

    carried: int
    normal: int
    abnormal: int


def job_cost(
    materials: Iterable[Material],
    labour: Iterable[Labour],
    overhead_rules: Iterable[OverheadRule],
    good: int,
    seconds: int,
    scrap: int,
    *,
    is_blend: bool = False,
    pots: int = 0,
    melt_ug: int = 0,
) -> JobCost:
    """Add up one batch that yielded `good`, `seconds` and `scrap` units (for a blend, base units).

    A line of labour below zero takes back what was noted wrongly. Raises ValueError, with a sentence, for an unknown
    head or a count, a rate or the time in all below zero.
    """
    if min(good, seconds, scrap, pots, melt_ug) < 0:
        raise ValueError("The numbers of good, second and scrapped units cannot be below zero.")
    made = good + seconds + scrap
    heads = dict.fromkeys(HEADS, 0)
    for material in materials:
        if material.head not in heads:
            raise ValueError(f"“{material.head}” is not a cost head. Use one of: {', '.join(HEADS)}.")
        heads[material.head] += material.value_micros
    worked = list(labour)
    minutes = sum((Fraction(line.minutes) for line in worked), Fraction(0))
    if minutes < 0 or any(line.rate_micros_per_hour < 0 for line in worked):
        raise ValueError("Minutes worked and the hourly rate cannot be below zero.")
    labour_micros = sum(line.cost for line in worked)
    charged_on = ChargedOn(minutes / 60, labour_micros, 0 if is_blend else made, pots, melt_ug)
    heads["labour"] += labour_micros
    heads["overhead"] += sum(charged_on.cost(rule) for rule in overhead_rules)
    total = sum(heads.values())
    return JobCost(
        heads=heads,
        total=total,
        per_good_unit=Fraction(total, good) if good else None,
        lost_units_cost=share(total, made - good, made) if made else 0,
    )


def with_spoilage(heads: Mapping[str, int], lost: int) -> dict[str, int]:
    """The same total told with `lost` micros of it as spoilage, taken out of every head by its share."""
    values = list(heads.values())
    taken = allocate(lost, values) if lost else [0] * len(values)
    told = {head: value - less for (head, value), less in zip(heads.items(), taken, strict=True)}
    return told | {"spoilage": lost}


def split_spoilage(total: int, good: int, lost: int, normal: int) -> Spoilage:
    """Split what `good` and `lost` units cost together, in micros, `normal` of the lost ones being expected.

    The good units carry the expected loss; what was lost beyond it is a cost of the period (IAS 2 leaves abnormal waste
    out of the cost of goods). Everything is lost where nothing is good.
    """
    made = good + lost
    if not made:
        return Spoilage(total, 0, 0)
    normal = min(normal, lost) if good else 0
    abnormal = share(total, lost - normal, made)
    return Spoilage(total - abnormal, share(total, normal, made), abnormal)


def under_applied(incurred: int, applied: int) -> int:
    """By how much overhead fell short of what was charged to batches; below zero it was charged too much.

    OpenStax, Principles of Accounting Vol. 2, 4.6.
    """
    return incurred - applied


def rate_at_capacity(per_month: int, capacity: Fraction | int) -> int:
    """What one unit of the basis is charged, in micros, when a month at normal capacity is to bear what it costs.

    Normal, not actual, so that a quiet month does not make candles dearer (IAS 2). Raises ValueError.
    """
    if capacity <= 0:
        raise ValueError("Normal capacity is what a usual month takes, above zero.")
    return round(Fraction(per_month) / capacity)
