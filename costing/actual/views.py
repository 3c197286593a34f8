"""What batches cost."""

from itertools import islice
from typing import Any

from django.http import HttpResponse

from batches.models import Batch
from costing.actual.batch_cost import COST_READS, HEAD_NAMES, BatchCost, costs_of
from costing.model.job_cost import HEADS
from costing.model.stacked_bars import stacked
from costing.rates.rates import Rates
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of

AT_ONCE = 500
# What a run cost is told as it was spent; what of it went into lost units stands beside it.
RUN_HEADS = [HEAD_NAMES[head] for head in HEADS]


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
    rows = [
        (cost, stacked([(HEAD_NAMES[head], value) for head, value in cost.job.heads.items()]))
        for cost in costs_of(page, rates)
    ]
    context = {
        "page": page,
        "rows": rows,
        "heads": RUN_HEADS,
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
        *RUN_HEADS,
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

    batches = _finished().iterator(chunk_size=AT_ONCE)
    # Some at a time, so that blends are read together and the rest of a long table waits its turn.
    some = iter(lambda: list(islice(batches, AT_ONCE)), [])
    costs = (cost for together in some for cost in costs_of(together, rates))
    return tables.export(request, "batch-costs", head, (row(cost) for cost in costs))
