"""A table is declared once, column by column; pages, phones, CSV and XLSX show what was declared.

    LOTS = Table("lots", "Lots", [
        Column("Lot", "code", Format.CODE, link="get_absolute_url", sort=("code",)),
        Column("On hand", "on_hand", Format.QUANTITY, item="item", sort=("on_hand",)),
        Column("Unit", "item.unit"),
        Column("Value", "value", Format.MONEY, may="sees_costs"),
    ], page=("lot", "on_hand", "value"))

A view answers `LOTS.file(request, rows)` when it is asked for a file, and hands `LOTS.shown(request, rows)` to its
page, where `{% table %}` draws it (see `studio.templatetags.show`). Files are safe to open in a spreadsheet.
"""

import csv
import io
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum, auto
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.text import slugify
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from studio.core.money import CURRENCIES
from studio.core.quantities import to_unit
from studio.core.spreadsheet_text import guarded

if TYPE_CHECKING:
    from studio.web.requests import StudioRequest

# What XML 1.0, and so a sheet, cannot hold.
NOT_IN_A_SHEET = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
DAY_FORMAT, TIME_FORMAT = "yyyy-mm-dd", "yyyy-mm-dd hh:mm"
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


def _xlsx(head: Sequence[str], rows: Iterable[Sequence[Any]], formats: Sequence[str | None]) -> bytes:
    """`formats` are the number formats of the columns; None leaves it to the value's own decimals."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Table")
    sheet.append(list(head))
    for row in rows:
        cells = []
        # A row of a statement may end early: a heading between its parts has one cell.
        for value, number_format in zip(row, formats, strict=False):
            cell = WriteOnlyCell(sheet, value=None)
            cell.value = harmless(_plain(value))
            if not isinstance(value, str | None):
                cell.number_format = number_format or _own_decimals(value)
            cells.append(cell)
        sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _own_decimals(value: Any) -> str:
    """The number format that shows a figure with the decimals it has, six at most."""
    if isinstance(value, datetime | date):
        return TIME_FORMAT if isinstance(value, datetime) else DAY_FORMAT
    exponent = value.normalize().as_tuple().exponent if isinstance(value, Decimal) else 0
    places = min(-exponent, 6) if isinstance(exponent, int) and exponent < 0 else 0
    return "#,##0" + "." * bool(places) + "0" * places if isinstance(value, Decimal) else "0"


def exact_cell(number: Fraction) -> Decimal:
    """A quantity as an exact decimal where it has one, else to twelve places."""
    return Decimal(round(number * 10**12)).scaleb(-12).normalize() + 0


class Format(Enum):
    """What a column holds, and so how a page, a CSV and a sheet show it."""

    TEXT = auto()  # text, a thing named by its text, or a number that names something
    CODE = auto()  # a code of a lot, batch or order
    STATE = auto()  # a tone and a word; the word alone in files
    YES = auto()  # yes or no
    DAY = auto()  # a day, or a time of which the page tells the day
    TIME = auto()
    NUMBER = auto()  # a count
    RATIO = auto()  # a plain number with decimals
    QUANTITY = auto()  # base units of `item`, shown in its unit
    MONEY = auto()  # millionths of the currency
    PRICE = auto()  # the same, with every decimal it has
    PERCENT = auto()  # parts per million


NUMERIC = frozenset(
    {Format.NUMBER, Format.RATIO, Format.QUANTITY, Format.MONEY, Format.PRICE, Format.PERCENT}
)
Path = str | Callable[[Any], Any]
Rows = TypeVar("Rows", bound=QuerySet[Any])


class Visitor(Protocol):
    """Who looks: capabilities are attributes."""

    @property
    def sees_costs(self) -> bool:
        """Whether values are shown."""


def follow(path: Path, row: Any) -> Any:
    """What a path leads to from a row: "item.name", or what a function makes of the row; None behind a None."""
    if callable(path):
        return path(row)
    for name in path.split("."):
        if row is None:
            return None
        row = getattr(row, name)
        if callable(row):
            row = row()
    return row


def itself(row: Any) -> Any:
    """The row, where it is what a column asks for: an item that knows its own unit."""
    return row


@dataclass(frozen=True)
class Column:
    """One column. Without a `value` it is on the page alone, where the template says what a cell holds.

    `title` is its heading on the page where that is another than in files. `item` leads to what knows the unit of a
    quantity; `link` to the address a cell leads to; `sort` names the fields rows are sorted by; `may` the visitor's
    capability without which the column is absent everywhere; `css` further classes of its cells.
    """

    heading: str
    value: Path = ""
    format: Format = Format.TEXT
    title: str = ""
    item: Path = "item"
    link: Path = ""
    sort: tuple[str, ...] = ()
    may: str = ""
    css: str = ""

    @property
    def key(self) -> str:
        """What templates and addresses call it: "on_hand"."""
        return slugify(self.heading).replace("-", "_")

    @property
    def number_format(self) -> str | None:
        """The number format of its cells in a sheet; None leaves it to each value."""
        return "#,##0" if self.format is Format.NUMBER else None

    def cell(self, row: Any) -> Any:
        """What a file holds for a row: exact figures, in units rather than base units."""
        value = follow(self.value, row)
        if value is None:
            return None
        match self.format:
            case Format.QUANTITY:
                return exact_cell(to_unit(value, follow(self.item, row).unit))
            case Format.MONEY | Format.PRICE:
                return micros_cell(value) if isinstance(value, int) else exact_cell(value / 10**6)
            case Format.PERCENT:
                return exact_cell(Fraction(value, 10**4))
            case Format.NUMBER | Format.RATIO:
                return exact_cell(value) if isinstance(value, Fraction) else value
            case Format.STATE:
                return value[1]
            case Format.YES:
                return "yes" if value else "no"
        return value if isinstance(value, str | int | float | Decimal | date) else str(value)


@dataclass(frozen=True)
class Head:
    """A column's heading on a page: the address that sorts by it, and how the page is sorted by it now."""

    column: Column
    query: str = ""
    sorted: str = ""

    @property
    def words(self) -> str:
        """The heading as people read it."""
        return self.column.title or self.column.heading

    @property
    def css(self) -> str:
        """Its classes."""
        return "num" if self.column.format in NUMERIC else ""


@dataclass(frozen=True)
class Shown:
    """A table as a page shows it to its visitor: headings, and rows in the order they were handed over."""

    table: "Table"
    heads: list[Head]
    rows: Sequence[Any]


@dataclass(frozen=True)
class Table:
    """A declared table: the name of its files, what it is called on the page, and its columns in the files' order.

    `page` names the columns of the page in their order, by key; every column is there where nothing is said. The
    first of them heads its row.
    """

    name: str
    label: str
    columns: Sequence[Column]
    page: Sequence[str] = ()

    def seen_by(self, user: Visitor) -> list[Column]:
        """The columns a visitor may see."""
        return [column for column in self.columns if not column.may or getattr(user, column.may)]

    def shown(self, request: "StudioRequest", rows: Sequence[Any]) -> Shown:
        """The table for a page."""
        columns = {column.key: column for column in self.seen_by(request.user)}
        keys = [key for key in self.page or columns if key in columns]
        asked = request.GET.get("sort", "")
        return Shown(self, [_head(request, columns[key], asked) for key in keys], rows)

    def sorted(self, request: "StudioRequest", rows: Rows) -> Rows:
        """Rows in the order the address asks for (`?sort=on_hand`, `?sort=-on_hand`), and always by key in the end.

        A column that is not there, that this visitor may not see or that nothing is sorted by is passed over.
        """
        asked = request.GET.get("sort", "")
        fields = {column.key: column.sort for column in self.seen_by(request.user)}.get(
            asked.removeprefix("-"), ()
        )
        if not fields:
            return rows
        sign = "-" if asked.startswith("-") else ""
        return rows.order_by(*(sign + field for field in fields), "pk")

    def file(self, request: "StudioRequest", rows: Iterable[Any], *, name: str = "") -> HttpResponse:
        """The table as the file asked for by `?format=csv` or `?format=xlsx`."""
        columns = [column for column in self.seen_by(request.user) if column.value]
        head = [column.heading for column in columns]
        cells = ([column.cell(row) for column in columns] for row in rows)
        if request.GET.get("format") != "xlsx":
            return _attachment(_csv(head, cells), "text/csv; charset=utf-8", f"{name or self.name}.csv")
        formats = [_money_format(request, column) or column.number_format for column in columns]
        return _attachment(_xlsx(head, cells, formats), XLSX, f"{name or self.name}.xlsx")


def _money_format(request: "StudioRequest", column: Column) -> str:
    """Money with the decimals of the studio's currency, a price with up to four more."""
    if column.format not in {Format.MONEY, Format.PRICE}:
        return ""
    places = CURRENCIES[request.studio.currency].places
    more = "####" if column.format is Format.PRICE else ""
    return "#,##0" + "." * bool(places or more) + "0" * places + more


def _head(request: "StudioRequest", column: Column, asked: str) -> Head:
    """A heading; where rows can be sorted by it, the address that does so, or turns the order round."""
    if not column.sort:
        return Head(column)
    query = request.GET.copy()
    for name in ("page", "format"):
        query.pop(name, None)
    query["sort"] = f"-{column.key}" if asked == column.key else column.key
    now = {column.key: "ascending", f"-{column.key}": "descending"}.get(asked, "")
    return Head(column, query.urlencode(), now)


def export(
    request: HttpRequest, name: str, head: Sequence[str], rows: Iterable[Sequence[Any]]
) -> HttpResponse:
    """A table whose columns are known only once its rows are, as the file asked for."""
    if request.GET.get("format") == "xlsx":
        return _attachment(_xlsx(head, rows, [None] * len(head)), XLSX, f"{name}.xlsx")
    return _attachment(_csv(head, rows), "text/csv; charset=utf-8", f"{name}.csv")
