"""The projected level as a plot: the line, its band, the reorder point, and what comes in."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inventory.replenishment import arithmetic
from inventory.replenishment.forecast_text import day_words
from inventory.replenishment.outlook import ReorderForecast
from studio.core.numerals import decimal_text
from studio.core.quantities import Dimension, from_unit, split_quantity, to_unit
from studio.web import plots
from studio.web.plots import Guide, Mark, Plot, PlotRow, Tick


@dataclass(frozen=True)
class Step:
    """One day of the projection; `low` and `high` bound the level at the item's service level on either side."""

    number: int
    usual: int
    planned: int
    came: int
    expired: int
    level: int
    low: int
    high: int


def steps(outlook: ReorderForecast) -> list[Step]:
    """The projection day by day; the band is the spread of use since today, at the item's service level."""
    use, found, lean = outlook.forecast, outlook.levels, outlook.leaning_on
    usual, planned, days = use.usual, use.planned, []
    for number, level in enumerate(found.levels):
        spread = arithmetic.spread_over(lean.spread_now, lean.now, float(number))
        width = max(arithmetic.up(arithmetic.safety_stock(outlook.z, spread)), 0)
        # Nobody can use more than is there, or less than nothing of what is there.
        low = level - width
        high = min(level + width, level + use.total[number] - use.total[0])
        days.append(
            Step(
                number,
                usual[number],
                planned[number],
                found.arrived[number],
                found.expired[number],
                level,
                low,
                high,
            )
        )
    return days


def plot_of(outlook: ReorderForecast, told: Sequence[Step]) -> Plot:
    """The plot, with a table of every day behind it."""
    item, point = outlook.item, outlook.point
    highest = max([point or 0, 1, *(step.high for step in told)])
    figures = plots.ticks(Fraction(0), to_unit(highest, item.unit), whole=item.dimension is Dimension.COUNT)
    last = outlook.on(outlook.forecast.last) or outlook.day
    up, along = plots.upwards(figures), plots.across(outlook.day, last)

    def place(number: int, amount: int) -> tuple[int, int]:
        return along.at(outlook.day.toordinal() + number), up.at(to_unit(max(amount, 0), item.unit))

    line = [place(step.number, step.level) for step in told]
    return Plot(
        title="Level to come" if item.dimension is Dimension.COUNT else f"Level to come, in {item.unit}",
        says=_says(outlook),
        up=tuple(
            Tick(up.at(figure), split_quantity(from_unit(figure, item.unit), item.unit).number)
            for figure in figures
        ),
        across=tuple(
            Tick(along.at(day.toordinal()), words) for day, words in plots.day_ticks(outlook.day, last)
        ),
        path=plots.straight(line),
        band=plots.band(
            [place(step.number, step.high) for step in told], [place(step.number, step.low) for step in told]
        ),
        marks=tuple(_marks(outlook, told, along, up)),
        key=_key(outlook),
        head=("Day", "Usual use", "Planned", "Comes", "Goes off", "Level", "At worst"),
        rows=tuple(_row(outlook, step) for step in told),
        guides=(Guide(up.at(to_unit(point, item.unit)), "reorder point"),) if point else (),
    )


def _marks(outlook: ReorderForecast, told: Sequence[Step], along: plots.Scale, up: plots.Scale) -> list[Mark]:
    item, marks = outlook.item, []
    first = outlook.day.toordinal()
    for step in told:
        when = day_words(outlook.on(step.number) or outlook.day)
        x = along.at(first + step.number)
        if step.came:
            marks.append(Mark(x, plots.MARKS_IN, "up", f"{when}: {item.quantity(step.came)} comes"))
        if step.expired:
            words = f"{when}: {item.quantity(step.expired)} goes off unused"
            marks.append(Mark(x, plots.MARKS_OUT, "down", words))
    for shape, number, words in _days(outlook):
        level = up.at(to_unit(max(told[number].level, 0), item.unit))
        marks.append(Mark(along.at(first + number), level, shape, words))
    return marks


def _days(outlook: ReorderForecast) -> list[tuple[str, int, str]]:
    """The days that matter: the shape of each, where it stands in the drawing, and its words with the date."""
    found: list[tuple[str, int, str]] = []
    ordered = None if outlook.order_in is None else max(outlook.order_in, 0)
    both = ordered is not None and ordered == outlook.crosses
    if outlook.crosses is not None and not both:
        when = day_words(outlook.day_crossed or outlook.day)
        found.append(("dot", outlook.crosses, f"down to the reorder point: {when}"))
    if ordered is not None:
        when = day_words(outlook.order_by or outlook.day)
        which = "last day to order, passed" if ordered != outlook.order_in else "last day to order"
        both = both and ordered == outlook.order_in
        found.append(("ring", ordered, f"{'reorder point and ' if both else ''}{which}: {when}"))
    if outlook.runs_out is not None:
        found.append(("cross", outlook.runs_out, f"runs out: {day_words(outlook.day_out or outlook.day)}"))
    return found


def _key(outlook: ReorderForecast) -> tuple[tuple[str, str], ...]:
    days = tuple((shape, words) for shape, _, words in _days(outlook))
    return (*days, ("up", "an order comes"), ("down", "goes off unused"))


def _row(outlook: ReorderForecast, step: Step) -> PlotRow:
    quantity = outlook.item.quantity
    figures = (step.usual, step.planned, step.came, step.expired)
    cells = tuple(quantity(figure) if figure else "–" for figure in figures)
    when = day_words(outlook.on(step.number) or outlook.day)
    return PlotRow((when, *cells, quantity(step.level), quantity(max(step.low, 0))))


def _says(outlook: ReorderForecast) -> str:
    item, levels = outlook.item, outlook.levels.levels
    last = outlook.on(outlook.forecast.last) or outlook.day
    said = (
        f"Expected level of {item} from {day_words(outlook.day)} to {day_words(last)}: "
        f"{item.quantity(levels[0])} at first"
    )
    if outlook.runs_out is None:
        return f"{said}, {item.quantity(levels[-1])} at last."
    return f"{said}, used up on {day_words(outlook.on(outlook.runs_out) or outlook.day)}."


def rounded(number: float, places: int = 2) -> str:
    """A statistic for the eye."""
    return decimal_text(round(number * 10**places), places)
