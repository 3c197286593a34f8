"""Formulas are written in numbered versions; a version that was used is never rewritten."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from batches.models import Formula, FormulaLine, FormulaVersion
from batches.recipe import Basis, Recipe, RecipeError, RecipeLine, check_recipe
from inventory.models import Item, Kind
from studio.signature import Signature


class VersionUsed(Exception):
    """The version was planned from and can no longer change."""


@dataclass(frozen=True)
class Ingredient:
    """A line to be written: `amount` in parts per million, or base units per unit made."""

    item: Item
    basis: str
    amount: int
    spare_ppm: int = 0


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
            )
            for place, ingredient in enumerate(ingredients)
        ),
        fill_ug=process.get("fill_ug"),
        loss_ppm=process.get("loss_ppm") or 0,
        pot_ug=process.get("pot_ug"),
        division_ug=process.get("division_ug") or 0,
    )
    if problems := check_recipe(recipe):
        raise RecipeError(problems)


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
    """Change a version nobody has planned from yet. Raises RecipeError, VersionUsed."""
    check(process, ingredients)
    version = FormulaVersion.objects.select_for_update().get(pk=version.pk)
    if version.batches.exists():
        raise VersionUsed("A batch was planned from this version, so it stays as it is. Write a new version.")
    for name, value in process.items():
        setattr(version, name, value)
    version.save(update_fields=list(process))
    version.lines.all().delete()
    _write_lines(version, ingredients)
    return version


def _write_lines(version: FormulaVersion, ingredients: Sequence[Ingredient]) -> None:
    FormulaLine.objects.bulk_create(
        FormulaLine(
            version=version,
            item=ingredient.item,
            basis=ingredient.basis,
            amount=ingredient.amount,
            spare_ppm=ingredient.spare_ppm,
        )
        for ingredient in ingredients
    )
