"""What a batch cost, by head: materials drawn, labour minutes and overhead, over the good units.

Value is in micros (millionths of the currency unit) and every rounding is half to even, once per line. Plain
arithmetic; nothing here reads the database or the clock. Job costing as in OpenStax, Principles of Accounting
Vol. 2, 4.4 and 4.5.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from studio.money import share
from studio.percent import WHOLE

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


class OverheadBasis(StrEnum):
    """What an overhead rate is charged on."""

    PER_LABOUR_HOUR = "per_labour_hour"
    PER_BATCH = "per_batch"
    PER_UNIT = "per_unit"  # of every unit made, good or not: all of them took the bench
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


@dataclass(frozen=True)
class OverheadRule:
    """An overhead rate: micros per labour hour, batch or unit; for OF_LABOUR ppm of the labour's cost."""

    basis: OverheadBasis
    amount: int


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


def job_cost(
    materials: Iterable[Material],
    labour: Iterable[Labour],
    overhead_rules: Iterable[OverheadRule],
    good: int,
    seconds: int,
    scrap: int,
) -> JobCost:
    """Add up one batch that yielded `good`, `seconds` and `scrap` units (for a blend, base units).

    Raises ValueError, with a sentence, for an unknown head or a count, time or rate below zero.
    """
    if min(good, seconds, scrap) < 0:
        raise ValueError("The numbers of good, second and scrapped units cannot be below zero.")
    made = good + seconds + scrap
    heads = dict.fromkeys(HEADS, 0)
    for material in materials:
        if material.head not in heads:
            raise ValueError(f"“{material.head}” is not a cost head. Use one of: {', '.join(HEADS)}.")
        heads[material.head] += material.value_micros
    worked = list(labour)
    labour_micros = sum(_labour_cost(line) for line in worked)
    hours = sum((Fraction(line.minutes) for line in worked), Fraction(0)) / 60
    heads["labour"] += labour_micros
    heads["overhead"] += sum(_overhead_cost(rule, hours, labour_micros, made) for rule in overhead_rules)
    total = sum(heads.values())
    return JobCost(
        heads=heads,
        total=total,
        per_good_unit=Fraction(total, good) if good else None,
        lost_units_cost=share(total, made - good, made) if made else 0,
    )


def _labour_cost(line: Labour) -> int:
    if line.minutes < 0 or line.rate_micros_per_hour < 0:
        raise ValueError("Minutes worked and the hourly rate cannot be below zero.")
    return round(Fraction(line.minutes) * line.rate_micros_per_hour / 60)


def _overhead_cost(rule: OverheadRule, hours: Fraction, labour_micros: int, made: int) -> int:
    if rule.amount < 0:
        raise ValueError("An overhead rate cannot be below zero.")
    charged_on = {
        OverheadBasis.PER_LABOUR_HOUR: hours,
        OverheadBasis.PER_BATCH: Fraction(1),
        OverheadBasis.PER_UNIT: Fraction(made),
        OverheadBasis.OF_LABOUR: Fraction(labour_micros, WHOLE),
    }
    return round(rule.amount * charged_on[rule.basis])
