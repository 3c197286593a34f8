"""Temperatures: integers in thousandths of a degree Celsius, read and written in °C or °F."""

import re
from fractions import Fraction
from typing import Literal

from studio.core.numerals import MINUS, NBSP, decimal_text, read_decimal, tidy

LOWEST = -50_000
HIGHEST = 400_000
"""Beyond these, in thousandths of °C, nothing in a candle studio is measured; the entry is a slip."""

Scale = Literal["C", "F"]

_TYPED = re.compile(
    r"(?P<minus>-?) *(?P<number>[0-9.,]*[0-9][0-9.,]*) *(?:[°º]|deg(?:rees?)?\.?)?"
    r" *(?P<scale>c|f|celsius|centigrade|fahrenheit)?",
    re.IGNORECASE,
)


class TemperatureError(ValueError):
    """Text that is not a usable temperature. `str()` is a sentence for the person who typed it."""


def parse_temperature(text: str, unit: Scale = "C") -> int:
    """Return the temperature typed as `text`, in thousandths of °C, rounded once, half to even.

    Takes `85`, `85 °C`, `185 F`, `-5`; a bare number is in `unit`, the scale shown beside the field.
    °C = (°F − 32) × 5/9 (from memory). At most three decimals. Raises TemperatureError, whose text says what
    to type instead.
    """
    example = "85 °C" if unit == "C" else "185 °F"
    text = tidy(text, TemperatureError, example=example, marks="°º")
    match = _TYPED.fullmatch(text)
    if match is None:
        raise TemperatureError(f"Write one temperature in °C or °F, for example {example}.")
    degrees = read_decimal(match["number"], TemperatureError, places=3)
    if match["minus"]:
        degrees = -degrees
    scale = (match["scale"] or unit)[0].upper()
    celsius = (degrees - 32) * Fraction(5, 9) if scale == "F" else degrees
    milli_c = round(celsius * 1000)
    if not LOWEST <= milli_c <= HIGHEST:
        raise TemperatureError(
            f"Enter a temperature between {format_temperature(LOWEST, unit)} and "
            f"{format_temperature(HIGHEST, unit)}; check the number and whether it is in °C or °F."
        )
    return milli_c


def format_temperature(milli_c: int, unit: Scale = "C") -> str:
    """Write thousandths of °C for a person: `85 °C`, `185 °F`; one decimal, half to even, a zero trimmed."""
    celsius = Fraction(milli_c, 1000)
    degrees = celsius * Fraction(9, 5) + 32 if unit == "F" else celsius
    tenths = round(degrees * 10)
    return f"{MINUS if tenths < 0 else ''}{decimal_text(tenths, 1)}{NBSP}°{unit}"


def entry_temperature(milli_c: int, unit: str = "C") -> str:
    """The number that reads back as this temperature in its unit, for filling a field; three decimals at most."""
    scaled = milli_c if unit == "C" else round(Fraction(milli_c) * 9 / 5 + 32_000)
    return decimal_text(scaled, 3, commas=False).replace(MINUS, "-")
