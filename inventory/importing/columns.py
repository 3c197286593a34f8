"""Columns and their headings: which of a file's headings means which column, and what unit it names."""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from inventory.models import Import
from studio.core.money import CURRENCIES
from studio.core.quantities import Dimension, QuantityError, read_unit
from studio.web.reading_tables import HEAD_ROWS, Sheet

EXAMPLE = "Example:"
"""What the first cell of an example row begins with; such rows are left out."""


@dataclass(frozen=True)
class Column:
    """One column: the heading of our template, what stands in it, and other headings that mean it."""

    key: str
    heading: str
    explains: str
    words: tuple[str, ...] = ()
    needed: bool = False
    examples: tuple[str, str] = ("", "")
    # A quantity's heading may name its unit, a price's its currency: "Weight (kg)", "Cost in USD".
    measured: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """Every heading that means this column, as `plain` makes them."""
        return tuple(dict.fromkeys(plain(word) for word in (self.heading, *self.words)))


@dataclass(frozen=True)
class Shape:
    """A table: what it is for, and its columns."""

    table: Import.Table
    lead: str
    columns: tuple[Column, ...]

    @cached_property
    def by_name(self) -> dict[str, Column]:
        """Columns by every heading that means them."""
        return {name: column for column in self.columns for name in column.names}

    def column(self, key: str) -> Column:
        """The column of this key."""
        return next(column for column in self.columns if column.key == key)


# What tells one heading from another: a number of, a share of, a sum of money.
_KEPT = "#%$€£¥₹"


@lru_cache(maxsize=2_000)
def plain(text: str) -> str:
    """A heading without case, spaces, points and other signs: "Supplier's lot no." is "supplierslotno"."""
    return "".join(
        sign for sign in unicodedata.normalize("NFKC", text).casefold() if sign.isalnum() or sign in _KEPT
    )


@dataclass
class Headings:
    """What the row of headings was understood as."""

    row: int
    place: dict[str, int] = field(default_factory=dict)
    written: dict[str, str] = field(default_factory=dict)
    # What a heading says all of its column is in: a unit, or a currency.
    measure: dict[str, str] = field(default_factory=dict)
    unknown: list[str] = field(default_factory=list)
    twice: list[tuple[str, str]] = field(default_factory=list)

    def heading_of(self, key: str, shape: Shape) -> str:
        """The heading of a column as the file writes it, or as our template does."""
        return self.written.get(key) or shape.column(key).heading


_BEHIND = (
    re.compile(r"(.+?)\s*[(\[]\s*([^)\]]+?)\s*[)\]]\s*"),
    re.compile(r"(.+?)(?:,|\s+in|:)\s+(\S+)"),
    re.compile(r"(.+?)\s+(\S+)"),
)
_PER_UNIT = re.compile(r"(?:price|cost)\s*[(\[]?\s*(?:per|/|a)\s*([a-z]+)\.?\s*[)\]]?", re.IGNORECASE)


def understood(shape: Shape, heading: str) -> tuple[Column, str] | None:
    """The column a heading means, and the unit or currency it names; None for one the table does not have."""
    by_name = shape.by_name
    if column := by_name.get(plain(heading)):
        return column, ""
    heading = heading.strip()
    if match := _PER_UNIT.fullmatch(heading):
        known = "unit_cost" in {each.key for each in shape.columns} and is_unit(match[1])
        return (shape.column("unit_cost"), match[1]) if known else None
    for number, pattern in enumerate(_BEHIND):
        match = pattern.fullmatch(heading)
        column = by_name.get(plain(match[1])) if match else None
        if match is None or column is None:
            continue
        names = column.measured and (is_unit(match[2]) or is_currency(match[2]))
        # What stands in brackets may be any remark; a word behind a heading is part of it unless it is a unit.
        if names or number == 0:
            return column, match[2] if names else ""
    return None


def is_currency(word: str) -> bool:
    """Whether a word is the code or the sign of a currency."""
    return bool(word) and (
        word.upper() in CURRENCIES or word in {style.symbol for style in CURRENCIES.values()}
    )


def is_unit(word: str) -> bool:
    """Whether a word names a unit of anything."""
    for dimension in Dimension:
        try:
            read_unit(word, dimension)
        except QuantityError:
            continue
        return True
    return False


def count_headings(shape: Shape, cells: Sequence[str]) -> int:
    """How many different columns of the table a row of cells has headings for."""
    found = {match[0].key for cell in cells if cell and len(cell) < 60 and (match := understood(shape, cell))}
    return len(found)


def find_headings(shape: Shape, sheet: Sheet) -> Headings | None:
    """The row of headings of a sheet: of the first rows, the one with most of them. None where no row has any."""
    top = sheet.rows[:HEAD_ROWS]
    counted = [(count_headings(shape, cells), -place) for place, (_, cells) in enumerate(top)]
    best, place = max(counted, default=(0, 0))
    if not best:
        return None
    number, cells = top[-place]
    headings = Headings(number)
    for at, cell in enumerate(cells):
        if not cell:
            continue
        known = understood(shape, cell) if len(cell) < 60 else None
        if known is None:
            headings.unknown.append(cell[:60])
        elif known[0].key in headings.place:
            headings.twice.append((headings.written[known[0].key], cell))
        else:
            key = known[0].key
            headings.place[key], headings.written[key] = at, " ".join(cell.split())
            if known[1]:
                headings.measure[key] = known[1]
    return headings


def is_example(cells: Sequence[str]) -> bool:
    """Whether a row is one of a template's examples, left in."""
    first = next((cell for cell in cells if cell), "")
    return first.casefold().startswith(EXAMPLE.casefold())


def template(shape: Shape) -> Iterator[list[str]]:
    """The rows of a template: headings, and two examples that are left out when they stay in."""
    yield [column.heading for column in shape.columns]
    for number in (0, 1):
        row = [column.examples[number] for column in shape.columns]
        yield [f"{EXAMPLE} {row[0]}", *row[1:]]
