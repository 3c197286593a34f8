"""The packing slip on paper: what is in a parcel, with the codes of its lots, which a complaint is answered by.

A `Slip` of finished texts in, PDF bytes out; the same slip gives the same bytes. No prices stand on it.
"""

from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from studio.pdf import (
    HAIR,
    INK,
    MONO_BOLD,
    RULE,
    SANS_BOLD,
    SIDE_PT,
    as_pdf,
    clipped,
    draw_foot,
    grouped,
    label,
    markup,
    paper_size,
    sheet_page,
    style,
    table,
    text,
)

HEAD_ROOM_PT, LATER_HEAD_PT = 40.0, 60.0
NAME_MOST, SMALL_MOST = 200, 120  # characters, then an ellipsis
QUANTITY_PT, LOT_PT, TICK_PT, TICK_SIDE_PT = 60.0, 96.0, 44.0, 12.0


@dataclass(frozen=True)
class SlipLine:
    """So many of a product out of one lot; `code` without spaces."""

    product: str
    code: str
    quantity: str


@dataclass(frozen=True)
class Slip:
    """All that the slip says, as finished texts; `state` is what keeps it from being in force, else empty."""

    studio: str
    address: tuple[str, ...]
    number: str
    what: str
    to: str
    reach: tuple[str, ...]
    sent: str
    reference: str
    channel: str
    state: str
    lines: tuple[SlipLine, ...]
    in_all: str
    keep: str
    printed: str
    page_size: str


def slip_pdf(slip: Slip) -> bytes:
    """The packing slip as a PDF document. Raises ValueError when the page size is unknown."""
    return _Sheet(slip).build()


def _tick() -> Table:
    """A box to be ticked when it is packed."""
    return table([[""]], [TICK_SIDE_PT], ("BOX", (0, 0), (-1, -1), HAIR, INK), rowHeights=[TICK_SIDE_PT])


class _Sheet:
    """The slip laid out on pages of one size."""

    def __init__(self, slip: Slip) -> None:
        self.slip = slip
        self.page_width, self.page_height = paper_size(slip.page_size)
        self.width = self.page_width - 2 * SIDE_PT

    def build(self) -> bytes:
        size = self.page_width, self.page_height
        pages = [
            sheet_page("first", size, HEAD_ROOM_PT, self._furniture, "later"),
            sheet_page("later", size, LATER_HEAD_PT, self._furniture, "later"),
        ]
        title = f"Packing slip {self.slip.number}"
        return as_pdf(self._story(), pages, size, title=title, author=self.slip.studio)

    def _furniture(self, canvas: Any, document: Any) -> None:
        foot = Paragraph(markup(clipped(f"{self.slip.number}   {self.slip.printed}", 110)), style(8))
        draw_foot(canvas, foot, self.width)
        if document.page > 1:
            head = Paragraph(markup(clipped(f"Packing slip, {self.slip.number}", 120)), style(9))
            head.wrapOn(canvas, self.width, 30)
            head.drawOn(canvas, SIDE_PT, self.page_height - 44)

    def _story(self) -> list[Flowable]:
        slip = self.slip
        return [
            self._head(),
            Spacer(0, 22),
            self._lines(),
            Spacer(0, 10),
            text(clipped(slip.in_all, 120), 11, font=SANS_BOLD),
            Spacer(0, 16),
            text(slip.keep, 9.5),
        ]

    def _head(self) -> Table:
        slip = self.slip
        left: list[Flowable] = [
            text(clipped(slip.studio, NAME_MOST), 15, font=SANS_BOLD),
            *[text(clipped(line, SMALL_MOST), 9.5) for line in slip.address],
            Spacer(0, 20),
            label("To"),
            text(clipped(slip.to, NAME_MOST), 11.5, font=SANS_BOLD),
            *[text(clipped(line, SMALL_MOST), 9.5) for line in slip.reach],
        ]
        right: list[Flowable] = [
            label("Packing slip"),
            text(clipped(slip.number, 40), 15, font=SANS_BOLD),
        ]
        facts = (("What", slip.what), ("Sent", slip.sent), ("Your order", slip.reference))
        for name, said in (*facts, ("Channel", slip.channel)):
            if said:
                right += [Spacer(0, 5), label(name), text(clipped(said, 60), 10.5)]
        if slip.state:
            right += [Spacer(0, 8), text(slip.state, 10.5, font=SANS_BOLD)]
        aside = 170.0
        return table([[left, right]], [self.width - aside, aside], ("RIGHTPADDING", (0, 0), (0, 0), 18))

    def _lines(self) -> Table:
        widths = [QUANTITY_PT, self.width - QUANTITY_PT - LOT_PT - TICK_PT, LOT_PT, TICK_PT]
        rows: list[list[Any]] = [
            [label("How many"), label("Product"), label("Lot"), label("Packed")],
            *[self._row(line) for line in self.slip.lines],
        ]
        return table(
            rows,
            widths,
            ("LINEABOVE", (0, 0), (-1, 0), RULE, INK),
            ("LINEBELOW", (0, 0), (-1, -1), HAIR, INK),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("TOPPADDING", (0, 0), (-1, -1), 6),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 7),
            ("RIGHTPADDING", (0, 0), (-2, -1), 8),
            repeatRows=1,
        )

    def _row(self, line: SlipLine) -> list[Any]:
        return [
            text(clipped(line.quantity, 30), 11, font=SANS_BOLD),
            text(clipped(line.product, NAME_MOST), 10.5),
            Paragraph(markup(grouped(line.code), MONO_BOLD), style(11)),
            _tick(),
        ]
