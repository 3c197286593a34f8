"""A run's variances from the books: what it took beside what its standard says for what it made."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from batches.models import Batch, Labour
from costing.actual.batch_cost import BatchCost, costs_of
from costing.model.job_cost import Labour as Worked
from costing.model.missing import MissingFigure
from costing.rates.rates import Rates
from costing.standard.cost_sheet import CostSheet
from costing.standard.standard import AT_LATEST, Bought, Standards
from costing.variances.variances import MaterialUse, RunFigures, TimeUse, Variances, variances

# What is read of each batch besides its costs.
FORMULA_READS: tuple[Any, ...] = ("version__lines__item",)


@dataclass(frozen=True)
class RunVariance:
    """A run, what it cost, what it should have, and why not."""

    cost: BatchCost
    sheet: CostSheet
    figures: RunFigures
    told: Variances

    @property
    def batch(self) -> Batch:
        """The run."""
        return self.cost.batch

    @property
    def is_blend(self) -> bool:
        """Whether it made a blend, whose cost is also within that of what used it."""
        return self.batch.version.fill_ug is None

    @property
    def missing(self) -> tuple[MissingFigure, ...]:
        """What keeps the standard from being whole."""
        return self.sheet.missing


def variances_of(batches: Sequence[Batch], rates: Rates, bought: Bought = AT_LATEST) -> list[RunVariance]:
    """The variances of each run, in their order. The standard is that of the day each was planned for.

    Expects what `costs_of` does, and FORMULA_READS; everything else is read once for all of them.
    """
    standards = Standards.read({batch.version_id: batch.version for batch in batches}.values(), rates)
    return [_variance(cost, standards, bought) for cost in costs_of(batches, rates)]


def _variance(cost: BatchCost, standards: Standards, bought: Bought) -> RunVariance:
    batch = cost.batch
    sheet = standards.sheet(batch.version, units=cost.made, on=batch.planned_on, bought=bought)
    figures = RunFigures(
        made=cost.made,
        good=cost.good,
        spoilage_ppm=sheet.plan.spoilage_ppm,
        materials=_materials(cost, sheet),
        work=_work(cost, sheet, standards.rates),
        standard_overhead=sum(charged for _, charged in sheet.overhead),
        overhead=cost.job.heads["overhead"] - cost.along.overhead,
        recovered=cost.recovered,
    )
    return RunVariance(cost, sheet, figures, variances(figures))


def _materials(cost: BatchCost, sheet: CostSheet) -> tuple[MaterialUse, ...]:
    taken: dict[int, tuple[int, int]] = {}
    items = {}
    for drawn in cost.draws:
        draw = drawn.draw
        quantity, value = taken.get(draw.line_id, (0, 0))
        along = drawn.along.labour + drawn.along.overhead
        taken[draw.line_id] = (quantity + draw.quantity, value + draw.value + along)
        items[draw.line_id] = draw.line.item
    lines = {line.key: line for line in sheet.lines}
    found = []
    for key in dict.fromkeys((*lines, *taken)):
        quantity, value = taken.get(key, (0, 0))
        line, item = lines.get(key), items.get(key)
        found.append(
            MaterialUse(
                name=line.name if line else str(item),
                unit=line.unit if line else item.unit if item else "",
                standard_quantity=line.quantity if line else 0,
                standard_each=line.price.whole if line and line.price else None,
                quantity=quantity,
                actual=value,
            )
        )
    return tuple(found)


def _work(cost: BatchCost, sheet: CostSheet, rates: Rates) -> tuple[TimeUse, ...]:
    spent: dict[str, tuple[int, int]] = {}
    for entry, rate in cost.labour:
        minutes, value = spent.get(entry.step, (0, 0))
        spent[entry.step] = (minutes + entry.minutes, value + entry_cost(entry, rate))
    planned = {line.task: line for line in sheet.work}
    names = dict(Labour.Step.choices)
    found = []
    for task in dict.fromkeys((*Labour.Step.values, *spent)):
        if task not in planned and task not in spent:
            continue
        line = planned.get(task)
        minutes, value = spent.get(task, (0, 0))
        found.append(
            TimeUse(
                name=str(names.get(task, task)),
                standard_minutes=line.minutes if line else Fraction(0),
                standard_rate=line.rate if line else rates.per_hour(None, cost.batch.planned_on, task),
                minutes=minutes,
                actual=value,
            )
        )
    return tuple(found)


def entry_cost(entry: Labour, rate: int | None) -> int:
    """What a noted stretch of work cost, in millionths."""
    return Worked(entry.minutes, rate or 0).cost
