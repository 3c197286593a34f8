"""Reading a decimal number from what a person typed, and writing one for a person to read.

Amounts, prices and temperatures share one small grammar: plain figures, a point for decimals, commas only
between thousands. Everything else is refused with a sentence that says what to type instead, because a
number read wrongly is worse than a number asked for twice.
"""

import re
from fractions import Fraction

MAX_CHARS = 40
MINUS = "\N{MINUS SIGN}"
NBSP = "\N{NO-BREAK SPACE}"

_SAME = str.maketrans(
    {
        "\t": " ",
        NBSP: " ",
        "\N{FIGURE SPACE}": " ",
        "\N{THIN SPACE}": " ",
        "\N{HAIR SPACE}": " ",
        "\N{NARROW NO-BREAK SPACE}": " ",
        MINUS: "-",
        "\N{EN DASH}": "-",
        "\N{LEFT DOUBLE QUOTATION MARK}": '"',
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
        "\N{DOUBLE PRIME}": '"',
        "\N{LEFT SINGLE QUOTATION MARK}": "'",
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{PRIME}": "'",
        "\N{FRACTION SLASH}": "/",
    }
)
_VULGAR = frozenset("¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞⅟↉")
_EXPONENT = re.compile(r"[0-9.]\s*[eE]\s*[-+]?[0-9]")
_PLAIN = re.compile(r"[0-9]*\.?[0-9]+")
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_POINT_FIRST = re.compile(r"[0-9.]*\.[0-9]*,[0-9]+")


def tidy(text: str, error: type[ValueError], *, example: str, marks: str = "") -> str:
    """Strip `text`, read look-alike spaces, dashes and quotes as the plain ones, and return it.

    What is returned is printable ASCII, or a character of `marks`, and at most MAX_CHARS long. Raises `error`
    when nothing is left, and for control characters, other scripts, fractions and exponents; `example` is
    what the sentence offers instead.
    """
    text = text.strip()
    if not text:
        raise error(f"Enter a value, for example {example}.")
    if len(text) > MAX_CHARS:
        raise error(f"Use at most {MAX_CHARS} characters, for example {example}.")
    text = text.translate(_SAME)
    if ("/" in text and re.search(r"[0-9]\s*/\s*[0-9]", text)) or _VULGAR & set(text):
        raise error("Write fractions as decimals, for example 0.5 for one half.")
    if any(not (" " <= char <= "~" or char in marks) for char in text):
        raise error(f"Type it with plain figures 0 to 9 and Latin letters, for example {example}.")
    if _EXPONENT.search(text):
        raise error("Write the number in full, without an exponent: 1500, not 1.5e3.")
    return text


def read_decimal(number: str, error: type[ValueError], *, places: int = 12) -> Fraction:
    """Return the exact value of unsigned `number`, such as `1,250.5` or `.5`.

    Commas may stand only between thousands; `1,5` and `0,125` are refused, since the one who typed them meant
    a decimal mark. Raises `error` for that, for a second point and for more than `places` decimals.
    """
    if not (_PLAIN.fullmatch(number) or _GROUPED.fullmatch(number)):
        raise error(_misread(number))
    whole, _, decimals = number.replace(",", "").partition(".")
    if len(decimals) > places:
        raise error(f"Use at most {places} decimals.")
    return Fraction(int(whole + decimals), 10 ** len(decimals))


def decimal_text(scaled: int, places: int, *, fixed: bool = False, commas: bool = True) -> str:
    """Write `scaled` × 10^-`places`, without its sign: `1250500` at 3 places is `1,250.5`.

    `fixed` keeps trailing zeros; `commas` sets thousands apart.
    """
    whole, decimals = divmod(abs(scaled), 10**places)
    tail = f"{decimals:0{places}d}" if places else ""
    if not fixed:
        tail = tail.rstrip("0")
    head = f"{whole:,}" if commas else str(whole)
    return f"{head}.{tail}" if tail else head


def _misread(number: str) -> str:
    """Return the sentence for a number that follows neither pattern."""
    if _POINT_FIRST.fullmatch(number):
        return "Use a point for decimals and commas only between thousands, for example 1,250.5."
    if number.count(",") == 1 and "." not in number and not number.endswith(","):
        whole, _, decimals = number.partition(",")
        return f"Write decimals with a point: {whole or '0'}.{decimals}"
    if number.count(".") > 1:
        return "Use only one decimal point, and commas between thousands, for example 1,250.5."
    if number.endswith((".", ",")):
        return f"Finish the number after the point or comma, or leave it out: {number.rstrip('.,') or '0'}"
    return "Put commas only between groups of three figures, for example 1,250.5, or leave them out."


def hours_text(hours: int | Fraction) -> str:
    """A time in hours as text: tenths below ten hours, whole hours from there on, half to even."""
    tenths = round(hours * 10) if hours < 10 else round(hours) * 10
    return f"{decimal_text(tenths, 1)}{NBSP}h"
