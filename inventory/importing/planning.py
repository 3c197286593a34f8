"""A file turned into a plan: what is new in it, what is known, what is wrong. Reads the books, writes nothing."""

import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from django.utils import timezone

from inventory.importing import lots, movements, names, offers
from inventory.importing.cells import Cells, Choices, ImportRow, Problem
from inventory.importing.columns import EXAMPLE, Headings, Shape, find_headings, is_example
from inventory.importing.findings import Entry, Findings, Understand
from inventory.importing.shapes import SHAPES
from inventory.models import Import
from studio.models import Studio
from studio.web.reading_tables import Sheet, Table

UNDERSTAND: dict[Import.Table, Understand] = {
    Import.Table.SUPPLIERS: names.suppliers,
    Import.Table.ITEMS: names.items,
    Import.Table.OFFERS: offers.offers,
    Import.Table.LOTS: lots.lots,
    Import.Table.MOVEMENTS: movements.movements,
}


@dataclass
class Plan:
    """What bringing a file in would do. `rows` counts those below the headings that hold something."""

    shape: Shape
    sheet: str
    headings: Headings
    rows: int = 0
    heads: tuple[str, ...] = ()
    show: Callable[[Any], tuple[str, ...]] = lambda what: ()
    new: list[Entry] = field(default_factory=list)
    known: int = 0
    differs: list[Problem] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notices: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    asks: set[str] = field(default_factory=set)
    choices: Choices = field(default_factory=Choices)
    # The names of all sheets with such headings; of a CSV the one nameless.
    sheets: list[str] = field(default_factory=list)

    @property
    def new_rows(self) -> int:
        """Rows that would be brought in."""
        return sum(entry.rows for entry in self.new)

    @property
    def wrong_rows(self) -> int:
        """Rows in which something is wrong."""
        return len({problem.row for problem in self.problems})

    @property
    def ready(self) -> bool:
        """Whether it may be brought in, and brings anything."""
        return bool(self.new) and not self.problems

    def sample(self, most: int) -> list[tuple[int, list[tuple[str, str]]]]:
        """The first new rows as they were understood: the number of each in the file, and its cells in words, each
        with its head."""
        return [
            (entry.row, list(zip(self.heads, self.show(entry.what), strict=True)))
            for entry in self.new[:most]
        ]

    @property
    def fingerprint(self) -> str:
        """A digest of all it would do: the same as long as neither the file nor what it meets in the books changes."""
        content = [
            self.shape.table,
            self.sheet,
            asdict(self.choices),
            [[entry.key, entry.says] for entry in self.new],
            self.known,
            [asdict(each) for each in (*self.problems, *self.differs)],
        ]
        return hashlib.sha256(json.dumps(content).encode()).hexdigest()

    def understood(self) -> Iterator[tuple[str, str, str]]:
        """Headings of the file, the column each was taken for, and the unit or currency it names."""
        for key in sorted(self.headings.place, key=self.headings.place.__getitem__):
            column = self.shape.column(key)
            yield self.headings.written[key], column.heading, self.headings.measure.get(key, "")


def with_headings(shape: Shape, table: Table) -> list[tuple[Sheet, Headings]]:
    """The sheets of a file in which headings of the table were found."""
    found = [(sheet, find_headings(shape, sheet)) for sheet in table.sheets]
    return [(sheet, headings) for sheet, headings in found if headings]


def make_plan(table: Import.Table, read: Table, choices: Choices, studio: Studio, now: datetime) -> Plan:
    """What bringing this file in would do, with everything that is wrong in it at once."""
    shape = SHAPES[table]
    sheets = with_headings(shape, read)
    if not sheets:
        named = ", ".join(column.heading for column in shape.columns if column.needed)
        problem = Problem(
            1, "", "", "There is no row of headings this table knows.", f"It needs at least: {named}."
        )
        return Plan(shape, "", Headings(0), problems=[problem], notes=read.notes, choices=choices)
    sheet, headings = _chosen(sheets, shape, choices)
    plan = Plan(shape, sheet.name, headings, notes=list(read.notes), choices=choices)
    cells = Cells(shape, headings, choices, studio, timezone.localtime(now).date())
    _check_headings(plan)
    rows = _rows(sheet, headings, plan)
    findings = UNDERSTAND[table](cells, rows, now)
    plan.heads, plan.show, plan.new, plan.known = (
        findings.heads,
        findings.show,
        findings.new,
        findings.known,
    )
    plan.differs, plan.notices = findings.differs, findings.notices
    plan.problems += cells.problems
    plan.problems.sort(key=lambda problem: problem.row)
    plan.sheets = [each.name for each, _ in sheets]
    plan.asks = _asks(findings, cells, len(sheets), choices)
    _say(plan, cells, findings)
    return plan


def _chosen(sheets: list[tuple[Sheet, Headings]], shape: Shape, choices: Choices) -> tuple[Sheet, Headings]:
    """The sheet that was chosen, or else the one with most headings."""
    if 0 < choices.sheet <= len(sheets):
        return sheets[choices.sheet - 1]
    return max(sheets, key=lambda pair: len(pair[1].place))


def _check_headings(plan: Plan) -> None:
    """Say once which needed columns are missing, and which headings mean the same."""
    headings, shape = plan.headings, plan.shape
    for column in shape.columns:
        if column.needed and column.key not in headings.place:
            words = ", ".join((column.heading, *column.words[:5]))
            plan.problems.append(
                Problem(
                    headings.row,
                    column.heading,
                    "",
                    "This column is missing.",
                    f"Headings that mean it: {words}.",
                )
            )
    for first, second in headings.twice:
        plan.problems.append(
            Problem(
                headings.row,
                second,
                second,
                f"This means the same as the heading {first}.",
                "Delete one of the columns, or give it another heading.",
            )
        )


def _rows(sheet: Sheet, headings: Headings, plan: Plan) -> list[ImportRow]:
    """The rows below the headings, without examples; cells that could not be read become problems."""
    column_at = {place: key for key, place in headings.place.items()}
    bad: dict[int, set[str]] = {}
    width = 0
    faults = [fault for fault in sheet.faults if fault.column in column_at and fault.row > headings.row]
    for fault in faults:
        bad.setdefault(fault.row, set()).add(column_at[fault.column])
    rows, examples, unnamed = [], 0, False
    skipped = set()
    for number, cells in sheet.rows:
        if number < headings.row:
            continue
        if number == headings.row:
            width = len(cells)
            blank = [place for place, cell in enumerate(cells) if not cell]
            continue
        if is_example(cells):
            examples += 1
            skipped.add(number)
            continue
        beyond = len(cells) > width and any(cells[width:])
        if beyond and not sheet.name:
            plan.problems.append(
                Problem(
                    number,
                    "",
                    ", ".join(cells[width:])[:80],
                    "This row has more cells than there are headings.",
                    "A comma inside a value needs quotation marks around the value.",
                )
            )
        unnamed |= beyond or any(place < len(cells) and cells[place] for place in blank)
        rows.append(ImportRow(number, cells, frozenset(bad.get(number, ()))))
    for fault in faults:
        if fault.row not in skipped:
            heading = headings.written[column_at[fault.column]]
            plan.problems.append(Problem(fault.row, heading, fault.typed, fault.sentence, fault.suggestion))
    if examples:
        plan.notes.append(
            f"{examples} example row{'s' if examples > 1 else ''}, beginning with “{EXAMPLE}”, left out."
        )
    if unnamed:
        plan.notes.append("Cells in columns without a heading are left out.")
    plan.rows = len(rows)
    return rows


def _asks(findings: Findings, cells: Cells, sheets: int, choices: Choices) -> set[str]:
    """The choices that matter for this file, or were made."""
    asks = set(findings.asks)
    asks |= {"days"} if cells.asks_days or choices.days else set()
    asks |= {"marks"} if cells.asks_marks or choices.marks else set()
    asks |= {"sheet"} if sheets > 1 else set()
    asks |= {"worthless"} if choices.worthless else set()
    asks |= {"sure"} if choices.sure else set()
    return asks


def _say(plan: Plan, cells: Cells, findings: Findings) -> None:
    """Say how the file was understood wherever it could have been understood otherwise."""
    headings, choices, notes = plan.headings, plan.choices, plan.notes
    if headings.row > 1:
        notes.append(f"The headings were found in row {headings.row}; what stands above is left out.")
    if headings.unknown:
        notes.append(f"Columns this table does not have, left out: {', '.join(headings.unknown[:20])}.")
    if cells.assumed:
        units = ", ".join(f"{count:,} in {unit}" for unit, count in sorted(cells.assumed.items()))
        notes.append(f"Quantities without a unit were read in the item's own: {units}.")
    if choices.days:
        first, second = ("3 April", "4 March") if choices.days == "day" else ("4 March", "3 April")
        notes.append(f"03/04/2026 means {first} here, not {second}, as you chose.")
    if choices.marks == "comma":
        notes.append("Commas are decimal marks here, as you chose: 1,5 is one and a half.")
    elif choices.marks == "point":
        notes.append("Commas stand between thousands here, as you chose: 1,500 is fifteen hundred.")
    if cells.times_left_out:
        notes.append("Times of day are left out; a day is enough here.")
    if findings.again:
        notes.append(
            f"{findings.again:,} of the new rows were brought in before and reversed since; they come in again."
        )
