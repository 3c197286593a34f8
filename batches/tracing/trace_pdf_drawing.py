"""The drawing of a trace on paper: one page lying on its side, as many boxes as stay readable.

The nearest boxes are taken, so many that letters stay six points high.
"""

from __future__ import annotations

from reportlab.lib.colors import white
from reportlab.platypus import Flowable, Paragraph

from batches.tracing.drawing import BOXES_AT_MOST, Drawing, Stroke, Style, TraceBox, drawing_of
from batches.tracing.layout import Measures
from batches.tracing.trace import Trace
from studio.web.pdf import (
    FOOT_ROOM_PT,
    INK,
    MONO,
    MUTED,
    SANS,
    SANS_BOLD,
    SIDE_PT,
    fitted,
    markup,
    paper_size,
    style,
    width_of,
)

PAPER = Style(Measures(box=186, across=108, down=10), 24)
LETTER = 13.0
LEAST, MOST = 6 / LETTER, 9 / LETTER
HEAD_PT = 54.0
INSIDE = 10


def lying(page_size: str) -> tuple[float, float]:
    """The page on its side, in points."""
    width, height = paper_size(page_size)
    return height, width


def room(page_size: str) -> tuple[float, float]:
    """What a drawing may take of such a page, in points."""
    width, height = lying(page_size)
    return width - 2 * SIDE_PT, height - HEAD_PT - FOOT_ROOM_PT


def scale_of(drawing: Drawing, space: tuple[float, float]) -> float:
    """Points for each unit of a drawing that fills a space, never larger than text."""
    return min(space[0] / drawing.width, space[1] / drawing.height, MOST)


def fitting(trace: Trace, page_size: str) -> Drawing | None:
    """The drawing with as many of the nearest boxes as are readable on one page; None where nothing is to be drawn."""
    space, boxes = room(page_size), BOXES_AT_MOST
    drawing = drawing_of(trace, PAPER, boxes)
    while drawing and scale_of(drawing, space) < LEAST and boxes > 2:
        boxes = min(boxes, len(drawing.boxes)) * 9 // 10
        drawing = drawing_of(trace, PAPER, boxes)
    return drawing


class DrawnTrace(Flowable):  # type: ignore[misc]  # the library is untyped
    """A drawing set into a page, its size as it fits."""

    def __init__(self, drawing: Drawing, page_size: str) -> None:
        super().__init__()
        self._drawing = drawing
        self._scale = scale_of(drawing, room(page_size))

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width, self.height = width, self._drawing.height * self._scale
        return self.width, self.height

    def draw(self) -> None:
        self.canv.translate(0, self.height)
        self.canv.scale(self._scale, self._scale)
        for line in self._drawing.lines:
            self._line(line)
        for box in self._drawing.boxes:
            self._box(box)
        for line in self._drawing.lines:
            self._quantity(line)

    def _line(self, line: Stroke) -> None:
        path = self.canv.beginPath()
        path.moveTo(line.runs[0].x, -line.runs[0].y)
        for run in line.runs:
            path.lineTo(run.x, -run.y)
            path.curveTo(run.half, -run.y, run.half, -run.level, run.bend, -run.level)
            path.lineTo(run.end, -run.level)
        self.canv.setStrokeColor(MUTED)
        self.canv.setLineWidth(0.8)
        self.canv.drawPath(path)

    def _quantity(self, line: Stroke) -> None:
        """What went along, on a white ground, since curves may pass behind it."""
        wide = width_of(line.words, SANS, LETTER)
        self.canv.setFillColor(white)
        self.canv.rect(line.x - wide - 2, -line.y, wide + 4, LETTER - 1, stroke=0, fill=1)
        self._words(line.words, line.x, line.y, LETTER, right=True)

    def _box(self, box: TraceBox) -> None:
        canvas, width = self.canv, self._drawing.box_width
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(2.6 if box.is_root else 1)
        canvas.setDash([6, 3] if box.held else [])
        canvas.roundRect(box.x, -box.y - box.height, width, box.height, 16 if box.what == "Batch" else 3)
        canvas.setDash([])
        lines = ((f"{box.what} {box.code}", MONO, 22), (box.name, SANS_BOLD, 40), (box.state, SANS, 56))
        for words, font, down in lines:
            size = fitted(words, width - 2 * INSIDE, LETTER, LETTER / 2, font=font)
            self._words(words, box.x + INSIDE, box.y + down, size, font=font)

    def _words(
        self, words: str, x: int, y: int, size: float, *, font: str = SANS, right: bool = False
    ) -> None:
        """Words with their foot at a point of the drawing, to the left of it where they end there."""
        room_for = float(self._drawing.box_width)
        set_in = Paragraph(markup(words, font), style(size, alignment=2 if right else 0))
        set_in.wrapOn(self.canv, room_for, size * 2)
        set_in.drawOn(self.canv, x - (room_for if right else 0), -y - 0.2 * size)
