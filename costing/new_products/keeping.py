"""Scents that are only thought of: kept, put away, and turned into a formula at trial."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models.functions import Lower

from batches.formulas.writing import Ingredient, write_version
from batches.models import Formula, FormulaLine, FormulaVersion
from batches.models.formulas import PROCESS
from costing.models import Scenario, ScenarioExpense, ScenarioPart, ScenarioQuote
from costing.new_products.imagined import UNNAMED, imagined
from inventory.models import Item, Kind, Unit
from studio.people.signature import Signature


class CannotMake(Exception):
    """No formula can be made of a scenario as it is. Its text is a sentence for a person."""


@dataclass(frozen=True)
class Idea:
    """A scenario to be kept: its own columns, its parts, what was quoted and what developing it takes."""

    columns: Mapping[str, Any]
    parts: Sequence[Mapping[str, Any]]
    quotes: Sequence[Mapping[str, Any]]
    expenses: Sequence[Mapping[str, Any]]


def with_lines() -> Any:
    """Scenarios with everything that working them out reads, in a handful of queries for any number."""
    return Scenario.objects.select_related(
        "version__formula__item", "fragrance", "channel", "made__formula", "kept_by"
    ).prefetch_related("version__lines__item", "parts__item", "quotes", "expenses")


@transaction.atomic
def keep(idea: Idea, *, signature: Signature) -> Scenario:
    """Keep a scenario. Raises NotOne, RecipeError where no batch could be poured by it."""
    scenario = Scenario.objects.create(**idea.columns, kept_by=signature.by, kept_at=signature.recorded_at)
    ScenarioPart.objects.bulk_create(ScenarioPart(scenario=scenario, **row) for row in idea.parts)
    ScenarioQuote.objects.bulk_create(ScenarioQuote(scenario=scenario, **row) for row in idea.quotes)
    ScenarioExpense.objects.bulk_create(ScenarioExpense(scenario=scenario, **row) for row in idea.expenses)
    imagined(with_lines().get(pk=scenario.pk))
    return scenario


def put_away(scenario: Scenario, away: bool) -> None:
    """Put a scenario away, or take it out again; it stays on record either way."""
    scenario.put_away = away
    scenario.save(update_fields=["put_away"])


@transaction.atomic
def make_formula(scenario_id: int, *, signature: Signature) -> FormulaVersion:
    """A formula at trial as the scenario says, with its product and, where it was only named, its fragrance.

    Words of the label are not taken over where the scent is another: they speak of the old one. Raises CannotMake,
    NotOne, RecipeError.
    """
    Scenario.objects.select_for_update().get(pk=scenario_id)
    scenario: Scenario = with_lines().get(pk=scenario_id)
    if scenario.made is not None:
        raise CannotMake("A formula was made of this scenario already.")
    version = imagined(scenario)
    product = _product(scenario.name)
    if Formula.objects.annotate(low=Lower("name")).filter(low=scenario.name.lower()).exists():
        raise CannotMake(f"There is a formula called {scenario.name} already. Keep this under another name.")
    formula = Formula.objects.create(name=scenario.name, item=product)
    process = {column: getattr(version, column) for column in PROCESS}
    if scenario.fragrance is not None or scenario.fragrance_name:
        process["label_words"] = ""
    lines: Sequence[FormulaLine] = list(version.lines.all())
    ingredients = [
        Ingredient(_kept(line.item), line.basis, line.amount, line.spare_ppm, line.tolerance_ppm)
        for line in lines
    ]
    said = {"what_changed": f"Thought of from {scenario.version}."[:300]}
    made = write_version(formula, process | said, ingredients, signature=signature)
    scenario.made = made
    scenario.save(update_fields=["made"])
    return made


def _product(name: str) -> Item:
    """The product of this name, new; or one that is there and that no formula makes yet. Raises CannotMake."""
    known = Item.objects.annotate(low=Lower("name")).filter(low=name.lower()).first()
    if known is None:
        return Item.objects.create(name=name, kind=Kind.FINISHED, unit=Unit.EACH)
    if known.kind != Kind.FINISHED or known.formulas.exists():
        raise CannotMake(f"There is an item called {known} already. Keep this scenario under another name.")
    return known


def _kept(item: Item) -> Item:
    """The item itself; a scent that was only named becomes one."""
    if item.pk != UNNAMED:
        return item
    known = Item.objects.annotate(low=Lower("name")).filter(low=item.name.lower()).first()
    if known is None:
        return Item.objects.create(name=item.name, kind=Kind.FRAGRANCE, unit=Unit.GRAM)
    if known.kind != Kind.FRAGRANCE:
        raise CannotMake(
            f"{known} is on record and is no fragrance. Keep this scenario with another name for it."
        )
    return known
