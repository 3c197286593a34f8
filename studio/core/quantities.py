"""Amounts of stock: integers in base units, read from and written for people.

Mass is kept in micrograms, length in micrometres and everything else by the piece. A unit a person reads or
types is met only here, at the edge: its exact factor comes from pint once, and typed text goes through our
own small grammar, never through pint's.
"""

import re
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from pint import UnitRegistry

from studio.core.numerals import MINUS, NBSP, decimal_text, read_decimal, tidy

QUANTITY_LIMIT = 10**15
"""The largest amount kept, in base units: a thousand tonnes, or a million kilometres."""


class Dimension(StrEnum):
    """What an item is measured by. Base units: microgram, each, micrometre."""

    MASS = "mass"
    COUNT = "count"
    LENGTH = "length"


class QuantityError(ValueError):
    """Text that is not a usable amount. `str()` is a sentence for the person who typed it."""


class PackQuestion(QuantityError):
    """An amount in packs of a size nobody knows: "4 cases". Carries the pack's `word`; the text asks what is in one."""

    def __init__(self, word: str, count: int, dimension: "Dimension") -> None:
        many = f"{count} {_PACKS[word]}" if count != 1 else f"1 {word}"
        inside = {Dimension.MASS: "25 lb", Dimension.COUNT: "24", Dimension.LENGTH: "50 m"}[dimension]
        asked = {
            Dimension.MASS: "What does one {} weigh?",
            Dimension.LENGTH: "How long is what one {} holds?",
        }
        question = asked.get(dimension, "How many are in one {}?").format(word)
        super().__init__(f"{question} Write it as well: {many} of {inside}.")
        self.word = word


class Packed(NamedTuple):
    """So many packs of a kind, `each` of which holds so much in base units; None where nobody said."""

    number: int
    word: str
    each: int | None

    def words(self, each_words: str) -> str:
        """As it is said: "4 cases of 24"."""
        return f"{self.number} {self.word if self.number == 1 else _PACKS[self.word]} of {each_words}"


class QuantityParts(NamedTuple):
    """An amount split for a page that sets the unit small. `unit` is empty for pieces."""

    number: str
    unit: str


class _Unit(NamedTuple):
    dimension: Dimension
    factor: Fraction
    places: int


def _units() -> dict[str, _Unit]:
    """Return every unit by its symbol, with its exact size in base units and its usual decimals."""
    registry: UnitRegistry[Decimal] = UnitRegistry(non_int_type=Decimal)

    def size(name: str, base: str) -> Fraction:
        return Fraction(registry.Quantity(Decimal(1), name).to(base).magnitude)

    def mass(name: str, places: int) -> _Unit:
        return _Unit(Dimension.MASS, size(name, "microgram"), places)

    def length(name: str, places: int) -> _Unit:
        return _Unit(Dimension.LENGTH, size(name, "micrometer"), places)

    return {
        "mg": mass("milligram", 0),
        "g": mass("gram", 1),
        "kg": mass("kilogram", 3),
        "oz": mass("ounce", 2),
        "lb": mass("pound", 3),
        "each": _Unit(Dimension.COUNT, Fraction(1), 0),
        "dozen": _Unit(Dimension.COUNT, Fraction(12), 2),
        "gross": _Unit(Dimension.COUNT, Fraction(144), 2),
        "mm": length("millimeter", 0),
        "cm": length("centimeter", 1),
        "m": length("meter", 2),
        "in": length("inch", 2),
        "ft": length("foot", 2),
        "yd": length("yard", 2),
    }


_UNITS = _units()

_SPELLINGS = {
    "mg": "mg mgs milligram milligrams milligramme milligrammes",
    "g": "g gm gms gram grams gramme grammes",
    "kg": "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
    "oz": "oz ozs ounce ounces",
    "lb": "lb lbs pound pounds",
    "each": "each ea pc pcs piece pieces",
    "dozen": "dozen dozens doz dz",
    "gross": "gross grosses gro",
    "mm": "mm millimetre millimetres millimeter millimeters",
    "cm": "cm cms centimetre centimetres centimeter centimeters",
    "m": "m metre metres meter meters",
    "in": 'in ins inch inches "',
    "ft": "ft foot feet '",
    "yd": "yd yds yard yards",
}
_UNIT_OF = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings.split()}

# Packs that hold what the supplier puts in: nobody knows how many without being told.
_PACK_SPELLINGS = {
    "case": "case cases cs",
    "box": "box boxes",
    "roll": "roll rolls",
    "ream": "ream reams",
    "pack": "pack packs pk pks package packages packet packets",
    "bag": "bag bags",
    "carton": "carton cartons ctn ctns",
    "bundle": "bundle bundles",
    "spool": "spool spools",
    "sack": "sack sacks",
    "pail": "pail pails",
    "drum": "drum drums",
    "pallet": "pallet pallets skid skids",
    "sleeve": "sleeve sleeves",
    "tray": "tray trays",
}
_PACKS = {word: spellings.split()[1] for word, spellings in _PACK_SPELLINGS.items()}
_PACK_OF = {spelling: word for word, spellings in _PACK_SPELLINGS.items() for spelling in spellings.split()}
_PACKED = re.compile(
    r"(?:(?P<count>[0-9][0-9.,]*) *)?(?P<word>[A-Za-z]+)\.?(?: +(?:of|with) +(?P<each>\S.*))?", re.IGNORECASE
)

_VOLUME = re.compile(
    r"[mcd]?ls?|(?:milli|centi|deci)?lit(?:re|er)s?|cc|(?:fl|fluid) ?(?:ozs?|ounces?)"
    r"|pt|pints?|qt|quarts?|gals?|gallons?|cups?|tsp|tbsp|teaspoons?|tablespoons?"
)

_KIND = {Dimension.MASS: "weight", Dimension.COUNT: "count", Dimension.LENGTH: "length"}
_EXAMPLE = {Dimension.MASS: "12 g", Dimension.COUNT: "12", Dimension.LENGTH: "12 mm"}
_INSTEAD = {
    Dimension.MASS: "weigh it and enter the weight, for example 12 g.",
    Dimension.COUNT: "this is counted in pieces, so enter a whole number, for example 12.",
    Dimension.LENGTH: "measure it and enter the length, for example 12 mm.",
}
_SMALLEST = {Dimension.MASS: "0.001 mg", Dimension.COUNT: "1", Dimension.LENGTH: "0.001 mm"}
_LARGEST = {
    Dimension.MASS: "1,000,000 kg",
    Dimension.COUNT: f"{QUANTITY_LIMIT:,}",
    Dimension.LENGTH: "1,000,000 km",
}

# A point after a letter closes an abbreviation and never opens a number: "3 lb.5 oz" would be a guess.
_PART = re.compile(
    r" *(?P<number>(?:[0-9]|(?<![A-Za-z])[.,][0-9])[0-9.,]*)"
    r" *(?P<word>[A-Za-z]+(?:\.(?![0-9]))?(?: +[A-Za-z]+(?:\.(?![0-9]))?)*|[\"'])?"
)


def units_for(dimension: Dimension) -> tuple[str, ...]:
    """Return the unit symbols a choice list offers for `dimension`, small to large, metric first.

    Dozen and gross can be typed but are not offered: stock of pieces is always shown by the piece.
    """
    return tuple(
        symbol
        for symbol, unit in _UNITS.items()
        if unit.dimension == dimension and symbol not in ("dozen", "gross")
    )


def read_unit(word: str, dimension: Dimension) -> str:
    """Return the symbol of the unit spelled `word`, for example `kg` for `Kilos`.

    Raises QuantityError when it is unknown, ambiguous, a volume, or a unit of another dimension.
    """
    key = " ".join(word.lower().replace(".", " ").split())
    if word in ("Mg", "Mm"):
        raise QuantityError(f'"{word}" could be far more than "{key}"; write {key} in small letters.')
    if key in ("gr", "grs"):
        raise QuantityError(f'"{word}" can mean grams or grains; write g for grams.')
    if "troy" in key.split() or key in ("ozt", "oz t", "t oz"):
        raise QuantityError("Troy ounces are not used here; weigh it in g, or in oz of 28.35 g.")
    if _VOLUME.fullmatch(key):
        raise QuantityError(f'"{word}" is a volume; {_INSTEAD[dimension]}')
    symbol = _UNIT_OF.get(key)
    if symbol is None and key in _PACK_OF:
        raise PackQuestion(_PACK_OF[key], 1, dimension)
    if symbol is None:
        if dimension is Dimension.COUNT:
            raise QuantityError(
                f'"{word}" does not say how many pieces there are: write them all as one number, for example 144.'
            )
        known = ", ".join(units_for(dimension))
        raise QuantityError(f'"{word}" is not a unit of {_KIND[dimension]} used here; use one of: {known}.')
    if _UNITS[symbol].dimension != dimension:
        raise QuantityError(f'"{word}" is a {_KIND[_UNITS[symbol].dimension]}; {_INSTEAD[dimension]}')
    return symbol


def parse_quantity(
    text: str, dimension: Dimension, *, unit: str | None = None, allow_zero: bool = False
) -> int:
    """Return the amount typed as `text`, in base units of `dimension` (µg, each or µm).

    Takes `1.25 kg`, `1,250 g`, `2 lb 3 oz`, and a bare number when `unit`, the unit shown beside the field,
    is given or pieces are counted. The sum is exact and is rounded once, half to even, to the base unit (NIST
    SP 811 B.7); an amount that is not zero never becomes zero.

    Packs say what is in one: `4 cases of 24` is 96, `4 cases of 25 lb` a hundred pounds. Dozen and gross multiply.
    Raises QuantityError, whose text says what to type instead; PackQuestion for packs nobody knows the size of.
    """
    if packed := read_packed(text, dimension):
        if packed.each is None:
            raise PackQuestion(packed.word, packed.number, dimension)
        return _whole(Fraction(packed.number * packed.each), dimension, allow_zero=False)
    example = _EXAMPLE[dimension]
    text = tidy(text, QuantityError, example=example)
    if "-" in text:
        raise QuantityError(
            "Leave out the minus sign; an amount cannot be below zero."
            if text.startswith("-")
            else f"Enter one amount, not a range, for example {example}."
        )
    if dimension is Dimension.COUNT and unit is None:
        unit = "each"
    exact = Fraction(0)
    for number, symbol in _parts(text, dimension, unit):
        exact += number * _unit(symbol).factor
    return _whole(exact, dimension, allow_zero=allow_zero)


def read_packed(text: str, dimension: Dimension) -> Packed | None:
    """The packs that `text` names, such as `4 cases` or `case of 24`; None where it names none.

    Raises QuantityError where packs are not counted whole, or what is in one cannot be read.
    """
    match = _PACKED.fullmatch(" ".join(text.split()))
    word = _PACK_OF.get(match["word"].lower()) if match else None
    if match is None or word is None:
        return None
    count = read_decimal(match["count"], QuantityError) if match["count"] else Fraction(1)
    if count.denominator != 1 or not count:
        raise QuantityError(f"Count whole {_PACKS[word]}, for example 4, or enter what is in them.")
    if match["each"] is None:
        return Packed(int(count), word, None)
    if read_packed(match["each"], dimension):
        raise QuantityError(f"Say what one {word} holds as one amount, for example {_EXAMPLE[dimension]}.")
    return Packed(int(count), word, parse_quantity(match["each"], dimension))


def is_pack_word(word: str) -> bool:
    """Whether a word names packs, such as `cases`."""
    return word.strip(" .").lower() in _PACK_OF


def to_unit(amount: int, unit: str) -> Fraction:
    """Return `amount` base units in `unit`, exactly. Raises QuantityError for an unknown unit symbol."""
    return amount / _unit(unit).factor


def from_unit(number: Decimal | Fraction | int, unit: str) -> int:
    """Return `number` of `unit` in base units, rounded once, half to even (NIST SP 811 B.7).

    Raises QuantityError for an unknown unit symbol and TypeError for a float.
    """
    if isinstance(number, float):
        raise TypeError("An amount is exact: pass a Decimal, a Fraction or an int, not a float.")
    return round(Fraction(number) * _unit(unit).factor)


def round_to_division(amount: int | Fraction, division: int) -> int:
    """Return the multiple of `division` nearest to `amount`, half to the even multiple (NIST SP 811 B.7).

    Both are in the same base unit. Raises ValueError when `division` is not above zero.
    """
    if division <= 0:
        raise ValueError("The scale's division must be above zero.")
    return round(Fraction(amount) / division) * division


def split_quantity(
    amount: int, unit: str, *, places: int | None = None, fixed: bool = False
) -> QuantityParts:
    """Write `amount` base units in `unit`, as the number and the unit apart.

    Rounded half to even at `places`, or at the unit's usual number of decimals; trailing zeros go unless
    `fixed`. What is not zero never shows as zero: it reads `<0.1`, or `> −0.1` when it is below zero.
    Raises QuantityError for an unknown unit symbol.
    """
    known = _unit(unit)
    if places is None:
        places = known.places
    scaled = round(amount / known.factor * 10**places)
    if amount and not scaled:
        least = decimal_text(1, places)
        number = f"<{least}" if amount > 0 else f"> {MINUS}{least}"
    else:
        number = (MINUS if scaled < 0 else "") + decimal_text(scaled, places, fixed=fixed)
    return QuantityParts(number, "" if unit == "each" else unit)


def format_quantity(amount: int, unit: str, *, places: int | None = None, fixed: bool = False) -> str:
    """Write `amount` base units in `unit` for a person: `1,250 g`, or `12` for pieces.

    As split_quantity, joined by a no-break space. parse_quantity reads it back, unless it is below zero or
    too small to show.
    """
    shown = split_quantity(amount, unit, places=places, fixed=fixed)
    return f"{shown.number}{NBSP}{shown.unit}" if shown.unit else shown.number


def entry_text(amount: int, unit: str) -> str:
    """Write `amount` base units in `unit` to fill a field: the shortest decimal that reads back the same.

    No commas and at most 12 decimals, so that saving a form untouched never moves stock by a microgram.
    Raises QuantityError for an unknown unit symbol.
    """
    factor = _unit(unit).factor
    for places in range(13):
        scaled = round(amount / factor * 10**places)
        if round(scaled * factor / 10**places) == amount:
            break
    return ("-" if scaled < 0 else "") + decimal_text(scaled, places, commas=False)


def _unit(symbol: str) -> _Unit:
    try:
        return _UNITS[symbol]
    except KeyError:
        raise QuantityError(f'"{symbol}" is not a unit used here; use one of: {", ".join(_UNITS)}.') from None


def _parts(text: str, dimension: Dimension, unit: str | None) -> list[tuple[Fraction, str]]:
    """Return the numbers in `text`, each with its unit, largest unit first."""
    found: list[tuple[str, str | None]] = []
    end = 0
    while end < len(text):
        match = _PART.match(text, end)
        if match is None:
            raise QuantityError(f"Write only a number and its unit, for example {_EXAMPLE[dimension]}.")
        found.append((match["number"], match["word"]))
        end = match.end()
    if len(found) == 1 and found[0][1] is None:
        number = read_decimal(found[0][0], QuantityError)
        if unit is None:
            metric, inch_pound = ("g", "oz") if dimension is Dimension.MASS else ("mm", "in")
            bare = found[0][0]
            raise QuantityError(f"Add a unit, for example {bare} {metric} or {bare} {inch_pound}.")
        return [(number, unit)]
    if any(word is None for _, word in found):
        raise QuantityError("Give each number its unit, as in 2 lb 3 oz, and put no space inside a number.")
    parts = [
        (read_decimal(number, QuantityError), read_unit(word or "", dimension)) for number, word in found
    ]
    if any(_unit(larger).factor <= _unit(smaller).factor for (_, larger), (_, smaller) in pairwise(parts)):
        raise QuantityError("Write the larger unit first and each unit once, for example 2 lb 3 oz.")
    return parts


def _whole(exact: Fraction, dimension: Dimension, *, allow_zero: bool) -> int:
    """Return `exact` base units as the whole number that is kept."""
    if dimension is Dimension.COUNT and exact.denominator != 1:
        raise QuantityError("Pieces are counted whole; enter a whole number, for example 12.")
    amount = round(exact)
    if amount > QUANTITY_LIMIT:
        raise QuantityError(f"That is more than {_LARGEST[dimension]}; check the unit and the zeros.")
    if exact and not amount:
        raise QuantityError(f"That is too small to keep; enter at least {_SMALLEST[dimension]}.")
    if not amount and not allow_zero:
        raise QuantityError(f"Enter an amount above zero, for example {_EXAMPLE[dimension]}.")
    return amount


# What a price is quoted for: a kilogram, a pound, a metre reads better than a gram.
PRICED_BY = {
    "g": "kg",
    "kg": "kg",
    "oz": "lb",
    "lb": "lb",
    "each": "each",
    "m": "m",
    "cm": "m",
    "in": "ft",
    "ft": "ft",
}
