"""What the runs show as drawings: a point for each run, a strip for each level."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from django.urls import reverse

from batches.analysis.factors import Factor, Look
from batches.analysis.findings import (
    LEVEL_RUNS_AT_LEAST,
    Finding,
    Side,
    Strength,
    halves,
    many,
    middles,
    percent,
    pooled,
)
from studio.core.temperatures import Scale, format_temperature
from studio.web import plots
from studio.web.plots import Mark, Plot, PlotRow, Tick

# The latest so many runs are drawn and listed behind the drawing; the figures are of all.
POINTS_AT_MOST = 200
# A strip's own units.
STRIP, STRIP_EDGE = 200, 8


def shown(factor: Factor, figure: float, unit: Scale) -> str:
    """A factor's figure for the eye: a temperature in the studio's unit, or days."""
    if factor.is_heat:
        return format_temperature(round(figure), unit)
    return many(round(figure), "day")


def _plain(factor: Factor, figure: float, unit: Scale) -> Fraction:
    """The figure as it stands along the axis: degrees of the studio's unit, or days."""
    exact = Fraction(figure)
    if not factor.is_heat:
        return exact
    return exact / 1000 * Fraction(9, 5) + 32 if unit == "F" else exact / 1000


def scatter(finding: Finding, look: Look, unit: Scale) -> Plot:
    """The latest runs, the figure to the right and the share upwards."""
    factor, of = finding.factor, finding.points[-POINTS_AT_MOST:]
    across = plots.ticks(*_ends([_plain(factor, figure, unit) for _, figure, _ in of]), at_most=6)
    up = plots.ticks(*_levels([share for _, _, share in of], look))
    along = plots.Scale(across[0], across[-1], plots.LEFT + 8, plots.RIGHT - 8)
    upwards = plots.upwards(up)

    def place(figure: float) -> int:
        return along.at(_plain(factor, figure, unit))

    marks = [
        Mark(
            place(figure),
            upwards.at(Fraction(share) * 100),
            "ring" if run.given_up else "dot",
            f"{run.code}, {run.product}: {shown(factor, figure, unit)}, {percent(share)}",
        )
        for run, figure, share in of
    ]
    named = f"{factor.words} in °{unit}" if factor.is_heat else factor.words
    left_out = f", the latest {len(of)}" if len(of) < len(finding.points) else ""
    path = _halves(finding, look, place, upwards)
    both = "; the lines are of either half of the runs" if path else ""
    return Plot(
        title=f"{look.words}, %, against {named[0].lower()}{named[1:]}{left_out}{both}",
        says=f"{look.words} against {factor.words.lower()}, {many(len(of), 'run')}. {finding.sentence}",
        up=tuple(Tick(upwards.at(figure), _short(figure)) for figure in up),
        across=tuple(Tick(along.at(figure), _short(figure)) for figure in across),
        path=path,
        marks=tuple(marks),
        key=(("dot", "one run"), ("ring", "one given up")),
        head=("Batch", "Product", "Day", factor.words, look.words),
        rows=tuple(
            PlotRow(
                (
                    run.code,
                    run.product,
                    f"{run.day.day} {run.day:%b %Y}",
                    shown(factor, figure, unit),
                    percent(share),
                ),
                reverse("batches:batch-detail", args=[run.code]),
            )
            for run, figure, share in reversed(of)
        ),
        texts=3,
    )


def _ends(figures: Sequence[Fraction]) -> tuple[Fraction, Fraction]:
    return Fraction(floor(min(figures))), Fraction(ceil(max(figures)))


def _levels(shares: Sequence[float], look: Look) -> tuple[Fraction, Fraction]:
    """From nothing for what should not be, from the lowest run for the yield."""
    most = Fraction(round(max(shares) * 100, 6))
    if look.hits:
        return Fraction(0), max(most, Fraction(1))
    return Fraction(floor(min(shares) * 100)), Fraction(ceil(most))


def _short(figure: Fraction) -> str:
    return f"{float(figure):g}"


def _halves(finding: Finding, look: Look, place: Callable[[float], int], upwards: plots.Scale) -> str:
    """A level line over either half of the runs, as high as its share, where the halves may differ."""
    if finding.within or finding.standing > Strength.PERHAPS:
        return ""
    (middle,) = middles(finding).values()
    levels = [upwards.at(Fraction(pooled(look, half)) * 100) for half in halves(finding)]
    return f"M{plots.LEFT} {levels[0]}H{place(middle)}M{place(middle)} {levels[1]}H{plots.RIGHT}"


def _or_missing(share: float | None) -> str:
    return "–" if share is None else percent(share)


@dataclass(frozen=True)
class Strip:
    """One level's share as a mark on a line from the lowest to the highest that it may be; places in the drawing."""

    side: Side
    low: int
    high: int
    at: int
    usual: int | None
    share: str
    interval: str
    beside: str
    mean_yield: str

    @property
    def is_few(self) -> bool:
        """Whether it was too few runs to be compared."""
        return self.side.runs < LEVEL_RUNS_AT_LEAST


def strips(finding: Finding, look: Look) -> tuple[list[Strip], str, str]:
    """A strip for each level, all on one scale, and the words for its two ends."""
    sides = finding.sides
    least = 0.0 if look.hits else min(side.low for side in sides)
    # A run or two may have been anything; they do not set the scale.
    telling = [side for side in sides if side.runs >= LEVEL_RUNS_AT_LEAST] or sides
    most = max(*(side.high for side in telling), *(side.share for side in sides), least + 0.01)

    def at(share: float) -> int:
        return STRIP_EDGE + round(
            (STRIP - 2 * STRIP_EDGE) * min(max(share - least, 0.0) / (most - least), 1.0)
        )

    drawn = [
        Strip(
            side,
            at(side.low),
            at(side.high),
            at(side.share),
            None if side.usual is None else at(side.usual),
            percent(side.share),
            f"{percent(side.low)} to {percent(side.high)}",
            _or_missing(side.usual),
            _or_missing(side.mean_yield),
        )
        for side in sides
    ]
    return drawn, percent(least), percent(most)
