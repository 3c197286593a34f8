"""A week on one page: runs, orders due and deliveries by day, and the shelf projected after each run.

The shelf is projected from today on, over every open run up to the end of the week: what may be used now, less what each
run still needs in the order of their days, plus what sent orders bring on the day they are expected and what blends planned
meanwhile will yield. A run that is late counts today; a delivery that is late, or without a day, counts on no day.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.db.models import Prefetch, Q, Sum

from batches.formulas.sheet import batch_sheet
from batches.models import Batch, Draw, FormulaLine, Outcome
from batches.planning.week_projection import After, Event, Step, first_short, project
from inventory.lots.shelves import shelves
from inventory.models import CustomerOrder, Item, Lot, Order, OrderLine
from inventory.purchasing.ordering import expected_lines
from inventory.replenishment.where_to_buy import Advice, Shortage, advice
from inventory.sales_orders.order_standing import OrderLineStatus, standings

DAYS = 7


@dataclass
class Day:
    """A day with its runs, orders of customers due (with what is ready), and purchase orders expected."""

    on: date
    runs: list[Batch] = field(default_factory=list)
    due: list[tuple[CustomerOrder, list[OrderLineStatus]]] = field(default_factory=list)
    deliveries: list[Order] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is planned for it."""
        return not (self.runs or self.due or self.deliveries)


@dataclass(frozen=True)
class WeekRow:
    """A line of a material's projection with what it is about."""

    after: After
    batch: Batch | None = None
    order: Order | None = None
    advice: Advice | None = None  # beside the first run that finds too little


@dataclass(frozen=True)
class Material:
    """A material that runs of the week need: what is there when the week begins, and after each event.

    `expiring` base units of what may be used now expire within the week.
    """

    item: Item
    opening: int
    rows: tuple[WeekRow, ...]
    expiring: int

    @property
    def short(self) -> WeekRow | None:
        """The first run that finds too little."""
        return next((row for row in self.rows if row.after.short), None)

    @property
    def closing(self) -> int:
        """What is left when the week is over; below nothing where something is missing."""
        return self.rows[-1].after.level if self.rows else self.opening


@dataclass(frozen=True)
class Week:
    """Seven days from a Monday, what is late from before, and the materials; none for a week that is over."""

    days: tuple[Day, ...]
    late: Day
    materials: tuple[Material, ...]

    @property
    def first(self) -> date:
        """Its Monday."""
        return self.days[0].on

    @property
    def last(self) -> date:
        """Its Sunday."""
        return self.days[-1].on

    @property
    def is_empty(self) -> bool:
        """Whether nothing at all is planned."""
        return self.late.is_empty and all(day.is_empty for day in self.days)


def monday(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def week_of(first: date, *, today: date) -> Week:
    """The week that begins on a Monday, as it looks today. A fixed number of queries."""
    days = {first + timedelta(days=offset): Day(first + timedelta(days=offset)) for offset in range(DAYS)}
    last = max(days)
    late = Day(first)
    this_week = first <= today <= last
    runs = _runs(first, last)
    for run in runs:
        if run.planned_on in days:
            days[run.planned_on].runs.append(run)
        elif this_week:
            late.runs.append(run)
    _add_orders(days, late, first, last, today, this_week)
    materials: tuple[Material, ...] = ()
    if last >= today:
        shown = {run.pk for each in (*days.values(), late) for run in each.runs if run.is_open}
        materials = _materials([run for run in runs if run.is_open], shown, first, last, today)
    return Week(tuple(days.values()), late, materials)


def _runs(first: date, last: date) -> list[Batch]:
    """The runs of the week, and open ones planned before it, with all that their sheets need."""
    lines = Prefetch("version__lines", FormulaLine.objects.select_related("item"))
    batches = Batch.objects.exclude(state=Batch.State.CALLED_OFF).filter(
        Q(planned_on__range=(first, last)) | Q(state__in=("planned", "started"), planned_on__lt=first)
    )
    found = batches.select_related("version__formula__item", "order_line__order__customer").prefetch_related(
        lines
    )
    return list(found.order_by("planned_on", "pk"))


def _add_orders(
    days: dict[date, Day], late: Day, first: date, last: date, today: date, this_week: bool
) -> None:
    """Put orders of customers that are due, and purchase orders that are expected, on their days."""
    wanted = (
        CustomerOrder.objects.select_related("customer")
        .exclude(state=CustomerOrder.State.CALLED_OFF)
        .filter(Q(wanted_on__range=(first, last)) | Q(state=CustomerOrder.State.OPEN, wanted_on__lt=first))
    )
    stand = standings(today)
    for due in wanted.order_by("wanted_on", "pk"):
        if due.wanted_on in days:
            days[due.wanted_on].due.append((due, stand.get(due.pk, [])))
        elif this_week:
            late.due.append((due, stand.get(due.pk, [])))
    names = Prefetch("lines", OrderLine.objects.select_related("item").order_by("pk"))
    expected: Any = Order.objects.sent().filter(expected_on__lte=last).select_related("supplier")
    for order in expected.prefetch_related(names).order_by("expected_on", "pk"):
        if order.expected_on in days:
            days[order.expected_on].deliveries.append(order)
        elif this_week:
            late.deliveries.append(order)


def _materials(
    runs: list[Batch], shown: set[int], first: date, last: date, today: date
) -> tuple[Material, ...]:
    """What the shown runs need, each projected over all runs from today on."""
    needs = _needs(runs)
    items: dict[int, Item] = {
        item.pk: item for run in runs if run.pk in shown for item, _ in needs[run.pk].values()
    }
    shelf = shelves(items, today)
    events = _events(runs, needs, items, last, today)
    sources = {run.code: run for run in runs}
    projected = {
        pk: project(sum(lot.on_hand for lot in shelf[pk]), [event for event, _ in events[pk]]) for pk in items
    }
    shorts = {pk: row for pk, rows in projected.items() if (row := first_short(rows))}
    what_to_do = advice(
        (Shortage(items[pk], _missing(projected[pk]), row.event.on) for pk, row in shorts.items()), on=today
    )
    found = []
    for pk, rows in projected.items():
        orders = {event.source: order for event, order in events[pk] if order}
        lines = [
            WeekRow(
                after,
                sources.get(after.event.source),
                orders.get(after.event.source),
                what_to_do.get(pk) if after is shorts.get(pk) else None,
            )
            for after in rows
        ]
        found.append(_material(items[pk], shelf[pk], lines, first, last))
    return tuple(sorted(found, key=lambda each: (each.short is None, each.item.name.casefold())))


def _missing(rows: list[After]) -> int:
    """What is missing at the worst, and besides what was counted on by then, which sent orders bring as well."""
    worst = min(range(len(rows)), key=lambda place: rows[place].level)
    counted = sum(row.event.quantity for row in rows[: worst + 1] if row.event.step is Step.COMES)
    return counted - rows[worst].level


def _material(item: Item, lots: Iterable[Lot], rows: list[WeekRow], first: date, last: date) -> Material:
    """The rows of the week; what lies before it is in the opening figure."""
    lots = list(lots)
    before = [row for row in rows if row.after.event.on < first]
    opening = before[-1].after.level if before else sum(lot.on_hand for lot in lots)
    expiring = sum(lot.on_hand for lot in lots if lot.expires_on and lot.expires_on < last)
    return Material(item, opening, tuple(rows[len(before) :]), expiring)


def _needs(runs: list[Batch]) -> dict[int, dict[int, tuple[Item, int]]]:
    """What each run still needs of each item, in base units, by run and item; one query."""
    draws = Draw.objects.standing().filter(batch__in=[run.pk for run in runs]).order_by()
    rows = draws.values_list("batch", "line").annotate(total=Sum("movement__quantity"))
    drawn = {(batch_id, line_id): -total for batch_id, line_id, total in rows}
    found: dict[int, dict[int, tuple[Item, int]]] = {}
    for run in runs:
        items = {line.pk: line.item for line in run.version.lines.all()}
        of_run = found.setdefault(run.pk, {})
        for target in batch_sheet(run.version.recipe(), run.quantity).targets:
            item = items[target.line.key]
            left = max(target.total - drawn.get((run.pk, target.line.key), 0), 0)
            if left:
                of_run[item.pk] = (item, of_run.get(item.pk, (item, 0))[1] + left)
    return found


def _events(
    runs: list[Batch],
    needs: dict[int, dict[int, tuple[Item, int]]],
    items: dict[int, Item],
    last: date,
    today: date,
) -> dict[int, list[tuple[Event, Order | None]]]:
    """All that comes and goes of these items until the end of the week, by item."""
    found: dict[int, list[tuple[Event, Order | None]]] = {pk: [] for pk in items}
    came = _came_of_blends(runs, items)
    for turn, run in enumerate(runs):
        day = max(run.planned_on, today)
        for pk, (_, left) in needs[run.pk].items():
            if pk in found:
                found[pk].append((Event(day, Step.NEEDED, run.code, left, turn), None))
        makes = run.version.formula.item_id
        if makes in found and (coming := run.quantity - came.get(run.pk, 0)) > 0:
            found[makes].append((Event(day, Step.MADE, run.code, coming, turn), None))
    for pk, lines in expected_lines(items).items():
        for line in lines:
            day_or_none = line.order.expected_on
            if day_or_none is not None and today <= day_or_none <= last:
                event = Event(day_or_none, Step.COMES, line.order.code, line.outstanding)
                found[pk].append((event, line.order))
    return found


def _came_of_blends(runs: list[Batch], items: dict[int, Item]) -> dict[int, int]:
    """What runs that make one of these items have yielded so far, in base units; one query."""
    blends = [run.pk for run in runs if run.version.formula.item_id in items]
    rows = Outcome.objects.standing().filter(batch__in=blends, result=Outcome.Result.GOOD).order_by()
    return {
        batch_id: int(total) for batch_id, total in rows.values_list("batch").annotate(total=Sum("quantity"))
    }
