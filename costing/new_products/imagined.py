"""A scenario as the formula version it would be: another scent, load, fill and parts, and nothing of it kept."""

from collections.abc import Sequence
from copy import copy

from batches.models import FormulaLine, FormulaVersion
from batches.recipe import Basis, RecipeError, check_recipe
from costing.models import Scenario
from inventory.models import Item, Kind, LoadBasis, Unit

# The key of a scent that is only named; no item has it.
UNNAMED = 0


class NotOne(Exception):
    """The formula has several scents, and a load alone does not say how they share it. Its text is a sentence."""


def new_scent(name: str) -> Item:
    """A scent that is no item yet."""
    return Item(pk=UNNAMED, name=name, kind=Kind.FRAGRANCE, unit=Unit.GRAM)


def imagined(scenario: Scenario) -> FormulaVersion:
    """The version it would be, not kept. Expects `version` with its formula, product and lines, and the parts.

    Raises NotOne, RecipeError.
    """
    version = copy(scenario.version)
    version.fill_ug = version.declared_ug = scenario.fill_ug
    lines = [
        *_melt(scenario),
        *(
            FormulaLine(
                item=part.item, basis=Basis.PER_UNIT.value, amount=part.amount, spare_ppm=part.spare_ppm
            )
            for part in scenario.parts.all()
        ),
    ]
    for key, line in enumerate(lines, 1):
        line.pk = key
    # What would be read from the database stands here instead; a copy shares the dictionary with what it is of.
    version._prefetched_objects_cache = {"lines": lines}  # type: ignore[attr-defined]
    recipe = version.recipe()
    if recipe.pot_ug is not None and recipe.pot_ug < recipe.unit_melt:
        version.pot_ug = None
    if problems := check_recipe(version.recipe()):
        raise RecipeError(problems)
    return version


def _melt(scenario: Scenario) -> list[FormulaLine]:
    """What is weighed: the version's own lines, with the scent or its load changed."""
    kept = [line for line in scenario.version.lines.all() if line.basis != Basis.PER_UNIT]
    scents = [line for line in kept if line.item.kind == Kind.FRAGRANCE]
    scent = scenario.fragrance or (new_scent(scenario.fragrance_name) if scenario.fragrance_name else None)
    if scent is None and scenario.load_ppm is None:
        return [_like(line) for line in kept]
    if scent is None and len(scents) != 1:
        raise NotOne(
            "This formula has several fragrances. Choose the one that carries the whole load, or leave the load as it is."
            if scents
            else "This formula has no fragrance. Choose one, or leave the load empty."
        )
    basis, amount = _load(scenario, scents)
    scented = FormulaLine(item=scent or scents[0].item, basis=basis, amount=amount)
    rest = [line for line in kept if line not in scents]
    place = kept.index(scents[0]) if scents else len(rest)
    lines = [_like(line) for line in rest]
    lines.insert(min(place, len(lines)), scented)
    return lines


def _load(scenario: Scenario, scents: Sequence[FormulaLine]) -> tuple[str, int]:
    if scenario.load_ppm is not None:
        basis = Basis.OF_WAX if scenario.load_basis == LoadBasis.OF_WAX else Basis.OF_MELT
        return basis.value, scenario.load_ppm
    if len({line.basis for line in scents}) == 1:
        return scents[0].basis, sum(line.amount for line in scents)
    raise NotOne("Enter a load: this formula's own cannot be taken over by one fragrance alone.")


def _like(line: FormulaLine) -> FormulaLine:
    return FormulaLine(
        item=line.item,
        basis=line.basis,
        amount=line.amount,
        spare_ppm=line.spare_ppm,
        tolerance_ppm=line.tolerance_ppm,
    )


def scent_of(version: FormulaVersion) -> Item | None:
    """The scent whose price is looked at: the first in the formula."""
    lines: Sequence[FormulaLine] = list(version.lines.all())
    return next((line.item for line in lines if line.item.kind == Kind.FRAGRANCE), None)
