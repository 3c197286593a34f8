"""A version of an approved tin with more scent than was burned: written, at trial, and not known to burn well."""

from batches.formulas import writing as formulas
from batches.formulas.writing import Ingredient
from batches.models import FormulaVersion
from batches.models.formulas import PROCESS
from inventory.models import Kind
from studio.demonstration.stage import Stage
from studio.people.signature import Signature

STRONGER = "cedar_tin"
LOAD_PPM = 90_000  # of wax, within what wax and fragrance state; 80,000 was burned
WHY = "A market asks for a stronger one. Burn it before it is approved."


def write_a_stronger_tin(shop: Stage, signature: Signature) -> FormulaVersion:
    """The next version of the tin that was burned, its fragrance raised; everything else stays as it was."""
    version = shop.products[STRONGER].current()
    ingredients = [
        Ingredient(
            line.item,
            line.basis,
            LOAD_PPM if line.item.kind == Kind.FRAGRANCE else line.amount,
            line.spare_ppm,
            line.tolerance_ppm,
        )
        for line in version.lines.all()
    ]
    process = {name: getattr(version, name) for name in PROCESS} | {"what_changed": WHY}
    return formulas.write_version(version.formula, process, ingredients, signature=signature)
