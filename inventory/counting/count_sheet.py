"""The printed count sheet: taken along the shelf on a board and written on with a pen.

A `CountSheet` of finished texts in, PDF bytes out; the same sheet gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable, Spacer

from studio.web.pdf import (
    HAIR,
    INK,
    MONO_BOLD,
    RULE,
    SANS_BOLD,
    SIDE_PT,
    Blank,
    as_pdf,
    clipped,
    draw_foot,
    grouped,
    label,
    paper_size,
    shares,
    sheet_page,
    table,
    text,
)

__all__ = ["CountSheet", "SheetLine", "sheet_pdf"]

ROW_PT = 30.0  # room for figures written large, with a glove on
HEAD_ROOM_PT = 28.0
NAME_MOST, SMALL_MOST = 70, 60  # characters, then an ellipsis
SPARE_ROWS = 3
HOW = (
    "Write down what is there, not what should be. Weighed with its container: gross and tare; poured out or "
    "counted: net. Give the time of each look."
)


@dataclass(frozen=True)
class SheetLine:
    """One lot, all of it finished text; "" where there is nothing to say.

    `code` without spaces, `book` what the books hold, `tare` what the container weighs; `gross`, `counted` and `by`
    what was written down already. `weighed`: whether gross and tare can be written at all.
    """

    code: str
    item: str
    place: str
    container: str
    expires: str
    unit: str
    book: str
    tare: str
    weighed: bool
    gross: str = ""
    counted: str = ""
    by: str = ""


@dataclass(frozen=True)
class CountSheet:
    """All that the sheet says. `blind` leaves the column of the books out; `page_size` is "A4" or "Letter"."""

    studio: str
    title: str
    started: str
    blind: bool
    lines: tuple[SheetLine, ...]
    printed: str
    page_size: str


def sheet_pdf(sheet: CountSheet) -> bytes:
    """The sheet as a PDF document across the page, in the order of its lines, a heading for each place.

    Raises ValueError, with a sentence for the person, when the page size is unknown.
    """
    return _Paper(sheet).build()


class _Paper:
    """A count sheet laid out on pages turned on their side."""

    def __init__(self, sheet: CountSheet) -> None:
        self.sheet = sheet
        self.page_height, self.page_width = paper_size(sheet.page_size)
        self.width = self.page_width - 2 * SIDE_PT

    def build(self) -> bytes:
        size = self.page_width, self.page_height
        story: list[Flowable] = [self._head(), Spacer(0, 8), self._lines()]
        return as_pdf(
            story,
            [sheet_page("page", size, HEAD_ROOM_PT, self._furniture)],
            size,
            title=f"Count sheet, {self.sheet.title}",
            author=self.sheet.studio,
        )

    def _furniture(self, canvas: Any, document: Any) -> None:
        """The foot of each page: which sheet it is, and when it was printed."""
        words = " · ".join((clipped(self.sheet.title, 60), clipped(self.sheet.printed, 80)))
        foot = text(words, 8)
        draw_foot(canvas, foot, self.width)

    def _head(self) -> Flowable:
        sheet = self.sheet
        words = [
            text(
                f"{clipped(sheet.studio, 60)} · count sheet{', blind' if sheet.blind else ''}", 8, muted=True
            ),
            text(clipped(sheet.title, 90), 17, font=SANS_BOLD, leading=20),
            text(sheet.started, 9, muted=True),
        ]
        boxes = table(
            [[label("Counted by"), label("Day"), label("Scale")]],
            shares(0.46 * self.width, (3, 2, 2)),
            ("BOX", (0, 0), (-1, -1), HAIR, INK),
            ("LINEBEFORE", (1, 0), (-1, -1), HAIR, INK),
            ("LEFTPADDING", (0, 0), (-1, -1), 4),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            rowHeights=[ROW_PT + 4],
        )
        how = text(HOW, 8, muted=True)
        return table([[words, [boxes, Spacer(0, 4), how]]], [0.54 * self.width, 0.46 * self.width])

    def _columns(self) -> tuple[list[str], list[float]]:
        """Heads and widths; the books have no column on a blind sheet."""
        heads = ["Lot", "Item", "Stands in", "By the books", "Gross", "Tare", "Net", "By", "Time"]
        weights = [84.0, 176, 118, 76, 80, 74, 80, 48, 48]
        if self.sheet.blind:
            heads.pop(3)
            weights[1] += weights.pop(3)
        return heads, shares(self.width, weights)

    def _lines(self) -> Flowable:
        """A row to write in for each lot, under its place; spare rows for what is not on the sheet."""
        heads, widths = self._columns()
        gross = len(heads) - 5
        rows: list[list[Any]] = [[label(head) for head in heads]]
        rules: list[tuple[Any, ...]] = []
        place = None
        for line in self.sheet.lines:
            if line.place != place:
                place = line.place
                rules += _heading_rules(len(rows))
                rows.append([text(clipped(place, NAME_MOST) or "No place on record", 10, font=SANS_BOLD)])
            if not line.weighed:
                rules.append(("BACKGROUND", (gross, len(rows)), (gross + 1, len(rows)), "#E4E0D6"))
            rows.append(self._row(line))
        rules += _heading_rules(len(rows))
        rows.append([text("Not on this sheet", 10, font=SANS_BOLD)])
        rows += [[Blank(ROW_PT - 6)] for _ in range(SPARE_ROWS)]
        full = [row + [""] * (len(heads) - len(row)) for row in rows]
        return table(
            full,
            widths,
            ("LINEABOVE", (0, 0), (-1, 0), RULE, INK),
            ("LINEBELOW", (0, 0), (-1, -1), HAIR, INK),
            ("LINEBEFORE", (gross, 1), (-1, -1), HAIR, INK),
            ("VALIGN", (0, 1), (gross - 1, -1), "MIDDLE"),
            ("LEFTPADDING", (1, 0), (-1, -1), 4),
            ("RIGHTPADDING", (0, 0), (-1, -1), 4),
            ("TOPPADDING", (0, 0), (-1, -1), 3),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
            *rules,
            repeatRows=1,
        )

    def _row(self, line: SheetLine) -> list[Any]:
        stands = " · ".join(filter(None, (clipped(line.container, SMALL_MOST), line.expires)))
        books = [] if self.sheet.blind else [text(line.book, 10.5, font=SANS_BOLD, alignment=2)]
        return [
            text(grouped(line.code), 11, font=MONO_BOLD),
            text(clipped(line.item, NAME_MOST), 10),
            text(stands, 8.5),
            *books,
            _box(line.gross, line.unit) if line.weighed else "",
            _box(line.tare, line.unit) if line.weighed else "",
            _box(line.counted, line.unit),
            text(clipped(line.by, 12), 8),
            "",
        ]


def _box(filled: str, unit: str) -> Flowable:
    """Room to write, with the unit in its corner; or what is known already."""
    return text(filled, 9.5) if filled else Blank(ROW_PT - 6, unit)


def _heading_rules(row: int) -> Sequence[tuple[Any, ...]]:
    """A heading runs across the page and stays with the row below it."""
    return (
        ("SPAN", (0, row), (-1, row)),
        ("NOSPLIT", (0, row), (-1, row + 1)),
        ("TOPPADDING", (0, row), (-1, row), 7),
    )
