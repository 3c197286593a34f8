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
from studio.web.tables import Column, Format, Table

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
        batches = _finished().iterator(chunk_size=AT_ONCE)
        # Some at a time, so that blends are read together and the rest of a long table waits its turn.
        some = iter(lambda: list(islice(batches, AT_ONCE)), [])
        return COSTS.file(request, (cost for together in some for cost in costs_of(together, rates)))
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


def _per_good_unit(cost: BatchCost) -> int | None:
    """In millionths; None of a blend, which is no unit, and where nothing good came."""
    each = cost.job.per_good_unit
    return round(each) if each is not None and cost.batch.version.fill_ug else None


def _head(number: int, heading: str) -> Column:
    """A head of cost, in the order the job keeps them."""
    return Column(heading, lambda cost: list(cost.job.heads.values())[number], Format.MONEY)


COSTS = Table(
    "batch-costs",
    "What runs cost",
    [
        Column("Batch", "batch.code"),
        Column("Product", "batch.item.name"),
        Column("Finished", "batch.finished_at", Format.TIME),
        Column("Good", "good", Format.NUMBER),
        Column("Minutes", "minutes", Format.NUMBER),
        *(_head(number, heading) for number, heading in enumerate(RUN_HEADS)),
        Column("In all", "job.total", Format.MONEY),
        Column("Per good unit", _per_good_unit, Format.MONEY),
    ],
)
