"""The printed trace: what went in, where it is, who has it, and the same as an indented list.

A `Sheet` of finished texts in, PDF bytes out; the same sheet gives the same bytes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable, NextPageTemplate, PageBreak, Paragraph, Spacer

from batches.records.record_pdf import Section, pieces_of
from batches.tracing.drawing import Drawing
from batches.tracing.trace_pdf_drawing import DrawnTrace, lying
from studio.web.pdf import (
    MONO_BOLD,
    SIDE_PT,
    as_pdf,
    clipped,
    draw_foot,
    grouped,
    head_with_code,
    heading,
    markup,
    paper_size,
    sheet_page,
    style,
    text,
)

HEAD_ROOM_PT = 24.0
INDENT_PT = 12.0
DEEPEST = 20
WORDS_MOST = 300


@dataclass(frozen=True)
class Sheet:
    """All that the sheet says. `what` is "Lot" or "Batch"; trees are pairs of a depth and a line; `drawing` fits a page."""

    studio: str
    what: str
    code: str
    item: str
    sentences: tuple[str, ...]
    sections: tuple[Section, ...]
    trees: tuple[tuple[str, tuple[tuple[int, str], ...]], ...]
    printed: str
    page_size: str
    drawing: Drawing | None = None


def trace_pdf(sheet: Sheet) -> bytes:
    """The sheet as a PDF document, with page numbers."""
    width, height = paper_size(sheet.page_size)
    inside = width - 2 * SIDE_PT
    code = grouped(sheet.code)

    def furniture(canvas: Any, document: Any) -> None:
        foot = Paragraph(f"{markup(code, MONO_BOLD)} &nbsp; {markup(clipped(sheet.printed, 80))}", style(8))
        draw_foot(canvas, foot, inside)

    story: list[Flowable] = [_head(sheet, inside), Spacer(0, 6)]
    story += [text(clipped(sentence, WORDS_MOST), 10) for sentence in sheet.sentences]
    story.append(Spacer(0, 8))
    for section in sheet.sections:
        story += pieces_of(section, inside)
    for title, lines in sheet.trees:
        story += [
            CondPageBreak(60),
            heading(title),
            *(_line(depth, words) for depth, words in lines),
            Spacer(0, 9),
        ]
    pages = [sheet_page("all", (width, height), HEAD_ROOM_PT, furniture)]
    if sheet.drawing:
        story += [NextPageTemplate("drawing"), PageBreak(), *_drawn(sheet.drawing, sheet.page_size)]
        pages.append(sheet_page("drawing", lying(sheet.page_size), HEAD_ROOM_PT, furniture))
    return as_pdf(story, pages, (width, height), title=f"Trace of {code}", author=sheet.studio)


def _head(sheet: Sheet, width: float) -> Flowable:
    what = f"{clipped(sheet.studio, 60)} · trace of a {sheet.what.lower()}"
    return head_with_code(what, sheet.code, sheet.item, width)


def _drawn(drawing: Drawing, page_size: str) -> list[Flowable]:
    more = f" The nearest are drawn; {drawing.left_out} more are in the lists." if drawing.left_out else ""
    return [
        heading("Drawn"),
        text(f"{drawing.says}{more}", 8.5, spaceAfter=4),
        DrawnTrace(drawing, page_size),
    ]


def _line(depth: int, words: str) -> Paragraph:
    indent = INDENT_PT * min(depth, DEEPEST)
    return text(clipped(words, WORDS_MOST), 8.5, leftIndent=indent + 8, firstLineIndent=-8, spaceAfter=1.5)
