"""The usual cautions, where they matter. They inform; local codes and a competent person decide."""

from collections.abc import Iterable

from batches.formulas.loads import loads, worst_of_pours
from batches.formulas.sheet import Sheet
from batches.models import FormulaLine, FormulaVersion
from inventory.models import Kind
from studio.temperatures import Scale, format_temperature

ALWAYS = (
    "Hot wax burns and catches fire: never leave it unattended, keep it away from open flame, have a lid and a "
    "fire extinguisher or blanket at hand. Never put water on burning wax.",
    "Ventilate the room; wear gloves and eye protection when handling fragrance and hot wax.",
    "Put the warning label on every unit, in sight and uncovered.",
)
UNTESTED = "This version is not approved: burn-test this wax, wick, vessel and fragrance together before any is sold."


def cautions(version: FormulaVersion, sheet: Sheet | None, *, unit: Scale = "C") -> list[str]:
    """Sentences for a formula version, the particular ones first, then those that always hold.

    Flash point from the supplier's safety data sheet, section 9. Maximum loads are compared on their own basis.
    """
    lines = list(version.lines.all())
    found = [*_flash_points(version, lines, unit), *_loads(lines, sheet)]
    if version.state != FormulaVersion.State.APPROVED and version.fill_ug is not None:
        found.append(UNTESTED)
    return [*found, *ALWAYS]


def particular(version: FormulaVersion, sheet: Sheet | None, *, unit: Scale = "C") -> list[str]:
    """Only the cautions that speak of this version."""
    return [sentence for sentence in cautions(version, sheet, unit=unit) if sentence not in ALWAYS]


def _flash_points(version: FormulaVersion, lines: Iterable[FormulaLine], unit: Scale) -> list[str]:
    found = []
    for line in lines:
        if line.item.kind != Kind.FRAGRANCE:
            continue
        flash, added_at = line.item.flash_point_mc, version.fragrance_at_mc
        if flash is None:
            found.append(
                f"No flash point is on record for {line.item}: see its safety data sheet, section 9."
            )
        elif added_at is not None and added_at >= flash:
            found.append(
                f"{line.item} is added at {format_temperature(added_at, unit)}, at or above its flash point of "
                f"{format_temperature(flash, unit)}: its vapour can catch fire. No flame or hot element near the pot."
            )
    return found


def _loads(lines: Iterable[FormulaLine], sheet: Sheet | None) -> list[str]:
    lines = list(lines)
    exact = [load for load in loads(lines, sheet) if load.is_above]
    named = {load.item.pk for load in exact}
    found = [
        f"The load is {load.ratio_words}, above the {load.maximum_words} stated for {load.item} "
        f"({load.words}). Do not pour: lower the load."
        for load in exact
    ]
    # What the scale makes of it, pot by pot: a coarse scale may carry a small pot over.
    return found + [
        f"As this scale weighs it, the load is {load.ratio_words}, above the {load.maximum_words} stated for "
        f"{load.item}. Do not pour: weigh on a finer scale, or make more at a time."
        for load in worst_of_pours(lines, sheet)
        if load.is_above and load.item.pk not in named
    ]
