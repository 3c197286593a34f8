"""The week's plan: on the page, on paper, and as a table."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from django.http import HttpResponse

from batches.planning.week import DAYS, Material, Week, WeekRow, monday, week_of
from batches.planning.week_projection import Step
from inventory.models import Item
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, printed_by, today
from studio.web.tables import Column, Format, Table

WORDS = {Step.COMES: "Delivery", Step.MADE: "Made here", Step.NEEDED: "Run"}


@allow(see=EVERYONE)
def week(request: StudioRequest) -> HttpResponse:
    """Runs, orders due and deliveries day by day, and the shelf after each run; `?from=` names a day of the week."""
    day = today()
    first = monday(_asked(request.GET.get("from", ""), day))
    found = week_of(first, today=day)
    if tables.wanted(request):
        return CHANGES.file(request, _changes(found), name=f"week-{first.isoformat()}")
    context = {
        "week": found,
        "day": day,
        "previous": first - timedelta(days=DAYS),
        "next": first + timedelta(days=DAYS),
        "is_over": found.last < day,
        "is_this": found.first <= day <= found.last,
        "printed": printed_by(request),
    }
    return answer(request, "batches/week.html", context)


def _asked(text: str, day: date) -> date:
    """The day in the address; today where it names none that a calendar of ours holds."""
    try:
        asked = date.fromisoformat(text)
    except ValueError:
        return day
    return asked if 2000 <= asked.year <= 2199 else day


class Change(NamedTuple):
    """What changes the shelf of a material in the week; what is there when it begins where there is no `row`."""

    week: Week
    material: Material
    row: WeekRow | None = None

    @property
    def item(self) -> Item:
        """The material."""
        return self.material.item

    @property
    def of(self) -> str:
        """What a batch makes, or who delivers."""
        if self.row is None:
            return ""
        return (
            self.row.batch.item.name
            if self.row.batch
            else self.row.order.supplier.name
            if self.row.order
            else ""
        )


def _changes(found: Week) -> Iterator[Change]:
    for material in found.materials:
        yield Change(found, material)
        for row in material.rows:
            yield Change(found, material, row)


def _day(change: Change) -> date:
    return change.row.after.event.on if change.row else change.week.first


def _what(change: Change) -> str:
    return WORDS[change.row.after.event.step] if change.row else "On the shelf"


def _left(change: Change) -> int:
    return change.row.after.level if change.row else change.material.opening


def _short(change: Change) -> int | None:
    return change.row.after.short or None if change.row else None


CHANGES = Table(
    "week",
    "What changes the shelf",
    [
        Column("Material", "item.name"),
        Column("Unit", "item.unit"),
        Column("Day", _day, Format.DAY),
        Column("What", _what),
        Column("Batch or order", "row.after.event.source"),
        Column("Of", "of"),
        Column("Change", "row.after.event.change", Format.QUANTITY),
        Column("Left after", _left, Format.QUANTITY),
        Column("Short by", _short, Format.QUANTITY),
        Column("What to do", "row.advice.words"),
    ],
)
