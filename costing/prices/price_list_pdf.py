"""The price list on paper: for a shop, a stall or the wall. A `PriceList` of finished texts in, PDF bytes out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer, Table

from studio.web.pdf import (
    HAIR,
    INK,
    RULE,
    SANS_BOLD,
    SIDE_PT,
    as_pdf,
    clipped,
    draw_foot,
    label,
    markup,
    paper_size,
    sheet_page,
    style,
    table,
    text,
)

HEAD_ROOM_PT = 40.0
NAME_MOST, NOTE_MOST = 120, 200  # characters, then an ellipsis
WEIGHT_PT, PRICE_PT, SINCE_PT = 150.0, 90.0, 90.0


@dataclass(frozen=True)
class ListedProduct:
    """One line: what it is, its net weight and price in words, and the day from which it is asked; `note` beneath."""

    name: str
    weight: str
    price: str
    since: str
    note: str = ""


@dataclass(frozen=True)
class PriceSection:
    """What is asked in one channel; `note` says what the price holds."""

    channel: str
    note: str
    lines: tuple[ListedProduct, ...]


@dataclass(frozen=True)
class PriceList:
    """All that the list says. `page_size` "A4" or "Letter"."""

    studio: str
    dated: str
    sections: tuple[PriceSection, ...]
    printed: str
    page_size: str


def price_list_pdf(paper: PriceList) -> bytes:
    """The list as a PDF document. Raises ValueError, with a sentence, when the page size is unknown."""
    size = paper_size(paper.page_size)
    width = size[0] - 2 * SIDE_PT

    def foot(canvas: Any, document: Any) -> None:
        line = Paragraph(markup(clipped(paper.printed, NAME_MOST)), style(8))
        draw_foot(canvas, line, width)

    story: list[Flowable] = [
        text(clipped(paper.studio, NAME_MOST), 15, font=SANS_BOLD),
        Spacer(0, 4),
        text(f"Prices on {paper.dated}", 11),
    ]
    if not paper.sections:
        story += [Spacer(0, 18), text("No price is asked anywhere yet.", 11)]
    for section in paper.sections:
        story += [Spacer(0, 22), *_section(section, width)]
    pages = [sheet_page("all", size, HEAD_ROOM_PT, foot)]
    return as_pdf(story, pages, size, title=f"Prices on {paper.dated}", author=paper.studio)


def _section(section: PriceSection, width: float) -> list[Flowable]:
    head: list[Flowable] = [text(clipped(section.channel, NAME_MOST), 12.5, font=SANS_BOLD)]
    if section.note:
        head.append(text(clipped(section.note, NOTE_MOST), 9.5, muted=True))
    if not section.lines:
        return [KeepTogether([*head, Spacer(0, 6), text("Nothing is asked here.", 10)])]
    return [_lines(section, [*head, Spacer(0, 6)], width)]


def _name(line: ListedProduct) -> list[Flowable]:
    name: list[Flowable] = [text(clipped(line.name, NAME_MOST), 10.5, font=SANS_BOLD)]
    return [*name, text(clipped(line.note, NAME_MOST), 9.5)] if line.note else name


def _lines(section: PriceSection, head: list[Flowable], width: float) -> Table:
    """The channel's name and what a price holds stand in the first row, so that a page turned to says them again."""
    heads = [label("Product"), label("Net weight"), label("From"), label("Price", right=True)]
    rows: list[list[Any]] = [[head, "", "", ""], heads]
    for line in section.lines:
        rows.append(
            [
                _name(line),
                text(line.weight, 10),
                text(line.since, 10),
                text(line.price, 10.5, font=SANS_BOLD, alignment=2),
            ]
        )
    return table(
        rows,
        [width - WEIGHT_PT - SINCE_PT - PRICE_PT, WEIGHT_PT, SINCE_PT, PRICE_PT],
        ("SPAN", (0, 0), (-1, 0)),
        ("LINEABOVE", (0, 1), (-1, 1), RULE, INK),
        ("LINEBELOW", (0, 1), (-1, -1), HAIR, INK),
        ("TOPPADDING", (0, 1), (-1, -1), 5),
        ("BOTTOMPADDING", (0, 1), (-1, -1), 6),
        ("RIGHTPADDING", (0, 1), (-2, -1), 6.0),
        repeatRows=2,
    )
