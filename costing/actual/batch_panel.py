"""The part of a batch's page that tells what it cost, for people who may see costs."""

from django.db.models import prefetch_related_objects

from batches.models import Batch
from costing.actual.batch_cost import COST_READS, HEAD_NAMES, cost_of
from costing.model.stacked_bars import stacked
from costing.rates.rates import Rates
from studio.web.panels import Panel
from studio.web.requests import StudioRequest


def batch_cost(request: StudioRequest, batch: Batch) -> Panel | None:
    """Cost by head, in all and per good unit; nothing for people who do not see costs."""
    if not request.user.sees_costs:
        return None
    prefetch_related_objects([batch], *COST_READS)
    cost = cost_of(batch, Rates.read())
    heads = [(HEAD_NAMES[head], value) for head, value in cost.job.heads.items()]
    context = {"batch": batch, "cost": cost, "heads": heads, "bar": stacked(heads)}
    return Panel("costing/_batch_cost.html", context)
