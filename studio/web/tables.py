"""Every table leaves as CSV or XLSX, safe to open in a spreadsheet."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from studio.core.spreadsheet_text import guarded

# What XML 1.0, and so a sheet, cannot hold.
NOT_IN_A_SHEET = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def harmless(value: Any) -> Any:
    """A cell no spreadsheet takes for a formula: text that looks like one gets an apostrophe in front."""
    if not isinstance(value, str):
        return value
    value = NOT_IN_A_SHEET.sub("\N{REPLACEMENT CHARACTER}", value)
    return guarded(value)


def _plain(value: Any) -> Any:
    """Times on the studio's clock, without the zone a spreadsheet cannot hold."""
    if isinstance(value, datetime):
        return timezone.localtime(value).replace(tzinfo=None, microsecond=0)
    return value


def micros_cell(micros: int | None) -> Decimal | None:
    """Millionths as an exact decimal of the currency unit."""
    return None if micros is None else Decimal(micros).scaleb(-6)


def wanted(request: HttpRequest) -> bool:
    """Whether the page was asked for as a file."""
    return request.GET.get("format") in {"csv", "xlsx"}


def export(
    request: HttpRequest, name: str, head: Sequence[str], rows: Iterable[Sequence[Any]]
) -> HttpResponse:
    """The table as the file asked for by `?format=csv` or `?format=xlsx`."""
    if request.GET.get("format") == "xlsx":
        return _attachment(_xlsx(head, rows), XLSX, f"{name}.xlsx")
    return _attachment(_csv(head, rows), "text/csv; charset=utf-8", f"{name}.csv")


def _attachment(content: bytes, content_type: str, name: str) -> HttpResponse:
    return HttpResponse(
        content, content_type=content_type, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )


def _csv(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(head)
    for row in rows:
        writer.writerow([_as_text(value) for value in row])
    # The mark at the start makes spreadsheets read the file as UTF-8.
    return ("\ufeff" + text.getvalue()).encode("utf-8")


def _as_text(value: Any) -> Any:
    value = _plain(value)
    if isinstance(value, datetime | date):
        return value.isoformat(sep=" ") if isinstance(value, datetime) else value.isoformat()
    if isinstance(value, Decimal):
        return f"{value:f}"
    return harmless(value)


def _xlsx(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Table")
    sheet.append(list(head))
    for row in rows:
        cells = []
        for value in row:
            cell = WriteOnlyCell(sheet, value=None)
            cell.value = harmless(_plain(value))
            cells.append(cell)
        sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def exact_cell(number: Fraction) -> Decimal:
    """A quantity as an exact decimal where it has one, else to twelve places."""
    return Decimal(round(number * 10**12)).scaleb(-12).normalize() + 0
