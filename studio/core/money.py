"""Money: integers in millionths of the currency unit ("micros"), read from and written for people.

A millionth keeps the value of a gram of wax exactly enough to add up over years; people see cents. Rounding
to the cent happens once, on a line of a document, half up; inside a chain of costs nothing is rounded to it.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, NamedTuple

from studio.core.numerals import MINUS, NBSP, decimal_text, read_decimal, tidy
from studio.core.quantities import Dimension, QuantityError, read_unit, to_unit

MICROS = 1_000_000
MONEY_LIMIT = 10**15
"""The largest sum kept, in micros: a thousand million currency units."""

_CENT = 10_000
_EXAMPLE = "12.50"
_ONE_UNIT = "Give the price of one unit or one pack, for example 2.49 per lb or 12 per pack."


class MoneyError(ValueError):
    """Text that is not a usable sum or price. `str()` is a sentence for the person who typed it."""


class Currency(NamedTuple):
    """How a currency is written. `symbol` is empty where its code is written instead."""

    symbol: str
    places: int
    name: str


# Codes and decimals as in ISO 4217, from memory.
CURRENCIES = {
    "USD": Currency("$", 2, "US dollar"),
    "EUR": Currency("€", 2, "euro"),
    "GBP": Currency("£", 2, "pound sterling"),
    "CAD": Currency("CA$", 2, "Canadian dollar"),
    "AUD": Currency("A$", 2, "Australian dollar"),
    "NZD": Currency("NZ$", 2, "New Zealand dollar"),
    "JPY": Currency("¥", 0, "yen"),
    "INR": Currency("₹", 2, "Indian rupee"),
    "BRL": Currency("", 2, "Brazilian real"),
    "CHF": Currency("", 2, "Swiss franc"),
    "CZK": Currency("", 2, "Czech koruna"),
    "DKK": Currency("", 2, "Danish krone"),
    "HUF": Currency("", 2, "forint"),
    "KRW": Currency("", 0, "won"),
    "MXN": Currency("", 2, "Mexican peso"),
    "NOK": Currency("", 2, "Norwegian krone"),
    "PLN": Currency("", 2, "złoty"),
    "RON": Currency("", 2, "Romanian leu"),
    "SEK": Currency("", 2, "Swedish krona"),
    "SGD": Currency("", 2, "Singapore dollar"),
    "ZAR": Currency("", 2, "rand"),
}
_MARKS = "".join(currency.symbol for currency in CURRENCIES.values())
_LEAD = re.compile(r"([A-Za-z]{3}(?![A-Za-z])|[A-Za-z]{0,2}[$€£¥₹]) *")
_PER = re.compile(r"(?P<sum>.*?) *(?:/|\bper\b) *(?P<per>.*)", re.IGNORECASE)
_PER_SEVERAL = re.compile(r"/\s*[0-9.,]+\s*[A-Za-z]")
_EACH = re.compile(r"(?P<sum>.*[0-9]) *(?:each|ea\.?)", re.IGNORECASE)


@dataclass(frozen=True)
class Price:
    """A price as it was quoted: for the whole line, for one pack, or for one `unit` of quantity.

    `micros` is for one of what `kind` names; `unit` is set for `per_unit` alone.
    """

    kind: Literal["total", "per_pack", "per_unit"]
    micros: int
    unit: str | None = None

    def total(self, packs: int, pack_quantity: int) -> int:
        """Return what `packs` packs of `pack_quantity` base units each cost, in micros.

        A pack or unit price is rounded half up to the cent, since this is the line of a document; a price for
        the whole line is taken as it stands. Raises MoneyError when the line is beyond MONEY_LIMIT.
        """
        if self.kind == "total":
            return self.micros
        of = Fraction(packs)
        if self.kind == "per_unit" and self.unit is not None:
            of = to_unit(packs * pack_quantity, self.unit)
        line = _half_up(self.micros * of / _CENT) * _CENT
        if abs(line) > MONEY_LIMIT:
            raise MoneyError("This line comes to more than 1,000,000,000; check the price and the quantity.")
        return line


def parse_money(text: str, *, allow_zero: bool = True, currency: str | None = None) -> int:
    """Return the sum typed as `text`, in micros: `98.75`, `$1,250.50`, `EUR 12`.

    A symbol or code in front is taken off; when `currency` is given, those of another currency are refused.
    At most six decimals. Raises MoneyError, whose text says what to type instead.
    """
    text = tidy(text, MoneyError, example=_EXAMPLE, marks=_MARKS)
    if "-" in text:
        raise MoneyError(
            "Enter one sum at or above zero, without a minus sign or a range, for example 12.50."
        )
    lead = _LEAD.match(text)
    if lead:
        _check_currency(lead[1], currency)
    number = text[lead.end() :] if lead else text
    if not re.fullmatch("[0-9.,]*[0-9][0-9.,]*", number):
        raise MoneyError("Write a sum such as 12.50, with the currency in front of it or left out.")
    micros = read_decimal(number, MoneyError, places=6) * MICROS
    if micros > MONEY_LIMIT:
        raise MoneyError("That is more than 1,000,000,000; check the number of zeros.")
    if not micros and not allow_zero:
        raise MoneyError("Enter a sum above zero, for example 12.50.")
    return int(micros)


def parse_price(text: str, dimension: Dimension, *, currency: str | None = None) -> Price:
    """Return the price typed as `text`, for an item measured by `dimension`.

    `98.75` is for the whole line, `12 per pack` or `12/pack` for a pack, `2.49/lb` or `2.49 per lb` for a
    unit. `0.85 each` is for one piece where pieces are counted and for one pack elsewhere. Zero is a price.
    The sum is read as by parse_money. Raises MoneyError, whose text says what to type instead.
    """
    if _PER_SEVERAL.search(text):
        raise MoneyError(_ONE_UNIT)
    text = tidy(text, MoneyError, example="12.50 or 2.49 per lb", marks=_MARKS)
    if match := _EACH.fullmatch(text):
        micros = parse_money(match["sum"], currency=currency)
        if dimension is Dimension.COUNT:
            return Price("per_unit", micros, "each")
        return Price("per_pack", micros)
    match = _PER.fullmatch(text)
    if match is None:
        return Price("total", parse_money(text, currency=currency))
    micros = parse_money(match["sum"], currency=currency)
    if match["per"].lower() in ("pack", "packs"):
        return Price("per_pack", micros)
    if not re.fullmatch("[A-Za-z][A-Za-z. ]*", match["per"]):
        raise MoneyError(_ONE_UNIT)
    try:
        return Price("per_unit", micros, read_unit(match["per"], dimension))
    except QuantityError as wrong:
        raise MoneyError(str(wrong)) from None


def format_money(micros: int, currency: str = "USD", *, places: int | None = None) -> str:
    """Write `micros` for a person: `$1,250.50`, `−$3.00`, `CHF 1,250.50`.

    Rounded half up, away from zero, at `places`, or at the currency's own number of decimals (two for a code
    that is not in CURRENCIES). A sum that shows as zero has no sign.
    """
    style = CURRENCIES.get(currency, Currency("", 2, ""))
    if places is None:
        places = style.places
    scaled = _half_up(Fraction(micros * 10**places, MICROS))
    sign = MINUS if scaled < 0 else ""
    return f"{sign}{style.symbol or currency + NBSP}{decimal_text(scaled, places, fixed=True)}"


def price_text(micros: int, currency: str = "USD") -> str:
    """Write the price of one pack for a person, with as many decimals as it has: `$12.50`, `$0.0345`."""
    places = CURRENCIES.get(currency, Currency("", 2, "")).places
    while places < 6 and micros % 10 ** (6 - places):
        places += 1
    return format_money(micros, currency, places=places)


def entry_money(micros: int) -> str:
    """Write `micros` to fill a field: at least two decimals, and as many as it takes to read back the same."""
    if micros % _CENT == 0:
        return decimal_text(micros // _CENT, 2, fixed=True, commas=False)
    return decimal_text(micros, 6, commas=False)


def allocate(total: int, weights: Sequence[int]) -> list[int]:
    """Split `total` by `weights` into integers that add up to it exactly, in the order of the weights.

    Each part is within one of its exact share: shares are rounded towards zero and what is left goes, one by
    one, to the largest remainders, ties to the larger weight and then to the earlier. A `total` below zero is
    the mirror image. Raises ValueError when a weight is below zero or none is above it.
    """
    whole = sum(weights)
    if whole <= 0 or min(weights) < 0:
        raise ValueError("The weights to split by must be zero or more, and at least one above zero.")
    shares = [divmod(abs(total) * weight, whole) for weight in weights]
    parts = [floor for floor, _ in shares]
    ranked = sorted(range(len(weights)), key=lambda i: (-shares[i][1], -weights[i], i))
    for i in ranked[: abs(total) - sum(parts)]:
        parts[i] += 1
    return parts if total >= 0 else [-part for part in parts]


def share(value: int, part: int, whole: int) -> int:
    """Return the part of `value` that `part` of `whole` carries, half to even; the whole carries all of it.

    Raises ValueError when `whole` is not above zero.
    """
    if whole <= 0:
        raise ValueError("A share needs a whole above zero.")
    nearest, over = divmod(value * part, whole)
    return nearest + (2 * over > whole or (2 * over == whole and nearest % 2 == 1))


def round_to_cent(micros: int) -> int:
    """Return `micros` rounded to a hundredth of the currency unit, half up (away from zero)."""
    return _half_up(Fraction(micros, _CENT)) * _CENT


def _half_up(exact: Fraction) -> int:
    """Return the integer nearest to `exact`, a half away from zero."""
    nearest = int(abs(exact) + Fraction(1, 2))
    return nearest if exact >= 0 else -nearest


def _check_currency(lead: str, currency: str | None) -> None:
    """Refuse a `lead` that names no currency, or another one than `currency`. A plain $ is any dollar."""
    lead = lead.upper()
    dollar = lead == "$"
    named = {
        code
        for code, known in CURRENCIES.items()
        if lead in (code, known.symbol) or (dollar and known.symbol.endswith("$"))
    }
    if lead == currency or currency in named or (named and currency is None):
        return
    if named:
        raise MoneyError(f"Sums are kept in {currency}; convert this one and enter it in {currency}.")
    raise MoneyError("Write the sum alone or after its currency, for example 12.50, $12.50 or CHF 12.50.")
