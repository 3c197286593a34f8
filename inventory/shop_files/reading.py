"""A shop's file understood: rows put together to orders by their reference, every problem with its row and column.

Plain Python; what the books know already comes in as `Known`.
"""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from inventory.importing.cells import Problem
from inventory.importing.days import DayError, Order, read_day, without_time
from studio.web.reading_tables import HEAD_ROWS, Sheet, shown

# What a column may hold, in words for the page; the first three are needed.
FIELDS = {
    "reference": "Order reference",
    "product": "Product",
    "quantity": "How many",
    "variant": "Variant of the product",
    "day": "Day of the order",
    "customer": "Customer's name",
    "email": "E-mail",
    "phone": "Telephone",
    "address": "Address",
}
NEEDED = ("reference", "product", "quantity")
ORDERS_AT_MOST = 2_000
_WHOLE = re.compile(r"(\d{1,6})(?:[.,]0+)?", re.ASCII)


@dataclass(frozen=True)
class Product:
    """What a shop's words stand for: an item by key and pieces of it; no item: none of ours."""

    item_id: int | None
    pieces: int = 1


@dataclass
class ShopLine:
    """A row of an order: the shop's words for the product, and how many."""

    row: int
    words: str
    quantity: int


@dataclass
class ReadOrder:
    """An order of the file. `wanted` is in base units by item, without what is none of ours."""

    reference: str
    row: int
    day: date | None = None
    customer: str = ""
    reach: list[str] = field(default_factory=list)
    lines: list[ShopLine] = field(default_factory=list)
    wanted: dict[int, int] = field(default_factory=dict)

    @property
    def digest(self) -> str:
        """What is ordered, in short; nothing of who ordered it."""
        said = sorted((line.words.casefold(), line.quantity) for line in self.lines)
        return hashlib.sha256(json.dumps([self.reference, said]).encode()).hexdigest()


@dataclass
class ShopFile:
    """What a file says: its orders, what is wrong, and the product words nobody explained yet."""

    orders: list[ReadOrder] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)
    rows: int = 0
    two_ways: bool = False


def heading_row(sheet: Sheet) -> tuple[int, list[str]] | None:
    """Where the headings stand: the row near the top with most cells that are words, each once."""
    best, found = 1, None
    for place, (_, cells) in enumerate(sheet.rows[:HEAD_ROWS]):
        if (many := count_words(cells)) > best:
            best, found = many, (place, cells)
    return found


def count_words(cells: Sequence[str]) -> int:
    """How many cells of a row may be headings: words, not figures, none of them twice."""
    words = [cell.casefold() for cell in cells if cell and not cell[0].isdigit() and len(cell) <= 60]
    return len(set(words)) if len(set(words)) == len(words) else 0


def places(headings: Sequence[str], columns: Mapping[str, str]) -> dict[str, int]:
    """In which column each thing stands, by the shop's headings; what is not there is left out."""
    at = {heading.casefold(): place for place, heading in reversed(list(enumerate(headings))) if heading}
    return {name: at[text.casefold()] for name, text in columns.items() if text and text.casefold() in at}


def read(
    sheet: Sheet,
    columns: Mapping[str, str],
    products: Mapping[str, Product],
    *,
    days: Order = "",
    today: date,
    named: bool,
) -> ShopFile:
    """The orders of a sheet. `products` by the shop's words in small letters; `named`: an order needs a customer."""
    found = ShopFile()
    head = heading_row(sheet)
    if head is None:
        return found
    reader = _Reader(found, columns, places(head[1], columns), products, days, today)
    for number, cells in sheet.rows[head[0] + 1 :]:
        found.rows += 1
        reader.take(number, cells)
    reader.finish(named)
    faults = {fault.row: fault for fault in sheet.faults}
    for fault in faults.values():
        heading = head[1][fault.column] if fault.column < len(head[1]) else ""
        found.problems.append(Problem(fault.row, heading, fault.typed, fault.sentence, fault.suggestion))
    found.problems.sort(key=lambda problem: problem.row)
    return found


class _Reader:
    """Takes row after row, and knows which order they belong to."""

    def __init__(
        self,
        found: ShopFile,
        columns: Mapping[str, str],
        at: Mapping[str, int],
        products: Mapping[str, Product],
        days: Order,
        today: date,
    ) -> None:
        self.found, self.columns, self.at = found, columns, at
        self.products, self.days, self.today = products, days, today
        self.orders: dict[str, ReadOrder] = {}

    def take(self, number: int, cells: list[str]) -> None:
        """One row. A row without a reference goes on with the order above where it names a product."""
        texts = {name: cells[place].strip() if place < len(cells) else "" for name, place in self.at.items()}
        reference = texts["reference"]
        if not reference:
            self._wrong(number, "reference", "", "There is no order reference in this row.")
            return
        if len(reference) > 60:
            self._wrong(number, "reference", reference, "A reference has at most 60 characters.")
            return
        order = self.orders.get(reference)
        if order is None:
            order = self.orders[reference] = ReadOrder(reference, number)
        self._head(order, number, texts)
        self._line(order, number, texts)

    def _head(self, order: ReadOrder, number: int, texts: Mapping[str, str]) -> None:
        """What a row says of its order; shops often say it in the first row only."""
        name = " ".join(texts.get("customer", "").split())
        if len(name) > 120:
            self._wrong(number, "customer", name, "A name has at most 120 characters.")
        elif name and not order.customer:
            order.customer = name
        elif name and name.casefold() != order.customer.casefold():
            self._wrong(number, "customer", name, "The same order has another customer in an earlier row.")
        for field_name in ("email", "phone", "address"):
            text = texts.get(field_name, "")
            if text and text not in order.reach and len("\n".join([*order.reach, text])) <= 500:
                order.reach.append(text)
        if (typed := texts.get("day", "")) and order.day is None:
            try:
                order.day = read_day(without_time(typed.split("T")[0]), self.days)
            except DayError as error:
                self.found.two_ways |= error.two_ways
                self._wrong(number, "day", typed, str(error), error.suggestion)
                return
            if order.day > self.today:
                self._wrong(number, "day", typed, "This day is still to come.")

    def _line(self, order: ReadOrder, number: int, texts: Mapping[str, str]) -> None:
        words = " ".join(" / ".join(filter(None, (texts["product"], texts.get("variant", "")))).split())[:200]
        if not words:
            self._wrong(number, "product", "", "There is no product in this row.")
            return
        match = _WHOLE.fullmatch(texts["quantity"])
        if match is None or not int(match[1]):
            self._wrong(
                number,
                "quantity",
                texts["quantity"],
                "This is no number of pieces.",
                "Write 1, 2, 3 and so on.",
            )
            return
        order.lines.append(ShopLine(number, words, int(match[1])))
        product = self.products.get(words.casefold())
        if product is None:
            if words.casefold() not in map(str.casefold, self.found.unknown):
                self.found.unknown.append(words)
        elif product.item_id is not None:
            wanted = order.wanted.get(product.item_id, 0) + int(match[1]) * product.pieces
            order.wanted[product.item_id] = wanted

    def finish(self, named: bool) -> None:
        """What only a whole order shows."""
        self.found.orders = list(self.orders.values())
        if len(self.found.orders) > ORDERS_AT_MOST:
            self._wrong(
                1,
                "reference",
                "",
                f"There are more than {ORDERS_AT_MOST:,} orders. Export a shorter time from the shop.",
            )
        for order in self.found.orders if named else ():
            if not order.customer and order.wanted:
                self._wrong(
                    order.row,
                    "customer",
                    "",
                    f"Nobody is named for order {shown(order.reference)}.",
                    "Say which column holds the customer's name.",
                )

    def _wrong(self, row: int, column: str, typed: str, sentence: str, suggestion: str = "") -> None:
        heading = self.columns.get(column) or FIELDS[column]
        self.found.problems.append(Problem(row, heading, shown(typed), sentence, suggestion))
