"""What a temperature means beside what the formula asks: in its window, above it, below it, or so far off its aim."""

from batches.models import FormulaVersion, Reading
from studio.core.temperatures import Scale, format_temperature

# A reading this near its aim is at it, in thousandths of a degree; common practice, no source.
AT_IT_MC = 1_000
IN_WINDOW, ABOVE, BELOW = "in the window", "above the window", "below the window"
OVER, UNDER = "over its aim", "under its aim"


def against_formula(reading: Reading, version: FormulaVersion, unit: Scale = "C") -> str:
    """The reading against the version's figures, in words; "" where the version asks for nothing."""
    if reading.kind == Reading.Kind.POUR:
        return _in_window(reading.temperature_mc, version.pour_from_mc, version.pour_to_mc, unit)
    aims = {Reading.Kind.MELT: version.heat_to_mc, Reading.Kind.FRAGRANCE: version.fragrance_at_mc}
    aim = aims.get(Reading.Kind(reading.kind))
    return "" if aim is None else _beside_aim(reading.temperature_mc, aim, unit)


def is_off(reading: Reading, version: FormulaVersion) -> bool:
    """Whether it was outside its window, or further from its aim than counts as at it."""
    return against_formula(reading, version).startswith((ABOVE, BELOW, OVER, UNDER))


def _in_window(read_mc: int, low_mc: int | None, high_mc: int | None, unit: Scale) -> str:
    if low_mc is None and high_mc is None:
        return ""
    low = low_mc if low_mc is not None else high_mc
    high = high_mc if high_mc is not None else low_mc
    if low is None or high is None:
        return ""
    window = (
        f"{format_temperature(low, unit)} to {format_temperature(high, unit)}"
        if low != high
        else format_temperature(low, unit)
    )
    where = ABOVE if read_mc > high else BELOW if read_mc < low else IN_WINDOW
    return f"{where}, {window}"


def _beside_aim(read_mc: int, aim_mc: int, unit: Scale) -> str:
    off = read_mc - aim_mc
    aim = format_temperature(aim_mc, unit)
    if abs(off) <= AT_IT_MC:
        return f"at its aim, {aim}"
    return f"{OVER if off > 0 else UNDER}, {aim}"
