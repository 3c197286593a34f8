"""Printed labels for lots: on sheets of rows and columns, or on a roll where a page is a label.

Finished texts in, PDF bytes out; the same labels give the same bytes. All lengths of a layout are whole
micrometres, measured from the top left corner of the page, and become points only where they are drawn.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

from reportlab.pdfgen.canvas import Canvas

from inventory.labels.face import Label, face
from studio.core.quantities import format_quantity

__all__ = ["Label", "Layout", "LayoutError", "labels_pdf"]

LABELS_AT_MOST = 1_000
SIDE_AT_MOST_UM = 1_200_000
ROWS_AT_MOST = 50
LEAST_WIDTH_UM, LEAST_HEIGHT_UM = 20_000, 10_000

PADDING_UM = 2_000
SHEET_EDGE_UM = 4_200  # what a plain office printer leaves white along the edges; common practice, no source
POINT_UM = 25_400 / 72


class LabelFace(Protocol):
    """A label laid out in its room."""

    def draw(self, canvas: Canvas) -> None:
        """Draw it, the origin at the top left corner of the inside."""


Printed = TypeVar("Printed", bound=Hashable)


class LayoutError(ValueError):
    """Labels that cannot be printed so. `str()` is a sentence for the person, `figure` the figure to change."""

    def __init__(self, sentence: str, figure: str = "") -> None:
        super().__init__(sentence)
        self.figure = figure


@dataclass(frozen=True)
class Layout:
    """Where labels lie on a page, in micrometres. One row and one column with a page of its size is a roll."""

    page_width_um: int
    page_height_um: int
    rows: int
    columns: int
    left_um: int
    top_um: int
    label_width_um: int
    label_height_um: int
    gap_x_um: int
    gap_y_um: int

    @property
    def per_page(self) -> int:
        """How many labels a page holds."""
        return self.rows * self.columns

    def corner(self, place: int) -> tuple[int, int]:
        """The top left corner of the label at a place, counted from 0 along the rows; µm right and down."""
        row, column = divmod(place, self.columns)
        return (
            self.left_um + column * (self.label_width_um + self.gap_x_um),
            self.top_um + row * (self.label_height_um + self.gap_y_um),
        )

    def reach(self) -> tuple[int, int]:
        """The bottom right corner of the last label; µm right and down."""
        right, bottom = self.corner(self.per_page - 1)
        return right + self.label_width_um, bottom + self.label_height_um

    def check(self) -> None:
        """Raise LayoutError, naming the figure to change, unless every label lies on the page."""
        for name in ("rows", "columns"):
            if not 1 <= getattr(self, name) <= ROWS_AT_MOST:
                raise LayoutError(f"Enter a number of {name} from 1 to {ROWS_AT_MOST}.", name)
        for name in ("left_um", "top_um", "gap_x_um", "gap_y_um"):
            if getattr(self, name) < 0:
                raise LayoutError("Margins and gaps cannot be below zero; enter 0 or more.", name)
        for side, least in (("width", LEAST_WIDTH_UM), ("height", LEAST_HEIGHT_UM)):
            if getattr(self, f"label_{side}_um") < least:
                raise LayoutError(
                    f"A label needs a {side} of at least {_mm(least)} to carry a code that can be read.",
                    f"label_{side}_um",
                )
            if getattr(self, f"page_{side}_um") > SIDE_AT_MOST_UM:
                raise LayoutError(
                    f"A page is at most {_mm(SIDE_AT_MOST_UM)} long; check the unit.", f"page_{side}_um"
                )
        right, bottom = self.reach()
        for needed, page, across, margin, side in (
            (right, self.page_width_um, "across", "left", "width"),
            (bottom, self.page_height_um, "down", "top", "height"),
        ):
            if needed > page:
                raise LayoutError(
                    f"The labels need {_mm(needed)} {across} and the page has {_mm(page)}. Make the {margin} "
                    "margin, the labels or the gaps smaller, or enter fewer of them.",
                    f"label_{side}_um",
                )

    def inset(self) -> tuple[int, int]:
        """How far text keeps from the sides and from the top and bottom of its label, in µm.

        The same on every label: further in where the outer labels of a sheet reach into the edge that an office
        printer leaves white.
        """
        right, bottom = self.reach()
        edges = (
            (min(self.left_um, self.page_width_um - right), self.label_width_um),
            (min(self.top_um, self.page_height_um - bottom), self.label_height_um),
        )
        white = SHEET_EDGE_UM if self.per_page > 1 else 0
        across, down = (min(max(PADDING_UM, white - margin), side // 4) for margin, side in edges)
        return across, down


def _mm(length_um: int) -> str:
    return format_quantity(length_um, "mm", places=3)


def labels_pdf(labels: Sequence[Label], layout: Layout, start: int = 1) -> bytes:
    """Lot labels as a PDF document; see `sheets_of`."""
    return sheets_of(labels, layout, start, laid_out=face, title="Lot labels")


def sheets_of(
    labels: Sequence[Printed],
    layout: Layout,
    start: int,
    *,
    laid_out: Callable[[Printed, float, float], LabelFace],
    title: str,
) -> bytes:
    """The labels as a PDF document: along the rows from place `start` (1 is top left), on as many pages as needed.

    Raises LayoutError when the layout does not fit its page, when there is no such place, or when there are no
    labels or more than LABELS_AT_MOST. `laid_out` sets a label
    in a room of so many points. Raises ValueError when a code cannot be a barcode or an address no QR code.
    """
    layout.check()
    if not 1 <= start <= layout.per_page:
        raise LayoutError(
            f"A page of this layout has {layout.per_page} labels: start at 1 to {layout.per_page}."
            if layout.per_page > 1
            else "A page of this layout is one label: start at 1.",
            "start",
        )
    if not 1 <= len(labels) <= LABELS_AT_MOST:
        raise LayoutError(
            f"That makes {len(labels)} labels; print 1 to {LABELS_AT_MOST:,} at a time.", "labels"
        )
    return _draw(labels, layout, start - 1, laid_out, title)


def _draw(
    labels: Sequence[Printed],
    layout: Layout,
    first: int,
    laid_out: Callable[[Printed, float, float], LabelFace],
    title: str,
) -> bytes:
    out = io.BytesIO()
    page = _points(layout.page_width_um), _points(layout.page_height_um)
    canvas = Canvas(out, pagesize=page, invariant=1, lang="en")
    canvas.setTitle(title)
    across, down = layout.inset()
    width = _points(layout.label_width_um - 2 * across)
    height = _points(layout.label_height_um - 2 * down)
    # Each label is drawn once and put wherever it is wanted: its QR code takes longer than all the rest.
    forms = {label: f"label{number}" for number, label in enumerate(dict.fromkeys(labels))}
    for label, form in forms.items():
        canvas.beginForm(form, 0, -height, width, 0)
        laid_out(label, width, height).draw(canvas)
        canvas.endForm()
    for number, label in enumerate(labels, start=first):
        place = number % layout.per_page
        if place == 0 and number > first:
            canvas.showPage()
        x, y = layout.corner(place)
        canvas.saveState()
        canvas.translate(_points(x + across), page[1] - _points(y + down))
        canvas.doForm(forms[label])
        canvas.restoreState()
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _points(length_um: int) -> float:
    return length_um / POINT_UM
