"""What the page of a batch shows of its end: what came out and in which parts, its yield, checks and releases."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Sum

from batches.fill_checks.checking import state_of
from batches.models import Batch, Draw
from batches.models.formulas import DRAWN_INTO_THE_POT
from batches.output.yields import came_out, parts_of, yield_of
from batches.production import left_over, recounting, versions
from batches.production.cost_allocation import weighed
from inventory.models import Movement


def drawn_into_the_pot(batch: Batch) -> int:
    """µg of what was weighed into a batch, reversed draws left out. One query."""
    draws = batch.draws.standing().filter(DRAWN_INTO_THE_POT)
    return -(draws.aggregate(total=Sum("movement__quantity"))["total"] or 0)


def outcome_context(batch: Batch, draws: Iterable[Draw]) -> dict[str, Any]:
    """What the batch page says of the end of a run. `draws` are those that stand, each with its line."""
    rows = batch.outcomes.select_related(
        "lot__item", "lot__release__by", "posting__by", "posting__reversal__by", "batch"
    )
    outcomes = list(rows.prefetch_related("flaws").order_by("pk"))
    for outcome in outcomes:
        outcome.batch = batch
    standing = [outcome for outcome in outcomes if not hasattr(outcome.posting, "reversal")]
    so_far = yield_of(batch, came_out(standing), weighed(list(draws)))
    checks = batch.fill_checks.select_related("by").prefetch_related("weights")
    return {
        "parts": parts_of(standing),
        "undone": [outcome for outcome in outcomes if hasattr(outcome.posting, "reversal")],
        "so_far": so_far,
        "theoretical": so_far.theoretical_words(batch.item),
        "version_corrections": batch.version_corrections.select_related(
            "before__formula", "after__formula", "by"
        ),
        "off_formula": versions.off_the_formula(batch),
        "adjusted": recounting.adjusted([each.lot for each in standing if each.lot]),
        "not_said": left_over.not_said(batch),
        "samples": _samples([each.lot_id for each in standing if each.lot_id and each.item == batch.item]),
        "fill_checks": [(check, state_of(check)) for check in checks],
    }


def _samples(lots: list[int]) -> int:
    """Base units taken out of the batch's own lots as samples."""
    taken = Movement.objects.standing().filter(lot__in=lots, kind=Movement.Kind.SAMPLED)
    return -(taken.aggregate(total=Sum("quantity"))["total"] or 0)
