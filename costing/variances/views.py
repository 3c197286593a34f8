"""Why runs cost other than they should have: one run, and all that were finished in some days."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple

from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from batches.models import Batch
from costing.actual.batch_cost import COST_READS
from costing.model.job_cost import under_applied
from costing.models import OverheadPaid
from costing.rates.rates import Rates
from costing.standard.actuals import each_of
from costing.valuation.charged import overhead_charged
from costing.variances.batch_variances import FORMULA_READS, RunVariance, variances_of
from costing.variances.forms import BasisForm, VarianceForm
from costing.variances.variance_text import NAMES, headline, minutes_text, sentences
from costing.variances.variances import PARTS, Variances, together
from studio.core.codes import normalise
from studio.core.days import begin, first_instant_after
from studio.core.quantities import format_quantity
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, today
from studio.web.tables import Column, Format, Table

DAYS = 92
# Each month is a few queries, and more are no help in telling whether a rate is right.
MONTHS_AT_MOST = 24


@dataclass(frozen=True)
class Month:
    """Overhead of a month: charged to runs in it, and what it really came to (None: not written down)."""

    first: date
    charged: int
    paid: int | None

    @property
    def under(self) -> int | None:
        """How much was charged too little; below zero too much."""
        return None if self.paid is None else under_applied(self.paid, self.charged)

    @property
    def over(self) -> int | None:
        """How much was charged too much."""
        return None if self.under is None else -self.under


def _ended() -> Any:
    """Runs that are over, with everything their variances read."""
    over = Batch.objects.filter(state=Batch.State.FINISHED).with_product()
    return over.prefetch_related(*COST_READS, *FORMULA_READS)


@allow(see=EVERYONE, costs=True)
def variance_list(request: StudioRequest) -> HttpResponse:
    """The runs of some days beside their standards, by product and one by one; overhead by month."""
    day = today()
    usual = (day - timedelta(days=DAYS - 1), day)
    shown = {"first": usual[0].isoformat(), "last": usual[1].isoformat()}
    asked = {name: request.GET[name] for name in ("first", "last", "basis") if name in request.GET}
    form = VarianceForm(shown | asked, usual=usual)
    first, last = usual
    if form.is_valid():
        first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    until = first_instant_after(last)
    batches = _ended().filter(finished_at__gte=begin(first), finished_at__lt=until)
    rates = Rates.read()
    runs = variances_of(list(batches.order_by("-finished_at", "-pk")), rates, form.bought)
    if tables.wanted(request):
        return RUNS.file(request, runs)
    sold = [run for run in runs if not run.is_blend]
    told = together(run.told for run in sold)
    context = {
        "form": form,
        "first": first,
        "last": last,
        "count": len(sold),
        "page": (page := page_of(request, sold)),
        "runs": page.object_list,
        "blends": [run for run in runs if run.is_blend],
        "told": told,
        "headline": headline(told, request.studio.currency),
        "products": _by_product(sold),
        "parts": NAMES,
        "months": _months(first, last, rates),
        "incomplete": sum(1 for run in runs if run.missing or run.cost.missing),
    }
    return answer(request, "costing/variance_list.html", context)


def _by_product(runs: Sequence[RunVariance]) -> list[tuple[str, int, Variances]]:
    """Name, number of runs and their variances added up; the largest difference first."""
    by_name: dict[str, list[RunVariance]] = {}
    for run in runs:
        by_name.setdefault(run.batch.item.name, []).append(run)
    rows = [(name, len(each), together(run.told for run in each)) for name, each in by_name.items()]
    return sorted(rows, key=lambda row: (-abs(row[2].difference), row[0]))


def _months(first: date, last: date, rates: Rates) -> list[Month]:
    """Overhead by calendar month, of months that lie in the days asked for as a whole or so far; the latest first."""
    through = min(last, today())
    charged = overhead_charged(_months_begun(first, through), through, rates)
    paid: dict[date, int] = {}
    for each in OverheadPaid.objects.filter(month__gte=first, month__lte=last):
        paid.setdefault(each.month, each.amount)
    months = [Month(month, micros, paid.get(month)) for month, micros in charged.items()]
    return [month for month in reversed(months) if month.charged or month.paid is not None]


def _months_begun(first: date, last: date) -> list[date]:
    """The first day of every month that begins within some days, in order; of many the latest."""
    months: list[date] = []
    month = last.replace(day=1)
    while month >= first and len(months) < MONTHS_AT_MOST:
        months.insert(0, month)
        month = (month - timedelta(days=1)).replace(day=1)
    return months


def _part(part: str) -> Column:
    return Column(NAMES[part], lambda run: run.told.parts[part], Format.MONEY)


def _missing(run: RunVariance) -> str:
    return " ".join([*(each.sentence for each in run.missing), *run.cost.missing])


RUNS = Table(
    "variances",
    "Runs beside their standards",
    [
        Column("Batch", "batch.code"),
        Column("Product", "batch.item.name"),
        Column("Finished", "batch.finished_at", Format.TIME),
        Column("Made", lambda run: format_quantity(run.cost.made, run.batch.item.unit)),
        Column("Good", lambda run: format_quantity(run.cost.good, run.batch.item.unit)),
        Column("Unit", "batch.item.unit"),
        Column("Should have cost", "told.standard", Format.MONEY),
        *map(_part, PARTS),
        Column("Did cost", "told.actual", Format.MONEY),
        Column("Difference", "told.difference", Format.MONEY),
        Column("Missing", _missing),
    ],
)


@allow(see=EVERYONE, costs=True)
def batch_variance(request: StudioRequest, code: str) -> HttpResponse:
    """Why one run cost other than it should have."""
    over = Batch.objects.filter(state__in=(Batch.State.FINISHED, Batch.State.ABANDONED)).with_product()
    batch = get_object_or_404(over.prefetch_related(*COST_READS, *FORMULA_READS), code=normalise(code))
    form = BasisForm(request.GET if "basis" in request.GET else None)
    (run,) = variances_of([batch], Rates.read(), form.bought)
    currency = request.studio.currency
    if tables.wanted(request):
        return PARTS_OF_RUN.file(request, _parts(run, currency), name=f"variance-{batch.code}")
    said = sentences(run, currency)
    context = {
        "batch": batch,
        "form": form,
        "run": run,
        "each": each_of(batch.item),
        "headline": headline(run.told, currency),
        "parts": [(NAMES[part], run.told.parts[part], said[part]) for part in PARTS],
        "materials": [
            (use, format_quantity(use.standard_quantity, use.unit), format_quantity(use.quantity, use.unit))
            for use in run.figures.materials
            if use.standard_quantity or use.quantity
        ],
        "work": [
            (use, minutes_text(use.standard_minutes))
            for use in run.figures.work
            if use.standard_minutes or use.minutes
        ],
    }
    return answer(request, "costing/batch_variance.html", context)


class PartRow(NamedTuple):
    """A step from what a run should have cost to what it did, in millionths, and why."""

    what: str
    amount: int
    why: str = ""


def _parts(run: RunVariance, currency: str) -> list[PartRow]:
    told, said = run.told, sentences(run, currency)
    parts = [PartRow(NAMES[part], told.parts[part], said[part]) for part in PARTS]
    return [PartRow("Should have cost", told.standard), *parts, PartRow("Did cost", told.actual)]


PARTS_OF_RUN = Table(
    "variance",
    "Why a run cost other than it should have",
    [Column("What", "what"), Column("Amount", "amount", Format.MONEY), Column("Why", "why")],
)
