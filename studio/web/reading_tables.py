"""A file somebody made by hand, CSV or XLSX, as rows of text with their place in the file. Knows no table.

What cannot be taken as it stands (a formula, a sign no text may hold) is kept as a `Fault` at its cell, so that a
page can name all of them at once; what makes the whole file unreadable raises `UnreadableTable`.
"""

import csv
import io
import json
import re
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from studio.web.tables import NOT_IN_A_SHEET

BYTES_AT_MOST = 5 * 1024 * 1024
ROWS_AT_MOST = 20_000
COLUMNS_AT_MOST = 100
SIGNS_AT_MOST = 2_000
HEAD_ROWS = 15
"""Headings are looked for in so many rows from the top; a title or a note may stand above them."""

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
_HEAD_TEXT = 64 * 1024
_CONTROL = re.compile("[\x01-\x08\x0e-\x1a\x1c-\x1f]")

Recognised = Callable[[Sequence[str]], int]
"""How many cells of a row are headings the table knows."""


class UnreadableTable(ValueError):
    """The file is no table that can be read. Its text is a sentence for the one who chose it."""


class Figure(str):
    """The text of a number cell of a spreadsheet. Its point is the decimal mark, whatever the rest of the file uses."""

    __slots__ = ()


@dataclass(frozen=True)
class Fault:
    """A cell that cannot be taken as it stands: its row as the file counts, its column from 0, what it shows."""

    row: int
    column: int
    typed: str
    sentence: str
    suggestion: str = ""


@dataclass
class Sheet:
    """The rows of one sheet that hold something, each with its number in the file; cells are trimmed text."""

    name: str
    rows: list[tuple[int, list[str]]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def add(self, number: int, cells: list[str]) -> None:
        """Keep a row, unless it is empty. Raises UnreadableTable when there are too many, or it is too wide."""
        if not any(cells):
            return
        if len(self.rows) >= ROWS_AT_MOST + HEAD_ROWS:
            raise UnreadableTable(
                f"There are more than {ROWS_AT_MOST:,} rows. Split the file and bring it in part by part."
            )
        if len(cells) > COLUMNS_AT_MOST and any(cells[COLUMNS_AT_MOST:]):
            raise UnreadableTable(
                f"Row {number:,} has more than {COLUMNS_AT_MOST} columns. Keep those the table needs, or check "
                "what stands between the columns."
            )
        together = "".join(cells)
        if len(together) > SIGNS_AT_MOST or NOT_IN_A_SHEET.search(together):
            self._find_faults(number, cells)
        self.rows.append((number, cells))

    def _find_faults(self, number: int, cells: list[str]) -> None:
        """Name the cells of a row that cannot be kept, and empty them."""
        for column, cell in enumerate(cells):
            if NOT_IN_A_SHEET.search(cell):
                sentence = "There is a sign in this cell that cannot be kept. Type the cell anew."
            elif len(cell) > SIGNS_AT_MOST:
                sentence = f"More than {SIGNS_AT_MOST:,} characters. Shorten the cell."
            else:
                continue
            self.faults.append(Fault(number, column, shown(cell), sentence))
            cells[column] = ""


@dataclass
class Table:
    """What was read of a file: its sheets (one for CSV), and what a person should know about how it was read."""

    sheets: list[Sheet]
    notes: list[str] = field(default_factory=list)


def shown(cell: str) -> str:
    """A cell as a page or a list of problems may repeat it: short, and without signs that cannot be written."""
    plain = NOT_IN_A_SHEET.sub("\N{REPLACEMENT CHARACTER}", cell[:80])
    return plain + "…" if len(cell) > 80 else plain


def read_csv(data: bytes, recognised: Recognised) -> Table:
    """The rows of a file of text whose cells stand between commas, semicolons or tabs.

    Which of them is decided once, by the row that holds most headings. Raises UnreadableTable.
    """
    notes: list[str] = []
    text = _decoded(data, notes)
    separator = _separator(text, recognised)
    notes.append(f"Cells are set apart by {SEPARATORS[separator]}.")
    sheet = Sheet("")
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        for number, cells in enumerate(lines, 1):
            sheet.add(number, [cell.strip() for cell in cells])
    except csv.Error as error:
        raise UnreadableTable(
            f"Near line {lines.line_num:,} a cell is far too long or never ends. "
            "Look for a quotation mark without its partner."
        ) from error
    if not sheet.rows:
        raise UnreadableTable("The file holds no rows.")
    return Table([sheet], notes)


def _decoded(data: bytes, notes: list[str]) -> str:
    """The bytes as text: UTF-16 where the file begins by saying so, UTF-8, or else Windows' western letters."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            text = data.decode("utf-16")
        except UnicodeDecodeError as error:
            raise UnreadableTable("The file is damaged. Save it anew as CSV, in UTF-8.") from error
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = _western(data)
            notes.append(
                "The file is not in UTF-8 and was read as western Windows text (cp1252). "
                "Look whether names with accents came out right."
            )
    if "\x00" in text or len(_CONTROL.findall(text[:_HEAD_TEXT])) > 20:
        raise UnreadableTable("This is not a table of text. Save it as XLSX, or as CSV in UTF-8.")
    return text


def _western(data: bytes) -> str:
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError as error:
        raise UnreadableTable("This is not a table of text. Save it as XLSX, or as CSV in UTF-8.") from error


def _separator(text: str, recognised: Recognised) -> str:
    """What stands between the cells: what makes the best row of headings; where none is known, the most cells."""

    def worth(separator: str) -> tuple[int, int]:
        rows = []
        lines = csv.reader(io.StringIO(text[:_HEAD_TEXT], newline=""), delimiter=separator)
        try:
            for cells in lines:
                rows.append(cells)
                if len(rows) == HEAD_ROWS:
                    break
        except csv.Error:
            return 0, 0
        return max(((recognised(cells[:COLUMNS_AT_MOST]), len(cells)) for cells in rows), default=(0, 0))

    return max(SEPARATORS, key=worth)


def pack(table: Table) -> bytes:
    """A table as bytes that `unpack` reads back."""

    def cell(text: str) -> str | list[str]:
        return [text] if isinstance(text, Figure) else text

    sheets = [
        {
            "name": sheet.name,
            "rows": [[number, [cell(text) for text in cells]] for number, cells in sheet.rows],
            "faults": [
                [fault.row, fault.column, fault.typed, fault.sentence, fault.suggestion]
                for fault in sheet.faults
            ],
        }
        for sheet in table.sheets
    ]
    return zlib.compress(json.dumps({"sheets": sheets, "notes": table.notes}).encode(), 1)


def unpack(data: bytes) -> Table:
    """The table that `pack` wrote."""

    def cell(text: str | list[str]) -> str:
        return Figure(text[0]) if isinstance(text, list) else text

    kept = json.loads(zlib.decompress(data))
    sheets = [
        Sheet(
            sheet["name"],
            [(number, [cell(text) for text in cells]) for number, cells in sheet["rows"]],
            [Fault(*fault) for fault in sheet["faults"]],
        )
        for sheet in kept["sheets"]
    ]
    return Table(sheets, kept["notes"])
