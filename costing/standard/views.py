"""What products should cost beside what they did, one by one and all in a list; and setting what they should take."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from batches.formulas.approved import made_of
from batches.models import Formula, FormulaVersion
from costing.model.heads import HEAD_NAMES
from costing.models import WorkStandard, WorkStep
from costing.rates import work_standards
from costing.rates.rates import RateError, Rates
from costing.standard.actuals import Actual, PricedUnit, each_of, gap, last_actuals
from costing.standard.cost_sheet import CostSheet
from costing.standard.forms import SheetForm, WorkForm, typed
from costing.standard.price_basis import PriceBasis
from costing.standard.sheet_page import HEADINGS, export_rows, head_rows, line_rows, total_row, two_bars
from costing.standard.standard import Standards
from studio.people.access import BOOKS, EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

PRODUCTS_SHOWN = 30


@dataclass(frozen=True)
class Product:
    """One formula in the list: the version poured now, what it should cost, and what it did."""

    version: FormulaVersion
    sheet: CostSheet
    actual: Actual | None
    each: PricedUnit

    @property
    def standard(self) -> Fraction | None:
        """What one should cost, in micros."""
        return self.each.of(self.sheet.total, self.sheet.good)

    @property
    def real(self) -> Fraction | None:
        """What one did cost."""
        return self.each.of(self.actual.total, self.actual.good) if self.actual else None

    @property
    def difference(self) -> Fraction | None:
        """How much more that was."""
        return gap(self.sheet, self.actual, self.each)


def poured_now(versions: Sequence[FormulaVersion]) -> FormulaVersion | None:
    """The version a formula is costed by: the latest approved, else the latest at trial, else the latest."""
    return made_of(versions) or next(iter(versions), None)


def _versions_of(formulas: Sequence[Formula]) -> list[FormulaVersion]:
    """The version each formula is costed by, with everything a sheet reads."""
    found: dict[int, list[FormulaVersion]] = {formula.pk: [] for formula in formulas}
    versions = FormulaVersion.objects.filter(formula__in=found).select_related("formula__item")
    for version in versions.prefetch_related("lines__item").order_by("-number"):
        found[version.formula_id].append(version)
    return [chosen for each in found.values() if (chosen := poured_now(each))]


def products_of(formulas: Sequence[Formula], on: date) -> list[Product]:
    """These formulas with their standards at the latest receipts and their last runs; a constant number of queries."""
    versions = _versions_of(formulas)
    rates = Rates.read()
    standards = Standards.read(versions, rates)
    shown = {version.formula_id for version in versions}
    own = Standards(
        standards.prices,
        rates,
        standards.blends,
        standards.work,
        {formula: runs for formula, runs in standards.runs.items() if formula in shown},
    )
    actuals = last_actuals(own, rates)
    return [
        Product(
            version,
            standards.sheet(version, units=standards.usual(version, on)[0], on=on),
            actuals.get(version.formula_id),
            each_of(version.formula.item),
        )
        for version in versions
    ]


def _formulas() -> "Sequence[Formula]":
    return Formula.objects.filter(retired=False, versions__isnull=False).distinct().select_related("item")  # type: ignore[return-value]


@allow(see=EVERYONE, costs=True)
def product_list(request: StudioRequest) -> HttpResponse:
    """Every product: what one should cost, what one did, and the difference."""
    if tables.wanted(request):
        return PRODUCTS.file(request, products_of(list(_formulas()), today()))
    page = page_of(request, _formulas(), PRODUCTS_SHOWN)
    products = products_of(list(page), today())
    rows = [(each, two_bars(each.sheet, None, each.each)[0][2]) for each in products]
    context = {"page": page, "rows": rows, "heads": list(HEAD_NAMES.values())}
    return answer(request, "costing/product_list.html", context)


def _head(head: str, heading: str) -> Column:
    """What a unit should cost under one head, in millionths."""
    return Column(heading, lambda product: _of_each(product, head), Format.PRICE)


def _of_each(product: Product, head: str) -> Fraction | None:
    return product.each.of(product.sheet.heads[head], product.sheet.good)


PRODUCTS = Table(
    "cost-of-products",
    "What products cost",
    [
        Column("Product", "version.formula.item.name"),
        Column("Version", lambda product: str(product.version.number)),
        Column("Told", "each.words"),
        Column("Standard", "standard", Format.PRICE),
        Column("Actual", "real", Format.PRICE),
        Column("Difference", "difference", Format.PRICE),
        *(_head(head, heading) for head, heading in HEAD_NAMES.items()),
        Column("Missing", lambda product: " ".join(missing.sentence for missing in product.sheet.missing)),
    ],
)


@allow(see=EVERYONE, costs=True)
def cost_sheet(request: StudioRequest, pk: int) -> HttpResponse:
    """One product by head: what it should cost at chosen prices beside what its last runs did."""
    formula = get_object_or_404(Formula.objects.select_related("item"), pk=pk)
    versions = list(
        FormulaVersion.objects.filter(formula=formula).select_related("formula__item").order_by("-number")
    )
    wanted = request.GET.get("version", "")
    version = next((each for each in versions if str(each.number) == wanted), None) or poured_now(versions)
    if version is None:
        return answer(request, "costing/cost_sheet.html", {"formula": formula})
    rates, day = Rates.read(), today()
    standards = Standards.read([version], rates)
    usual, usual_said = standards.usual(version, day)
    form = SheetForm(request.GET, item=formula.item, usual=usual)
    form.is_valid()
    sheet = standards.sheet(version, units=form.quantity, on=day, bought=form.bought)
    own = Standards(standards.prices, rates, {}, {}, {pk: standards.runs.get(pk, ())})
    actual, each = last_actuals(own, rates).get(pk), each_of(formula.item)
    if tables.wanted(request):
        return tables.export(request, f"cost-sheet-{pk}", HEADINGS, export_rows(sheet, actual, each))
    rows = head_rows(sheet, actual, each)
    context = {
        "formula": formula,
        "item": formula.item,
        "version": version,
        "versions": versions,
        "form": form,
        "usual_said": usual_said,
        "sheet": sheet,
        "actual": actual,
        "each": each,
        "rows": rows,
        "total": total_row(rows, sheet, actual, each),
        "bars": two_bars(sheet, actual, each),
        "lines": line_rows(sheet, request.studio.currency),
        "basis": form.bought.basis,
        "offer_basis": PriceBasis.OFFER,
        "standard": standards.standard_on(version, day),
    }
    return answer(request, "costing/cost_sheet.html", context)


@allow(see=EVERYONE, do=BOOKS, costs=True)
def work_standard(request: StudioRequest, pk: int) -> HttpResponse:
    """Set how long a product should take and how much of it is lost, from a day on; and what was set before."""
    formula = get_object_or_404(Formula.objects.select_related("item"), pk=pk)
    each = "each" if formula.item.dimension.value == "count" else "each kilogram"
    earlier = list(
        WorkStandard.objects.filter(formula=formula).select_related("set_by").prefetch_related("steps")
    )
    if tables.wanted(request):
        rows = (WorkRow(work, step) for work in earlier for step in (work.steps.all() or (None,)))
        return WORK.file(request, rows, name=f"time-and-loss-{pk}")
    if request.method != "POST":
        form = WorkForm(initial={"from_on": today(), **typed(earlier[0] if earlier else None)}, each=each)
    else:
        form = WorkForm(request.POST, each=each)
        if form.is_valid() and (url := _set(request, formula, form)):
            return redirect(url)
    context = {"formula": formula, "form": form, "earlier": earlier, "each": each}
    return answer(request, "costing/work_standard.html", context, refused=request.method == "POST")


class WorkRow(NamedTuple):
    """A step of a standard; a standard without steps has a row of its own."""

    standard: WorkStandard
    step: WorkStep | None


WORK = Table(
    "time-and-loss",
    "Time and loss",
    [
        Column("From", "standard.from_on", Format.DAY),
        Column("Task", "step.get_task_display"),
        Column("Minutes a batch", "step.batch_minutes", Format.NUMBER),
        Column("Seconds for each", "step.unit_seconds", Format.NUMBER),
        Column("Lost %", "standard.spoilage_ppm", Format.PERCENT),
        Column("Set by", "standard.set_by"),
    ],
)


def _set(request: StudioRequest, formula: Formula, form: WorkForm) -> str:
    """Set the standard; empty when it was refused, with the sentence in the form."""

    def act() -> str:
        work_standards.set_work_standard(
            formula=formula,
            from_on=form.cleaned_data["from_on"],
            steps=form.steps,
            spoilage_ppm=form.cleaned_data["spoilage"],
            by=request.user,
            now=timezone.now(),
        )
        return reverse("costing:cost-sheet", args=[formula.pk])

    try:
        url = once(request, act)
    except RateError as error:
        form.add_error("from_on", str(error))
        return ""
    messages.success(request, "The standard is set. Runs before it are held against what held then.")
    return url
