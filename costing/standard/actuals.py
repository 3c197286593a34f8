"""What the last runs of a product really cost, taken together, beside its standard."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from batches.models import Batch
from costing.actual.batch_cost import COST_READS, BatchCost, costs_of
from costing.model.heads import SHEET_HEADS
from costing.rates.rates import Rates
from costing.standard.cost_sheet import CostSheet
from costing.standard.standard import RUNS_LOOKED_AT, Standards
from inventory.models import Item
from studio.core.quantities import PRICED_BY, Dimension, from_unit


@dataclass(frozen=True)
class Actual:
    """Several runs added up: micros by head, spoilage apart, over the good units of all of them."""

    runs: tuple[BatchCost, ...]
    heads: dict[str, int]
    total: int
    good: int

    @property
    def said(self) -> str:
        """How many runs it rests on, in words."""
        count = len(self.runs)
        if count == 1:
            return "the last run alone"
        return f"the last {count} runs"

    @property
    def owner_labour(self) -> int:
        """Of it what the owner's own work came to."""
        return sum(run.owner_labour for run in self.runs)

    @property
    def is_incomplete(self) -> bool:
        """Whether something is missing in any of them."""
        return any(run.missing for run in self.runs)


def added_up(runs: Sequence[BatchCost]) -> Actual | None:
    """Runs taken together; None where nothing good came out of them."""
    good = sum(run.good for run in runs)
    if not good:
        return None
    told = [run.heads for run in runs]
    heads = {head: sum(each[head] for each in told) for head in SHEET_HEADS}
    return Actual(tuple(runs), heads, sum(heads.values()), good)


def last_actuals(standards: Standards, rates: Rates) -> dict[int, Actual]:
    """What the last runs of each formula cost, by formula: read together."""
    wanted = {
        run.batch_id: formula for formula, runs in standards.runs.items() for run in runs[:RUNS_LOOKED_AT]
    }
    batches = Batch.objects.filter(pk__in=wanted).with_product().prefetch_related(*COST_READS)
    by_formula: dict[int, list[BatchCost]] = {}
    for cost in costs_of(batches.order_by("-finished_at", "-pk"), rates):
        by_formula.setdefault(wanted[cost.batch.pk], []).append(cost)
    found = {formula: added_up(runs) for formula, runs in by_formula.items()}
    return {formula: actual for formula, actual in found.items() if actual}


@dataclass(frozen=True)
class PricedUnit:
    """What one of a product is: one unit, or for a blend what its price is quoted by. `base` is it in base units."""

    base: int
    words: str

    def of(self, micros: int | Fraction, quantity: int | Fraction) -> Fraction | None:
        """What one costs, when so much cost so many micros."""
        return Fraction(micros) * self.base / quantity if quantity else None


def each_of(item: Item) -> PricedUnit:
    """What the cost of this product is told by."""
    if item.dimension is Dimension.COUNT:
        return PricedUnit(1, "each")
    unit = PRICED_BY[item.unit]
    return PricedUnit(from_unit(1, unit), f"per {unit}")


def gap(sheet: CostSheet, actual: Actual | None, each: PricedUnit) -> Fraction | None:
    """How much more one really cost than it should; None where either is not known."""
    if actual is None or sheet.per_unit is None:
        return None
    real = each.of(actual.total, actual.good)
    return None if real is None else real - sheet.per_unit * each.base
