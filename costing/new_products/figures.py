"""What a scent that is only thought of would cost: at the first run, once it is steady, at every pack; and when it pays.

Plain arithmetic on figures handed in; nothing here reads the database or the clock. Money is in millionths, quantities
in base units, prices exact fractions of a millionth for one base unit.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from batches.recipe import Recipe
from costing.model.job_cost import OverheadRule
from costing.model.unit_cost import UnitCost
from costing.prices.pricing import Terms, break_even, outcome
from costing.standard.cost_sheet import CostLine, RunPlan, UnitPrice, WorkLine, cost_sheet, quantities
from costing.standard.unit_cost_of import unit_cost
from studio.core.quantities import format_quantity


@dataclass(frozen=True)
class Pack:
    """What a supplier asks for a pack when at least `from_packs` are taken. `said` is who asks, in words."""

    item_id: int
    quantity: int
    price: int
    from_packs: int = 1
    words: str = ""
    said: str = ""

    @property
    def each(self) -> Fraction:
        """Millionths for one base unit."""
        return Fraction(self.price, self.quantity)

    @property
    def per_kg(self) -> Fraction:
        """Millionths for a kilogram of what is weighed."""
        return self.each * 10**9


@dataclass(frozen=True)
class Bought:
    """So many whole packs."""

    pack: Pack
    packs: int

    @property
    def cash(self) -> int:
        """What has to be paid."""
        return self.packs * self.pack.price

    @property
    def quantity(self) -> int:
        """What comes of it."""
        return self.packs * self.pack.quantity


def packs_for(pack: Pack, need: int) -> Bought:
    """As many whole packs as cover a need, and no fewer than the price asks for."""
    return Bought(pack, max(ceil(Fraction(need, pack.quantity)), pack.from_packs))


def cheapest(packs: Sequence[Pack], need: int) -> Bought | None:
    """The way of covering a need that takes the least money; of equals the one that brings more."""
    ways = [packs_for(pack, need) for pack in packs]
    return min(ways, key=lambda way: (way.cash, -way.quantity), default=None)


@dataclass(frozen=True)
class RecipePart:
    """A thing that goes in: which line of the recipe, under which cost head, how it is named and counted."""

    key: int
    item_id: int
    name: str
    unit: str
    head: str
    is_weighed: bool
    made_here: bool = False

    def quantity(self, amount: int) -> str:
        """So much of it, for the eye."""
        return format_quantity(amount, self.unit)


@dataclass(frozen=True)
class NewProduct:
    """A scenario as plain figures.

    `packs` are what may be bought, by item; `prices` what a base unit of the rest costs; `shelf` what is there now of
    each and free. `keeps_scent`: the fragrance is the formula's own and nothing was quoted for it, so that it costs what it
    costs today. `run_minutes` fall on a run however large, `unit_minutes` on each unit set up; `rate` is an hour's.
    """

    recipe: Recipe
    parts: tuple[RecipePart, ...]
    fragrance_id: int | None
    prices: Mapping[int, UnitPrice]
    packs: Mapping[int, Sequence[Pack]]
    shelf: Mapping[int, int]
    run_minutes: Fraction
    unit_minutes: Fraction
    rate: int | None
    overhead: tuple[OverheadRule, ...]
    spoilage_ppm: int
    first_units: int
    run_units: int
    year_units: int
    expenses: int
    keeps_scent: bool = False

    @property
    def quotes(self) -> Sequence[Pack]:
        """What is asked for the fragrance."""
        return self.packs.get(self.fragrance_id or 0, ())


@dataclass(frozen=True)
class Step:
    """What a unit costs in one situation. `bought` is how the fragrance is bought there; `lasts_units` what it makes."""

    name: str
    units: int
    cost: UnitCost
    bought: Bought | None = None
    lasts_units: int | None = None


@dataclass(frozen=True)
class Need:
    """What the first run takes of an item, what is there, and what has to be paid for whole packs of the rest.

    `bought` is None where nothing is short, and where nobody says what it costs (`is_unknown`).
    """

    part: RecipePart
    needed: int
    there: int
    bought: Bought | None

    @property
    def short(self) -> int:
        """What is missing of it."""
        return max(self.needed - self.there, 0)

    @property
    def is_unknown(self) -> bool:
        """Whether something is short and nobody says what a pack costs."""
        return bool(self.short) and self.bought is None


def run_plan(thought: NewProduct, units: int, fragrance: UnitPrice | None = None) -> RunPlan:
    """A run of so many units, the fragrance at a price of its own. Raises RecipeError."""
    sheet, wanted = quantities(thought.recipe, units)
    needed = {each.key: each.quantity for each in wanted}

    def price(part: RecipePart) -> UnitPrice | None:
        if part.item_id == thought.fragrance_id and fragrance is not None:
            return fragrance
        return thought.prices.get(part.item_id)

    lines = tuple(
        CostLine(
            key=part.key,
            item_id=part.item_id,
            name=part.name,
            unit=part.unit,
            head=part.head,
            quantity=needed[part.key],
            price=price(part),
            is_weighed=part.is_weighed,
        )
        for part in thought.parts
    )
    minutes = thought.run_minutes + thought.unit_minutes * units
    work = (WorkLine("hands", "Hands-on", minutes, thought.rate),) if minutes else ()
    return RunPlan(
        units=units,
        lines=lines,
        work=work,
        overhead=thought.overhead,
        spoilage_ppm=thought.spoilage_ppm,
        pots=len(sheet.pours),
        melt_ug=sheet.melt,
    )


def _cost(thought: NewProduct, units: int, bought: Bought | None) -> UnitCost:
    price = UnitPrice(bought.pack.each, bought.pack.said) if bought else None
    return unit_cost(cost_sheet(run_plan(thought, units, price)))


def fragrance_need(thought: NewProduct, units: int) -> int:
    """What so many units take of the fragrance, in base units. Raises RecipeError."""
    _, wanted = quantities(thought.recipe, units)
    keys = {part.key for part in thought.parts if part.item_id == thought.fragrance_id}
    return sum(each.quantity for each in wanted if each.key in keys)


def steady_pack(thought: NewProduct) -> Bought | None:
    """How the fragrance is bought once it sells: the lowest price that a year's need reaches.

    Where even the smallest pack is more than a year's need, the pack that takes the least money; None where it is bought
    as today.
    """
    if thought.keeps_scent:
        return None
    need = fragrance_need(thought, thought.year_units)
    reached = [pack for pack in thought.quotes if pack.quantity * pack.from_packs <= need]
    if not reached:
        return cheapest(thought.quotes, need)
    best = min(reached, key=lambda pack: (pack.each, pack.quantity * pack.from_packs))
    return Bought(best, best.from_packs)


def steps(thought: NewProduct) -> list[Step]:
    """A unit's cost at the first run, once it is steady, and at each pack asked for. Raises RecipeError.

    A unit bears the fragrance that it takes; what is left in the pack is stock.
    """
    first_need = max(fragrance_need(thought, thought.first_units), 1)
    first = None if thought.keeps_scent else cheapest(thought.quotes, first_need)
    steady = steady_pack(thought)
    found = [
        Step("First run", thought.first_units, _cost(thought, thought.first_units, first), first),
        Step("Steady", thought.run_units, _cost(thought, thought.run_units, steady), steady),
    ]
    each = Fraction(first_need, thought.first_units)
    for pack in thought.quotes:
        way = Bought(pack, pack.from_packs)
        lasts = int(way.quantity / each)
        cost = _cost(thought, thought.run_units, way)
        name = pack.words if pack.from_packs == 1 else f"{pack.words}, from {pack.from_packs}"
        found.append(Step(name, thought.run_units, cost, way, lasts))
    return found


def first_run_needs(thought: NewProduct) -> list[Need]:
    """What the first run takes, item by item, and what has to be paid for it in whole packs. Raises RecipeError."""
    _, wanted = quantities(thought.recipe, thought.first_units)
    needed = {each.key: each.quantity for each in wanted}
    by_item: dict[int, tuple[RecipePart, int]] = {}
    for part in thought.parts:
        seen = by_item.get(part.item_id, (part, 0))
        by_item[part.item_id] = (seen[0], seen[1] + needed[part.key])
    needs = []
    for item_id, (part, need) in by_item.items():
        there = thought.shelf.get(item_id, 0)
        short = max(need - there, 0)
        bought = cheapest(thought.packs.get(item_id, ()), short) if short else None
        needs.append(Need(part, need, there, bought))
    return needs


@dataclass(frozen=True)
class Payback:
    """When developing it has paid: so many units, about so many months; None where it never does.

    `cash` is what has to be laid out before the first unit is sold: packs and development.
    """

    expenses: int
    packs: int
    contribution: Fraction
    units: int | None
    months: Fraction | None

    @property
    def cash(self) -> int:
        """Everything that has to be paid before anything is sold."""
        return self.expenses + self.packs


def payback(thought: NewProduct, needs: Sequence[Need], asked: int, terms: Terms) -> Payback:
    """How many units sold at `asked` repay the development, each contributing what it does once it is steady."""
    steady = steady_cost(thought)
    sold = outcome(asked, steady, terms)
    even = break_even(thought.expenses, sold.contribution, sold.net)
    packs = sum(need.bought.cash for need in needs if need.bought)
    months = Fraction(even.units * 12, thought.year_units) if even else None
    return Payback(thought.expenses, packs, sold.contribution, even.units if even else None, months)


def steady_cost(thought: NewProduct) -> UnitCost:
    """What a unit costs once it is steady. Raises RecipeError."""
    return _cost(thought, thought.run_units, steady_pack(thought))
