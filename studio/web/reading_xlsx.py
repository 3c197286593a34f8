"""The rows of a spreadsheet file, as text, without trusting anything it claims.

An XLSX is a ZIP of XML. What it unpacks to is checked before it is unpacked, entities are refused before they are
parsed, and rows are counted while they are read. OWASP Cheat Sheet Series: XML External Entity Prevention, File Upload
(from memory).
"""

import io
import re
import zipfile
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Any

from openpyxl import load_workbook

from studio.web.reading_tables import (
    COLUMNS_AT_MOST,
    HEAD_ROWS,
    ROWS_AT_MOST,
    Fault,
    Figure,
    Recognised,
    Sheet,
    Table,
    UnreadableTable,
    read_csv,
    shown,
)

ZIP = b"PK\x03\x04"
UNPACKED_AT_MOST = 25 * 1024 * 1024
PARTS_AT_MOST = 500
SHEETS_AT_MOST = 30
# Rows may be empty; a sheet that goes on and on with nothing in it is not read to its end.
GOES_ON_TO = 60_000
CELLS_AT_MOST = 2 * ROWS_AT_MOST * COLUMNS_AT_MOST

_NOT_OURS = {
    b"\xd0\xcf\x11\xe0": "This is an older spreadsheet, or one with a password. Save it as XLSX without a password.",
    b"%PDF": "This is a PDF. Save the table itself as XLSX or CSV.",
    b"{\\rtf": "This is a text document. Save the table as XLSX or CSV.",
}
_DAMAGED = "The spreadsheet is damaged or holds something unusual. Save it anew as XLSX, or as CSV."
_LITERAL = re.compile(r'"([^"]*)"|\\(.)|\[\$([^\]-]*)[^\]]*\]')
_SCALED = re.compile(r"[0#?],+(?![0#?])")
_CURRENCY = re.compile(r"[$€£¥₹]|[A-Z]{3}")
_UNIT = re.compile(r"[A-Za-z.]+")


def read_table(data: bytes, recognised: Recognised) -> Table:
    """The sheets of a CSV or XLSX file that hold headings which `recognised` counts, by content, not by name.

    Of a spreadsheet in which none is recognised, the first sheet. Raises UnreadableTable.
    """
    if not data:
        raise UnreadableTable("The file is empty. Choose it again; it may not have been copied whole.")
    for beginning, words in _NOT_OURS.items():
        if data.startswith(beginning):
            raise UnreadableTable(words)
    return read_xlsx(data, recognised) if data.startswith(ZIP) else read_csv(data, recognised)


def read_xlsx(data: bytes, recognised: Recognised) -> Table:
    """See `read_table`."""
    _check_parts(data)
    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=False, keep_links=False)
        return _sheets(book, recognised)
    except UnreadableTable:
        raise
    # The reader fails in many ways on a damaged file; to its owner they are all the same.
    except Exception as error:
        raise UnreadableTable(_DAMAGED) from error


def _check_parts(data: bytes) -> None:
    """Refuse what would unpack to more than a table can be, and XML that declares entities or hides how it is written."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as parts:
            listed = parts.infolist()
            if len(listed) > PARTS_AT_MOST or sum(part.file_size for part in listed) > UNPACKED_AT_MOST:
                raise UnreadableTable(
                    "The spreadsheet unpacks to far more than a table. Copy the table into a new file, values only."
                )
            if any(part.flag_bits & 1 for part in listed):
                raise UnreadableTable("The spreadsheet has a password. Save it without one.")
            if "xl/workbook.xml" not in parts.namelist():
                raise UnreadableTable("This is an archive, not a spreadsheet. Save the table as XLSX or CSV.")
            for part in listed:
                _check_xml(parts.read(part), part.filename)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, RuntimeError, EOFError) as error:
        raise UnreadableTable(_DAMAGED) from error


def _check_xml(text: bytes, name: str) -> None:
    declared = any(
        word.encode(code) in text
        for word in ("<!DOCTYPE", "<!ENTITY")
        for code in ("ascii", "utf-16-le", "utf-16-be")
    )
    plain = text.removeprefix(b"\xef\xbb\xbf").lstrip()
    # In any other alphabet the search above would see nothing.
    hidden = name.endswith((".xml", ".rels")) and not plain.startswith((b"<", b"\xff\xfe", b"\xfe\xff"))
    if declared or hidden:
        raise UnreadableTable(_DAMAGED)


def _sheets(book: Any, recognised: Recognised) -> Table:
    """The visible sheets that hold headings, or the first that holds anything."""
    fallback, found = None, []
    for source in book.worksheets[:SHEETS_AT_MOST]:
        if source.sheet_state != "visible":
            continue
        # What a sheet says of its own size is often wrong.
        source.reset_dimensions()
        sheet = Sheet(source.title[:60])
        if _read_rows(source.iter_rows(), sheet, recognised):
            found.append(sheet)
        elif sheet.rows and fallback is None:
            fallback = sheet
        if sum(len(each.rows) for each in found) > ROWS_AT_MOST + HEAD_ROWS * len(found):
            raise UnreadableTable(
                f"The sheets hold more than {ROWS_AT_MOST:,} rows together. Bring them in one file after the other."
            )
    if not found and fallback is None:
        raise UnreadableTable("The file holds no rows.")
    return Table(found or [fallback] if fallback else found)


def _read_rows(rows: Iterable[tuple[Any, ...]], sheet: Sheet, recognised: Recognised) -> bool:
    """Read a sheet as far as it goes; only its top where no row there holds a heading. Gives back whether one does."""
    known = False
    looked_at = 0
    for number, cells in enumerate(rows, 1):
        looked_at += len(cells)
        if number > GOES_ON_TO or looked_at > CELLS_AT_MOST:
            raise UnreadableTable(
                f"Sheet {sheet.name} goes on to row {number:,}. Copy its table into a new file, values only."
            )
        texts = [_text(cell, number, sheet) for cell in cells]
        while texts and not texts[-1]:
            texts.pop()
        before = len(sheet.rows)
        sheet.add(number, texts)
        if not known and len(sheet.rows) > before:
            known = recognised(texts) > 0
            if not known and len(sheet.rows) >= HEAD_ROWS:
                return False
    return known


def _text(cell: Any, number: int, sheet: Sheet) -> str:
    """What a person sees in a cell, as text; where that is no plain value a fault, and nothing."""
    value = cell.value
    if value is None:
        return ""
    kind = cell.data_type
    if kind in ("f", "e") or not isinstance(value, str | int | float | date | time | timedelta):
        what = "holds an error" if kind == "e" else "holds a formula"
        sheet.faults.append(
            Fault(
                number,
                cell.column - 1,
                shown(str(value)) if isinstance(value, str) else "",
                f"Cell {cell.coordinate} {what}. Write the value itself.",
                "Copy the column and paste it as values only.",
            )
        )
        return ""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number(value, cell, number, sheet)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else f"{value:%Y-%m-%d %H:%M}"
    return value.isoformat() if isinstance(value, date | time) else str(value)


def _number(value: int | float, cell: Any, number: int, sheet: Sheet) -> str:
    """A number cell as its decimal, with the unit or currency its format draws around it."""
    before, after, misleading = _drawn_around(cell.number_format or "General")
    if misleading:
        sheet.faults.append(
            Fault(
                number,
                cell.column - 1,
                plain_decimal(value),
                f"Cell {cell.coordinate} shows another figure than it holds. Format the column as a plain number.",
            )
        )
        return ""
    if after == "%":
        return Figure(f"{Decimal(plain_decimal(value)).scaleb(2).normalize():f}%")
    return Figure(f"{before}{plain_decimal(value)}{' ' + after if after else ''}")


def plain_decimal(value: int | float) -> str:
    """The decimal a spreadsheet shows for a number it holds: at most 15 significant figures, no exponent.

    Fifteen figures survive the way into binary and back (IEEE 754 double), so what was typed comes out as it was:
    12.3, and never 12.300000000000001.
    """
    if isinstance(value, int):
        return str(value)
    text = f"{Decimal(f'{value:.15g}'):f}" if abs(value) < 1e300 else str(value)
    return text.rstrip("0").rstrip(".") if "." in text else text


@lru_cache(maxsize=500)
def _drawn_around(number_format: str) -> tuple[str, str, bool]:
    """What a number format sets before and after the figure, and whether it shows another figure than is held."""
    section = number_format.partition(";")[0]
    words = ["".join(parts).strip() for parts in _LITERAL.findall(section)]
    bare = _LITERAL.sub("", section)
    before = next((word for word in words if _CURRENCY.fullmatch(word)), "")
    after = next((word for word in words if _UNIT.fullmatch(word) and word != before), "")
    if "%" in bare:
        after = "%"
    return before, after, bool(_SCALED.search(bare))
