"""The Today page: what needs a hand now, each one press from being done, then the week in small charts."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import F, Prefetch
from django.http import HttpResponse
from django.template.defaultfilters import date as date_words
from django.urls import reverse
from django.utils import timezone

from batches.models import Batch, Outcome
from inventory.models import Grade, Kind, Lot, Movement, Posting
from inventory.stock import items_with_stock
from studio import requests
from studio.access import EVERYONE, allow
from studio.requests import StudioRequest

SOON_DAYS = 21
READY_SINCE_DAYS = 7
AT_MOST = 12


@dataclass(frozen=True)
class Task:
    """One thing that needs a hand: its state, what it is, and the press that does it."""

    tone: str
    word: str
    what: str
    more: str
    url: str
    press: str


def tasks(day: date) -> list[Task]:
    """Everything that waits, most pressing first. A fixed number of queries."""
    return [*_to_review(), *_runs(day), *_wanting(day), *_shelf(day), *_ready(day)]


def _runs(day: date) -> Iterable[Task]:
    for batch in Batch.objects.unfinished().with_product().order_by("-state", "planned_on")[:AT_MOST]:
        amount = batch.item.quantity(batch.quantity)
        what = f"{batch.item} × {amount}" if batch.version.fill_ug else f"{batch.item}, {amount}"
        if batch.state == Batch.State.STARTED:
            yield Task(
                "attention",
                "In progress",
                what,
                f"batch {batch.spaced_code}",
                batch.get_absolute_url(),
                "Go on",
            )
        else:
            late = batch.planned_on < day
            more = f"batch {batch.spaced_code}, planned for {date_words(batch.planned_on, 'D j M')}"
            yield Task(
                "problem" if late else "plain",
                "Overdue" if late else "Planned",
                what,
                more,
                batch.get_absolute_url(),
                "Open",
            )


def _to_review() -> Iterable[Task]:
    for posting in (
        Posting.objects.to_review()
        .select_related("by")
        .prefetch_related(Prefetch("movements", Movement.objects.select_related("lot__item")))[:AT_MOST]
    ):
        found = [movement for movement in posting.movements.all() if movement.kind == Movement.Kind.FOUND]
        for movement in found:
            lot = movement.lot
            yield Task(
                "attention",
                "Look at",
                f"{lot.item.quantity(movement.quantity)} of {lot.item} booked as found",
                f"lot {lot.spaced_code}, by {posting.by}",
                posting.get_absolute_url(),
                "Look",
            )


def _shelf(day: date) -> Iterable[Task]:
    soon = day + timedelta(days=SOON_DAYS)
    lots = Lot.objects.expiring(soon).select_related("item").first_to_expire()[:AT_MOST]
    for lot in lots:
        gone = lot.expired(day)
        more = f"lot {lot.spaced_code}, {'since' if gone else 'on'} {date_words(lot.expires_on, 'j M Y')}"
        what = f"{lot.item.quantity(lot.on_hand)} of {lot.item}"
        tone, word = lot.state(day) if gone else ("attention", "Expires")
        yield Task(
            tone,
            word,
            what,
            more,
            lot.get_absolute_url(),
            "Open",
        )
    for lot in (
        Lot.objects.on_shelf()
        .filter(held=True)
        .select_related("item")
        .prefetch_related("hold_records")[:AT_MOST]
    ):
        record = next(iter(lot.hold_records.all()), None)
        why = f": {record.reason}" if record else ""
        yield Task(
            *lot.state(day),
            f"{lot.item.quantity(lot.on_hand)} of {lot.item}",
            f"lot {lot.spaced_code}{why}",
            lot.get_absolute_url(),
            "Open",
        )


def _ready(day: date) -> Iterable[Task]:
    since = day - timedelta(days=READY_SINCE_DAYS)
    lots = (
        Lot.objects.on_shelf()
        .filter(item__kind=Kind.FINISHED, ready_on__range=(since, day))
        .select_related("item")
    )
    for lot in lots.order_by("ready_on", "pk")[:AT_MOST]:
        yield Task(
            "good",
            "Cured",
            f"{lot.item.quantity(lot.on_hand)} × {lot.item}{', seconds' if lot.grade == Grade.SECOND else ''}",
            f"lot {lot.spaced_code}, ready since {date_words(lot.ready_on, 'D j M')}",
            lot.get_absolute_url(),
            "Open",
        )


def _wanting(day: date) -> Iterable[Task]:
    for item in items_with_stock(day).filter(committed__gt=F("usable")).order_by("name"):
        if short := item.committed - item.usable:
            yield Task(
                "problem",
                "Short",
                f"{item.quantity(short)} of {item} missing",
                f"{item.quantity(item.committed)} promised to planned runs, "
                f"{item.quantity(item.usable)} free to use",
                item.get_absolute_url(),
                "Open",
            )


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
    start = timezone.make_aware(datetime.combine(days[0], time.min))
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


@allow(see=EVERYONE)
def today(request: StudioRequest) -> HttpResponse:
    """What needs a hand now, and the week."""
    day = requests.today()
    context = {
        "day": day,
        "tasks": tasks(day),
        "charts": week_charts(day),
        "empty_books": not Posting.objects.exists(),
        "plan_url": reverse("batches:batch-plan"),
    }
    return requests.answer(request, "studio/today.html", context)
