"""How a batch is split into pours, in words."""

from batches.formulas.sheet import Sheet
from studio.core.quantities import format_quantity
from studio.models import Studio


def pours_words(sheet: Sheet, studio: Studio) -> str:
    """How the run is split: "2 pours: 5,400 g for 25 vessels, 5,184 g for 24"; empty for a single pour."""
    if len(sheet.pours) < 2:
        return ""
    groups: dict[tuple[int, int | None], int] = {}
    for pour in sheet.pours:
        groups[pour.melt_ug, pour.units] = groups.get((pour.melt_ug, pour.units), 0) + 1
    parts = []
    for (melt, units), count in groups.items():
        weight = format_quantity(melt, studio.mass_unit)
        vessels = f" for {units} vessels" if units is not None else ""
        parts.append(f"{count} × {weight}{vessels}" if len(groups) > 1 else f"{weight}{vessels} each")
    return f"{len(sheet.pours)} pours: {', '.join(parts)}"
