"""How the label of a finished candle is laid out in the room it has, and its warning label.

Everything on it is wanted, so nothing is cut and nothing left out but the symbol, whose code stands beside it in
letters: where the words do not fit at a readable size the label is refused, with what it needs. Lengths are points.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from inventory.labels.sheets import LayoutError
from studio.core.codes import spaced
from studio.web.pdf import (
    INK,
    MONO_BOLD,
    SANS,
    SANS_BOLD,
    code128,
    height_of,
    qr_code,
    table,
    text,
    width_of,
)

LARGEST_PT, WITH_SYMBOL_PT, LEAST_PT = 9.0, 6.5, 6.0
PRODUCT_MORE_PT, NET_MORE_PT = 3.0, 1.0  # how much larger product and net weight are set than the rest
# As on lot labels: bars of 0.25 mm and squares of 0.35 mm are what label printers draw cleanly; common practice.
BAR_PT, BARS_HEIGHT_PT, QUIET_PT = 0.25 * 72 / 25.4, 16.0, 3.0
QR_PT = 29 * 0.35 * 72 / 25.4  # a short code makes 21 squares on a side, and four blank ones around
FIGURE_OF_EM = 0.714  # the height of a figure in the text font
UM_OF_POINT = 25_400 / 72


@dataclass(frozen=True)
class JarLabel:
    """What one label says, as finished texts; an empty one is left out. Codes without spaces.

    `net` is set so tall that its figures have `net_height_um`. `elsewhere` stands where the warning is on another
    label. `warning` stands under its sign and `heading`, `words` below it.
    """

    product: str = ""
    net: str = ""
    net_height_um: int = 0
    batch_code: str = ""
    lot_code: str = ""
    maker: str = ""
    place: str = ""
    elsewhere: str = ""
    heading: str = ""
    warning: str = ""
    words: str = ""


class DoesNotFit(LayoutError):
    """The words do not go on the label at a readable size. Its text says how much they need and what to do."""


@dataclass(frozen=True)
class JarFace:
    """A label laid out: pieces one below the other from the top left corner of its inside."""

    pieces: tuple[tuple[Flowable, float], ...]
    width: float

    def draw(self, canvas: Canvas) -> None:
        """Draw it, the origin at the top left corner of the inside. Nothing leaves the inside."""
        down = 0.0
        for piece, tall in self.pieces:
            piece.wrapOn(canvas, self.width, tall)
            piece.drawOn(canvas, 0, -down - tall)
            down += tall


class Sign(Flowable):  # type: ignore[misc]  # the library is untyped
    """The safety alert sign: a triangle with an exclamation mark."""

    def __init__(self, size: float) -> None:
        super().__init__()
        self.width = self.height = size

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Its size, whatever room there is."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it black on white, so that it holds on any printer."""
        size, canvas = self.height, self.canv
        shape = canvas.beginPath()
        shape.moveTo(0.04 * size, 0.06 * size)
        shape.lineTo(0.96 * size, 0.06 * size)
        shape.lineTo(0.5 * size, 0.92 * size)
        shape.close()
        canvas.setStrokeColor(INK)
        canvas.setFillColor(INK)
        canvas.setLineWidth(0.09 * size)
        canvas.setLineJoin(1)
        canvas.drawPath(shape, stroke=1, fill=0)
        canvas.setLineWidth(0.1 * size)
        canvas.line(0.5 * size, 0.36 * size, 0.5 * size, 0.66 * size)
        canvas.circle(0.5 * size, 0.22 * size, 0.055 * size, stroke=0, fill=1)


def laid_out(label: JarLabel, width: float, height: float) -> JarFace:
    """The label at the largest size at which everything is there, with a symbol where there is room for one.

    Raises DoesNotFit.
    """
    for size, symbol in _ways(label, width):
        pieces = _pieces(label, width, size, symbol)
        left = height - height_of(pieces, width)
        if left >= 0:
            if label.net and not label.warning:
                # The net weight stands at the foot of the panel: 16 CFR 500.6, its lower 30 %, from memory.
                pieces.insert(-2, Spacer(0, left))
            return JarFace(tuple((piece, height_of([piece], width)) for piece in pieces), width)
    raise DoesNotFit(_what_it_needs(label, width, height), "layout")


def _ways(label: JarLabel, width: float) -> Iterator[tuple[float, str]]:
    """Sizes and symbols, the best first; none where the net weight is too wide for the label."""
    if label.net and width_of(label.net, SANS_BOLD, _net_size(label, LEAST_PT)) > width:
        return
    symbols = ("bars", "qr") if label.batch_code and label.product else ()
    yield from ((size, symbol) for size in _sizes(WITH_SYMBOL_PT) for symbol in symbols)
    yield from ((size, "") for size in _sizes(LEAST_PT))


def _sizes(least: float) -> list[float]:
    return [LARGEST_PT - step / 2 for step in range(round(2 * (LARGEST_PT - least)) + 1)]


def _net_size(label: JarLabel, size: float) -> float:
    """Never below what the law asks, and a little larger than the words around it."""
    return max(label.net_height_um / UM_OF_POINT / FIGURE_OF_EM, size + NET_MORE_PT)


def _pieces(label: JarLabel, width: float, size: float, symbol: str) -> list[Flowable]:
    """Everything on it from top to bottom, a gap between front and warning."""
    front, warning = _front(label, width, size, symbol), _warning(label, width, size)
    gap = [Spacer(0, size / 3)] if front and warning else []
    return [*front, *gap, *warning]


def _front(label: JarLabel, width: float, size: float, symbol: str) -> list[Flowable]:
    pieces: list[Flowable] = []
    if label.product:
        pieces.append(_words(label.product, size + PRODUCT_MORE_PT, SANS_BOLD))
        pieces += [*_maker(label, size), _codes(label, width, size, symbol)]
    if label.elsewhere:
        pieces.append(_beside_sign(label.elsewhere, width, size, SANS))
    if label.net:
        pieces.append(_words(label.net, _net_size(label, size), SANS_BOLD))
        # Room below the line for what hangs down: the g of the net weight at the label's edge.
        pieces.append(Spacer(0, 0.15 * _net_size(label, size)))
    return pieces


def _warning(label: JarLabel, width: float, size: float) -> list[Flowable]:
    pieces: list[Flowable] = []
    if label.warning:
        pieces.append(_beside_sign(label.heading, width, size + 1.5, SANS_BOLD))
        pieces.append(_words(label.warning, size, SANS))
    if label.words:
        pieces.append(_words(label.words, size, SANS, lines=True))
    if not label.product:
        pieces += [*_maker(label, size), _codes(label, width, size, "")]
    return pieces


def _words(words: str, size: float, font: str, *, lines: bool = False) -> Flowable:
    shown = words.strip() if lines else " ".join(words.split(" "))
    paragraphs = [
        text(line, size, font=font, leading=1.12 * size) for line in shown.splitlines() if line.strip()
    ]
    if len(paragraphs) == 1:
        return paragraphs[0]
    return _Stack(paragraphs)


class _Stack(Flowable):  # type: ignore[misc]  # the library is untyped
    """Paragraphs one below the other."""

    def __init__(self, parts: Sequence[Flowable]) -> None:
        super().__init__()
        self.parts = parts

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width, self.height = width, height_of(self.parts, width)
        return self.width, self.height

    def draw(self) -> None:
        down = self.height
        for part in self.parts:
            _, tall = part.wrapOn(self.canv, self.width, self.height)
            down -= tall
            part.drawOn(self.canv, 0, down)


def _maker(label: JarLabel, size: float) -> list[Flowable]:
    """Who made it and where, on as few lines as it takes."""
    said = " · ".join(
        part
        for part in (label.maker, ", ".join(filter(None, map(str.strip, label.place.splitlines()))))
        if part
    )
    return [_words(said, size, SANS)] if said else []


def _beside_sign(words: str, width: float, size: float, font: str) -> Flowable:
    return table(
        [[Sign(1.1 * size), _words(words, size, font)]],
        [1.1 * size + 2, width - 1.1 * size - 2],
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
    )


def _codes(label: JarLabel, width: float, size: float, symbol: str) -> Flowable:
    """Batch and lot in letters, and the batch as a symbol at their right."""
    said = [f"Batch {spaced(label.batch_code)}"] if label.batch_code else []
    said += [f"Lot {spaced(label.lot_code)}"] if label.lot_code else []
    said = [line.replace(" ", "\N{NO-BREAK SPACE}") for line in said]
    if not symbol:
        return _words("  ".join(said), size, MONO_BOLD)
    drawn, wide = _symbol(label.batch_code, symbol)
    left = width - wide - 2
    if max(width_of(line, MONO_BOLD, size) for line in said) > left:
        return Spacer(0, 10_000)  # this way does not fit; the next one is tried
    rows: list[list[Any]] = [[[text(line, size, font=MONO_BOLD) for line in said], drawn]]
    return table(rows, [left + 2, wide], ("VALIGN", (0, 0), (-1, -1), "MIDDLE"))


def _symbol(code: str, symbol: str) -> tuple[Flowable, float]:
    if symbol == "qr":
        return qr_code(code, size=QR_PT), QR_PT
    modules = float(code128(code, width=10_000, height=1).width)
    bars = code128(code, width=modules * BAR_PT + 0.01, height=BARS_HEIGHT_PT)
    return bars, float(bars.width)


def _what_it_needs(label: JarLabel, width: float, height: float) -> str:
    """What does not fit, how much room it asks for, and what to do about it."""
    needed = width_of(label.net, SANS_BOLD, _net_size(label, LEAST_PT))
    if needed > width:
        return (
            f"The net weight with figures of {label.net_height_um / 1000:.1f} mm is {_mm(needed)} wide and this label "
            f"leaves {_mm(width)}. Choose a larger label."
        )
    tall = height_of(_pieces(label, width, LEAST_PT, ""), width)
    room = f"at the least readable size that takes {_mm(tall)} of height, and this label leaves {_mm(height)}"
    if label.product and label.warning:
        both = "warning and the words below it" if label.words else "warning"
        return (
            f"The {both} do{'' if label.words else 'es'} not fit on the jar label: {room}. Print the warning as a label "
            "of its own, or choose a larger label."
        )
    what = "jar label" if label.product else "warning with the words below it" if label.words else "warning"
    return f"The {what} does not fit: {room}. Choose a larger label."


def _mm(points: float) -> str:
    return f"{ceil(points * 25.4 / 72)} mm"
