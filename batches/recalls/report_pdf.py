"""The closing report of a recall or a drill on paper: a `RecallReport` of finished texts in, PDF bytes out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from studio.web.pdf import (
    HAIR,
    INK,
    MONO_BOLD,
    SANS_BOLD,
    SIDE_PT,
    as_pdf,
    clipped,
    draw_foot,
    grouped,
    heading,
    label,
    markup,
    paper_size,
    ruled,
    shares,
    sheet_page,
    style,
    table,
    text,
)

HEAD_ROOM_PT = 36.0
SHORT, LONG = 120, 1_000  # characters, then an ellipsis
SIZE = 8.0


@dataclass(frozen=True)
class ReportTable:
    """A table of the report: heading, column heads, the columns that are figures, the weights of widths, and rows."""

    title: str
    heads: tuple[str, ...]
    figures: frozenset[int]
    widths: tuple[float, ...]
    rows: Sequence[tuple[str, ...]]
    none: str = "None."


@dataclass(frozen=True)
class RecallReport:
    """All that the report says, as finished texts. `code` without spaces; `page_size` "A4" or "Letter"."""

    studio: str
    title: str
    code: str
    facts: tuple[tuple[str, str], ...]
    figures: tuple[tuple[str, str], ...]
    words: tuple[tuple[str, str], ...]
    parts: tuple[ReportTable, ...]
    printed: str
    page_size: str


def report_pdf(report: RecallReport) -> bytes:
    """The report as a PDF document; each page says whose it is.

    Raises ValueError, with a sentence for the person, when the page size is unknown.
    """
    size = paper_size(report.page_size)
    width = size[0] - 2 * SIDE_PT

    def furniture(canvas: Any, document: Any) -> None:
        name = f"{markup(report.title)} {markup(grouped(report.code), MONO_BOLD)}"
        foot = Paragraph(f"{name} &nbsp; {markup(clipped(report.printed, 80))}", style(8))
        draw_foot(canvas, foot, width)

    page = sheet_page("page", size, HEAD_ROOM_PT, furniture, "page")
    title = f"{report.title} {grouped(report.code)}"
    return as_pdf(_story(report, width), [page], size, title=title, author=report.studio)


def _story(report: RecallReport, width: float) -> list[Flowable]:
    head = Paragraph(
        f"{markup(report.title, SANS_BOLD)} {markup(grouped(report.code), MONO_BOLD)}", style(16, leading=21)
    )
    story: list[Flowable] = [text(clipped(report.studio, SHORT), 9.5, muted=True), head, Spacer(0, 10)]
    story += [_pairs(report.facts, width), Spacer(0, 12)]
    for title, words in report.words:
        if words:
            body = Paragraph(markup(clipped(words, LONG), lines=True), style(9.5, leading=13))
            story += [label(title), body, Spacer(0, 8)]
    story += [Spacer(0, 2), _figures(report.figures, width)]
    for part in report.parts:
        story += [Spacer(0, 16), heading(part.title), Spacer(0, 4)]
        story.append(_table(part, width) if part.rows else text(part.none, 9, muted=True))
    return story


def _pairs(facts: Sequence[tuple[str, str]], width: float) -> Table:
    rows = [[label(name), text(clipped(said, SHORT), 9.5)] for name, said in facts]
    return table(rows, [110, width - 110], ("BOTTOMPADDING", (0, 0), (-1, -1), 3))


def _figures(figures: Sequence[tuple[str, str]], width: float) -> Table:
    """Figures in rows of four, each under its caption."""
    cells: list[Any] = [[label(name), text(said, 12, font=SANS_BOLD)] for name, said in figures]
    cells += [""] * (-len(cells) % 4)
    rows = [cells[at : at + 4] for at in range(0, len(cells), 4)]
    return table(
        rows,
        [width / 4] * 4,
        ("LINEABOVE", (0, 0), (-1, -1), HAIR, INK),
        ("LINEBELOW", (0, -1), (-1, -1), HAIR, INK),
        ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6),
    )


def _table(part: ReportTable, width: float) -> Table:
    def cell(place: int, words: str) -> Flowable:
        return text(clipped(words, SHORT), SIZE, alignment=2 if place in part.figures else 0)

    heads = [label(words, right=place in part.figures) for place, words in enumerate(part.heads)]
    rows = [[cell(place, words) for place, words in enumerate(row)] for row in part.rows]
    # Words that follow a figure stand apart from it.
    after = [
        place for place in range(1, len(heads)) if place - 1 in part.figures and place not in part.figures
    ]
    apart = (("LEFTPADDING", (place, 0), (place, -1), 8) for place in after)
    at_foot = ("VALIGN", (0, 0), (-1, 0), "BOTTOM")
    return ruled([heads, *rows], shares(width, part.widths), at_foot, *apart, above=3, below=4, gap=5)
