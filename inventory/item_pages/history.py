"""What an item's page plots: its level, day by day, and what it cost."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from inventory.items import levels
from inventory.items.prices import PricePoint
from inventory.models import Item
from studio.core.money import MICROS, format_money
from studio.core.numerals import decimal_text
from studio.core.quantities import PRICED_BY, Dimension, from_unit, split_quantity, to_unit
from studio.web import plots
from studio.web.plots import Guide, Mark, Plot, PlotRow, Tick

# How far back a plot reaches, by the word in its address: how many days, and what the link says.
SPANS: dict[str, tuple[int | None, str]] = {
    "90": (90, "90 days"),
    "year": (365, "A year"),
    "all": (None, "Everything"),
}


@dataclass(frozen=True)
class Line:
    """A level not to fall below, in base units, and what it is."""

    amount: int
    words: str


def first_of(span: str, item: Item, last: date) -> date:
    """The first day a plot shows, for a word of SPANS."""
    days, _ = SPANS[span]
    if days is not None:
        return last - timedelta(days=days - 1)
    return min(levels.first_day(item) or last, last)


def words_of(day: date) -> str:
    """A day as pages write it: 3 Mar 2026."""
    return f"{day.day} {day:%b %Y}"


def level_plot(item: Item, past: levels.History, line: Line | None = None) -> Plot:
    """The level at the end of each day as a line, with what came and what went as marks under it.

    `line` draws a level across, such as the reorder point.
    """
    highest = max([past.opening, *(day.level for day in past.days), line.amount if line else 0])
    whole = item.dimension is Dimension.COUNT
    figures = plots.ticks(Fraction(0), to_unit(highest, item.unit), whole=whole)
    up, along = plots.upwards(figures), plots.across(past.first, past.last)

    def place(day: date, amount: int) -> tuple[int, int]:
        return along.at(day.toordinal()), up.at(to_unit(amount, item.unit))

    points = [place(past.first, past.opening), *(place(day.on, day.level) for day in past.days)]
    points.append((plots.RIGHT, points[-1][1]))
    told = levels.periods(past, plots.period_days(past.first, past.last))
    return Plot(
        title="Level" if item.dimension is Dimension.COUNT else f"Level in {item.unit}",
        says=_level_says(item, past),
        up=tuple(Tick(up.at(figure), _number(figure, item.unit)) for figure in figures),
        across=_days(along, past.first, past.last),
        path=plots.steps(points),
        marks=tuple(_moves(item, along, told)),
        key=(("up", "came in"), ("down", "went out")),
        head=("When", "Came in", "Went out", "Then there"),
        rows=tuple(_level_row(item, *period) for period in reversed(told)),
        guide=Guide(up.at(to_unit(line.amount, item.unit)), line.words) if line else None,
    )


def _number(figure: Fraction, unit: str) -> str:
    return split_quantity(from_unit(figure, unit), unit).number


def _days(along: plots.Scale, first: date, last: date) -> tuple[Tick, ...]:
    return tuple(Tick(along.at(day.toordinal()), words) for day, words in plots.day_ticks(first, last))


def _when(first: date, last: date) -> str:
    return words_of(first) if first == last else f"{words_of(first)} to {words_of(last)}"


def _moves(item: Item, along: plots.Scale, told: Sequence[tuple[date, date, int, int, int]]) -> list[Mark]:
    marks = []
    for first, last, came, went, _ in told:
        middle = along.at(Fraction(first.toordinal() + last.toordinal(), 2))
        if came:
            marks.append(
                Mark(middle, plots.MARKS_IN, "up", f"{_when(first, last)}: {item.quantity(came)} came in")
            )
        if went:
            marks.append(
                Mark(middle, plots.MARKS_OUT, "down", f"{_when(first, last)}: {item.quantity(went)} went out")
            )
    return marks


def _level_row(item: Item, first: date, last: date, came: int, went: int, level: int) -> PlotRow:
    moved = (item.quantity(amount) if amount else "–" for amount in (came, went))
    return PlotRow((_when(first, last), *moved, item.quantity(level)))


def _level_says(item: Item, past: levels.History) -> str:
    """The plot in a sentence."""
    ends = past.days[-1].level if past.days else past.opening
    lowest = min([past.opening, *(day.level for day in past.days)])
    highest = max([past.opening, *(day.level for day in past.days)])
    return (
        f"Level of {item} from {words_of(past.first)} to {words_of(past.last)}: {item.quantity(past.opening)} at "
        f"first, {item.quantity(ends)} now, never less than {item.quantity(lowest)} or more than "
        f"{item.quantity(highest)} at the end of a day."
    )


def price_plot(
    item: Item, points: Sequence[PricePoint], currency: str, *, first: date, last: date
) -> Plot | None:
    """What was paid as dots joined by a line, and what was quoted as rings, per the unit people quote.

    Freight is left out. None where nothing was paid or quoted between `first` and `last`.
    """
    shown = [(point, _price(item, point)) for point in points if first <= point.on <= last and point.quantity]
    if not shown:
        return None
    unit = PRICED_BY[item.unit]
    prices = [price / MICROS for _, price in shown]
    low, high = min(prices), max(prices)
    # Room above and below, so that a price that never moved does not look like a cliff.
    figures = plots.ticks(max(low - high / 10, Fraction(0)), high + high / 10)
    up, along = plots.upwards(figures), plots.across(first, last)

    def words(price: Fraction) -> str:
        return format_money(round(price), currency, places=_places(item, round(price)))

    marks = [
        Mark(
            along.at(point.on.toordinal()),
            up.at(price / MICROS),
            "dot" if point.paid else "ring",
            f"{words_of(point.on)}: {words(price)} {'paid to' if point.paid else 'quoted by'} {point.supplier}",
        )
        for point, price in shown
    ]
    paid = [(mark.x, mark.y) for mark in marks if mark.shape == "dot"]
    by = unit if unit == "each" else f"per {unit}"
    return Plot(
        title=f"Price {by}, in {currency}",
        says=f"Price of {item} {by}, goods alone, from {words_of(first)} to {words_of(last)}: "
        f"{words(min(price for _, price in shown))} at the lowest, {words(max(price for _, price in shown))} at the "
        f"highest, {words(shown[-1][1])} at last.",
        up=tuple(Tick(up.at(figure), words) for figure, words in zip(figures, _sums(figures), strict=True)),
        across=_days(along, first, last),
        path=plots.straight(paid),
        marks=tuple(marks),
        key=(("dot", "paid"), ("ring", "quoted")),
        head=("When", "From", f"Price {by}"),
        rows=tuple(
            PlotRow(
                (words_of(point.on), f"{point.supplier}, {'paid' if point.paid else 'quoted'}", words(price)),
                point.url,
            )
            for point, price in reversed(shown)
        ),
        texts=2,
    )


def _price(item: Item, point: PricePoint) -> Fraction:
    """Millionths for the unit people quote."""
    return Fraction(point.value * from_unit(1, PRICED_BY[item.unit]), point.quantity)


def _places(item: Item, micros: int) -> int | None:
    """Pieces that cost next to nothing are told to four places."""
    return 4 if item.dimension is Dimension.COUNT and micros < 100_000 else None


def _sums(figures: Sequence[Fraction]) -> list[str]:
    """Figures on the axis of prices, all with as many places as the finest needs."""
    places = next(
        places for places in range(7) if all((each * 10**places).denominator == 1 for each in figures)
    )
    return [decimal_text(int(each * 10**places), places, fixed=True) for each in figures]
