"""The printed batch record: everything that is on record of one run, with every correction in sight.

A `Record` of finished texts in, PDF bytes out; the same record gives the same bytes. It holds what 21 CFR 211.188 and
21 CFR 111.260 list, models of good records; what this tool does not keep has room to be written by hand.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable, Image, KeepTogether, Paragraph, Spacer

from studio.web.pdf import (
    FOOT_PT,
    HAIR,
    INK,
    MONO_BOLD,
    MUTED,
    RULE,
    SANS,
    SANS_BOLD,
    SIDE_PT,
    as_pdf,
    clipped,
    draw_foot,
    grouped,
    head_with_code,
    heading,
    label,
    markup,
    paper_size,
    plain,
    shares,
    sheet_page,
    style,
    table,
    text,
    write_in,
)

HEAD_ROOM_PT = 24.0
CAVEAT = (
    "This record says what was written down; it does not certify. Local codes and a competent person decide."
)
CELL_PT = 8.0
CELL_MOST = 600  # characters, then an ellipsis
CELL_LINES_MOST = 20
STRONG, STRUCK = "strong", "struck"


@dataclass(frozen=True)
class SheetRow:
    """A row of finished texts. `how`: STRONG for the head of a group, STRUCK for what was reversed."""

    cells: tuple[str, ...]
    how: str = ""


@dataclass(frozen=True)
class Section:
    """A table under a heading, with a note below it. `weights` share out the width; `empty` stands where no row is."""

    title: str
    heads: tuple[str, ...] = ()
    weights: tuple[float, ...] = ()
    rows: tuple[SheetRow, ...] = ()
    empty: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Picture:
    """A photo made small: a caption and the bytes of a JPEG."""

    caption: str
    data: bytes


@dataclass(frozen=True)
class Record:
    """All that the record says. `page_size` "A4" or "Letter"; an empty fact is left out."""

    studio: str
    batch_code: str
    product: str
    formula: str
    state: str
    facts: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]
    pictures: tuple[Picture, ...]
    blanks: tuple[str, ...]
    signatures: tuple[str, ...]
    printed: str
    page_size: str


def record_pdf(record: Record) -> bytes:
    """The record as a PDF document, with page numbers; rows are not cut by a page's end unless taller than a page."""
    width, height = paper_size(record.page_size)
    inside = width - 2 * SIDE_PT
    code = grouped(record.batch_code)

    def furniture(canvas: Any, document: Any) -> None:
        foot = Paragraph(f"{markup(code, MONO_BOLD)} &nbsp; {markup(clipped(record.printed, 80))}", style(8))
        draw_foot(canvas, foot, inside)
        caveat = text(CAVEAT, 7, muted=True)
        caveat.wrapOn(canvas, inside, 12)
        caveat.drawOn(canvas, SIDE_PT, FOOT_PT + 9)
        if document.page > 1:
            head = Paragraph(
                f"{markup(code, MONO_BOLD, 11)} &nbsp; {markup('Batch record, ' + clipped(record.formula, 80))}",
                style(8.5),
            )
            head.wrapOn(canvas, inside, 30)
            head.drawOn(canvas, SIDE_PT, height - 38)

    pages = [
        sheet_page("first", (width, height), HEAD_ROOM_PT, furniture, then="later"),
        sheet_page("later", (width, height), HEAD_ROOM_PT + 24, furniture),
    ]
    story: list[Flowable] = [_header(record, inside), _facts(record, inside), Spacer(0, 8)]
    for section in record.sections:
        story += pieces_of(section, inside)
    story += _pictures(record.pictures, inside)
    story.append(_by_hand(record, inside))
    return as_pdf(story, pages, (width, height), title=f"Batch record {code}", author=record.studio)


def _header(record: Record, width: float) -> Flowable:
    version = Paragraph(f"{markup(record.formula)} · {markup(record.state, SANS_BOLD)}", style(9.5))
    what = f"{clipped(record.studio, 60)} · batch record"
    return head_with_code(what, record.batch_code, record.product, width, version)


def _facts(record: Record, width: float) -> Flowable:
    """The facts, four side by side."""
    shown = [(name, value) for name, value in record.facts if value]
    rows: list[list[Any]] = []
    for start in range(0, len(shown), 4):
        four = [
            [label(name), text(clipped(value, 120), 9.5, font=SANS_BOLD)]
            for name, value in shown[start : start + 4]
        ]
        rows.append([*four, *[""] * (4 - len(four))])
    return table(
        rows or [[""] * 4],
        shares(width, (1, 1, 1, 1)),
        ("LINEABOVE", (0, 0), (-1, 0), RULE, INK),
        ("TOPPADDING", (0, 0), (-1, -1), 3),
        ("RIGHTPADDING", (0, 0), (-1, -1), 8),
    )


def pieces_of(section: Section, width: float) -> list[Flowable]:
    """A section as it is set: its heading, its table or what stands where there is none, its notes."""
    notes = [text(clipped(note, CELL_MOST), CELL_PT, muted=True) for note in section.notes if note]
    if not section.rows:
        empty = [text(section.empty, CELL_PT, muted=True)] if section.empty else []
        return [KeepTogether([heading(section.title), *empty, *notes, Spacer(0, 9)])]
    below = [Spacer(0, 2), *notes] if notes else []
    return [CondPageBreak(70), heading(section.title), _table(section, width), *below, Spacer(0, 9)]


def _table(section: Section, width: float) -> Flowable:
    rows: list[list[Any]] = [[label(head) for head in section.heads]]
    rules: list[tuple[Any, ...]] = []
    for number, row in enumerate(section.rows, start=1):
        rows.append([_cell(words, row.how) for words in row.cells])
        if row.how == STRONG:
            rules.append(("LINEABOVE", (0, number), (-1, number), RULE / 2, INK))
    return table(
        rows,
        shares(width, section.weights),
        ("LINEBELOW", (0, 0), (-1, 0), RULE, INK),
        ("LINEBELOW", (0, 1), (-1, -1), HAIR, MUTED),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6),
        *rules,
        repeatRows=1,
    )


def _cell(words: str, how: str) -> Paragraph:
    # A row is never cut by a page end, so no words may make it taller than a page.
    lines = plain(words).split("\n")
    kept = "\n".join((*lines[:CELL_LINES_MOST], "…") if len(lines) > CELL_LINES_MOST else lines)
    shown = markup(clipped(kept, CELL_MOST), SANS_BOLD if how == STRONG else SANS, lines=True)
    return Paragraph(f"<strike>{shown}</strike>" if how == STRUCK and shown else shown, style(CELL_PT))


def _pictures(pictures: Sequence[Picture], width: float) -> list[Flowable]:
    """Photos three side by side, each with its caption."""
    if not pictures:
        return []
    side = (width - 24) / 3
    cells: list[Any] = []
    for picture in pictures:
        image = Image(io.BytesIO(picture.data))
        scale = min(side / image.imageWidth, 0.75 * side / image.imageHeight)
        image.drawWidth, image.drawHeight = scale * image.imageWidth, scale * image.imageHeight
        image.hAlign = "LEFT"
        cells.append([image, text(clipped(picture.caption, 160), 7.5, muted=True)])
    rows = [[*cells[at : at + 3], *[""] * (3 - len(cells[at : at + 3]))] for at in range(0, len(cells), 3)]
    laid = table(
        rows,
        shares(width, (1, 1, 1)),
        ("RIGHTPADDING", (0, 0), (-1, -1), 8),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    )
    return [CondPageBreak(0.75 * side + 40), laid, Spacer(0, 6)]


def _by_hand(record: Record, width: float) -> Flowable:
    """Room for what is not kept here, and for the names of who checked."""
    return KeepTogether(
        [
            heading("To be written by hand"),
            write_in([(name, "") for name in record.blanks], width, 46),
            Spacer(0, 6),
            write_in([(name, "date") for name in record.signatures], width, 34),
        ]
    )
