"""The process of a formula version in words: what to do, and the figure to meet."""

from batches.models import FormulaVersion
from studio.core.temperatures import Scale, format_temperature


def steps(version: FormulaVersion, unit: Scale) -> tuple[tuple[str, str], ...]:
    """The process as pairs of what to do and the figure to meet."""
    found = []
    if version.heat_to_mc is not None:
        found.append(("Heat the wax to", format_temperature(version.heat_to_mc, unit)))
    if version.fragrance_at_mc is not None:
        found.append(("Add fragrance at", format_temperature(version.fragrance_at_mc, unit)))
    if version.stir_minutes:
        found.append(("Stir for", f"{version.stir_minutes} min"))
    low, high = version.pour_from_mc, version.pour_to_mc
    if low is not None and high is not None:
        found.append(
            ("Pour between", f"{format_temperature(low, unit)} and {format_temperature(high, unit)}")
        )
    elif low is not None or high is not None:
        found.append(("Pour at", format_temperature(low if low is not None else high or 0, unit)))
    if version.rest_hours:
        found.append(("Let rest before finishing", f"{version.rest_hours} h"))
    if version.cure_days:
        found.append(("Cure", f"{version.cure_days} days"))
    return tuple(found)
