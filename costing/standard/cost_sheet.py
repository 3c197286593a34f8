"""What a run should cost, by head: lines at their prices, minutes at their rates, overhead by its rules, what is lost.

Plain arithmetic on figures handed in; nothing here reads the database or the clock. Value is in micros, quantities in
base units, prices are exact fractions of a micro for one base unit. Every line is rounded once, half to even, and the
heads are sums of lines, so that they add up to the total to the last micro.

To ask "what if", change the plan and add it up anew: `cost_sheet(replace(sheet.plan, lines=…))`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from batches.formulas.sheet import Recipe, Sheet, batch_sheet
from costing.model.job_cost import HEADS, ChargedOn, OverheadRule, with_spoilage
from costing.model.missing import MissingFigure
from studio.core.percent import WHOLE


@dataclass(frozen=True)
class UnitPrice:
    """What one base unit costs, exactly, and on what that rests, as the end of a sentence.

    A blend costs what its own batches cost: `material`, and the labour, overhead and hands-on minutes that come along.
    """

    material: Fraction
    said: str
    labour: Fraction = Fraction(0)
    overhead: Fraction = Fraction(0)
    minutes: Fraction = Fraction(0)
    url: str = ""

    @property
    def whole(self) -> Fraction:
        """All of it, for one base unit."""
        return self.material + self.labour + self.overhead


@dataclass(frozen=True)
class CostLine:
    """One item of the run: how much of it in base units, at which price (None: not known), under which head."""

    key: int
    item_id: int
    name: str
    unit: str
    head: str
    quantity: int
    price: UnitPrice | None
    is_weighed: bool = True

    @property
    def material(self) -> int:
        """What the material costs, in micros."""
        return round(self.quantity * self.price.material) if self.price else 0

    @property
    def labour(self) -> int:
        """The labour a blend brings along."""
        return round(self.quantity * self.price.labour) if self.price else 0

    @property
    def overhead(self) -> int:
        """The overhead a blend brings along."""
        return round(self.quantity * self.price.overhead) if self.price else 0

    @property
    def value(self) -> int:
        """All of it: what the line adds to the total."""
        return self.material + self.labour + self.overhead


@dataclass(frozen=True)
class WorkLine:
    """Minutes of one task in the run, at a rate in micros an hour (None: none is set)."""

    task: str
    name: str
    minutes: Fraction
    rate: int | None

    @property
    def cost(self) -> int:
        """What they cost, in micros."""
        return round(self.minutes * self.rate / 60) if self.rate else 0


@dataclass(frozen=True)
class RunPlan:
    """Everything a cost sheet is added up from.

    `units` are set up (for a blend µg); `spoilage_ppm` of them are expected to be lost. `melt_ug` and `pots` are what
    overhead may be charged on.
    """

    units: int
    lines: tuple[CostLine, ...]
    work: tuple[WorkLine, ...]
    overhead: tuple[OverheadRule, ...]
    spoilage_ppm: int = 0
    pots: int = 1
    melt_ug: Fraction = Fraction(0)
    is_blend: bool = False
    missing: tuple[MissingFigure, ...] = ()
    # Where minutes and the expected loss come from, in words.
    work_said: str = ""
    spoilage_said: str = ""


@dataclass(frozen=True)
class CostSheet:
    """What the run costs in micros: `heads` in the order of SHEET_HEADS add up to `total`.

    `before_loss` is the same total without spoilage as a head of its own. `good` is how many are expected to be good,
    `per_unit` the total over those; None where nothing is made. `minutes` are hands-on, those of blends among them.
    `overhead` is each rule with what it came to.
    """

    plan: RunPlan
    heads: dict[str, int]
    before_loss: dict[str, int]
    total: int
    good: Fraction
    per_unit: Fraction | None
    minutes: Fraction
    overhead: tuple[tuple[OverheadRule, int], ...]

    @property
    def units(self) -> int:
        """How many are set up."""
        return self.plan.units

    @property
    def lines(self) -> tuple[CostLine, ...]:
        """The material, line by line."""
        return self.plan.lines

    @property
    def work(self) -> tuple[WorkLine, ...]:
        """The labour, task by task."""
        return self.plan.work

    @property
    def missing(self) -> tuple[MissingFigure, ...]:
        """What is not known."""
        return self.plan.missing

    @property
    def material(self) -> int:
        """What is paid for, in micros: everything but labour and overhead."""
        return self.total - self.before_loss["labour"] - self.before_loss["overhead"]

    def head_per_unit(self, head: str) -> Fraction | None:
        """What a head adds to one good unit."""
        return self.heads[head] / self.good if self.good else None

    @property
    def as_price(self) -> UnitPrice | None:
        """What one good unit costs those it is used in: what a blend passes on. None where nothing is made."""
        if not self.good:
            return None
        labour, overhead = self.before_loss["labour"], self.before_loss["overhead"]
        return UnitPrice(
            material=self.material / self.good,
            said="",
            labour=labour / self.good,
            overhead=overhead / self.good,
            minutes=self.minutes / self.good,
        )


def cost_sheet(plan: RunPlan) -> CostSheet:
    """Add a run up."""
    before = dict.fromkeys(HEADS, 0)
    for line in plan.lines:
        before[line.head] += line.material
        before["labour"] += line.labour
        before["overhead"] += line.overhead
    own_labour = sum(work.cost for work in plan.work)
    own_minutes = sum((work.minutes for work in plan.work), Fraction(0))
    charged_on = ChargedOn(
        own_minutes / 60, own_labour, 0 if plan.is_blend else plan.units, plan.pots, plan.melt_ug
    )
    charged = tuple((rule, charged_on.cost(rule)) for rule in plan.overhead)
    before["labour"] += own_labour
    before["overhead"] += sum(cost for _, cost in charged)
    total = sum(before.values())
    lost = round(Fraction(total * plan.spoilage_ppm, WHOLE)) if plan.units else 0
    good = Fraction(plan.units * (WHOLE - plan.spoilage_ppm), WHOLE)
    along = sum((line.quantity * line.price.minutes for line in plan.lines if line.price), Fraction(0))
    return CostSheet(
        plan=plan,
        heads=with_spoilage(before, lost),
        before_loss=before,
        total=total,
        good=good,
        per_unit=total / good if good else None,
        minutes=own_minutes + along,
        overhead=charged,
    )


@dataclass(frozen=True)
class SheetLine:
    """One line of a sheet before it has a price: which formula line, how much in base units."""

    key: int
    quantity: int


def quantities(recipe: Recipe, units: int) -> tuple[Sheet, tuple[SheetLine, ...]]:
    """What a run of so many units (for a blend µg) needs of each line, in base units.

    What is weighed is exact to the microgram, not rounded to the scale, so that the cost of one candle does not hang
    on the scale's division; what is counted is whole. Raises RecipeError.
    """
    sheet = batch_sheet(recipe, units)
    wanted = tuple(
        SheetLine(target.line.key, round(target.exact) if target.line.is_weighed else target.total)
        for target in sheet.targets
    )
    return sheet, wanted


def repriced(lines: Iterable[CostLine], prices: dict[int, UnitPrice]) -> tuple[CostLine, ...]:
    """The lines with other prices, by item; what is not named keeps its own."""
    return tuple(replace(line, price=prices.get(line.item_id, line.price)) for line in lines)


def sum_of_heads(sheets: Sequence[dict[str, int]]) -> dict[str, int]:
    """Several tellings by head added up."""
    return {head: sum(heads[head] for heads in sheets) for head in sheets[0]} if sheets else {}
