"""From a count to the texts of its printed sheet."""

from collections.abc import Iterable

from inventory.counting.count_sheet import CountSheet, SheetLine
from inventory.counting.figures import Finding
from inventory.ledger.books import local
from inventory.models import Count, Grade
from studio.core.quantities import Dimension, format_quantity
from studio.models import Studio


def sheet_of(count: Count, found: Iterable[Finding], studio: Studio, *, printed: str) -> CountSheet:
    """Everything the sheet says. A blind sheet of an open count says nothing of the books."""
    blind = count.blind and count.is_open
    started = local(count.started_at)
    return CountSheet(
        studio=studio.name,
        title=count.what,
        started=f"Started {started.day} {started:%b %Y, %H:%M} by {count.started_by}",
        blind=blind,
        lines=tuple(_line(each, blind) for each in found),
        printed=printed,
        page_size=studio.page_size,
    )


def _line(each: Finding, blind: bool) -> SheetLine:
    line, lot, item = each.line, each.line.lot, each.line.lot.item
    weighed = item.dimension is Dimension.MASS
    expires = lot.expires_on
    tare = line.tare_ug if line.tare_ug is not None else lot.tare_ug
    held = each.book if each.book is not None else lot.on_hand
    return SheetLine(
        code=lot.code,
        item=f"{item.name}, seconds" if lot.grade == Grade.SECOND else item.name,
        place=lot.place,
        container=lot.container,
        expires=f"expires {expires.day} {expires:%b %Y}" if expires else "",
        unit="" if item.dimension is Dimension.COUNT else item.unit,
        book="" if blind else item.quantity(held),
        tare=format_quantity(tare, item.unit) if weighed and tare is not None else "",
        weighed=weighed,
        gross="" if line.gross_ug is None else format_quantity(line.gross_ug, item.unit),
        counted="" if line.counted is None else item.quantity(line.counted),
        by=str(line.by or ""),
    )
