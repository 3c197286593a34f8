"""The arithmetic of a burn test: what burned, how fast, how long a candle should last, what went beyond the limits.

Plain figures; nothing here reads the database or the clock. Mass is in micrograms, length in micrometres, temperature
in thousandths of a degree Celsius, time in minutes.

A candle is lit for a cycle, put out, cooled and weighed, again and again; its burn rate is the weight lost over the
time it burned. Common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.core.quantities import format_quantity
from studio.core.temperatures import Scale, format_temperature

# How much was seen of something, from least to most. Nothing is more than heavy, so as a limit it judges nothing.
AMOUNTS = ("none", "slight", "heavy")
MOST = AMOUNTS[-1]
CYCLE, END = "cycle", "end"
# Less of the melt than this gone by weight, and its life was not seen, whatever depth was read. Common practice, no source.
LEAST_BURNED = Fraction(1, 2)
# Nothing left to be seen, and less of the melt than this gone by weight: one of the two is wrong. From memory, no source: a
# film on the glass and what the wick holds are a few percent of the melt.
LEAST_USED_UP = Fraction(9, 10)
# How a candle may not go out, whatever the limits.
BAD_ENDS = {"flared": "It flared up at the end.", "cracked": "The vessel cracked at the end."}


@dataclass(frozen=True)
class Limits:
    """What every cycle must stay within. None: not judged. `cycles` is how many each jar must burn at least.

    `wax_left_um` is the depth of wax at which a jar's life ends, 0 when it is used up; None asks for no end. The end of
    life is a cycle of its own, held to `end_flame_um` and `end_vessel_mc`, and to the same soot.
    """

    flame_um: int | None = None
    vessel_mc: int | None = None
    soot: str = MOST
    mushrooming: str = MOST
    full_pool_within: int | None = None
    cycles: int = 1
    weight_asked: bool = False
    photo_asked: bool = False
    wax_left_um: int | None = None
    end_flame_um: int | None = None
    end_vessel_mc: int | None = None


@dataclass(frozen=True)
class Cycle:
    """What one jar showed in one cycle, numbered from 1. None and empty: not observed."""

    number: int
    minutes: int
    flame_um: int | None = None
    full_pool_after: int | None = None
    mushrooming: str = ""
    soot: str = ""
    vessel_mc: int | None = None
    weight_ug: int | None = None
    kind: str = CYCLE
    wax_left_um: int | None = None
    went_out: str = ""
    photo: bool = False

    @property
    def is_end(self) -> bool:
        """Whether the jar's life ended with it."""
        return self.kind == END


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


def hours_left(
    melt_ug: int, start_ug: int, cycles: Sequence[Cycle], measured: Burned | None
) -> Fraction | None:
    """How many hours the melt that was left at the last weighing should last; None where nobody weighed."""
    weights = [(cycle.number, cycle.weight_ug) for cycle in cycles if cycle.weight_ug is not None]
    if not weights or measured is None or measured.burned_ug <= 0:
        return None
    _, last = max(weights)
    return max(Fraction(melt_ug - (start_ug - last)), Fraction(0)) / measured.rate


def breaches(cycle: Cycle, limits: Limits, *, unit: Scale = "C") -> list[str]:
    """What in a cycle went beyond the limits, each a sentence. Exactly at a limit is within it."""
    found = []
    if cycle.is_end:
        flame, flame_most, vessel_most = "Flame at the bottom", limits.end_flame_um, limits.end_vessel_mc
    else:
        flame, flame_most, vessel_most = "Flame", limits.flame_um, limits.vessel_mc
    if flame_most is not None and cycle.flame_um is not None and cycle.flame_um > flame_most:
        found.append(f"{flame} {_length(cycle.flame_um)}, above {_length(flame_most)}.")
    if vessel_most is not None and cycle.vessel_mc is not None and cycle.vessel_mc > vessel_most:
        hot, most = (format_temperature(each, unit) for each in (cycle.vessel_mc, vessel_most))
        found.append(f"Vessel at {hot}, above {most}.")
    within, after = limits.full_pool_within, cycle.full_pool_after
    if not cycle.is_end and within is not None and after is not None and after > within:
        found.append(f"Full pool after {after} min, later than {within} min.")
    for what, seen, most in (
        ("Soot", cycle.soot, limits.soot),
        ("Mushrooming", cycle.mushrooming, MOST if cycle.is_end else limits.mushrooming),
    ):
        if seen and AMOUNTS.index(seen) > AMOUNTS.index(most):
            found.append(f"{what} {seen}, more than {most}.")
    if cycle.went_out in BAD_ENDS:
        found.append(BAD_ENDS[cycle.went_out])
    return found


def unobserved(cycle: Cycle, limits: Limits) -> list[str]:
    """What the limits ask of a cycle and nobody observed, in the words of its field: "flame height", "soot"."""
    asked: tuple[tuple[str, bool, object], ...]
    if cycle.is_end:
        asked = (
            ("flame at the bottom", limits.end_flame_um is not None, cycle.flame_um),
            ("vessel temperature", limits.end_vessel_mc is not None, cycle.vessel_mc),
            ("soot", limits.soot != MOST, cycle.soot or None),
            ("depth of wax left", True, cycle.wax_left_um),
            ("how it went out", True, cycle.went_out or None),
        )
    else:
        asked = (
            ("flame height", limits.flame_um is not None, cycle.flame_um),
            ("vessel temperature", limits.vessel_mc is not None, cycle.vessel_mc),
            ("full pool", limits.full_pool_within is not None, cycle.full_pool_after),
            ("soot", limits.soot != MOST, cycle.soot or None),
            ("mushrooming", limits.mushrooming != MOST, cycle.mushrooming or None),
        )
    both: tuple[tuple[str, bool, object], ...] = (
        ("weight", limits.weight_asked, cycle.weight_ug),
        ("photo", limits.photo_asked, cycle.photo or None),
    )
    return [what for what, wanted, seen in (*asked, *both) if wanted and seen is None]


def _length(um: int) -> str:
    return format_quantity(um, "mm")


@dataclass(frozen=True)
class Struck:
    """A reading of a jar that was struck out: by whom and why."""

    jar: int
    cycle: Cycle
    by: str
    because: str


@dataclass(frozen=True)
class Judgement:
    """What the readings say beside the limits, in sentences.

    `beyond` is what went beyond them; `missing` what they ask for and nobody observed; `wanting` what is still to burn.
    `unjudged` are the cycles in which something is missing. `struck` is what went beyond them by readings that were struck
    out, with who did and why: whether that was a slip the owner says.
    """

    beyond: tuple[str, ...]
    missing: tuple[str, ...]
    wanting: tuple[str, ...]
    unjudged: frozenset[int] = frozenset()
    struck: tuple[str, ...] = ()

    @property
    def suggests(self) -> str:
        """ "pass", "fail", "not judged", "go on" or "struck". A suggestion: a person decides."""
        if self.beyond:
            return "fail"
        if self.missing:
            return "not judged"
        if self.wanting:
            return "go on"
        return "struck" if self.struck else "pass"

    @property
    def against(self) -> tuple[str, ...]:
        """All that speaks against a pass."""
        return (*self.beyond, *self.struck, *self.missing, *self.wanting)


def judge(
    jars: Sequence[tuple[int, Sequence[Cycle]]],
    limits: Limits,
    *,
    unit: Scale = "C",
    filled: Mapping[int, tuple[int, int]] | None = None,
    struck: Sequence[Struck] = (),
) -> Judgement:
    """Hold the cycles of every jar, given with its number, against the limits, and those that were `struck` out.

    `filled` says of each jar what it weighed before it was lit and how much of that was melt, both in µg.
    """
    beyond: list[str] = []
    missing: list[tuple[int, str]] = []
    wanting: list[str] = []
    last = max((cycle.number for _, cycles in jars for cycle in cycles), default=0)
    for jar, cycles in jars:
        for cycle in sorted(cycles, key=lambda each: each.number):
            where = f"Jar {jar}, cycle {cycle.number}"
            beyond += [f"{where}: {said}" for said in breaches(cycle, limits, unit=unit)]
            missing += [
                (cycle.number, f"{where}: {what} not observed.") for what in unobserved(cycle, limits)
            ]
        missing += [(number, f"Jar {jar}, cycle {number}: not read.") for number in unread(cycles, last)]
        wanting += _to_burn(jar, cycles, limits, (filled or {}).get(jar))
    return Judgement(
        tuple(beyond),
        tuple(said for _, said in missing),
        tuple(wanting),
        frozenset(number for number, _ in missing),
        tuple(
            f"Jar {each.jar}, cycle {each.cycle.number}, struck out by {each.by}: {said} Why: {each.because.rstrip('. ')}."
            for each in struck
            for said in breaches(each.cycle, limits, unit=unit)
        ),
    )


def unread(cycles: Sequence[Cycle], last: int) -> list[int]:
    """The cycles of a test up to its last that a jar has no reading of; after the end of its life there are none."""
    read = {cycle.number for cycle in cycles}
    last = min([last, *(cycle.number for cycle in cycles if cycle.is_end)])
    return [number for number in range(1, last + 1) if number not in read]


def _to_burn(jar: int, cycles: Sequence[Cycle], limits: Limits, filled: tuple[int, int] | None) -> list[str]:
    """What a jar has still to burn before its life was seen."""
    found = []
    if len(cycles) < limits.cycles:
        found.append(f"Jar {jar}: {len(cycles)} of {limits.cycles} cycles burned.")
    if contradicted := _not_used_up(jar, cycles, filled):
        return [*found, contradicted]
    if limits.wax_left_um is None:
        return found
    until = "it is used up" if not limits.wax_left_um else f"{_length(limits.wax_left_um)} of wax is left"
    end = next((cycle for cycle in cycles if cycle.is_end), None)
    if end is None:
        found.append(f"Jar {jar}: no end of life; a test runs until {until}.")
    elif end.wax_left_um is not None and end.wax_left_um > limits.wax_left_um:
        found.append(
            f"Jar {jar}: stopped with {_length(end.wax_left_um)} of wax left; a test runs until {until}."
        )
    elif filled:
        found += _hardly_burned(jar, cycles, *filled)
    return found


def _last_weighed(start_ug: int, cycles: Sequence[Cycle]) -> tuple[int, int] | None:
    """The cycle after which a jar was weighed last, and the µg gone by then; None where nobody weighed."""
    weights = [(cycle.number, cycle.weight_ug) for cycle in cycles if cycle.weight_ug is not None]
    if not weights:
        return None
    cycle, weight = max(weights)
    return cycle, start_ug - weight


def _not_used_up(jar: int, cycles: Sequence[Cycle], filled: tuple[int, int] | None) -> str:
    """That a jar was read as used up and its weight says otherwise, in a sentence; "" where it does not."""
    if filled is None or not any(cycle.is_end and cycle.wax_left_um == 0 for cycle in cycles):
        return ""
    start_ug, melt_ug = filled
    last = _last_weighed(start_ug, cycles)
    if last is None or last[1] >= melt_ug * LEAST_USED_UP:
        return ""
    gone, melt = (format_quantity(amount, "g") for amount in (last[1], melt_ug))
    return (
        f"Jar {jar}: read as used up, with no wax left, but by weight {gone} of {melt} of melt had burned after cycle "
        f"{last[0]}. One of the two is wrong."
    )


def _hardly_burned(jar: int, cycles: Sequence[Cycle], start_ug: int, melt_ug: int) -> list[str]:
    """That the last weighing contradicts an end of life, or that there was none to tell by."""
    last = _last_weighed(start_ug, cycles)
    if last is None:
        return [
            f"Jar {jar}: it was never weighed after burning, so whether its whole life was seen is not known."
        ]
    if not melt_ug:
        return []
    gone = last[1]
    if gone >= melt_ug * LEAST_BURNED:
        return []
    shown = format_quantity(gone, "g"), format_quantity(melt_ug, "g")
    return [f"Jar {jar}: by weight {shown[0]} of {shown[1]} of melt burned, so its life was not over."]
