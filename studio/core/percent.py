"""Percentages as whole parts per million: 8.25 % is 82,500."""

import re
from fractions import Fraction

WHOLE = 1_000_000
_PERCENT = re.compile(r"(\d{1,4}(?:\.\d*)?|\.\d+)\s*%?", re.ASCII)


class PercentError(ValueError):
    """What was typed is not a percentage. Its text is a sentence for a person."""


def parse_percent(text: str) -> int:
    """Parts per million of a typed percentage such as `8`, `8.25` or `8.25 %`. Raises PercentError."""
    typed = text.strip()
    if typed.startswith(("-", "−")):
        raise PercentError("A percentage here cannot be negative.")
    if "," in typed:
        raise PercentError("Write decimals with a point, for example 8.5.")
    match = _PERCENT.fullmatch(typed)
    if not match:
        raise PercentError("Write a percentage as a number, for example 8 or 8.25.")
    ppm = Fraction(match[1]) * 10_000
    if ppm.denominator != 1:
        raise PercentError("Use at most four decimals, for example 33.3333.")
    return int(ppm)


def format_percent(ppm: int | Fraction, places: int = 2) -> str:
    """Parts per million as a percentage for the eye, trailing zeros trimmed: 82,500 is "8.25 %"."""
    scaled = round(Fraction(ppm) * 10**places / 10_000)
    whole, part = divmod(abs(scaled), 10**places)
    number = f"{whole:,}.{part:0{places}d}".rstrip("0").rstrip(".") if places else f"{whole:,}"
    number = f"\N{MINUS SIGN}{number}" if scaled < 0 else number
    return f"{number}\N{NO-BREAK SPACE}%"


def entry_percent(ppm: int) -> str:
    """The exact text that reads back as these parts per million, for filling a field."""
    whole, part = divmod(ppm, 10_000)
    return f"{whole}.{part:04d}".rstrip("0").rstrip(".")
