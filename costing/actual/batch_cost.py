"""What a batch really cost: the lots it drew, the minutes worked at their dated rates, overhead by its rules.

A blend costs what its own batches cost: the books carry its material, its labour and overhead come along from here.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from django.db.models import Prefetch
from django.utils import timezone

from batches.formulas.sheet import pots_for
from batches.lineage.composition import compositions
from batches.models import Batch, Draw, Labour, Outcome
from batches.output.yields import came_out
from batches.production.cost_allocation import share_of_melt, weighed
from costing.actual.blends import Sources, standing_draws
from costing.actual.passing import NOTHING, Along
from costing.model.heads import HEAD_NAMES, HEAD_OF, by_heads
from costing.model.job_cost import JobCost, Material, OverheadRule, job_cost, with_spoilage
from costing.model.job_cost import Labour as Worked
from costing.rates.rates import Rates
from inventory.models import Item
from studio.core.money import allocate

__all__ = ["COST_READS", "HEAD_NAMES", "HEAD_OF", "BatchCost", "cost_of", "costs_of", "worked_on"]


@dataclass(frozen=True)
class DrawCost:
    """One draw of a batch as cost: its material in the books, less what recovered melt took, and what came along."""

    draw: Draw
    material: int
    along: Along

    @property
    def value(self) -> int:
        """All of it, in millionths."""
        return self.material + self.along.labour + self.along.overhead


@dataclass(frozen=True)
class BatchCost:
    """A batch's cost by head, what it is per good unit, and what is missing for it to be whole.

    `minutes` were worked on the batch itself; `hands_on` (thousandths of a minute) has those in its blends too.
    `owner_labour` is the part of its own labour that the owner worked, `overhead` each rule with what it came to.
    """

    batch: Batch
    job: JobCost
    good: int
    missing: tuple[str, ...]
    minutes: int
    # What recovered melt took along, in millionths; it is not among the heads.
    recovered: int = 0
    draws: tuple[DrawCost, ...] = ()
    labour: tuple[tuple[Labour, int | None], ...] = ()
    along: Along = NOTHING
    owner_labour: int = 0
    made: int = 0

    @property
    def material(self) -> int:
        """What was drawn, in millionths."""
        return self.job.total - self.job.heads["labour"] - self.job.heads["overhead"]

    @property
    def heads(self) -> dict[str, int]:
        """Millionths by head, what went into lost units told as spoilage; they add up to the total."""
        return with_spoilage(self.job.heads, self.job.lost_units_cost)

    @property
    def hands_on(self) -> int:
        """Thousandths of a minute, those worked on the blends in it among them."""
        return self.minutes * 1000 + self.along.milliminutes


def worked_on(batch: Batch) -> date:
    """The day whose overhead rules hold for a batch: that of its finishing, until then the planned one."""
    return timezone.localtime(batch.finished_at).date() if batch.finished_at else batch.planned_on


def cost_of(batch: Batch, rates: Rates) -> BatchCost:
    """The cost of one batch. For many ask `costs_of`, which reads their blends together."""
    return costs_of([batch], rates)[0]


def costs_of(batches: Iterable[Batch], rates: Rates) -> list[BatchCost]:
    """The cost of each batch, in their order. Expects them `with_product`, and draws, outcomes and labour by COST_READS.

    What blends bring along is read for all of them at once, a few queries for each level of blends.
    """
    told = list(batches)
    sources = Sources(own_of=lambda batch: _own(batch, rates), reads=COST_READS)
    along = sources.follow(told)
    worth = _worth_of_melt(told)
    return [_cost(batch, rates, along, worth) for batch in told]


def _worth_of_melt(batches: Iterable[Batch]) -> dict[int, Mapping[Item, Fraction]]:
    """How the value of recovered melt that was drawn is spread over what is in it, by lot. A blend is one material."""
    lots = {
        draw.movement.lot_id
        for batch in batches
        for draw in standing_draws(batch)
        if draw.line.item.made_here
    }
    known = compositions(lots) if lots else {}
    return {
        key.pk: portion.worth for key, portion in known.items() if key.what == "lot" and not portion.whole
    }


def _own(batch: Batch, rates: Rates) -> Along:
    """What a batch's own work and overhead came to."""
    job = _job(batch, rates, [], batch.labour.all())
    minutes = sum(entry.minutes for entry in batch.labour.all())
    return Along(job.heads["labour"], job.heads["overhead"], minutes * 1000)


def _cost(
    batch: Batch, rates: Rates, along: dict[int, Along], worth: Mapping[int, Mapping[Item, Fraction]]
) -> BatchCost:
    standing = standing_draws(batch)
    results = came_out(batch.outcomes.all())
    recovered = _recovered(standing, results[Outcome.Result.MELT])
    draws = tuple(
        DrawCost(draw, draw.value - back, along.get(draw.movement_id, NOTHING))
        for draw, back in zip(standing, recovered, strict=True)
    )
    materials = [
        material
        for drawn in draws
        for material in (
            *(
                Material(head, value)
                for head, value in by_heads(
                    drawn.material, drawn.draw.line.item, worth.get(drawn.draw.movement.lot_id, {})
                ).items()
            ),
            Material("labour", drawn.along.labour),
            Material("overhead", drawn.along.overhead),
        )
    ]
    entries = [(entry, _rate(entry, rates)) for entry in batch.labour.all()]
    return BatchCost(
        batch=batch,
        job=_job(batch, rates, materials, batch.labour.all()),
        good=results[Outcome.Result.GOOD],
        missing=_missing(batch, rates, entries),
        minutes=sum(entry.minutes for entry, _ in entries),
        recovered=sum(recovered),
        draws=draws,
        labour=tuple(entries),
        along=sum((drawn.along for drawn in draws), NOTHING),
        owner_labour=sum(Worked(entry.minutes, rate or 0).cost for entry, rate in entries if entry.by_owner),
        made=_made(results),
    )


def _made(results: dict[str, int]) -> int:
    made = (Outcome.Result.GOOD, Outcome.Result.SECOND, Outcome.Result.SCRAP, Outcome.Result.REWORK)
    return sum(results[result] for result in made)


def _rate(entry: Labour, rates: Rates) -> int | None:
    return rates.per_hour(entry.person_id, entry.rate_on, entry.step)


def _job(batch: Batch, rates: Rates, materials: list[Material], labour: Iterable[Labour]) -> JobCost:
    """The batch added up with these materials, its own minutes and the overhead rules of its day."""
    results = came_out(batch.outcomes.all())
    melt_ug = weighed(standing_draws(batch))
    return job_cost(
        materials,
        [Worked(entry.minutes, _rate(entry, rates) or 0) for entry in labour],
        rates.rules_on(worked_on(batch)),
        results[Outcome.Result.GOOD],
        results[Outcome.Result.SECOND],
        results[Outcome.Result.SCRAP] + results[Outcome.Result.REWORK],
        is_blend=batch.version.fill_ug is None,
        pots=pots_for(batch.version, batch.quantity) if melt_ug else 0,
        melt_ug=melt_ug,
    )


def _missing(batch: Batch, rates: Rates, entries: Sequence[tuple[Labour, int | None]]) -> tuple[str, ...]:
    missing = [
        f"No labour rate holds on {entry.worked_on:%d %b %Y}, so {entry.minutes} minutes cost nothing."
        for entry, rate in entries
        if rate is None and entry.minutes > 0 and entry.stands
    ]
    if not rates.says_overhead(worked_on(batch)):
        missing.append(f"No overhead rate holds on {worked_on(batch):%d %b %Y}, so none is counted.")
    if not any(entry.stands for entry, _ in entries):
        missing.append("No labour was noted, so none is counted.")
    return tuple(dict.fromkeys(missing))


def rules_of(batch: Batch, rates: Rates) -> tuple[OverheadRule, ...]:
    """The overhead rules that hold for a batch."""
    return rates.rules_on(worked_on(batch))


def _recovered(draws: Sequence[Draw], melt_ug: int) -> list[int]:
    """What recovered melt took along of each draw, in millionths: its share by weight of what was weighed."""
    of_melt = [draw.value if draw.line.in_melt else 0 for draw in draws]
    value = min(share_of_melt(sum(of_melt), weighed(draws), melt_ug), sum(of_melt))
    return allocate(value, of_melt) if value else [0] * len(draws)


# Joined rather than prefetched one by one: SQLite refuses to compare more than a thousand keys of single rows.
COST_READS: tuple[Any, ...] = (
    Prefetch("draws", Draw.objects.select_related("movement__posting__reversal", "line__item")),
    Prefetch("outcomes", Outcome.objects.select_related("posting__reversal")),
    Prefetch("labour", Labour.objects.select_related("takes_back", "taken_back")),
)
