"""The arithmetic of a burn test: what burned, how fast, how long a candle should last, what went beyond the limits.

Plain figures; nothing here reads the database or the clock. Mass is in micrograms, length in micrometres, temperature
in thousandths of a degree Celsius, time in minutes.

A candle is lit for a cycle, put out, cooled and weighed, again and again; its burn rate is the weight lost over the
time it burned. Common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.quantities import format_quantity
from studio.temperatures import Scale, format_temperature

# How much was seen of something, from least to most.
AMOUNTS = ("none", "slight", "heavy")


@dataclass(frozen=True)
class Limits:
    """What every cycle must stay within. None: not judged. `cycles` is how many each jar must burn at least."""

    flame_um: int | None = None
    vessel_mc: int | None = None
    soot: str = "heavy"
    mushrooming: str = "heavy"
    full_pool_within: int | None = None
    cycles: int = 1


@dataclass(frozen=True)
class Cycle:
    """What one jar showed in one cycle, numbered from 1. None: not noted."""

    number: int
    minutes: int
    flame_um: int | None = None
    full_pool_after: int | None = None
    mushrooming: str = "none"
    soot: str = "none"
    vessel_mc: int | None = None
    weight_ug: int | None = None


@dataclass(frozen=True)
class Burned:
    """What burned between two weighings, and for how long; `cycle` is the one after which it was weighed."""

    cycle: int
    burned_ug: int
    minutes: int

    @property
    def rate(self) -> Fraction:
        """µg an hour."""
        return Fraction(self.burned_ug * 60, self.minutes)

    @property
    def hours(self) -> Fraction:
        """The time measured, in hours."""
        return Fraction(self.minutes, 60)


def burned(start_ug: int, cycles: Sequence[Cycle]) -> list[Burned]:
    """What burned up to each weighing of a jar that weighed `start_ug` before it was first lit.

    A cycle after which nobody weighed counts towards the next weighing. Where a cycle is missing altogether nothing
    can be said of it: the first weighing after it is only where the next stretch begins.
    """
    found = []
    weight: int | None = start_ug
    minutes, expected = 0, 1
    for cycle in sorted(cycles, key=lambda each: each.number):
        if cycle.number != expected:
            weight = None
        expected = cycle.number + 1
        minutes += cycle.minutes
        if cycle.weight_ug is None:
            continue
        if weight is not None:
            found.append(Burned(cycle.number, weight - cycle.weight_ug, minutes))
        weight, minutes = cycle.weight_ug, 0
    return found


def together(stretches: Sequence[Burned]) -> Burned | None:
    """Several stretches as one, of one jar or of several; None where nothing was measured."""
    if not stretches:
        return None
    return Burned(
        max(each.cycle for each in stretches),
        sum(each.burned_ug for each in stretches),
        sum(each.minutes for each in stretches),
    )


def life(melt_ug: int | Fraction | None, measured: Burned | None) -> Fraction | None:
    """How many hours so much melt should last at the rate measured; None where either is missing or nothing burned."""
    if melt_ug is None or measured is None or measured.burned_ug <= 0:
        return None
    return Fraction(melt_ug) / measured.rate


def breaches(cycle: Cycle, limits: Limits, *, unit: Scale = "C") -> list[str]:
    """What in a cycle went beyond the limits, each a sentence. Exactly at a limit is within it."""
    found = []
    if limits.flame_um is not None and cycle.flame_um is not None and cycle.flame_um > limits.flame_um:
        found.append(f"Flame {_length(cycle.flame_um)}, above {_length(limits.flame_um)}.")
    if limits.vessel_mc is not None and cycle.vessel_mc is not None and cycle.vessel_mc > limits.vessel_mc:
        hot, most = (format_temperature(each, unit) for each in (cycle.vessel_mc, limits.vessel_mc))
        found.append(f"Vessel at {hot}, above {most}.")
    within, after = limits.full_pool_within, cycle.full_pool_after
    if within is not None and after is not None and after > within:
        found.append(f"Full pool after {after} min, later than {within} min.")
    for what, seen, most in (
        ("Soot", cycle.soot, limits.soot),
        ("Mushrooming", cycle.mushrooming, limits.mushrooming),
    ):
        if AMOUNTS.index(seen) > AMOUNTS.index(most):
            found.append(f"{what} {seen}, more than {most}.")
    return found


def _length(um: int) -> str:
    return format_quantity(um, "mm")


@dataclass(frozen=True)
class Judgement:
    """What the readings say beside the limits: sentences of what went beyond them, and of what is still wanting."""

    beyond: tuple[str, ...]
    wanting: tuple[str, ...]

    @property
    def suggests(self) -> str:
        """ "pass", "fail", or "go on" while something is wanting. A suggestion: a person decides."""
        if self.beyond:
            return "fail"
        return "go on" if self.wanting else "pass"


def judge(jars: Sequence[tuple[int, Sequence[Cycle]]], limits: Limits, *, unit: Scale = "C") -> Judgement:
    """Hold the cycles of every jar, given with its number, against the limits."""
    beyond, wanting = [], []
    for number, cycles in jars:
        for cycle in sorted(cycles, key=lambda each: each.number):
            beyond += [
                f"Jar {number}, cycle {cycle.number}: {said}" for said in breaches(cycle, limits, unit=unit)
            ]
        if len(cycles) < limits.cycles:
            wanting.append(f"Jar {number}: {len(cycles)} of {limits.cycles} cycles burned.")
        wanting += [f"Jar {number}: no {what} was noted." for what in _not_noted(cycles, limits)]
    return Judgement(tuple(beyond), tuple(wanting))


def _not_noted(cycles: Sequence[Cycle], limits: Limits) -> list[str]:
    """What there is a limit for and no cycle of the jar has a figure of."""
    asked = (
        ("flame height", limits.flame_um, [cycle.flame_um for cycle in cycles]),
        ("vessel temperature", limits.vessel_mc, [cycle.vessel_mc for cycle in cycles]),
        ("full pool", limits.full_pool_within, [cycle.full_pool_after for cycle in cycles]),
    )
    return [
        what for what, limit, noted in asked if limit is not None and not any(x is not None for x in noted)
    ]
