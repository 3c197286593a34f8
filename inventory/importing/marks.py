"""Commas, points and words around a figure: what can be read two ways, and what was probably meant. Plain Python."""

import re
from difflib import get_close_matches
from typing import Literal

from studio.core.quantities import Dimension, units_for

Marks = Literal["", "point", "comma"]
"""What marks decimals in a file: nobody said (a point, and commas are asked about), a point, or a comma."""

_TWO_WAYS = re.compile(r"(?<![\d.,])([1-9]\d{0,2}),(\d{3})(?![\d.,])")
_NUMBER = re.compile(r"\d[\d.,]*")
_WITH_COMMA = re.compile(r"\d+(?:,\d+)?|\d{1,3}(?:\.\d{3})+(?:,\d+)?")
_ESTIMATE = re.compile(
    r"(?:(?:approx(?:imately)?|about|around|roughly|nearly|circa|ca|est|say)\.?|~|≈|c\.|\+/-|±)\s*",
    re.IGNORECASE,
)
_AFTERWARDS = re.compile(r"\s*(?:\(.*\)|approx\.?|or so|ish|left|\?+|!+|~)\s*$", re.IGNORECASE)
_NUMBER_AND_WORD = re.compile(r"([\d.,]+)\s*([A-Za-z.]{1,12})")
_SLIPS = {
    Dimension.MASS: ("g", "kg", "oz", "lb", "mg", "grams", "kilos", "ounces", "pounds"),
    Dimension.COUNT: ("pcs", "pieces", "each"),
    Dimension.LENGTH: ("mm", "cm", "m", "in", "ft", "metres", "inches", "feet"),
}


class AmbiguousMark(ValueError):
    """A comma that may stand between thousands or before decimals; `suggestion` names both."""

    def __init__(self, text: str) -> None:
        match = _TWO_WAYS.search(text)
        assert match  # noqa: S101  # raised where it was found
        whole, decimals = match[1] + match[2], f"{match[1]}.{match[2]}".rstrip("0").rstrip(".")
        one, other = (text[: match.start()] + number + text[match.end() :] for number in (whole, decimals))
        super().__init__("This can be read two ways.")
        self.suggestion = f"Write {one} or {other}, or say above what commas mean."


class WrongMark(ValueError):
    """A figure that does not follow what was said about commas and points."""


def as_points(text: str, marks: Marks) -> str:
    """The text with its figures as the studio reads them: a point before decimals. Raises AmbiguousMark, WrongMark."""
    if "," not in text and (marks != "comma" or "." not in text):
        return text
    if marks == "comma":
        return _NUMBER.sub(_from_comma, text)
    if not marks and _TWO_WAYS.search(text):
        raise AmbiguousMark(text)
    return text


def _from_comma(match: re.Match[str]) -> str:
    number = match[0]
    if not _WITH_COMMA.fullmatch(number):
        raise WrongMark("Commas are decimal marks here, as chosen above, and points stand between thousands.")
    return number.replace(".", "").replace(",", ".")


def without_estimate(text: str) -> str:
    """The text without "approx", "~" and the like in front or behind."""
    return _AFTERWARDS.sub("", _ESTIMATE.sub("", text, count=1)).strip()


def near_unit(text: str, dimension: Dimension) -> str:
    """A number with the unit that was probably meant, such as `2.5 kg` for `2.5 kgg`; nothing when none is near."""
    match = _NUMBER_AND_WORD.fullmatch(text.strip())
    if not match:
        return ""
    word = match[2].lower().strip(".")
    if word == "k" and dimension is Dimension.MASS:
        return f"{match[1]} kg"
    near = get_close_matches(word, (*units_for(dimension), *_SLIPS[dimension]), n=1, cutoff=0.6)
    return f"{match[1]} {near[0]}" if near and near[0] != word else ""
