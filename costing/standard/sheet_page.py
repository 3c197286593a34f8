"""What a cost sheet's page shows: heads side by side, each line with its price, and what the export holds."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from costing.model.heads import HEAD_NAMES, SHEET_HEADS
from costing.model.stacked_bars import Segment, stacked
from costing.standard.actuals import Actual, PricedUnit
from costing.standard.cost_sheet import CostLine, CostSheet
from inventory.models import DIMENSION_OF, Unit
from studio.core.money import format_money
from studio.core.quantities import PRICED_BY, Dimension, format_quantity, from_unit
from studio.web.tables import exact_cell, micros_cell


@dataclass(frozen=True)
class HeadRow:
    """One head of one product: what it should cost and what it did, in micros."""

    number: int
    name: str
    standard: Fraction | None
    actual: Fraction | None

    @property
    def difference(self) -> Fraction | None:
        """How much more it really cost."""
        if self.standard is None or self.actual is None:
            return None
        return self.actual - self.standard


def head_rows(sheet: CostSheet, actual: Actual | None, each: PricedUnit) -> list[HeadRow]:
    """Every head that either has, in order; numbers name its colour."""
    rows = [
        HeadRow(
            number=number,
            name=HEAD_NAMES[head],
            standard=each.of(sheet.heads[head], sheet.good),
            actual=each.of(actual.heads[head], actual.good) if actual else None,
        )
        for number, head in enumerate(SHEET_HEADS, start=1)
    ]
    return [row for row in rows if row.standard or row.actual]


def total_row(rows: Sequence[HeadRow], sheet: CostSheet, actual: Actual | None, each: PricedUnit) -> HeadRow:
    """All heads together."""
    return HeadRow(
        number=0,
        name="In all",
        standard=each.of(sheet.total, sheet.good),
        actual=each.of(actual.total, actual.good) if actual else None,
    )


def two_bars(
    sheet: CostSheet, actual: Actual | None, each: PricedUnit
) -> list[tuple[str, int, list[Segment]]]:
    """Standard and actual as bars of one scale: which, what one costs, the segments."""
    told = [("Standard", sheet.heads, sheet.good)]
    if actual:
        told.append(("Actual", actual.heads, Fraction(actual.good)))
    figures = []
    for words, heads, good in told:
        values = [(HEAD_NAMES[head], round(each.of(heads[head], good) or 0)) for head in SHEET_HEADS]
        figures.append((words, sum(value for _, value in values), values))
    longest = max((total for _, total, _ in figures), default=0)
    return [(words, total, stacked(values, longest)) for words, total, values in figures]


def price_text(line: CostLine, currency: str) -> str:
    """What a line's item costs by the unit people quote, labour and overhead of a blend included."""
    if line.price is None:
        return ""
    unit = PRICED_BY[line.unit]
    micros = line.price.whole * from_unit(1, unit)
    counted = DIMENSION_OF[Unit(line.unit)] is Dimension.COUNT
    places = 4 if counted and micros < 100_000 else None
    shown = format_money(round(micros), currency, places=places)
    return f"{shown} {unit}" if unit == "each" else f"{shown} per {unit}"


@dataclass(frozen=True)
class LineRow:
    """One line of the formula on the page."""

    line: CostLine
    quantity: str
    price: str


def line_rows(sheet: CostSheet, currency: str) -> list[LineRow]:
    """The material of the run, line by line."""
    return [
        LineRow(line, format_quantity(line.quantity, line.unit), price_text(line, currency))
        for line in sheet.lines
    ]


HEADINGS = ("Part", "What", "Quantity", "Unit", "Value of the run", "One", "Actual of one", "From")


def export_rows(sheet: CostSheet, actual: Actual | None, each: PricedUnit) -> list[list[Any]]:
    """The sheet as a table: heads, then lines, work and overhead; sums in the currency, exact where they are fractions."""

    def one(micros: Fraction | None) -> Any:
        return None if micros is None else exact_cell(micros / 1_000_000)

    rows: list[list[Any]] = [
        [
            "Head",
            HEAD_NAMES[head],
            None,
            "",
            micros_cell(sheet.heads[head]),
            one(each.of(sheet.heads[head], sheet.good)),
            one(each.of(actual.heads[head], actual.good)) if actual else None,
            "",
        ]
        for head in SHEET_HEADS
    ]
    whole = one(each.of(actual.total, actual.good)) if actual else None
    rows.append(
        [
            "Head",
            "In all",
            None,
            "",
            micros_cell(sheet.total),
            one(each.of(sheet.total, sheet.good)),
            whole,
            "",
        ]
    )
    for line in sheet.lines:
        said = line.price.said if line.price else "not known"
        quantity = exact_cell(Fraction(line.quantity, from_unit(1, line.unit)))
        rows.append(["Material", line.name, quantity, line.unit, micros_cell(line.value), None, None, said])
    for work in sheet.work:
        minutes = exact_cell(work.minutes)
        said = sheet.plan.work_said
        rows.append(["Labour", work.name, minutes, "min", micros_cell(work.cost), None, None, said])
    for rule, cost in sheet.overhead:
        rows.append(["Overhead", rule.name, None, "", micros_cell(cost), None, None, ""])
    return rows
