"""Files brought in, what is wrong in one, and the lots that came of it, as tables."""

from django.utils import timezone

from studio.web.tables import Column, Format, Table

PROBLEMS = Table(
    "problems",
    "What is wrong",
    [
        Column("Row", "row"),
        Column("Column", "column"),
        Column("Typed", "typed"),
        Column("What is wrong", "sentence"),
        Column("Suggestion", "suggestion"),
    ],
)
# The lots of a table, to write their codes on containers.
LOTS = Table(
    "brought-in",
    "Lots",
    [
        Column("Lot", "lot.code", Format.CODE, link="lot.get_absolute_url"),
        Column("Item", "lot.item.name"),
        Column("Supplier's lot", "lot.supplier_lot"),
        Column("Arrived", lambda row: timezone.localtime(row.lot.arrived_at).date(), Format.DAY),
        Column("Place", "lot.place"),
        Column("Container", "lot.container"),
        Column("On hand", "lot.on_hand", Format.QUANTITY, item="lot.item"),
        Column("Unit", "lot.item.unit"),
        Column("Posting", "posting_id"),
        Column("In the books"),
        Column("State"),
    ],
    page=("lot", "item", "suppliers_lot", "place", "in_the_books", "state"),
)
WAITING = Table(
    "waiting",
    "Files that wait",
    [
        Column("File", "name"),
        Column("Table", "get_table_display"),
        Column("Read", "at", Format.TIME),
        Column("By", "by"),
    ],
)
RUNS = Table(
    "runs",
    "What was brought in",
    [
        Column("When", "at", Format.TIME, link="get_absolute_url"),
        Column("Table", "get_table_display"),
        Column("File", "name"),
        Column("Rows in it", "rows", Format.NUMBER),
        Column("Added", "added", Format.NUMBER),
        Column("By", "by"),
    ],
)
