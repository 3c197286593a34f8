"""A purchase order on paper: the sheet that goes to the supplier.

An `OrderPaper` of finished texts in, PDF bytes out; the same paper gives the same bytes. Without prices it has no
columns for them, so that nobody reads an empty one as free of charge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from studio.web.letter import NAME_MOST, letter_head, letter_pages
from studio.web.pdf import (
    INK,
    MONO_BOLD,
    RULE,
    SANS_BOLD,
    SIDE_PT,
    as_pdf,
    clipped,
    grouped,
    heading,
    label,
    markup,
    paper_size,
    ruled,
    style,
    text,
)

NOTE_MOST = 1000  # characters, then an ellipsis
NUMBER_PT, ARTICLE_PT, PACKS_PT, QUANTITY_PT, PRICE_PT, TOTAL_PT = 20.0, 84.0, 82.0, 66.0, 74.0, 74.0
GAP_PT = 6.0


@dataclass(frozen=True)
class PaperLine:
    """One line: `packs` "4 × 2.5 kg", `quantity` "10,000 g" in all, price of a pack and of the line."""

    article: str
    item: str
    packs: str
    quantity: str
    price: str = ""
    total: str = ""


@dataclass(frozen=True)
class OrderPaper:
    """All that the sheet says, as finished texts.

    `code` without spaces; `state` is what keeps it from being an order in force ("Draft, not sent"), else empty;
    `priced` False leaves the money out; `lacking` says what the total does not hold. `page_size` "A4" or "Letter".
    """

    studio: str
    address: tuple[str, ...]
    code: str
    supplier: str
    contact: tuple[str, ...]
    dated: str
    expected: str
    state: str
    lines: tuple[PaperLine, ...]
    priced: bool
    total: str
    lacking: str
    note: str
    printed: str
    page_size: str


def order_pdf(paper: OrderPaper) -> bytes:
    """The order as a PDF document; rows are never cut by a page end, and each page says whose it is.

    Raises ValueError, with a sentence for the person, when the page size is unknown.
    """
    return _Sheet(paper).build()


class _Sheet:
    """The order laid out on pages of one size."""

    def __init__(self, paper: OrderPaper) -> None:
        self.paper = paper
        self.size = paper_size(paper.page_size)
        self.width = self.size[0] - 2 * SIDE_PT
        self.code = grouped(paper.code)

    def build(self) -> bytes:
        pages = letter_pages(self.size, foot=self._foot, later=self._later)
        return as_pdf(self._story(), pages, self.size, title=f"Order {self.code}", author=self.paper.studio)

    def _foot(self) -> Paragraph:
        return Paragraph(
            f"{markup(self.code, MONO_BOLD)} &nbsp; {markup(clipped(self.paper.printed, 80))}", style(8)
        )

    def _later(self) -> Paragraph:
        name = markup(clipped(f"{self.paper.studio} to {self.paper.supplier}", 100))
        return Paragraph(f"Order {markup(self.code, MONO_BOLD, 12)} &nbsp; {name}", style(9))

    def _story(self) -> list[Flowable]:
        note = clipped(self.paper.note, NOTE_MOST)
        story = [self._head(), Spacer(0, 22), self._lines()]
        if self.paper.lacking and self.paper.priced:
            story += [Spacer(0, 6), text(self.paper.lacking, 9)]
        if note:
            body = Paragraph(markup(note, lines=True), style(10, leading=13.5))
            story += [Spacer(0, 18), heading("Note"), Spacer(0, 3), body]
        return story

    def _head(self) -> Table:
        """Who orders, of whom; and at the right the code by which both speak of it."""
        paper = self.paper
        return letter_head(
            self.width,
            studio=paper.studio,
            address=paper.address,
            caption="Order to",
            to=paper.supplier,
            reach=paper.contact,
            aside=150.0,
            title=[label("Order"), Paragraph(markup(self.code, MONO_BOLD), style(17, leading=22))],
            facts=(("Date", paper.dated), ("Expected", paper.expected)),
            state=paper.state,
        )

    def _lines(self) -> Table:
        priced = self.paper.priced
        fixed = [NUMBER_PT, ARTICLE_PT, PACKS_PT, QUANTITY_PT, *([PRICE_PT, TOTAL_PT] if priced else [])]
        item = self.width - sum(fixed)
        widths = [NUMBER_PT, ARTICLE_PT, item, *fixed[2:]]
        heads = [label(""), label("Your article"), label("Item"), label("Packs"), label("In all", right=True)]
        heads += [label("Price per pack", right=True), label("Line", right=True)] if priced else []
        rows: list[list[Any]] = [
            heads,
            *(self._row(number, line) for number, line in enumerate(self.paper.lines, 1)),
        ]
        rules: list[tuple[Any, ...]] = []
        if priced:
            total = text(clipped(self.paper.total, 40), 11, font=SANS_BOLD, alignment=2)
            rows.append(["", "", text("Total", 11, font=SANS_BOLD), "", "", total, ""])
            rules = [
                ("SPAN", (5, -1), (6, -1)),
                ("RIGHTPADDING", (5, -1), (5, -1), 0),
                ("LINEABOVE", (0, -1), (-1, -1), RULE, INK),
            ]
        head: list[tuple[Any, ...]] = [("VALIGN", (0, 0), (-1, 0), "BOTTOM")]
        head += [(f"{side}PADDING", (0, 0), (-1, 0), 3) for side in ("TOP", "BOTTOM")]
        return ruled(rows, widths, *head, *rules, above=5, below=6, gap=GAP_PT)

    def _row(self, number: int, line: PaperLine) -> list[Any]:
        cells = [
            text(str(number), 9, muted=True),
            text(clipped(line.article, 60), 9.5),
            text(clipped(line.item, NAME_MOST), 10, font=SANS_BOLD),
            text(clipped(line.packs, 60), 10),
            text(clipped(line.quantity, 40), 10, alignment=2),
        ]
        if self.paper.priced:
            cells += [text(clipped(said, 40), 10, alignment=2) for said in (line.price, line.total)]
        return cells
