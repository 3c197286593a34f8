"""The week in small charts, for the Today page: what was poured, what was sent out, which runs came to an end."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from batches.models import Batch, Outcome
from inventory.models import Kind, Movement
from studio.core.days import begin


@dataclass(frozen=True)
class Bar:
    """One day or week of a small chart: its label, its figure, and its height and place in the drawing."""

    label: str
    figure: int
    x: int
    y: int
    height: int


@dataclass(frozen=True)
class Chart:
    """A small bar chart with the table behind it."""

    title: str
    unit: str
    bars: tuple[Bar, ...]

    @property
    def total(self) -> int:
        """All figures together."""
        return sum(bar.figure for bar in self.bars)


PLOT_HEIGHT, BAR_STEP = 64, 46


def chart(title: str, unit: str, figures: list[tuple[str, int]]) -> Chart:
    """Bars scaled to the largest figure."""
    top = max([figure for _, figure in figures] + [1])
    bars = []
    for place, (label, figure) in enumerate(figures):
        height = figure * PLOT_HEIGHT // top
        bars.append(Bar(label, figure, place * BAR_STEP, PLOT_HEIGHT - height, height))
    return Chart(title, unit, tuple(bars))


def week_charts(day: date) -> list[Chart]:
    """The last seven days: units poured good, runs finished, and units sent out."""
    days = [day - timedelta(days=back) for back in range(6, -1, -1)]
    start = begin(days[0])
    poured, runs, sent = (dict.fromkeys(days, 0) for _ in range(3))
    outcomes = Outcome.objects.standing().filter(posting__happened_at__gte=start, result=Outcome.Result.GOOD)
    for happened_at, quantity in outcomes.filter(lot__item__kind=Kind.FINISHED).values_list(
        "posting__happened_at", "quantity"
    ):
        _count(poured, happened_at, quantity)
    for finished_at in Batch.objects.filter(finished_at__gte=start).values_list("finished_at", flat=True):
        if finished_at:
            _count(runs, finished_at, 1)
    left = Movement.objects.standing().filter(posting__happened_at__gte=start, kind=Movement.Kind.DISPATCHED)
    for happened_at, quantity in left.values_list("posting__happened_at", "quantity"):
        _count(sent, happened_at, -quantity)
    return [
        chart("Good units, last seven days", "units", [(f"{d:%a}", poured[d]) for d in days]),
        chart("Sent out, last seven days", "units", [(f"{d:%a}", sent[d]) for d in days]),
        chart("Runs finished, last seven days", "", [(f"{d:%a}", runs[d]) for d in days]),
    ]


def _count(figures: dict[date, int], moment: datetime, quantity: int) -> None:
    day = timezone.localtime(moment).date()
    if day in figures:
        figures[day] += quantity
