"""One cell after the other, understood or named with what is wrong in it; all problems of a file are collected."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from typing import Any, TypeVar

from inventory.importing.columns import Headings, Shape, is_currency, plain
from inventory.importing.days import DayError, Order, read_day, without_time
from inventory.importing.marks import AmbiguousMark, Marks, WrongMark, as_points, near_unit, without_estimate
from inventory.models import Item
from inventory.purchasing.pack_contents import check_packs
from studio.core.money import MoneyError, Price, format_money, parse_money, parse_price
from studio.core.quantities import (
    Dimension,
    PackQuestion,
    QuantityError,
    is_pack_word,
    parse_quantity,
    read_packed,
    read_unit,
)
from studio.models import Studio
from studio.web.reading_tables import Figure, shown

Found = TypeVar("Found")
SUGGESTED_AT_MOST = 40
"""A near name is looked for as often as this; a file in which more are wrong has the wrong names altogether."""

_WHOLE = re.compile(r"(\d{1,7})(?:\.0+)?\s*(?:days?|packs?)?", re.IGNORECASE | re.ASCII)
_WEEKS = re.compile(r"(\d{1,3})\s*(?:weeks?|wks?)", re.IGNORECASE | re.ASCII)
_YES = {"yes", "y", "true", "x", "1"}
_NO = {"", "no", "n", "false", "0", "-"}
_NOTHING = {"-", "–", "—", "n/a", "na", "none", "?", "unknown"}
_KEPT_BY = {Dimension.MASS: "weighed", Dimension.COUNT: "counted", Dimension.LENGTH: "measured"}
_BARE = {Dimension.MASS: "12 g", Dimension.COUNT: "12 pcs", Dimension.LENGTH: "12 m"}


@dataclass(frozen=True)
class Choices:
    """How the one who brings a table in wants it understood, where it could be read two ways."""

    sheet: int = 0
    days: Order = ""
    marks: Marks = ""
    worthless: bool = False
    sure: bool = False


@dataclass(frozen=True)
class Problem:
    """What is wrong in a row, or differs: the row as the file counts, the column's heading, what was typed there."""

    row: int
    column: str
    typed: str
    sentence: str
    suggestion: str = ""


@dataclass(frozen=True)
class ImportRow:
    """A row below the headings. `bad` are the columns of which a cell could not even be read."""

    number: int
    cells: list[str]
    bad: frozenset[str] = frozenset()


class CellError(ValueError):
    """A cell that cannot be taken: a sentence, and what to write instead."""

    def __init__(self, sentence: str, suggestion: str = "") -> None:
        super().__init__(sentence)
        self.suggestion = suggestion


def fold(name: str) -> str:
    """A name as it is compared: without capitals and doubled spaces."""
    return " ".join(name.split()).lower()


IN_ONE = "Or give the file a column In one pack, with 24 or 25 lb in each row."


def _in_packs(text: str, told: str, in_one: str, dimension: Dimension) -> tuple[str, str]:
    """A quantity in packs with what is in one, gathered from three columns: "4", "cases" and "24"; else nothing.

    With it what a column says of one pack though the quantity says it itself.
    """
    if told and is_pack_word(told):
        text = f"{text} {told}"
    try:
        packed = read_packed(text, dimension)
    except QuantityError:
        return text, ""
    if packed is None:
        return "", ""
    if packed.each is None and in_one.strip():
        return f"{text} of {in_one}", ""
    return text, in_one.strip()


class Cells:
    """Reads the cells of one sheet and remembers what it has read: the same text is understood once."""

    def __init__(
        self, shape: Shape, headings: Headings, choices: Choices, studio: Studio, today: date
    ) -> None:
        self.shape, self.headings, self.choices = shape, headings, choices
        self.studio, self.currency, self.today = studio, studio.currency, today
        self.problems: list[Problem] = []
        self.asks_days = self.asks_marks = False
        self.times_left_out = 0
        # How many bare numbers were read in a unit nobody wrote, by unit.
        self.assumed: dict[str, int] = {}
        self._place = headings.place
        # A needed column that is not there is said once, not in every row.
        self._needed = {column.key for column in shape.columns if column.needed} & headings.place.keys()
        self._quantities: dict[tuple[Any, ...], tuple[int, str] | CellError] = {}
        self._sums: dict[tuple[Any, ...], Any] = {}
        self._days: dict[str, date | DayError] = {}
        self._near: dict[tuple[str, str], str] = {}

    # What a row holds

    def typed(self, row: ImportRow, key: str) -> str:
        """The text of a cell; empty where the file has no such column, or the row ends before it."""
        place = self._place.get(key)
        return row.cells[place] if place is not None and place < len(row.cells) else ""

    def fail(self, row: ImportRow, key: str, sentence: str, suggestion: str = "") -> None:
        """Remember what is wrong with a cell; with `key` "" about the row."""
        heading = self.headings.heading_of(key, self.shape) if key else ""
        self.problems.append(
            Problem(row.number, heading, shown(self.typed(row, key)) if key else "", sentence, suggestion)
        )

    def _filled(self, row: ImportRow, key: str) -> str:
        """The text of a cell; nothing, and a problem, where one is needed."""
        text = self.typed(row, key)
        if not text and key in self._needed and key not in row.bad:
            self.fail(row, key, "Fill this in.")
        return text

    # Words

    def text(self, row: ImportRow, key: str, longest: int) -> str:
        """A text of one line, doubled spaces made one."""
        text = self._filled(row, key)
        if "  " in text or "\n" in text or "\t" in text or "\r" in text:
            text = " ".join(text.split())
        if len(text) > longest:
            self.fail(row, key, f"At most {longest} characters are kept.")
            return ""
        return text

    def long_text(self, row: ImportRow, key: str, longest: int) -> str:
        """A text that may have several lines."""
        text = self.typed(row, key)
        if len(text) > longest:
            self.fail(row, key, f"At most {longest:,} characters are kept.")
            return ""
        return text

    def one_of(self, row: ImportRow, key: str, words: Mapping[str, Found], named: str) -> Found | None:
        """What one of a few words stands for; `named` lists them for a person."""
        text = self._filled(row, key)
        if not text:
            return None
        if (found := words.get(plain(text))) is not None:
            return found
        near = get_close_matches(plain(text)[:40], words, n=1, cutoff=0.6)
        self.fail(row, key, f"Write one of: {named}.", f"Did you mean {near[0]}?" if near else "")
        return None

    def yes(self, row: ImportRow, key: str) -> bool:
        """Whether a cell says yes."""
        word = self.typed(row, key).lower()
        if word not in _YES and word not in _NO:
            self.fail(row, key, "Write yes or no.")
        return word in _YES

    def whole(self, row: ImportRow, key: str, most: int, *, least: int = 0) -> int | None:
        """A whole number, such as days or packs; None where the cell is empty."""
        text = self._filled(row, key)
        if not text or text in _NOTHING:
            return None
        match = _WHOLE.fullmatch(text)
        if match and least <= int(match[1]) <= most:
            return int(match[1])
        if weeks := _WEEKS.fullmatch(text):
            self.fail(row, key, "Write it in days.", f"Write {int(weeks[1]) * 7}.")
        else:
            self.fail(row, key, f"Write a whole number from {least} to {most:,}.")
        return None

    def known(
        self, row: ImportRow, key: str, names: Mapping[str, Found], what: str, where: str
    ) -> Found | None:
        """What a name in the studio's books names, capitals or not."""
        text = self._filled(row, key)
        if not text:
            return None
        found = names.get(text.lower()) or names.get(fold(text))
        if found is None:
            near = self._nearest(key, fold(text)[:120], names)
            self.fail(
                row,
                key,
                f"There is no {what} of this name.",
                f"Did you mean {near}?" if near else f"Bring it in first, under {where}.",
            )
        return found

    def _nearest(self, key: str, name: str, names: Mapping[str, Any]) -> str:
        """The name in the books that is like a mistyped one, as it is written there."""
        if (key, name) not in self._near and len(self._near) < SUGGESTED_AT_MOST:
            near = get_close_matches(name, names, n=1, cutoff=0.6)
            self._near[key, name] = str(names[near[0]]) if near else ""
        return self._near.get((key, name), "")

    # Days

    def day(self, row: ImportRow, key: str, *, past: bool = False) -> date | None:
        """A day; with `past` none that lies in the future. None where the cell is empty."""
        text = self._filled(row, key)
        if not text or text in _NOTHING:
            if text and key in self._needed:
                self.fail(row, key, "Fill this in.")
            return None
        if (known := self._days.get(text)) is None:
            known = self._days[text] = self._read_day(text)
        if isinstance(known, DayError):
            self.fail(row, key, str(known), known.suggestion)
            return None
        if past and known > self.today:
            self.fail(row, key, "This lies in the future.")
            return None
        return known

    def _read_day(self, text: str) -> date | DayError:
        bare = without_time(text)
        self.times_left_out += bare != text
        try:
            return read_day(bare, self.choices.days)
        except DayError as error:
            self.asks_days |= error.two_ways
            return error

    # Quantities

    def quantity(self, row: ImportRow, key: str, item: Item) -> int | None:
        """A quantity of an item in base units; None, and a problem, where it cannot be read."""
        text = self._filled(row, key)
        if not text:
            return None
        told = self.typed(row, "unit")
        named, beside = _in_packs(text, told, self.typed(row, "in_one"), item.dimension)
        if named:
            text, told = named, ""
        if beside and not self._packs_agree(row, text, beside, item):
            return None
        mark = (key, text, type(text), told, item.unit)
        if (known := self._quantities.get(mark)) is None:
            try:
                known = self._read_quantity(key, text, told, item)
            except CellError as error:
                known = error
            self._quantities[mark] = known
        if isinstance(known, CellError):
            self.fail(row, key, str(known), known.suggestion)
            return None
        amount, assumed = known
        if assumed:
            self.assumed[assumed] = self.assumed.get(assumed, 0) + 1
        return amount

    def _packs_agree(self, row: ImportRow, text: str, beside: str, item: Item) -> bool:
        """Whether the column In one pack says what the quantity says itself; else a problem."""
        try:
            packed = read_packed(self._as_points(text), item.dimension)
            check_packs(packed, parse_quantity(self._as_points(beside), item.dimension), item)
        except (CellError, QuantityError) as error:
            self.fail(row, "in_one", str(error))
            return False
        return True

    def _read_quantity(self, key: str, text: str, told: str, item: Item) -> tuple[int, str]:
        """The amount, and the unit it was read in where the file names none. Raises CellError."""
        typed = self._as_points(text)
        unit, assumed = self._unit(key, typed, told, item)
        try:
            return parse_quantity(typed, item.dimension, unit=unit), assumed
        except QuantityError as error:
            # Of a volume no weight can be guessed, nor what is in a pack.
            unknown = isinstance(error, PackQuestion) or "is a volume" in str(error)
            ask = IN_ONE if isinstance(error, PackQuestion) else ""
            meant = ask if unknown else self._meant(typed, item.dimension, unit)
            raise CellError(str(error), meant) from error

    def _as_points(self, text: str) -> str:
        """A figure with its decimal mark as the studio reads it. Raises CellError."""
        if isinstance(text, Figure):
            return text
        try:
            return as_points(text, self.choices.marks)
        except AmbiguousMark as error:
            self.asks_marks = True
            raise CellError(str(error), error.suggestion) from error
        except WrongMark as error:
            raise CellError(str(error)) from error

    def _unit(self, key: str, typed: str, told: str, item: Item) -> tuple[str, str]:
        """The unit a bare number is in, and the same once more where nobody wrote it. Raises CellError."""
        named = any(sign.isalpha() or sign in "\"'" for sign in typed)
        if told:
            try:
                unit = read_unit(told, item.dimension)
            except QuantityError as error:
                raise CellError(f"Unit: {error}") from error
            if named and not _agrees(typed, unit, item.dimension):
                raise CellError(
                    f"The column Unit says {told} and this says something else. Keep one of them."
                )
            return unit, ""
        if heading := self.headings.measure.get(key):
            try:
                return read_unit(heading, item.dimension), ""
            except QuantityError as error:
                if not named:
                    raise CellError(
                        f"The heading says {heading}, and this item is {_KEPT_BY[item.dimension]}.",
                        f"Write the unit beside the figure, for example {_BARE[item.dimension]}.",
                    ) from error
        bare = not named and item.dimension is not Dimension.COUNT
        return item.unit, item.unit if bare else ""

    @staticmethod
    def _meant(typed: str, dimension: Dimension, unit: str) -> str:
        """What to write instead of a quantity that cannot be read, where that can be guessed."""
        for guess in (without_estimate(typed), near_unit(without_estimate(typed), dimension)):
            if guess and guess != typed:
                try:
                    parse_quantity(guess, dimension, unit=unit)
                except QuantityError:
                    continue
                return f"Did you mean {guess}?"
        return ""

    # Money

    def money(self, row: ImportRow, key: str) -> int | None:
        """A sum in millionths; None where the cell is empty or cannot be read."""
        text = self._filled(row, key)
        if not text:
            return None
        micros: int | None = self._sum(
            row, key, text, lambda typed: parse_money(typed, currency=self.currency)
        )
        return micros

    def price(self, row: ImportRow, key: str, item: Item) -> Price | None:
        """What all of a quantity cost, or one unit of it; None where the cell is empty or cannot be read.

        In the column for unit costs a bare number is for one of the row's unit.
        """
        text = self.typed(row, key)
        if not text or text in _NOTHING:
            return None

        def read(typed: str) -> Price:
            price = parse_price(typed, item.dimension, currency=self.currency)
            if price.kind == "total" and key == "unit_cost":
                return Price("per_unit", price.micros, self._priced_by(row, item))
            if price.kind == "per_pack":
                raise MoneyError("Give what the whole lot cost, or the price of one unit, such as 2.49/lb.")
            return price

        price: Price | None = self._sum(row, key, text, read, item.unit, self.typed(row, "unit"))
        return price

    def _priced_by(self, row: ImportRow, item: Item) -> str:
        for word in (self.headings.measure.get("unit_cost", ""), self.typed(row, "unit"), item.unit):
            try:
                return read_unit(word, item.dimension)
            except QuantityError:
                continue
        return item.unit

    def _sum(self, row: ImportRow, key: str, text: str, read: Any, *more: str) -> Any:
        """What `read` makes of a sum of money; None, and a problem, where it refuses."""
        mark = (key, text, type(text), *more)
        if mark not in self._sums:
            try:
                typed = self._as_points(text)
                currency = self.headings.measure.get(key, "")
                if is_currency(currency) and typed[:1].isdigit():
                    typed = f"{currency.upper()} {typed}"
                self._sums[mark] = read(typed)
            except CellError as error:
                self._sums[mark] = error
            except MoneyError as error:
                guess = without_estimate(text)
                self._sums[mark] = CellError(str(error), f"Did you mean {guess}?" if guess != text else "")
        known = self._sums[mark]
        if isinstance(known, CellError):
            self.fail(row, key, str(known), known.suggestion)
            return None
        return known

    def in_words(self, micros: int) -> str:
        """A sum in the studio's currency."""
        return format_money(micros, self.currency)


def _agrees(typed: str, unit: str, dimension: Dimension) -> bool:
    """Whether a quantity that names its unit names this one, or another in so many words as `2 lb 3 oz`."""
    words = re.findall(r"[A-Za-z]+", typed)
    if len(words) != 1:
        return True
    try:
        return read_unit(words[0], dimension) == unit
    except QuantityError:
        return True
