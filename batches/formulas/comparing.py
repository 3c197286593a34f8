"""Two versions of a formula side by side: every line and every figure, in finished texts."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from batches.formulas.sheet import Sheet, batch_sheet
from batches.models import FormulaLine, FormulaVersion
from inventory.models import Item
from studio.core.percent import WHOLE, format_percent
from studio.core.quantities import format_quantity
from studio.core.temperatures import format_temperature
from studio.models import Studio

NONE = "–"
KILOGRAM = 1_000_000_000


@dataclass(frozen=True)
class ComparisonRow:
    """One thing in both versions, in words; NONE where a version has no such thing."""

    what: str
    left: str
    right: str

    @property
    def mark(self) -> tuple[str, str]:
        """Tone and word of what the two make of it."""
        if self.left == self.right:
            return "good", "Same"
        if self.left == NONE:
            return "attention", "Only right"
        return ("attention", "Only left") if self.right == NONE else ("attention", "Differs")


def compare(
    left: FormulaVersion, right: FormulaVersion, studio: Studio
) -> list[tuple[str, list[ComparisonRow]]]:
    """The two in groups: what goes into them, how much, how they are made. Both with lines and items prefetched."""
    sheets = [batch_sheet(each.recipe(), 1 if each.fill_ug else KILOGRAM) for each in (left, right)]
    pairs = [_figures(each, sheet, studio) for each, sheet in zip((left, right), sheets, strict=True)]
    makes = [_makes(each, studio) for each in (left, right)]
    return [
        ("What goes into it", _lines(left, right, sheets[0], sheets[1])),
        ("How much", _rows(pairs[0], pairs[1])),
        ("How it is made", _rows(makes[0], makes[1])),
    ]


def _rows(left: Mapping[str, str], right: Mapping[str, str]) -> list[ComparisonRow]:
    return [ComparisonRow(what, left[what], right[what]) for what in left]


def _lines(
    left: FormulaVersion, right: FormulaVersion, of_left: Sheet, of_right: Sheet
) -> list[ComparisonRow]:
    """Lines of one item meet in the order they stand in; those the left has first, then what only the right has."""
    mine, theirs = _by_item(left, of_left), _by_item(right, of_right)
    rows = []
    for key in [*mine, *(key for key in theirs if key not in mine)]:
        item, there = mine.get(key), theirs.get(key)
        shown = item or there
        if shown:
            rows.append(ComparisonRow(shown[0].name, item[1] if item else NONE, there[1] if there else NONE))
    return rows


def _by_item(version: FormulaVersion, sheet: Sheet) -> dict[tuple[int, int], tuple[Item, str]]:
    """By item and its how-manieth line: the item, and its amount with what that makes of one unit."""
    exact = {target.line.key: target.exact for target in sheet.targets}
    found: dict[tuple[int, int], tuple[Item, str]] = {}
    for line in version.lines.all():
        place = sum(1 for item_id, _ in found if item_id == line.item_id)
        found[line.item_id, place] = (line.item, _amount(line, exact[line.pk], version))
    return found


def _amount(line: FormulaLine, exact: Fraction, version: FormulaVersion) -> str:
    said = [line.amount_words]
    if line.recipe_line().is_weighed and version.fill_ug:
        said.append(f"{format_quantity(round(exact), 'g', places=2)} in one")
    return ", ".join([*said, *filter(None, [line.tolerance_words])])


def _figures(version: FormulaVersion, sheet: Sheet, studio: Studio) -> dict[str, str]:
    def mass(amount: int | None) -> str:
        return NONE if amount is None else format_quantity(amount, studio.mass_unit)

    def ratio(value: Fraction | None) -> str:
        return NONE if value is None else format_percent(value * WHOLE)

    return {
        "Fragrance load, of wax": ratio(sheet.load_of_wax),
        "Fragrance load, of melt": ratio(sheet.load_of_melt),
        "Fill weight": mass(version.fill_ug),
        "Declared net weight": mass(version.declared_ug),
        "Loss allowance": format_percent(version.loss_ppm),
        "Pot takes": mass(version.pot_ug),
        "Scale shows steps of": mass(version.division_ug),
    }


def _makes(version: FormulaVersion, studio: Studio) -> dict[str, str]:
    def degrees(milli_c: int | None) -> str:
        return NONE if milli_c is None else format_temperature(milli_c, studio.scale)

    return {
        "Heat to": degrees(version.heat_to_mc),
        "Add fragrance at": degrees(version.fragrance_at_mc),
        "Stir for": f"{version.stir_minutes} min" if version.stir_minutes else NONE,
        "Pour from": degrees(version.pour_from_mc),
        "Pour up to": degrees(version.pour_to_mc),
        "Rest before finishing": f"{version.rest_hours} h" if version.rest_hours else NONE,
        "Cure": f"{version.cure_days} days" if version.cure_days else NONE,
        "Also on the label": version.label_words or NONE,
        "Working notes": version.notes or NONE,
    }
