"""Readings of burn tests as a file: one line for each reading that stands, or for each test that has none yet."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from batches.burn_tests.record import record_of
from batches.models import BurnReading, BurnTest
from studio.core.quantities import to_unit
from studio.web.tables import Column, Format, Table, follow


class ReadingRow(NamedTuple):
    """A reading of a burn test; one of a test that has none yet."""

    test: BurnTest
    row: Any = None

    @property
    def reading(self) -> BurnReading | None:
        """What was read."""
        return self.row.reading if self.row else None


def _in_unit(heading: str, path: str, unit: str) -> Column:
    """A weight or a length in a unit of the heading's choice."""

    def value(row: ReadingRow) -> Fraction | None:
        amount = follow(path, row)
        return None if amount is None else to_unit(amount, unit)

    return Column(heading, value, Format.RATIO)


def _of_row(path: str, join: str) -> Callable[[ReadingRow], str | None]:
    return lambda row: join.join(getattr(row.row, path)) if row.row else None


def _rate(row: ReadingRow) -> Fraction | None:
    """Grams an hour."""
    return row.row.burned.rate / 10**6 if row.row and row.row.burned else None


def _vessel(row: ReadingRow) -> Decimal | None:
    """Degrees Celsius."""
    vessel_mc = follow("reading.vessel_mc", row)
    return None if vessel_mc is None else Decimal(vessel_mc * 1000).scaleb(-6)


READINGS = Table(
    "burn-tests",
    "Readings of burn tests",
    [
        Column("Burn test", "test.pk"),
        Column("Formula version", "test.version"),
        Column("State", "test.get_state_display"),
        Column("Begun", "test.started_at", Format.TIME),
        Column("Decided", "test.decided_at", Format.TIME),
        Column("Verdict", "test.verdict"),
        Column("Jar", "row.jar.number"),
        Column("Cycle", "reading.cycle"),
        Column("Kind", "reading.get_kind_display"),
        Column("Minutes", "reading.minutes", Format.NUMBER),
        _in_unit("Weight after, g", "reading.weight_ug", "g"),
        _in_unit("Burned, g", "row.burned.burned_ug", "g"),
        Column("Burn rate, g/h", _rate, Format.RATIO),
        _in_unit("Flame, mm", "reading.flame_um", "mm"),
        _in_unit("Pool across, mm", "reading.pool_um", "mm"),
        _in_unit("Pool depth, mm", "reading.pool_depth_um", "mm"),
        Column("Full pool after, min", "reading.full_pool_after", Format.NUMBER),
        Column("Mushrooming", "reading.get_mushrooming_display"),
        Column("Soot", "reading.get_soot_display"),
        Column("Vessel, °C", _vessel, Format.RATIO),
        _in_unit("Wax left, mm", "reading.wax_left_um", "mm"),
        Column("How it went out", "reading.get_went_out_display"),
        Column("Beyond the limits", _of_row("beyond", " ")),
        Column("Not observed", _of_row("missing", ", ")),
        Column("Note", "reading.note"),
    ],
)


def reading_rows(test: BurnTest) -> list[ReadingRow]:
    """One for each reading that stands; one without a reading where there is none yet."""
    rows = (row for _, readings in record_of(test).rows for row in readings)
    return [ReadingRow(test, row) for row in rows if not row.reading.struck_at] or [ReadingRow(test)]


TESTS = Table(
    "burn-tests",
    "Burn tests",
    [
        Column("Burn test", css="nowrap"),
        Column("Of", "test.version"),
        Column("State"),
        Column("Jars", lambda record: len(record.jars), Format.NUMBER),
        Column("Cycles", "cycles", Format.NUMBER),
        Column("Burn rate", format=Format.NUMBER),
        Column("Hours burned of expected", format=Format.NUMBER),
        Column("Begun", "test.started_at", Format.DAY),
    ],
)
