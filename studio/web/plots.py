"""The numbers behind a plotted line: round figures for its axes, days along it, and places in the drawing.

Figures go in as exact numbers and dates, places come out as whole units of the drawing. `templates/parts/plot.html`
draws them.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import ClassVar

# The drawing in its own units; on a phone two of them are a point of the screen.
WIDTH, FOOT = 720, 16
LEFT, RIGHT, TOP, BOTTOM = 104, 704, 24, 300
MARKS_IN, MARKS_OUT, DAYS_AT = 324, 346, 384

TICKS_UP = 5
TICKS_ACROSS = 6
MONTHS = (1, 2, 3, 6)
YEARS = (1, 2, 5, 10, 20, 50, 100)


@dataclass(frozen=True)
class Tick:
    """A figure or a day on an axis: where it stands, and its words."""

    at: int
    label: str


@dataclass(frozen=True)
class Mark:
    """Something that happened, drawn by its `shape`: up, down, cross, dot or ring. `words` say what it was."""

    x: int
    y: int
    shape: str
    words: str


@dataclass(frozen=True)
class Guide:
    """A level across the whole drawing, such as one not to fall below. Its words stand above it, or below."""

    at: int
    words: str
    below: bool = False


@dataclass(frozen=True)
class PlotRow:
    """A row of the table behind a drawing; its first cell may lead somewhere."""

    cells: tuple[str, ...]
    url: str = ""


@dataclass(frozen=True)
class Plot:
    """A drawing, the sentence that stands for it where it cannot be seen, and the table behind it.

    `path` is the line in SVG's words. `key` explains the marks that may occur: shape and meaning. The first `texts`
    columns of the table are words, the others figures.
    """

    title: str
    says: str
    up: tuple[Tick, ...]
    across: tuple[Tick, ...]
    path: str
    marks: tuple[Mark, ...]
    key: tuple[tuple[str, str], ...]
    head: tuple[str, ...]
    rows: tuple[PlotRow, ...]
    texts: int = 1
    guide: Guide | None = None
    guides: tuple[Guide, ...] = ()
    # Where a line may well run instead, as a closed path behind it.
    band: str = ""
    # The frame, for the template.
    width: ClassVar[int] = WIDTH
    left: ClassVar[int] = LEFT
    right: ClassVar[int] = RIGHT
    bottom: ClassVar[int] = BOTTOM

    @property
    def days_at(self) -> int:
        """Where the days are written: under the strip of marks, where there is one."""
        return DAYS_AT if any(mark.y > BOTTOM for mark in self.marks) else DAYS_AT - MARKS_OUT + BOTTOM

    @property
    def height(self) -> int:
        """Of the whole drawing."""
        return self.days_at + FOOT

    @property
    def legend(self) -> list[tuple[str, str]]:
        """What explains the marks that do occur."""
        drawn = {mark.shape for mark in self.marks}
        return [(shape, words) for shape, words in self.key if shape in drawn]

    @property
    def told(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """The table's rows: where each leads, and its cells with the words over them."""
        return [(row.url, list(zip(row.cells, self.head, strict=True))) for row in self.rows]


def ticks(
    low: Fraction, high: Fraction, *, at_most: int = TICKS_UP, whole: bool = False
) -> tuple[Fraction, ...]:
    """Round figures from `low` or just below it to `high` or just above it, in at most `at_most` equal steps.

    A step is 1, 2 or 5 times a power of ten; with `whole` at least 1. Where low and high are one, one step is shown.
    """
    if high <= low:
        high = low + (1 if whole or not low else abs(low) / 10)
    for step in _steps((high - low) / at_most, whole=whole):
        first = low // step * step
        steps = -((first - high) // step)
        if steps <= at_most:
            return tuple(first + step * number for number in range(steps + 1))
    raise AssertionError("the steps never end")


def _steps(least: Fraction, *, whole: bool) -> Iterator[Fraction]:
    """1, 2 and 5 times the powers of ten, from `least` upwards; with `whole` none below 1."""
    power = Fraction(1)
    while power > least and not whole:
        power /= 10
    while power * 10 <= least:
        power *= 10
    while True:
        yield from (power * digit for digit in (1, 2, 5) if power * digit >= least)
        power *= 10


def day_ticks(first: date, last: date, *, at_most: int = TICKS_ACROSS) -> tuple[tuple[date, str], ...]:
    """Days to name between two days, both included, at most `at_most` of them, each with its words.

    Every day, every other, Mondays, every second Monday; then firsts of months; then of years. A January carries its
    year, other months do not.
    """
    for days in _choices(first, last):
        named = [(day, words) for day, words in days if first <= day <= last]
        if len(named) <= at_most:
            return tuple(named)
    return ()


def _choices(first: date, last: date) -> Iterator[Iterable[tuple[date, str]]]:
    span = (last - first).days
    monday = first - timedelta(days=first.weekday())
    for start, step in ((first, 1), (first, 2), (monday, 7), (monday, 14)):
        # Far more than fit: not worth listing.
        if span <= step * 40:
            days = [start + timedelta(days=gone) for gone in range(0, span + 8, step)]
            yield [(day, f"{day.day} {day:%b}") for day in days]
    months = (last.year - first.year + 1) * 12
    for step in MONTHS:
        starts = [date(first.year + month // 12, month % 12 + 1, 1) for month in range(0, months, step)]
        yield [(day, f"{day:%b}" if day.month > 1 else str(day.year)) for day in starts]
    for step in YEARS:
        years = range(first.year // step * step, last.year + 1, step)
        yield [(date(year, 1, 1), str(year)) for year in years if year]


@dataclass(frozen=True)
class Scale:
    """Places of figures between `start` and `end` of the drawing, `low` at the one and `high` at the other."""

    low: Fraction
    high: Fraction
    start: int
    end: int

    def at(self, figure: Fraction | int) -> int:
        """The place of a figure, to the nearest unit of the drawing."""
        if self.high == self.low:
            return self.start
        return self.start + round((figure - self.low) * (self.end - self.start) / (self.high - self.low))


def across(first: date, last: date) -> Scale:
    """Places of days (by their ordinal number) along the drawing."""
    return Scale(Fraction(first.toordinal()), Fraction(last.toordinal()), LEFT, RIGHT)


def upwards(figures: Sequence[Fraction]) -> Scale:
    """Places of figures between the lowest and the highest tick."""
    return Scale(figures[0], figures[-1], BOTTOM, TOP)


def steps(points: Sequence[tuple[int, int]]) -> str:
    """A line that stays level until the next point and then goes straight up or down, as an SVG path."""
    drawn = [f"M{points[0][0]} {points[0][1]}"] if points else []
    here = points[0] if points else (0, 0)
    for x, y in points[1:]:
        drawn.append((f"H{x}" if x != here[0] else "") + (f"V{y}" if y != here[1] else ""))
        here = (x, y)
    return "".join(drawn)


def straight(points: Sequence[tuple[int, int]]) -> str:
    """A line from point to point, as an SVG path."""
    return "".join(f"{'L' if number else 'M'}{x} {y}" for number, (x, y) in enumerate(points))


def band(upper: Sequence[tuple[int, int]], lower: Sequence[tuple[int, int]]) -> str:
    """The area between two lines over the same places, as a closed SVG path."""
    return f"{straight([*upper, *reversed(lower)])}Z" if upper else ""


# How many days are told as one, in a table and as a mark, so that they stay apart: the first that gives few enough.
PERIODS = (1, 7, 28, 91, 364, 3640)
PERIODS_AT_MOST = 92


def period_days(first: date, last: date) -> int:
    """How many days are told as one between two days."""
    span = (last - first).days + 1
    return next((days for days in PERIODS if span <= days * PERIODS_AT_MOST), PERIODS[-1])
