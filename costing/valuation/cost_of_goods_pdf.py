"""Stock and cost of goods on paper, for the accountant.

A `GoodsPaper` of finished texts in, PDF bytes out; the same paper gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from studio.web.pdf import (
    HAIR,
    INK,
    RULE,
    SANS,
    SANS_BOLD,
    SIDE_PT,
    as_pdf,
    clipped,
    draw_foot,
    heading,
    label,
    markup,
    paper_size,
    sheet_page,
    style,
    table,
    text,
)

HEAD_ROOM_PT = 40.0
FIGURE_PT = 78.0
TEXT_MOST = 120


@dataclass(frozen=True)
class PaperLine:
    """A line: what it is, and its cells; `tone` as of `statement.Figures`."""

    words: str
    cells: tuple[str, ...] = ()
    tone: str = ""


@dataclass(frozen=True)
class GoodsPaper:
    """All that the report says, as finished texts. `page_size` "A4" or "Letter"."""

    studio: str
    period: str
    columns: tuple[str, ...]
    lines: tuple[PaperLine, ...]
    went: tuple[PaperLine, ...]
    stock: tuple[PaperLine, ...]
    said: tuple[str, ...]
    printed: str
    page_size: str


def goods_pdf(paper: GoodsPaper) -> bytes:
    """The report as a PDF document. Raises ValueError, with a sentence, when the page size is unknown."""
    return _Sheet(paper).build()


class _Sheet:
    """The report laid out on pages of one size."""

    def __init__(self, paper: GoodsPaper) -> None:
        self.paper = paper
        self.page_width, self.page_height = paper_size(paper.page_size)
        self.width = self.page_width - 2 * SIDE_PT

    def build(self) -> bytes:
        size = self.page_width, self.page_height
        pages = [sheet_page("page", size, HEAD_ROOM_PT, self._furniture)]
        title = f"Stock and cost of goods, {self.paper.period}"
        return as_pdf(self._story(), pages, size, title=title, author=self.paper.studio)

    def _furniture(self, canvas: Any, document: Any) -> None:
        said = f"{clipped(self.paper.studio, 60)}, {self.paper.period}. {clipped(self.paper.printed, 80)}"
        foot = Paragraph(markup(said), style(8))
        draw_foot(canvas, foot, self.width)

    def _story(self) -> list[Flowable]:
        paper = self.paper
        figures = [self.width - 5 * FIGURE_PT, *[FIGURE_PT] * 5]
        stock = [self.width - 110 - 2 * FIGURE_PT, 110, FIGURE_PT, FIGURE_PT]
        return [
            text(clipped(paper.studio, 100), 15, font=SANS_BOLD),
            Spacer(0, 2),
            text(f"Stock and cost of goods, {paper.period}", 11.5),
            Spacer(0, 16),
            self._table(["", *paper.columns], paper.lines, figures),
            Spacer(0, 10),
            *[piece for said in paper.said for piece in (text(said, 9), Spacer(0, 3))],
            Spacer(0, 12),
            heading("Where the material went, by the books"),
            Spacer(0, 4),
            self._table(["", "Value"], paper.went, [self.width - FIGURE_PT, FIGURE_PT]),
            Spacer(0, 18),
            heading("Closing stock, item by item"),
            Spacer(0, 4),
            self._table(["", "Class", "By the books", "Counted in all"], paper.stock, stock, words_in=1),
        ]

    def _table(
        self, heads: Sequence[str], lines: Sequence[PaperLine], widths: Sequence[float], *, words_in: int = 0
    ) -> Table:
        rows: list[list[Any]] = [
            [label(name, right=place > words_in) for place, name in enumerate(heads)],
            *(self._row(line, len(heads), words_in) for line in lines),
        ]
        rules = [
            ("LINEABOVE", (0, number), (-1, number), HAIR, INK)
            for number, line in enumerate(lines, 1)
            if line.tone in {"sum", "total"}
        ]
        return table(
            rows,
            widths,
            ("LINEBELOW", (0, 0), (-1, 0), RULE, INK),
            ("LINEBELOW", (0, -1), (-1, -1), RULE, INK),
            ("TOPPADDING", (0, 0), (-1, -1), 2.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            ("LEFTPADDING", (1, 0), (-1, -1), 6),
            *rules,
            repeatRows=1,
        )

    def _row(self, line: PaperLine, columns: int, words_in: int) -> list[Any]:
        font = SANS_BOLD if line.tone in {"head", "sum", "total"} else SANS
        indent = {"part": 16.0, "": 8.0}.get(line.tone, 0.0)
        cells = [text(clipped(line.words, TEXT_MOST), 9, font=font, leftIndent=indent)]
        cells += [
            text(said, 9, font=font, alignment=0 if place <= words_in else 2)
            for place, said in enumerate(line.cells, 1)
        ]
        return cells + [""] * (columns - len(cells))
