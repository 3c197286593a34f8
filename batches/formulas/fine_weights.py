"""The unit in which a single vessel's weight is shown: grams where the studio weighs in kilograms, ounces for pounds."""

from fractions import Fraction

from inventory.models import Unit
from studio.core.quantities import format_quantity
from studio.models import Studio

# What a candle is weighed in: a gram rather than a kilogram, with the decimals that tell two candles apart.
FINE = {Unit.KILOGRAM: Unit.GRAM, Unit.POUND: Unit.OUNCE}


PLACES: dict[str, int] = {Unit.GRAM: 2, Unit.OUNCE: 3}


def fine_unit(studio: Studio) -> Unit:
    """The unit net weights are shown in."""
    unit = Unit(studio.mass_unit)
    return FINE.get(unit, unit)


def shown(amount: int | Fraction, unit: Unit) -> str:
    """A net weight as pages write it."""
    return format_quantity(round(amount), unit, places=PLACES.get(unit, 2))
