"""An item's or a lot's lines in the books, each with what was there after it, however few of them are shown."""

from collections.abc import Iterable
from typing import NamedTuple

from django.db import connection
from django.db.models import BigIntegerField, Case, F, Q, QuerySet, Sum, Value, When, Window

from inventory.models import Item, Movement
from studio.web.tables import Column, Format, Table


class Entry(NamedTuple):
    """A line of the books and what was there after it, in base units."""

    line: Movement
    level: int

    @property
    def item(self) -> Item:
        """What it is a line of."""
        return self.line.lot.item


BOOKS = Table(
    "ledger",
    "Books",
    [
        Column(
            "Happened", "line.posting.happened_at", Format.TIME, "When", link="line.posting.get_absolute_url"
        ),
        Column("Recorded", "line.posting.recorded_at", Format.TIME),
        Column("What", "line.get_kind_display"),
        Column("Lot", "line.lot.code", Format.CODE, link="line.lot.get_absolute_url"),
        Column("By", "line.posting.by"),
        Column("Why", "line.posting.reason"),
        Column("Unit", "item.unit"),
        Column("Quantity", "line.quantity", Format.QUANTITY),
        Column("Then there", "level", Format.QUANTITY),
        Column("Value", "line.value", Format.MONEY, may="sees_costs"),
    ],
    page=("happened", "what", "lot", "quantity", "value", "then_there", "by"),
)

ORDER = ("posting__happened_at", "posting_id", "pk")


def latest_first(lines: QuerySet[Movement]) -> QuerySet[Movement]:
    """The lines as a ledger shows them, with who posted them and whether that still stands."""
    return lines.select_related("posting__by", "posting__reversal", "lot__item").order_by(
        *(f"-{column}" for column in ORDER)
    )


def _level() -> Window:
    """What was there after a line, in base units: the running sum over all lines, in the order things happened."""
    return Window(
        Sum("quantity"), order_by=[F(column).asc() for column in ORDER], output_field=BigIntegerField()
    )


def levels(lines: QuerySet[Movement], wanted: Iterable[int]) -> dict[int, int]:
    """What was there after each of the `wanted` lines (by key), counting all `lines`. One query."""
    keys = list(wanted)
    if not keys:
        return {}
    # A condition on a queryset would reach inside the sum; this one stands outside it.
    sql, params = lines.order_by().annotate(level=_level()).values("id", "level").query.sql_with_params()
    places = ", ".join(["%s"] * len(keys))
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT id, level FROM ({sql}) AS lines WHERE id IN ({places})", [*params, *keys])
        return {key: int(level) for key, level in cursor.fetchall()}


def back_from(on_hand: int, latest: Iterable[Movement]) -> list[Entry]:
    """The latest lines, the very last first, each with what was there after it: backwards from what is there now."""
    told = []
    for line in latest:
        told.append(Entry(line, on_hand))
        on_hand -= line.quantity
    return told


def shown_with_levels(lines: QuerySet[Movement], condition: Q) -> Iterable[Entry]:
    """The lines that fulfil a condition, latest first, each with what was there after it. One query, read in a stream."""
    shown = Case(When(condition, then=Value(True)), default=Value(False)) if condition else Value(True)
    # The sum must see every line, so those left out are dropped while reading.
    rows = latest_first(lines).annotate(level=_level(), shown=shown)
    for line in rows.iterator(chunk_size=2000):
        if line.shown:
            yield Entry(line, int(line.level))
