"""What batches cost, and the rates behind it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from batches.models import Batch
from costing import rates as verbs
from costing.bars import stacked
from costing.batch_cost import COST_READS, HEAD_NAMES, BatchCost, cost_of
from costing.forms import LabourRateForm, OverheadRateForm
from costing.models import LabourRate, OverheadRate
from costing.rates import Rates
from studio import tables
from studio.access import BOOKS, EVERYONE, allow
from studio.requests import StudioRequest, answer, page_of, today
from studio.submissions import once


def _finished() -> Any:
    batches = Batch.objects.filter(state=Batch.State.FINISHED).with_product().prefetch_related(*COST_READS)
    return batches.order_by("-finished_at", "-pk")


@allow(see=EVERYONE, costs=True)
def overview(request: StudioRequest) -> HttpResponse:
    """What the latest runs cost, by head and per good unit."""
    rates = Rates.read()
    if tables.wanted(request):
        return _export(request, rates)
    page = page_of(request, _finished(), 20)
    costs = [cost_of(batch, rates) for batch in page]
    rows = [
        (cost, stacked([(HEAD_NAMES[head], value) for head, value in cost.job.heads.items()]))
        for cost in costs
    ]
    context = {
        "page": page,
        "rows": rows,
        "heads": list(HEAD_NAMES.values()),
        "no_rates": not rates.labour or not rates.overhead,
    }
    return answer(request, "costing/overview.html", context)


def _export(request: StudioRequest, rates: Rates) -> HttpResponse:
    head = [
        "Batch",
        "Product",
        "Finished",
        "Good",
        "Minutes",
        *HEAD_NAMES.values(),
        "In all",
        "Per good unit",
    ]

    def row(cost: BatchCost) -> list[object]:
        heads = [tables.micros_cell(value) for value in cost.job.heads.values()]
        per_unit = cost.job.per_good_unit
        each = (
            tables.micros_cell(round(per_unit))
            if per_unit is not None and cost.batch.version.fill_ug
            else None
        )
        return [
            cost.batch.code,
            cost.batch.item.name,
            cost.batch.finished_at,
            cost.good,
            cost.minutes,
            *heads,
            tables.micros_cell(cost.job.total),
            each,
        ]

    batches = _finished().iterator(chunk_size=500)
    return tables.export(request, "batch-costs", head, (row(cost_of(batch, rates)) for batch in batches))


@allow(see=EVERYONE, costs=True)
def rates(request: StudioRequest) -> HttpResponse:
    """What labour and overhead cost, from which day."""
    if tables.wanted(request):
        return _export_rates(request)
    return _rates_page(request)


def _export_rates(request: StudioRequest) -> HttpResponse:
    rows = [
        [
            "Labour",
            rate.from_on,
            str(rate.person or "Everybody"),
            tables.micros_cell(rate.per_hour),
            "for an hour",
            str(rate.set_by),
        ]
        for rate in LabourRate.objects.select_related("person", "set_by")
    ] + [
        [
            "Overhead",
            rate.from_on,
            "",
            tables.micros_cell(rate.amount),
            rate.get_basis_display(),
            str(rate.set_by),
        ]
        for rate in OverheadRate.objects.select_related("set_by")
    ]
    return tables.export(request, "rates", ["What", "From", "Who", "Amount", "Charged", "Set by"], rows)


def _rates_page(
    request: StudioRequest, labour: LabourRateForm | None = None, overhead: OverheadRateForm | None = None
) -> HttpResponse:
    studio, day = request.studio, today()
    context = {
        "labour_rates": LabourRate.objects.select_related("person", "set_by"),
        "overhead_rates": OverheadRate.objects.select_related("set_by"),
        "labour_form": labour or LabourRateForm(studio=studio, initial={"from_on": day}),
        "overhead_form": overhead or OverheadRateForm(studio=studio, initial={"from_on": day}),
        "refused_form": labour or overhead,
    }
    return answer(request, "costing/rates.html", context, refused=bool(labour or overhead))


def _set(request: StudioRequest, form: Form, act: Callable[[], object]) -> HttpResponse | None:
    """Set a rate when the form is right; None when it was refused."""
    if not form.is_valid():
        return None

    def do() -> str:
        act()
        return reverse("costing:rates")

    url = once(request, do)
    messages.success(request, "The rate is set. What came before it stays as it was.")
    return redirect(url)


@allow(do=BOOKS)
def labour_rate_add(request: StudioRequest) -> HttpResponse:
    """Set what an hour costs from a day on."""
    form = LabourRateForm(request.POST, studio=request.studio)

    def act() -> object:
        return verbs.set_labour_rate(**form.cleaned_data, by=request.user, now=timezone.now())

    return _set(request, form, act) or _rates_page(request, labour=form)


@allow(do=BOOKS)
def overhead_rate_add(request: StudioRequest) -> HttpResponse:
    """Set the overhead rule from a day on."""
    form = OverheadRateForm(request.POST, studio=request.studio)

    def act() -> object:
        data = form.cleaned_data
        return verbs.set_overhead_rate(
            from_on=data["from_on"],
            basis=data["basis"],
            amount=data["understood"],
            by=request.user,
            now=timezone.now(),
        )

    return _set(request, form, act) or _rates_page(request, overhead=form)
