"""The packing slip on paper: what is in a parcel, with the codes of its lots, which a complaint is answered by.

A `Slip` of finished texts in, PDF bytes out; the same slip gives the same bytes. No prices stand on it.
"""

from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from studio.web.letter import NAME_MOST, letter_head, letter_pages
from studio.web.pdf import (
    HAIR,
    INK,
    MONO_BOLD,
    SANS_BOLD,
    SIDE_PT,
    as_pdf,
    clipped,
    grouped,
    label,
    markup,
    paper_size,
    ruled,
    style,
    table,
    text,
)

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
        self.size = paper_size(slip.page_size)
        self.width = self.size[0] - 2 * SIDE_PT

    def build(self) -> bytes:
        pages = letter_pages(self.size, foot=self._foot, later=self._later)
        title = f"Packing slip {self.slip.number}"
        return as_pdf(self._story(), pages, self.size, title=title, author=self.slip.studio)

    def _foot(self) -> Paragraph:
        return Paragraph(markup(clipped(f"{self.slip.number}   {self.slip.printed}", 110)), style(8))

    def _later(self) -> Paragraph:
        return Paragraph(markup(clipped(f"Packing slip, {self.slip.number}", 120)), style(9))

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
        return letter_head(
            self.width,
            studio=slip.studio,
            address=slip.address,
            caption="To",
            to=slip.to,
            reach=slip.reach,
            aside=170.0,
            title=[label("Packing slip"), text(clipped(slip.number, 40), 15, font=SANS_BOLD)],
            facts=(
                ("What", slip.what),
                ("Sent", slip.sent),
                ("Your order", slip.reference),
                ("Channel", slip.channel),
            ),
            state=slip.state,
        )

    def _lines(self) -> Table:
        widths = [QUANTITY_PT, self.width - QUANTITY_PT - LOT_PT - TICK_PT, LOT_PT, TICK_PT]
        rows: list[list[Any]] = [
            [label("How many"), label("Product"), label("Lot"), label("Packed")],
            *[self._row(line) for line in self.slip.lines],
        ]
        middle = ("VALIGN", (0, 0), (-1, -1), "MIDDLE")
        return ruled(rows, widths, middle, above=6, below=7, gap=8)

    def _row(self, line: SlipLine) -> list[Any]:
        return [
            text(clipped(line.quantity, 30), 11, font=SANS_BOLD),
            text(clipped(line.product, NAME_MOST), 10.5),
            Paragraph(markup(grouped(line.code), MONO_BOLD), style(11)),
            _tick(),
        ]
