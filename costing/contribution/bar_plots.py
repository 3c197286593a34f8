"""Bars lying on their side: what an hour brings, and how far an input moves the margin. Places in whole units."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import ClassVar

from costing.contribution.earnings import Earning
from costing.contribution.sensitivity import Swing
from studio.core.money import format_money
from studio.core.percent import WHOLE, format_percent
from studio.web import plots
from studio.web.plots import Tick

LEFT, RIGHT = 8, 712
TOP, ROW, THICK, WORDS = 34, 68, 22, 22
ROWS_AT_MOST, WORST_SHOWN = 15, 5


@dataclass(frozen=True)
class Piece:
    """A part of a bar, by its look: rise, fall or plain. `words` say what it is."""

    x: int
    width: int
    look: str
    words: str


@dataclass(frozen=True)
class Bar:
    """One row: its name, its figure in words, and the pieces of its bar. `y` is the top of the row."""

    name: str
    figure: str
    y: int
    pieces: tuple[Piece, ...]

    @property
    def bar_y(self) -> int:
        """Where the bar begins, below its words."""
        return self.y + WORDS + 8

    @property
    def words_y(self) -> int:
        """The line its words stand on."""
        return self.y + WORDS


@dataclass(frozen=True)
class BarPlot:
    """A drawing of bars and the sentence that stands for it. `line_at` is the level all bars begin at."""

    title: str
    says: str
    ticks: tuple[Tick, ...]
    bars: tuple[Bar, ...]
    line_at: int
    key: tuple[tuple[str, str], ...] = ()
    guide_at: int | None = None
    guide_words: str = ""
    width: ClassVar[int] = 720
    left: ClassVar[int] = LEFT
    right: ClassVar[int] = RIGHT
    top: ClassVar[int] = TOP
    thick: ClassVar[int] = THICK

    @property
    def foot(self) -> int:
        """Below the last bar."""
        return TOP + ROW * len(self.bars)

    @property
    def height(self) -> int:
        """Of the whole drawing."""
        return self.foot + 34

    @property
    def guide_anchor(self) -> str:
        """On which side of its line the guide's words stand, so that they stay in the drawing."""
        return "end" if (self.guide_at or 0) > (LEFT + RIGHT) // 2 else "start"


def _scale(figures: Sequence[Fraction]) -> tuple[plots.Scale, tuple[Fraction, ...]]:
    marks = plots.ticks(min(figures), max(figures), at_most=4)
    return plots.Scale(marks[0], marks[-1], LEFT, RIGHT), marks


def _ticks(
    scale: plots.Scale, marks: Sequence[Fraction], words: Callable[[Fraction], str]
) -> tuple[Tick, ...]:
    return tuple(Tick(scale.at(mark), words(mark)) for mark in marks)


def _piece(start: int, end: int, look: str, words: str) -> Piece:
    return Piece(min(start, end), max(abs(end - start), 1), look, words)


def hours_plot(rows: Sequence[Earning], wanted: Fraction | None, currency: str) -> BarPlot | None:
    """What an hour of hands contributes, product by product; None where no hour is known."""
    told = [(each, each.outcome.per_hour) for each in rows if each.outcome.per_hour is not None]
    if not told:
        return None
    shown = told[:ROWS_AT_MOST]
    if len(told) > ROWS_AT_MOST:
        # The last are the ones to look at.
        shown = [*told[: ROWS_AT_MOST - WORST_SHOWN], *told[-WORST_SHOWN:]]
    figures = [Fraction(0), *(hour for _, hour in shown), *([wanted] if wanted is not None else [])]
    scale, marks = _scale(figures)

    def words(micros: Fraction) -> str:
        return format_money(round(micros), currency, places=0)

    bars = tuple(
        Bar(
            f"{each.product.item}, {each.channel}",
            words(hour),
            TOP + ROW * place,
            (_piece(scale.at(0), scale.at(hour), "plain" if hour >= 0 else "fall", words(hour)),),
        )
        for place, (each, hour) in enumerate(shown)
    )
    first, last = bars[0], bars[-1]
    title = "Contribution of an hour of hands"
    if len(told) > len(shown):
        title += f": the best {ROWS_AT_MOST - WORST_SHOWN} and the last {WORST_SHOWN} of {len(told)}"
    return BarPlot(
        title=title,
        says=f"Most: {first.name}, {first.figure}. Least: {last.name}, {last.figure}.",
        ticks=_ticks(scale, marks, words),
        bars=bars,
        line_at=scale.at(0),
        guide_at=None if wanted is None else scale.at(wanted),
        guide_words="" if wanted is None else f"{words(wanted)} an hour",
    )


def tornado_plot(swings: Sequence[Swing], by_ppm: int) -> BarPlot | None:
    """How far the margin moves when each input changes, the widest on top; None where nothing moves it."""
    if not swings:
        return None
    shown = swings[:ROWS_AT_MOST]
    base = shown[0].base
    scale, marks = _scale([base, *(each.lower for each in shown), *(each.higher for each in shown)])
    by = format_percent(by_ppm)

    def words(ratio: Fraction) -> str:
        return format_percent(ratio * WHOLE, 1)

    def bar(place: int, each: Swing) -> Bar:
        pieces = (
            _piece(scale.at(base), scale.at(each.lower), "fall", f"{by} less: {words(each.lower)}"),
            _piece(scale.at(base), scale.at(each.higher), "rise", f"{by} more: {words(each.higher)}"),
        )
        low, high = sorted((each.lower, each.higher))
        return Bar(each.name, f"{words(low)} to {words(high)}", TOP + ROW * place, pieces)

    bars = tuple(bar(place, each) for place, each in enumerate(shown))
    return BarPlot(
        title=f"Margin when one input changes by {by}",
        says=f"{bars[0].name} moves it most: {bars[0].figure}. As it is: {words(base)}.",
        ticks=_ticks(scale, marks, words),
        bars=bars,
        line_at=scale.at(base),
        key=(("fall", f"{by} less"), ("rise", f"{by} more")),
        guide_at=scale.at(base),
        guide_words=f"{words(base)} as it is",
    )
