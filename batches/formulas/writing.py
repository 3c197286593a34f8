"""Formulas are written in numbered versions; a version that was used is never rewritten."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from batches.formulas.tolerance import tolerance_problem
from batches.models import Formula, FormulaLine, FormulaVersion
from batches.models.formulas import MELTED_KINDS, PROCESS
from batches.recipe import Basis, Recipe, RecipeError, RecipeLine, check_recipe
from inventory.models import Item, Kind
from studio.people.signature import Signature

STIR_MOST_MINUTES = 600
USED = "This version was planned from, burned or approved, so it stays as it is. Write a new version."


class VersionUsed(Exception):
    """The version was planned from, burn-tested or approved, and can no longer change."""


class CannotCopy(Exception):
    """A formula cannot be copied so. Its text is a sentence for a person."""


@dataclass(frozen=True)
class Ingredient:
    """A line to be written: `amount` in parts per million, or base units per unit made.

    `tolerance_ppm` is a share of the target; None is one step of the scale.
    """

    item: Item
    basis: str
    amount: int
    spare_ppm: int = 0
    tolerance_ppm: int | None = None


NO_SPARE = (
    "It is weighed into the melt, and nothing of it is set out to spare. Leave the spare allowance empty."
)


def check(process: Mapping[str, Any], ingredients: Sequence[Ingredient]) -> None:
    """Raise RecipeError when no batch sheet could be worked out; keys are positions of ingredients."""
    recipe = Recipe(
        lines=tuple(
            RecipeLine(
                key=place,
                item_id=ingredient.item.pk,
                name=ingredient.item.name,
                basis=Basis(ingredient.basis),
                amount=ingredient.amount,
                spare_ppm=ingredient.spare_ppm,
                is_fragrance=ingredient.item.kind == Kind.FRAGRANCE,
                is_melted=ingredient.item.kind in MELTED_KINDS,
            )
            for place, ingredient in enumerate(ingredients)
        ),
        fill_ug=process.get("fill_ug"),
        loss_ppm=process.get("loss_ppm") or 0,
        pot_ug=process.get("pot_ug"),
        division_ug=process.get("division_ug") or 0,
    )
    problems = check_recipe(recipe)
    for place, each in enumerate(ingredients):
        is_weighed = each.basis != Basis.PER_UNIT or each.item.kind in MELTED_KINDS
        if each.basis == Basis.PER_UNIT and is_weighed and each.spare_ppm > 0:
            problems.append((place, f"{each.item}: {NO_SPARE}"))
        if wrong := tolerance_problem(each.tolerance_ppm, is_weighed=is_weighed):
            problems.append((place, f"{each.item}: {wrong}"))
    if wrong := stir_problem(process.get("stir_minutes")):
        problems.append((None, wrong))
    if over := declared_over_fill(process.get("declared_ug"), process.get("fill_ug")):
        problems.append((None, over))
    if problems:
        raise RecipeError(problems)


def declared_over_fill(declared_ug: int | None, fill_ug: int | None) -> str:
    """What is wrong with a declared net weight, µg, as a sentence: no more may be declared than is filled."""
    if declared_ug is None:
        return ""
    if fill_ug is None:
        return "A blend declares no net weight. Leave it empty."
    if declared_ug > fill_ug:
        return "More would be declared than is filled. Declare the fill weight or less."
    return "" if declared_ug > 0 else "Declare a weight above zero."


def stir_problem(minutes: int | None) -> str:
    """What is wrong with the minutes of stirring, as a sentence; "" when nothing is."""
    if minutes is None or 1 <= minutes <= STIR_MOST_MINUTES:
        return ""
    return f"Stir for 1 to {STIR_MOST_MINUTES} minutes, or leave it empty."


def is_used(version: FormulaVersion) -> bool:
    """Whether it stays as it is: it was planned from, burn-tested or approved at some time."""
    return (
        version.batches.exists()
        or version.burn_tests.exists()
        or version.state_changes.filter(state=FormulaVersion.State.APPROVED).exists()
    )


@transaction.atomic
def write_version(
    formula: Formula, process: Mapping[str, Any], ingredients: Sequence[Ingredient], *, signature: Signature
) -> FormulaVersion:
    """Write the next version of a formula. `process` holds the version's own fields. Raises RecipeError."""
    check(process, ingredients)
    Formula.objects.select_for_update().get(pk=formula.pk)
    latest = formula.versions.order_by("-number").first()
    version = FormulaVersion.objects.create(
        formula=formula,
        number=latest.number + 1 if latest else 1,
        written_by=signature.by,
        written_at=signature.recorded_at,
        **process,
    )
    _write_lines(version, ingredients)
    return version


@transaction.atomic
def rewrite_version(
    version: FormulaVersion, process: Mapping[str, Any], ingredients: Sequence[Ingredient]
) -> FormulaVersion:
    """Change a version nobody has planned from, burned or approved yet. Raises RecipeError, VersionUsed."""
    check(process, ingredients)
    version = FormulaVersion.objects.select_for_update().get(pk=version.pk)
    if is_used(version):
        raise VersionUsed(USED)
    for name, value in process.items():
        setattr(version, name, value)
    version.save(update_fields=list(process))
    version.lines.all().delete()
    _write_lines(version, ingredients)
    return version


@transaction.atomic
def copy_formula(version: FormulaVersion, *, name: str, item: Item, signature: Signature) -> FormulaVersion:
    """A formula of its own, for another product, that begins as this version is; its first version, at trial.

    Raises CannotCopy, RecipeError.
    """
    lines = list(version.lines.select_related("item"))
    if (version.fill_ug is None) is (item.kind == Kind.FINISHED):
        made = "a finished good" if version.fill_ug else "a blend that is made here"
        raise CannotCopy(f"This version makes {made}; choose a product of that kind.")
    if any(line.item_id == item.pk for line in lines):
        raise CannotCopy(f"{item} goes into this formula, so it cannot be what the copy makes.")
    formula = Formula.objects.create(name=name, item=item)
    process = {column: getattr(version, column) for column in PROCESS}
    ingredients = [
        Ingredient(line.item, line.basis, line.amount, line.spare_ppm, line.tolerance_ppm) for line in lines
    ]
    said = {"what_changed": f"Copied from {version}."}
    return write_version(formula, process | said, ingredients, signature=signature)


def _write_lines(version: FormulaVersion, ingredients: Sequence[Ingredient]) -> None:
    FormulaLine.objects.bulk_create(
        FormulaLine(
            version=version,
            item=ingredient.item,
            basis=ingredient.basis,
            amount=ingredient.amount,
            spare_ppm=ingredient.spare_ppm,
            tolerance_ppm=ingredient.tolerance_ppm,
        )
        for ingredient in ingredients
    )
