"""What scenarios are worked out from: today's prices, offers, rates and shelf, read once for any number of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from batches.formulas.loads import Load, loads
from batches.formulas.sheet import batch_sheet
from batches.models import FormulaVersion
from batches.recipe import RecipeError
from costing.model.missing import MissingFigure
from costing.models import Scenario
from costing.new_products.figures import (
    Need,
    NewProduct,
    Pack,
    Payback,
    RecipePart,
    Step,
    first_run_needs,
    payback,
    steady_cost,
    steps,
)
from costing.new_products.imagined import NotOne, imagined, scent_of
from costing.prices.channels import Market
from costing.prices.price_rows import Suggestion, Wish, suggest
from costing.prices.pricing import Outcome, PricePoints, outcome
from costing.standard.cost_sheet import RunPlan
from costing.standard.price_basis import Prices
from costing.standard.standard import Standards
from inventory.items.stock import items_with_stock
from inventory.models import Channel, DeliveryLine, Item


@dataclass(frozen=True)
class ScenarioPrice:
    """A channel in which it might be sold: what should be asked, and what the price typed would leave."""

    channel: Channel
    suggestion: Suggestion
    sold: Outcome | None


@dataclass(frozen=True)
class Worked:
    """A scenario worked out. `refusal` says why it cannot be; then the rest is empty."""

    scenario: Scenario
    version: FormulaVersion | None = None
    scent: Item | None = None
    thought: NewProduct | None = None
    steps: tuple[Step, ...] = ()
    needs: tuple[Need, ...] = ()
    payback: Payback | None = None
    prices: tuple[ScenarioPrice, ...] = ()
    loads: tuple[Load, ...] = ()
    missing: tuple[MissingFigure, ...] = ()
    refusal: str = ""

    @property
    def first(self) -> Step | None:
        """The first run."""
        return self.steps[0] if self.steps else None

    @property
    def steady(self) -> Step | None:
        """Once it sells."""
        return self.steps[1] if self.steps else None

    @property
    def breaks(self) -> tuple[Step, ...]:
        """At each pack that is quoted."""
        return self.steps[2:]

    @property
    def pack_cash(self) -> int:
        """What whole packs for the first run cost, in millionths."""
        return sum(need.bought.cash for need in self.needs if need.bought)

    @property
    def cash(self) -> int:
        """With the development: all that is paid before anything is sold."""
        return self.pack_cash + (self.thought.expenses if self.thought else 0)

    @property
    def unknown(self) -> list[Need]:
        """What is short and has no price."""
        return [need for need in self.needs if need.is_unknown and not need.part.made_here]

    @property
    def above(self) -> list[Load]:
        """The maxima it would go beyond."""
        return [load for load in self.loads if load.is_above]

    @property
    def load(self) -> Load | None:
        """The load of its scent, both ways."""
        return next((load for load in self.loads if self.scent and load.item.pk == self.scent.pk), None)

    @property
    def sold(self) -> Outcome | None:
        """What the price typed leaves in the channel chosen, once it sells."""
        return next((price.sold for price in self.prices if price.sold), None)


def work_out(scenarios: Sequence[Scenario], *, on: date, points: PricePoints, wish: Wish) -> list[Worked]:
    """Every scenario worked out, in a fixed number of queries for any number. Expects them read by `with_lines`."""
    versions: dict[int, FormulaVersion] = {}
    refusals: dict[int, str] = {}
    for scenario in scenarios:
        try:
            versions[scenario.pk] = imagined(scenario)
        except (NotOne, RecipeError) as error:
            refusals[scenario.pk] = str(error)
    standards = Standards.read(versions.values())
    items = {line.item_id for version in versions.values() for line in version.lines.all()}
    shelf, bought, market = _shelf(items, on), _packs_bought(items), Market.on(on, [])
    found = []
    for scenario in scenarios:
        if scenario.pk in refusals:
            found.append(Worked(scenario, refusal=refusals[scenario.pk]))
            continue
        version = versions[scenario.pk]
        scent = scent_of(version)
        packs: dict[int, Sequence[Pack]] = {
            item: _offered(standards.prices, item, on) or bought.get(item, ()) for item in items
        }
        if scent and (quotes := _quoted(scenario, scent)):
            packs[scent.pk] = (*_offered(standards.prices, scent.pk, on), *quotes)
        thought, missing = _thought(scenario, version, scent, standards, packs, shelf, on)
        found.append(_worked(scenario, version, scent, thought, missing, market, points, wish))
    return found


def _worked(
    scenario: Scenario,
    version: FormulaVersion,
    scent: Item | None,
    thought: NewProduct,
    missing: tuple[MissingFigure, ...],
    market: Market,
    points: PricePoints,
    wish: Wish,
) -> Worked:
    needs, cost = first_run_needs(thought), steady_cost(thought)
    prices = []
    for channel in market.channels:
        terms = market.terms(channel.pk)
        chosen = channel.pk == scenario.channel_id and scenario.price_micros
        sold = outcome(chosen, cost, terms) if chosen else None
        prices.append(ScenarioPrice(channel, suggest(cost, terms, points, wish), sold))
    back = None
    if scenario.price_micros is not None and scenario.channel_id is not None:
        back = payback(thought, needs, scenario.price_micros, market.terms(scenario.channel_id))
    lines = list(version.lines.all())
    return Worked(
        scenario,
        version,
        scent,
        thought,
        tuple(steps(thought)),
        tuple(needs),
        back,
        tuple(prices),
        tuple(loads(lines, batch_sheet(thought.recipe, 1))),
        missing,
    )


def _thought(
    scenario: Scenario,
    version: FormulaVersion,
    scent: Item | None,
    standards: Standards,
    packs: dict[int, Sequence[Pack]],
    shelf: dict[int, int],
    on: date,
) -> tuple[NewProduct, tuple[MissingFigure, ...]]:
    plan = standards.plan(version, units=scenario.run_units, on=on)
    made_here = {line.item_id for line in version.lines.all() if line.item.made_here}
    run_minutes, unit_minutes = minutes_of(standards, version, scenario.run_units, on)
    if scenario.run_minutes_milli is not None:
        run_minutes = Fraction(scenario.run_minutes_milli, 1000)
    if scenario.unit_minutes_milli is not None:
        unit_minutes = Fraction(scenario.unit_minutes_milli, 1000)
    thought = NewProduct(
        recipe=version.recipe(),
        parts=tuple(
            RecipePart(
                line.key,
                line.item_id,
                line.name,
                line.unit,
                line.head,
                line.is_weighed,
                line.item_id in made_here,
            )
            for line in plan.lines
        ),
        fragrance_id=scent.pk if scent else None,
        prices={line.item_id: line.price for line in plan.lines if line.price},
        packs=packs,
        shelf=shelf,
        run_minutes=run_minutes,
        unit_minutes=unit_minutes,
        rate=_rate(plan) or standards.rates.per_hour(None, on),
        overhead=plan.overhead,
        spoilage_ppm=plan.spoilage_ppm,
        first_units=scenario.first_units,
        run_units=scenario.run_units,
        year_units=scenario.year_units,
        expenses=sum(expense.total for expense in scenario.expenses.all()),
        keeps_scent=_keeps_scent(scenario, scent, plan),
    )
    return thought, _missing(plan, scent, packs, scenario)


def _keeps_scent(scenario: Scenario, scent: Item | None, plan: RunPlan) -> bool:
    """Whether the fragrance is the formula's own, costs something today and was not quoted anew."""
    if scent is None or list(scenario.quotes.all()):
        return False
    own = {line.item_id for line in scenario.version.lines.all()}
    return scent.pk in own and any(line.item_id == scent.pk and line.price for line in plan.lines)


def _missing(
    plan: RunPlan, scent: Item | None, packs: dict[int, Sequence[Pack]], scenario: Scenario
) -> tuple[MissingFigure, ...]:
    """What is not known, less what the scenario itself says."""

    def is_said(missing: MissingFigure) -> bool:
        of_scent = scent is not None and missing.sentence.startswith(f"{scent} ")
        of_time = missing.sentence.startswith("Nothing says how long")
        quoted = of_scent and bool(packs.get(scent.pk if scent else 0))
        timed = of_time and scenario.unit_minutes_milli is not None
        return quoted or timed

    return tuple(missing for missing in plan.missing if not is_said(missing))


def minutes_of(
    standards: Standards, version: FormulaVersion, units: int, on: date
) -> tuple[Fraction, Fraction]:
    """The hands-on minutes of a run however large, and of each unit, as the standard has them."""
    one, many = (
        sum((line.minutes for line in standards.plan(version, units=size, on=on).work), Fraction(0))
        for size in (1, max(units, 2))
    )
    each = (many - one) / (max(units, 2) - 1)
    return max(one - each, Fraction(0)), each


def _rate(plan: RunPlan) -> int | None:
    """An hour's rate, of the tasks together."""
    minutes = sum((line.minutes for line in plan.work), Fraction(0))
    if not minutes or any(line.rate is None for line in plan.work):
        return None
    return round(sum(line.minutes * (line.rate or 0) for line in plan.work) / minutes)


def _offered(prices: Prices, item_id: int, on: date) -> tuple[Pack, ...]:
    """Every break of every offer that holds."""
    return tuple(
        Pack(
            item_id,
            offer.pack_quantity,
            each.price,
            max(each.from_packs, offer.minimum_packs),
            offer.typed_pack,
            str(offer.supplier),
        )
        for offer in prices.standing(item_id, on)
        for each in offer.breaks.all()
    )


def _quoted(scenario: Scenario, scent: Item) -> tuple[Pack, ...]:
    """What the scenario says was quoted."""
    return tuple(
        Pack(scent.pk, quote.pack_quantity, quote.price_micros, quote.from_packs, quote.typed_pack, "quoted")
        for quote in scenario.quotes.all()
    )


def _packs_bought(items: set[int]) -> dict[int, tuple[Pack, ...]]:
    """The pack each item came in last, and what it cost; for what nobody offers."""
    lines = (
        DeliveryLine.objects.filter(
            item__in=items, delivery__posting__reversal__isnull=True, goods_value__gt=0
        )
        .order_by("delivery__posting__happened_at", "pk")
        .values_list("item", "packs", "pack_quantity", "goods_value", "typed_quantity")
    )
    return {
        item: (Pack(item, pack_quantity, round(Fraction(value, packs)), 1, typed, "as bought last"),)
        for item, packs, pack_quantity, value, typed in lines
    }


def _shelf(items: set[int], on: date) -> dict[int, int]:
    """What may be used of each item and is promised to nobody."""
    rows = items_with_stock(on).filter(pk__in=items).values_list("pk", "usable", "committed")
    return {pk: max(usable - committed, 0) for pk, usable, committed in rows}
