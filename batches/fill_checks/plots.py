"""Fill checks as drawings: the weights or their means in order, and their ranges, each between its control limits."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from batches.fill_checks.control_chart import ROW, Chart, Limits, in_a_row
from batches.formulas.fine_weights import shown
from inventory.models import Unit
from studio.core.quantities import from_unit, split_quantity, to_unit
from studio.web import plots
from studio.web.plots import Guide, Mark, Plot, PlotRow, Tick

TICKS_ACROSS = 8
DOTS_AT_MOST = 40


@dataclass(frozen=True)
class _Told:
    """What one drawing is of: its title, and the word for one point."""

    title: str
    point: str


def weight_plots(chart: Chart, unit: Unit) -> list[Plot]:
    """The chart's points, and its ranges, in a unit."""
    if chart.size == 1:
        points = _Told("Each weight", "Weight")
        ranges = _Told("From one weight to the next", "Step")
    else:
        points = _Told(f"Means of {chart.size} in a row", "Mean")
        ranges = _Told(f"Largest less smallest of {chart.size}", "Range")
    rows = set(in_a_row(chart.points, chart.limits.centre))
    return [
        _plot(points, chart.points, chart.limits, unit, rows),
        _plot(ranges, chart.ranges, chart.range_limits, unit, set()),
    ]


def _plot(told: _Told, points: Sequence[Fraction], limits: Limits, unit: Unit, rows: set[int]) -> Plot:
    """A line through the points, rings round those that say something has changed: outside, or late in `rows`."""
    outside = set(limits.outside(points))
    figures = [to_unit(round(each), unit) for each in (*points, limits.low, limits.high)]
    least, most = min(figures), max(figures)
    room = (most - least) / 6
    ticks = plots.ticks(max(least - room, Fraction(0)), most + room)
    up, along = plots.upwards(ticks), _along(len(points))
    places = [
        (along.at(number), up.at(to_unit(round(point), unit))) for number, point in enumerate(points, 1)
    ]
    marks = tuple(
        Mark(
            x,
            y,
            "ring" if place in outside | rows else "dot",
            f"No. {place + 1}: {shown(points[place], unit)}",
        )
        for place, (x, y) in enumerate(places)
        # A hundred dots are a smear; the line alone tells as much.
        if place in outside | rows or len(points) <= DOTS_AT_MOST
    )
    said = (
        f"mean {shown(limits.centre, unit)}, limits {shown(limits.low, unit)} and {shown(limits.high, unit)}"
    )
    return Plot(
        title=f"{told.title}: {said}",
        says=f"{told.title}, {len(points)} points: {said}; {len(outside) or 'none'} outside.",
        up=tuple(Tick(up.at(figure), _short(figure, unit)) for figure in ticks),
        across=_numbers(along, len(points)),
        path=plots.straight(places),
        marks=marks,
        key=(("ring", "outside a limit, or eight and more on one side"),),
        head=("No.", told.point, "Said of it"),
        rows=tuple(
            PlotRow((str(place + 1), shown(point, unit), _said(place, outside, rows)))
            for place, point in enumerate(points)
        ),
        guides=tuple(
            Guide(up.at(to_unit(round(level), unit)), words, below=words == "lower limit")
            for level, words in (
                (limits.high, "upper limit"),
                (limits.centre, ""),
                (limits.low, "lower limit"),
            )
            if level or words != "lower limit"
        ),
    )


def _along(count: int) -> plots.Scale:
    """Places of the numbers from one to `count`, half a step of room at either end."""
    return plots.Scale(Fraction(1, 2), count + Fraction(1, 2), plots.LEFT, plots.RIGHT)


def _numbers(along: plots.Scale, count: int) -> tuple[Tick, ...]:
    """Round numbers along the foot of the drawing."""
    ticks = plots.ticks(Fraction(0), Fraction(count), at_most=TICKS_ACROSS, whole=True)
    return tuple(Tick(along.at(number), str(number)) for number in ticks if 1 <= number <= count)


def _short(figure: Fraction, unit: Unit) -> str:
    return split_quantity(from_unit(figure, unit), unit, places=3).number


def _said(place: int, outside: set[int], rows: set[int]) -> str:
    said = ["outside a limit"] * (place in outside) + [f"{ROW} or more on one side"] * (place in rows)
    return ", ".join(said) or "–"


def sentences(chart: Chart) -> list[tuple[str, str]]:
    """What the chart says, each with a tone: nothing odd, points outside, eight on one side."""
    found = []
    if outside := chart.limits.outside(chart.points):
        places = ", ".join(str(place + 1) for place in outside[:10])
        found.append(
            (
                "attention",
                f"Outside the control limits: no. {places}. Something changed there; find out what.",
            )
        )
    if rows := in_a_row(chart.points, chart.limits.centre):
        side = "above" if chart.points[rows[0]] > chart.limits.centre else "below"
        found.append(
            (
                "attention",
                f"Eight in a row lie {side} the mean, up to no. {rows[0] + 1}: the filling has drifted "
                "(Western Electric rule 4).",
            )
        )
    if wide := chart.range_limits.outside(chart.ranges):
        places = ", ".join(str(place + 1) for place in wide[:10])
        found.append(("attention", f"The spread jumps at no. {places} of the lower drawing."))
    return found or [("good", "Nothing points to a change while these were filled.")]
