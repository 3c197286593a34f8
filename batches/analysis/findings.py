"""What the runs show: whether what came out differs with temperature, lot, fragrance, vessel or person.

Plain Python, dataclasses in and out, no database and no clock. Runs are compared, never single units: the units of one
run share a pot and a day, so a hundred jars with sinkholes from one pot are one thing that happened, not a hundred.
Where several formulas are looked at together, runs are compared within each (`stratum` of a factor), so that what sets
the formulas apart is not taken for an effect. All factors are tested at once and told so (`chance.together`).
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from statistics import median

from batches import chance
from batches.analysis.factors import FACTORS, Factor, Level, Look, Run
from batches.chance import Tested

# So few are not judged. A level with fewer runs is shown and not compared.
RUNS_AT_LEAST = 8
LEVEL_RUNS_AT_LEAST = 3
# A defect that fewer runs had is not judged either.
RUNS_WITH_IT_AT_LEAST = 3
LEVELS_AT_MOST = 12
# Over fewer a share is never told without its interval.
RUNS_FOR_A_BARE_SHARE = 5
# Where a difference counts as one.
SIGNIFICANT = 0.05
# Writes a factor's figure for the eye.
Shown = Callable[[Factor, float], str]


class Strength(IntEnum):
    """What can be said of a factor, the most worth looking at first."""

    DIFFERS = 1
    PERHAPS = 2
    NOTHING = 3
    TOO_FEW = 4
    ALIKE = 5
    UNRECORDED = 6


@dataclass(frozen=True)
class Side:
    """The runs of one level together.

    `share` is of all their units, or the mean yield; `low` and `high` an interval of 95 % about it, for the yield the
    lowest and the highest run. `usual` is the share that the same formulas have in all runs (or whatever the stratum
    of the factor is), and where there is one stratum alone, the share of the other runs; None where there are none.
    """

    level: Level
    runs: int
    units: int
    share: float
    low: float
    high: float
    usual: float | None
    mean_yield: float | None


@dataclass(frozen=True)
class Finding:
    """What the runs say about one factor.

    `points` are the runs that have a figure, with the figure and the outcome; `sides` the levels. `within` says whether
    runs were compared within strata. `adjusted` is the chance where all factors were tested at once.
    """

    factor: Factor
    standing: Strength
    sentence: str
    points: tuple[tuple[Run, float, float], ...] = ()
    sides: tuple[Side, ...] = ()
    tested: Tested | None = None
    adjusted: float | None = None
    within: bool = False

    @property
    def p(self) -> float | None:
        """The chance by itself; None where nothing could be tested."""
        return self.tested.p if self.tested else None


@dataclass(frozen=True)
class Lessons:
    """All findings about one outcome, the most worth looking at first.

    `tested` factors were tested at once, and `usable` runs have the outcome. `crowd` units of one run tell as much as
    one that stands alone.
    """

    look: Look
    findings: tuple[Finding, ...]
    tested: int
    usable: int
    crowd: float


def percent(share: float) -> str:
    """A share for the eye, to a tenth of a percent."""
    return f"{share * 100:.1f}\N{NO-BREAK SPACE}%"


def chance_words(p: float, adjusted: float | None = None, tested: int = 1) -> str:
    """A p-value for the eye; where several things were tested at once, what it comes to among them."""
    said = f"p {_sign(p)}"
    return (
        said
        if adjusted is None or tested < 2
        else f"{said} by itself, {_sign(adjusted).removeprefix('= ')} among {tested} tested"
    )


def _sign(p: float) -> str:
    return "< 0.001" if p < 0.001 else f"= {p:.3f}" if p < 0.1 else f"= {p:.2f}"


def many(count: int, word: str = "run") -> str:
    """A count and its word."""
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def learn(runs: Sequence[Run], look: Look, shown: Shown) -> Lessons:
    """What the runs say about an outcome, factor by factor."""
    usable = [run for run in runs if look.of(run) is not None]
    crowd = chance.crowding((look.hits(run), run.made) for run in usable) if look.hits else 1.0
    found = [_finding(usable, look, factor, crowd) for factor in FACTORS]
    chances = [finding.p for finding in found if finding.p is not None]
    adjusted = iter(chance.together(chances))
    findings = [
        finding if finding.p is None else _judged(finding, next(adjusted), look, len(chances), shown, crowd)
        for finding in found
    ]
    findings.sort(key=lambda finding: (finding.standing, finding.p or 0.0))
    return Lessons(look, tuple(findings), len(chances), len(usable), crowd)


def _finding(runs: Sequence[Run], look: Look, factor: Factor, crowd: float) -> Finding:
    """One factor, tested where there is enough, and not yet held against the others."""
    told = [(run, value) for run in runs if (value := factor.of(run)) is not None]
    if not told:
        return Finding(factor, Strength.UNRECORDED, "Not recorded for any of these runs.")
    figures = [(run, value) for run, value in told if isinstance(value, float)]
    levels = [(run, value) for run, value in told if isinstance(value, Level)]
    finding = _of_figures(figures, look, factor) if figures else _of_levels(levels, look, factor, crowd)
    too_few = _too_few(finding, look, told)
    return replace(finding, standing=too_few[0], sentence=too_few[1], tested=None) if too_few else finding


def _too_few(finding: Finding, look: Look, told: Sequence[tuple[Run, object]]) -> tuple[Strength, str] | None:
    """Why nothing can be told, where that is so."""
    test, runs = finding.tested, many(len(told))
    with_it = sum(1 for run, _ in told if look.hits and look.hits(run))
    if len(told) < RUNS_AT_LEAST:
        return Strength.TOO_FEW, f"Too few runs to tell: {len(told)}; at least {RUNS_AT_LEAST} are needed."
    if len({value for _, value in told}) == 1:
        return Strength.ALIKE, f"The same for all {runs}: nothing to compare."
    if look.hits and with_it < RUNS_WITH_IT_AT_LEAST:
        return Strength.TOO_FEW, (
            f"Too few runs to tell: {with_it or 'none'} of {runs} had any; at least {RUNS_WITH_IT_AT_LEAST} must."
        )
    if test and test.runs < RUNS_AT_LEAST:
        return Strength.TOO_FEW, (
            f"Too few runs to tell: of {runs} {f'only {test.runs}' if test.runs else 'none'} can be compared"
            f"{f' within one {finding.factor.within}' if finding.within else ''}; "
            f"at least {RUNS_AT_LEAST} are needed."
        )
    if test and test.p is None:
        return Strength.ALIKE, f"All {runs} came out alike: nothing to compare."
    return None


def _of_figures(told: Sequence[tuple[Run, float]], look: Look, factor: Factor) -> Finding:
    points = tuple((run, figure, _share(look, run)) for run, figure in told)
    strata = [factor.stratum(run) for run, _, _ in points]
    test = chance.rank_test([each[1] for each in points], [each[2] for each in points], strata)
    return Finding(factor, Strength.NOTHING, "", points=points, tested=test, within=len(set(strata)) > 1)


def _of_levels(told: Sequence[tuple[Run, Level]], look: Look, factor: Factor, crowd: float) -> Finding:
    grouped: dict[Level, list[Run]] = {}
    for run, level in told:
        grouped.setdefault(level, []).append(run)
    grouped = _merged(grouped)
    pairs = [
        (level, run) for level, runs in grouped.items() if len(runs) >= LEVEL_RUNS_AT_LEAST for run in runs
    ]
    test = chance.group_test(
        [level for level, _ in pairs],
        [_share(look, run) for _, run in pairs],
        [factor.stratum(run) for _, run in pairs],
    )
    every = [run for run, _ in told]
    usual = _by_stratum(look, every, factor)
    sides = [_side(level, grouped, look, factor, crowd, usual) for level in grouped]
    # The worst first; what is too few to compare, and the rest together, after the others.
    sides.sort(
        key=lambda side: (
            side.level.is_rest,
            side.runs < LEVEL_RUNS_AT_LEAST,
            -side.share if look.hits else side.share,
        )
    )
    return Finding(factor, Strength.NOTHING, "", sides=tuple(sides), tested=test, within=len(usual) > 1)


def _merged(grouped: Mapping[Level, list[Run]]) -> dict[Level, list[Run]]:
    """The levels of most runs by themselves, the rest as one."""
    order = sorted(grouped.items(), key=lambda each: (-len(each[1]), each[0].words))
    kept, rest = order[: LEVELS_AT_MOST - 1], order[LEVELS_AT_MOST - 1 :]
    if len(rest) <= 1:
        return dict(order)
    others = Level(f"{len(rest)} others", is_rest=True)
    return dict(kept) | {others: [run for _, runs in rest for run in runs]}


def _share(look: Look, run: Run) -> float:
    share = look.of(run)
    if share is None:
        raise ValueError(f"Run {run.code} has no {look.words}.")
    return share


def pooled(look: Look, runs: Sequence[Run]) -> float:
    """The share of all units of these runs; of yields, their mean. There is at least one run, and each has one."""
    if look.hits is None:
        return sum(_share(look, run) for run in runs) / len(runs)
    return sum(look.hits(run) for run in runs) / sum(run.made for run in runs)


def interval(look: Look, runs: Sequence[Run], crowd: float) -> tuple[float, float]:
    """About the share, 95 %, with so many units taken as one; of yields, the lowest and the highest."""
    if look.hits is None:
        shares = [_share(look, run) for run in runs]
        return min(shares), max(shares)
    hits, units = sum(look.hits(run) for run in runs), sum(run.made for run in runs)
    return chance.wilson(hits / crowd, units / crowd)


def _by_stratum(look: Look, runs: Sequence[Run], factor: Factor) -> dict[str, float]:
    """The share of each stratum."""
    strata: dict[str, list[Run]] = {}
    for run in runs:
        strata.setdefault(factor.stratum(run), []).append(run)
    return {stratum: pooled(look, these) for stratum, these in strata.items()}


def _side(
    level: Level,
    grouped: Mapping[Level, Sequence[Run]],
    look: Look,
    factor: Factor,
    crowd: float,
    by_stratum: Mapping[str, float],
) -> Side:
    runs = grouped[level]
    yields = [run.reached for run in runs if run.reached is not None]
    low, high = interval(look, runs, crowd)
    usual: float | None = None
    if len(by_stratum) > 1:
        weights = [run.made if look.hits else 1 for run in runs]
        shares = [by_stratum[factor.stratum(run)] for run in runs]
        usual = sum(weight * share for weight, share in zip(weights, shares, strict=True)) / sum(weights)
    else:
        others = [run for other, these in grouped.items() if other != level for run in these]
        usual = pooled(look, others) if others else None
    return Side(
        level=level,
        runs=len(runs),
        units=sum(run.made for run in runs),
        share=pooled(look, runs),
        low=low,
        high=high,
        usual=usual,
        mean_yield=sum(yields) / len(yields) if yields else None,
    )


def _judged(
    finding: Finding, adjusted: float, look: Look, tested: int, shown: Shown, crowd: float
) -> Finding:
    """The finding with its sentence, held against the others that were tested at once."""
    test = finding.tested
    if test is None or test.p is None:
        return finding
    if test.p >= SIGNIFICANT:
        said = f"No difference that chance would not explain ({chance_words(test.p)}, {many(test.runs)})."
        return replace(finding, sentence=said, adjusted=adjusted)
    p = f"({chance_words(test.p, adjusted, tested)}; {many(test.runs)})"
    said = _of_halves(finding, look, shown, crowd) if finding.factor.numeric else _of_furthest(finding, look)
    if adjusted >= SIGNIFICANT:
        said = f"May well be chance {p}. {said} More runs will tell."
        return replace(finding, standing=Strength.PERHAPS, sentence=said, adjusted=adjusted)
    said = f"{said.removesuffix('.')} {p}. Worth a trial; it does not prove the cause."
    return replace(finding, standing=Strength.DIFFERS, sentence=said, adjusted=adjusted)


def middles(finding: Finding) -> dict[str, float]:
    """The figure that parts the runs of each stratum into halves, by stratum: their median.

    Where none lies below the median, the next figure above it; strata whose runs are all alike are left out.
    """
    figures: dict[str, list[float]] = {}
    for run, figure, _ in finding.points:
        figures.setdefault(finding.factor.stratum(run), []).append(figure)
    found = {}
    for stratum, these in figures.items():
        middle = median(these)
        if min(these) == middle:
            middle = min((figure for figure in these if figure > middle), default=middle)
        if min(these) < middle:
            found[stratum] = middle
    return found


def halves(finding: Finding) -> tuple[list[Run], list[Run]]:
    """The runs below the middle of their stratum and those from there up."""
    parted = middles(finding)
    found: tuple[list[Run], list[Run]] = [], []
    for run, figure, _ in finding.points:
        if (middle := parted.get(finding.factor.stratum(run))) is not None:
            found[figure >= middle].append(run)
    return found


def _of_halves(finding: Finding, look: Look, shown: Shown, crowd: float) -> str:
    """The lower half of the runs beside the upper, in words; where the halves do not show it, the correlation."""
    factor, parts = finding.factor, halves(finding)
    below, above = (pooled(look, part) for part in parts)
    apart = finding.tested.apart if finding.tested else 0.0
    if (above - below) * apart <= 0:
        way = "rises" if apart > 0 else "falls"
        return (
            f"{look.words}: the share {way} with the {factor.words.lower()}, rank correlation {apart:+.2f}."
        )
    if finding.within:
        lower, upper = f"{factor.sides[2]} than is usual for their formula", factor.sides[3]
    else:
        (middle,) = middles(finding).values()
        lower, upper = (side.format(shown(factor, middle)) for side in factor.sides[:2])
    first = look.said(percent(below)) + _in_runs(len(parts[0]), *interval(look, parts[0], crowd))
    second = percent(above) + _in_runs(len(parts[1]), *interval(look, parts[1], crowd))
    return f"Runs {lower}: {first}; {upper}: {second}."


def _in_runs(runs: int, low: float, high: float) -> str:
    """The runs a share rests on, and where they are few its interval."""
    between = f" ({percent(low)} to {percent(high)})" if runs < RUNS_FOR_A_BARE_SHARE else ""
    return f" in {many(runs)}{between}"


def _of_furthest(finding: Finding, look: Look) -> str:
    """The level that is furthest from what is usual, in words."""

    def off(side: Side) -> float:
        weight = side.units if look.hits else side.runs
        return abs(side.share - (side.usual or 0.0)) * math.sqrt(weight)

    compared = [side for side in finding.sides if side.runs >= LEVEL_RUNS_AT_LEAST]
    side = max([side for side in compared if not side.level.is_rest] or compared, key=off)
    runs = _in_runs(side.runs, side.low, side.high)
    said = f"{side.level.words} is furthest off: {look.said(percent(side.share))}{runs}"
    if side.usual is None:
        return f"{said}."
    if finding.within:
        return f"{said}, where {percent(side.usual)} is usual for the same {finding.factor.within}."
    return f"{said}, where the others have {percent(side.usual)}."
