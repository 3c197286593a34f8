"""What goods were worth, how the books were closed and by which rules, as tables."""

from datetime import date
from typing import NamedTuple

from django.urls import reverse

from costing.models import GoodsRule
from costing.valuation import compared, statement
from inventory.models import Lot
from studio.web.tables import Column, Format, Path, Table


def stock_table(rule: GoodsRule, day: date) -> Table:
    return Table(
        f"stock-value-{day}",
        "Stock value",
        [
            Column("Class", "of"),
            Column("Item or run", lambda row: row.item.name if row.item else row.batch.code),
            Column("Quantity", lambda row: row.quantity if row.item else None, Format.QUANTITY),
            Column("Unit", "item.unit"),
            Column("By the books", "books", Format.MONEY),
            Column("Abnormal loss taken out", lambda row: -row.added.material, Format.MONEY),
            *_added_columns(rule),
            Column("At the end of", lambda row: day, Format.DAY),
        ],
    )


def _added_columns(rule: GoodsRule) -> list[Column]:
    """Labour, overhead and the whole, named as in the statement."""
    values: list[Path] = ["added.labour", "added.owner", "added.overhead", lambda row: row.worth(rule)]
    headings = statement.columns(rule)[1:]
    return [Column(heading, value, Format.MONEY) for heading, value in zip(headings, values, strict=True)]


class LotRow(NamedTuple):
    """A lot at the end of a day: base units, and millionths by the books."""

    lot: Lot
    quantity: int
    value: int


ITEM_LOTS = Table(
    "lots",
    "Lots",
    [
        Column("Lot", "lot.code", Format.CODE, link="lot.get_absolute_url"),
        Column("Arrived", "lot.arrived_at", Format.DAY),
        Column("Quantity", "quantity", Format.QUANTITY, item="lot.item"),
        Column("Unit", "lot.item.unit"),
        Column("Unit cost", format=Format.NUMBER),
        Column("Value by the books", "value", Format.MONEY, title="Value"),
    ],
    page=("lot", "arrived", "quantity", "unit_cost", "value_by_the_books"),
)


CLOSED_STOCK = Table(
    "closing",
    "Stock when the books were closed",
    [
        Column("Item", "item.name", link="item.get_absolute_url"),
        Column("Quantity", "quantity", Format.QUANTITY),
        Column("Unit", "item.unit"),
        Column("Value by the books", "value", Format.MONEY, title="By the books"),
    ],
    page=("item", "quantity", "value_by_the_books"),
)


CLOSINGS = Table(
    "closings",
    "Closings",
    [
        Column(
            "Through",
            "through",
            Format.DAY,
            link=lambda closing: reverse("costing:closing-detail", args=[closing.pk]),
        ),
        Column("By", "by"),
        Column("When", "at", Format.TIME),
        Column("Why", "reason"),
    ],
)


def _by_method(name: str) -> list[Column]:
    """What an accounting method says of an item, to the millionth."""
    left = Column(f"{name}, left", lambda row: round(row.told[name].cost), Format.MONEY)
    on_hand = Column(f"{name}, on hand", lambda row: round(row.told[name].left), Format.MONEY)
    return [left, on_hand]


METHODS = Table(
    "methods",
    "Methods compared",
    [Column("Item", "item.name"), *(column for name in compared.METHODS for column in _by_method(name))],
)


RULES = Table(
    "goods-rules",
    "What is counted into goods",
    [
        Column("From", "from_on", Format.DAY),
        Column("Labour", "with_labour", Format.YES),
        Column("Owner's labour", "with_owner", Format.YES),
        Column("Overhead", "with_overhead", Format.YES),
        Column("Normal loss %", "normal_loss_ppm", Format.PERCENT),
        Column("Blends", "get_blends_display"),
        Column("Set by", "set_by"),
    ],
)
