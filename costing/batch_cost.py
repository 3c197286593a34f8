"""What a batch really cost: the lots it drew, the minutes worked at their dated rates, overhead by its rule."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils import timezone

from batches.models import Batch, Draw, Outcome
from batches.passing_on import share_of_melt, weighed
from batches.recipe import Basis
from batches.yields import came_out
from costing.job import HEADS, JobCost, Labour, Material, OverheadBasis, OverheadRule, job_cost
from costing.rates import Rates
from inventory.models import Kind
from studio.money import allocate

HEAD_OF = {
    Kind.WAX: "wax",
    Kind.FRAGRANCE: "fragrance",
    Kind.DYE: "colour_additives",
    Kind.ADDITIVE: "colour_additives",
    Kind.WICK: "wick",
    Kind.VESSEL: "vessel_lid",
    Kind.LID: "vessel_lid",
    Kind.LABEL: "label_packaging",
    Kind.PACKAGING: "label_packaging",
    Kind.FINISHED: "label_packaging",
}
HEAD_NAMES = dict(
    zip(
        HEADS,
        (
            "Wax",
            "Fragrance",
            "Colour and additives",
            "Wick",
            "Vessel and lid",
            "Label and packaging",
            "Labour",
            "Overhead",
        ),
        strict=True,
    )
)


@dataclass(frozen=True)
class BatchCost:
    """A batch's cost by head, what it is per good unit, and what is missing for it to be whole."""

    batch: Batch
    job: JobCost
    good: int
    missing: tuple[str, ...]
    minutes: int
    # What recovered melt took along, in millionths; it is not among the heads.
    recovered: int = 0

    @property
    def material(self) -> int:
        """What was drawn, in millionths."""
        return self.job.total - self.job.heads["labour"] - self.job.heads["overhead"]


def cost_of(batch: Batch, rates: Rates) -> BatchCost:
    """The cost of one batch. Reads its draws, outcomes and labour (prefetch them for a list)."""
    worked_on = timezone.localtime(batch.finished_at).date() if batch.finished_at else batch.planned_on
    standing = [draw for draw in batch.draws.all() if not hasattr(draw.movement.posting, "reversal")]
    results = came_out(batch.outcomes.all())
    recovered = _recovered(standing, results[Outcome.Result.MELT])
    materials = [
        Material(HEAD_OF[Kind(draw.line.item.kind)], draw.value - back)
        for draw, back in zip(standing, recovered, strict=True)
    ]
    labour, missing = [], []
    for entry in batch.labour.all():
        rate = rates.per_hour(entry.person_id, entry.worked_on)
        if rate is None:
            missing.append(
                f"No labour rate holds on {entry.worked_on:%d %b %Y}, so {entry.minutes} minutes cost nothing."
            )
        labour.append(Labour(entry.minutes, rate or 0))
    rule = rates.overhead_on(worked_on)
    if rule is None:
        missing.append(f"No overhead rate holds on {worked_on:%d %b %Y}, so none is counted.")
    if not labour:
        missing.append("No labour was noted, so none is counted.")
    job = job_cost(
        materials,
        labour,
        [OverheadRule(OverheadBasis(rule.basis), rule.amount)] if rule else [],
        results[Outcome.Result.GOOD],
        results[Outcome.Result.SECOND],
        results[Outcome.Result.SCRAP] + results[Outcome.Result.REWORK],
    )
    minutes = sum(entry.minutes for entry in batch.labour.all())
    good, said = results[Outcome.Result.GOOD], tuple(dict.fromkeys(missing))
    return BatchCost(batch, job, good, said, minutes, sum(recovered))


def _recovered(draws: Sequence[Draw], melt_ug: int) -> list[int]:
    """What recovered melt took along of each draw, in millionths: its share by weight of what was weighed."""
    of_melt = [draw.value if draw.line.basis != Basis.PER_UNIT else 0 for draw in draws]
    value = min(share_of_melt(sum(of_melt), weighed(draws), melt_ug), sum(of_melt))
    return allocate(value, of_melt) if value else [0] * len(draws)


# Joined rather than prefetched one by one: SQLite refuses to compare more than a thousand keys of single rows.
COST_READS = (
    Prefetch("draws", Draw.objects.select_related("movement__posting__reversal", "line__item")),
    Prefetch("outcomes", Outcome.objects.select_related("posting__reversal")),
    "labour",
)
