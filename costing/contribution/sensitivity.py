"""Which inputs move the margin most, and what fragrance at a price and a load would leave.

Plain arithmetic on a cost plan and a channel's terms; nothing here reads the database or the clock. Money is in
millionths, changes in parts per million, loads and margins plain ratios.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from batches.recipe import Basis, Recipe, RecipeError
from costing.model.job_cost import OverheadRule
from costing.model.unit_cost import UnitCost
from costing.prices.pricing import Money, Terms, outcome
from costing.standard.cost_sheet import CostLine, RunPlan, cost_sheet, quantities
from costing.standard.unit_cost_of import unit_cost
from studio.core.percent import WHOLE

PRICES_OF = (
    ("wax", "Price of wax"),
    ("fragrance", "Price of fragrance"),
    ("colour_additives", "Price of colour and additives"),
    ("wick", "Price of wicks"),
    ("vessel_lid", "Price of vessels and lids"),
    ("label_packaging", "Price of labels and packaging"),
)


@dataclass(frozen=True)
class Case:
    """A product sold in a channel: what a run of it takes, by which recipe, at which price asked, on which terms."""

    plan: RunPlan
    recipe: Recipe
    asked: Money
    terms: Terms

    @property
    def cost(self) -> UnitCost:
        """What a good unit costs."""
        return unit_cost(cost_sheet(self.plan))

    @property
    def margin(self) -> Fraction | None:
        """What is left, as a ratio of the net price."""
        return outcome(self.asked, self.cost, self.terms).margin


@dataclass(frozen=True)
class Swing:
    """The margin when one input falls and when it rises by the stated change, all else as it is."""

    name: str
    lower: Fraction
    higher: Fraction
    base: Fraction

    @property
    def width(self) -> Fraction:
        """How far the margin moves at most, in either direction."""
        return max(abs(self.lower - self.base), abs(self.higher - self.base))


def _scaled(amount: int, factor: Fraction) -> int:
    return round(amount * factor)


def _lines(case: Case, head: str, factor: Fraction) -> Case:
    def moved(line: CostLine) -> CostLine:
        if line.price is None or line.head != head:
            return line
        price = line.price
        return replace(
            line,
            price=replace(
                price,
                material=price.material * factor,
                labour=price.labour * factor,
                overhead=price.overhead * factor,
            ),
        )

    return replace(case, plan=replace(case.plan, lines=tuple(moved(line) for line in case.plan.lines)))


def _price_asked(case: Case, factor: Fraction) -> Case:
    return replace(case, asked=case.asked * factor)


def _time(case: Case, factor: Fraction) -> Case:
    work = tuple(replace(line, minutes=line.minutes * factor) for line in case.plan.work)
    return replace(case, plan=replace(case.plan, work=work))


def _rate(case: Case, factor: Fraction) -> Case:
    work = tuple(
        replace(line, rate=None if line.rate is None else _scaled(line.rate, factor))
        for line in case.plan.work
    )
    return replace(case, plan=replace(case.plan, work=work))


def _overhead(case: Case, factor: Fraction) -> Case:
    def moved(rule: OverheadRule) -> OverheadRule:
        return replace(rule, amount=_scaled(rule.amount, factor))

    return replace(case, plan=replace(case.plan, overhead=tuple(moved(rule) for rule in case.plan.overhead)))


def _spoilage(case: Case, factor: Fraction) -> Case:
    ppm = min(_scaled(case.plan.spoilage_ppm, factor), WHOLE - 1)
    return replace(case, plan=replace(case.plan, spoilage_ppm=ppm))


def _percentage(case: Case, factor: Fraction) -> Case:
    return replace(case, terms=replace(case.terms, percent_ppm=_scaled(case.terms.percent_ppm, factor)))


def _fixed(case: Case, factor: Fraction) -> Case:
    terms = case.terms
    return replace(
        case,
        terms=replace(terms, fixed=_scaled(terms.fixed, factor), shipping=_scaled(terms.shipping, factor)),
    )


def _pieces(case: Case, factor: Fraction) -> Case:
    return replace(case, terms=replace(case.terms, units=case.terms.units * factor))


def scented(recipe: Recipe, factor: Fraction) -> Recipe:
    """The recipe with all of its fragrance times `factor`."""
    lines = tuple(
        replace(line, amount=max(_scaled(line.amount, factor), 1)) if line.is_fragrance else line
        for line in recipe.lines
    )
    return replace(recipe, lines=lines)


def at_load(case: Case, factor: Fraction) -> Case:
    """The same case with all fragrance of the recipe times `factor`; the fill stays, so wax makes way for it.

    Raises RecipeError where no batch could be made so.
    """
    recipe = scented(case.recipe, factor)
    _, wanted = quantities(recipe, case.plan.units)
    needed = {each.key: each.quantity for each in wanted}
    lines = tuple(replace(line, quantity=needed.get(line.key, line.quantity)) for line in case.plan.lines)
    return replace(case, recipe=recipe, plan=replace(case.plan, lines=lines))


def _inputs(case: Case) -> list[tuple[str, Callable[[Case, Fraction], Case]]]:
    def of(head: str) -> Callable[[Case, Fraction], Case]:
        return lambda case, factor: _lines(case, head, factor)

    there = {line.head for line in case.plan.lines if line.price}
    prices = [(name, of(head)) for head, name in PRICES_OF if head in there]
    return [
        ("Price asked", _price_asked),
        *prices,
        ("Fragrance load", at_load),
        ("Hands-on time", _time),
        ("Labour rate", _rate),
        ("Overhead rates", _overhead),
        ("Share lost", _spoilage),
        ("Percentage fees", _percentage),
        ("Fixed fees and shipping", _fixed),
        ("Pieces in an order", _pieces),
    ]


def tornado(case: Case, by_ppm: int) -> list[Swing]:
    """How far each input moves the margin when it changes by `by_ppm` either way, the widest first.

    What moves nothing is left out. Empty where there is no margin to move.
    """
    base = case.margin
    if base is None:
        return []
    down, up = Fraction(WHOLE - by_ppm, WHOLE), Fraction(WHOLE + by_ppm, WHOLE)
    found = []
    for name, move in _inputs(case):
        try:
            lower, higher = move(case, down).margin, move(case, up).margin
        except RecipeError:
            continue
        if lower is not None and higher is not None and (lower, higher) != (base, base):
            found.append(Swing(name, lower, higher, base))
    return sorted(found, key=lambda swing: (-swing.width, swing.name))


@dataclass(frozen=True)
class Cell:
    """A unit's cost and its margin at one price of fragrance and one load; None where no batch could be made so."""

    cost: Fraction | None
    margin: Fraction | None


def price_against_load(
    case: Case, price_factors: Sequence[Fraction], load_factors: Sequence[Fraction]
) -> list[list[Cell]]:
    """A row for each price of the fragrance, a cell for each load, both as multiples of today's."""
    rows = []
    for price in price_factors:
        dearer = _lines(case, "fragrance", price)
        rows.append([_cell(dearer, load) for load in load_factors])
    return rows


def _cell(case: Case, load: Fraction) -> Cell:
    try:
        moved = at_load(case, load)
    except RecipeError:
        return Cell(None, None)
    return Cell(moved.cost.total, moved.margin)


def load_of(recipe: Recipe, factor: Fraction = Fraction(1)) -> tuple[Fraction, Fraction] | None:
    """The load of all fragrance as a ratio of the wax and of the melt, at `factor` times today's; None without any."""
    wax = recipe.wax_of_melt
    rates = [line for line in recipe.lines if line.is_fragrance]
    if not rates or not wax:
        return None
    of_wax = sum(line.amount for line in rates if line.basis is Basis.OF_WAX) * factor / WHOLE
    of_melt = sum(line.amount for line in rates if line.basis is Basis.OF_MELT) * factor / WHOLE
    other_wax = Fraction(recipe.sum_of(Basis.OF_WAX), WHOLE) - of_wax / factor
    other_melt = Fraction(recipe.sum_of(Basis.OF_MELT), WHOLE) - of_melt / factor
    share = (1 - other_melt - of_melt) / (1 + other_wax + of_wax)
    if share <= 0:
        return None
    fragrance = share * of_wax + of_melt
    return fragrance / share, fragrance
