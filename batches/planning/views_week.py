"""The week's plan: on the page, on paper, and as a table."""

from collections.abc import Iterator
from datetime import date, timedelta

from django.http import HttpResponse

from batches.planning.week import DAYS, Material, Week, WeekRow, monday, week_of
from batches.planning.week_projection import Step
from studio.core.quantities import to_unit
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, printed_by, today

WORDS = {Step.COMES: "Delivery", Step.MADE: "Made here", Step.NEEDED: "Run"}


@allow(see=EVERYONE)
def week(request: StudioRequest) -> HttpResponse:
    """Runs, orders due and deliveries day by day, and the shelf after each run; `?from=` names a day of the week."""
    day = today()
    first = monday(_asked(request.GET.get("from", ""), day))
    found = week_of(first, today=day)
    if tables.wanted(request):
        return _export(request, found)
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


def _export(request: StudioRequest, found: Week) -> HttpResponse:
    """A row for everything that changes the shelf, material by material."""
    head = [
        "Material",
        "Unit",
        "Day",
        "What",
        "Batch or order",
        "Of",
        "Change",
        "Left after",
        "Short by",
        "What to do",
    ]
    return tables.export(request, f"week-{found.first.isoformat()}", head, _cells(found))


def _cells(found: Week) -> Iterator[list[object]]:
    for material in found.materials:
        unit = material.item.unit
        opening = tables.exact_cell(to_unit(material.opening, unit))
        yield [material.item.name, unit, found.first, "On the shelf", "", "", "", opening, "", ""]
        for row in material.rows:
            yield _line(material, row)


def _line(material: Material, row: WeekRow) -> list[object]:
    after, unit = row.after, material.item.unit
    of = row.batch.item.name if row.batch else row.order.supplier.name if row.order else ""
    figures = [tables.exact_cell(to_unit(figure, unit)) for figure in (after.event.change, after.level)]
    short = tables.exact_cell(to_unit(after.short, unit)) if after.short else ""
    words = row.advice.words if row.advice else ""
    about = [material.item.name, unit, after.event.on, WORDS[after.event.step], after.event.source, of]
    return [*about, *figures, short, words]
