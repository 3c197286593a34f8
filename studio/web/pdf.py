"""What every printed sheet shares: fonts, safe text, barcodes, ruled pieces and page numbers.

Nothing here knows what is printed. Text from people goes through `markup` on its way to paper: it is
escaped, freed of control characters, and a character no font here can draw shows as a replacement sign.
"""

from __future__ import annotations

import io
import re
import threading
import unicodedata
from collections.abc import Callable, Sequence
from functools import cache
from itertools import groupby
from typing import Any
from xml.sax.saxutils import escape

import pymupdf_fonts
from reportlab.graphics.barcode.code128 import Code128
from reportlab.graphics.barcode.qr import QrCode
from reportlab.lib.colors import HexColor, black
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Paragraph, Table

from studio.core.codes import spaced

PAGE_SIZES: dict[str, tuple[float, float]] = {"A4": A4, "Letter": LETTER}
SIDE_PT = 34.0  # 12 mm: inside the printable area of a plain office printer
FOOT_PT = 22.0
FOOT_ROOM_PT = FOOT_PT + 22
INK = black
MUTED = HexColor("#3F4642")  # dark enough that a laser printer does not dither small type to dots
HAIR = 0.35
RULE = 0.8

SANS, SANS_BOLD, MONO, MONO_BOLD = "Studio", "Studio-Bold", "StudioMono", "StudioMono-Bold"
SIGNS, SIGNS_BOLD = "StudioSigns", "StudioSigns-Bold"
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"

# Noto Sans for its tabular figures, Cascadia Mono for codes, FiraGO for signs (−, ≤, →) that Noto Sans
# lacks. All three carry Latin, Greek, Cyrillic and Vietnamese, as TrueType outlines.
_SOURCES = {
    SANS: "notos",
    SANS_BOLD: "notosbo",
    MONO: "cascadia",
    MONO_BOLD: "cascadiab",
    SIGNS: "figo",
    SIGNS_BOLD: "figbo",
}
_registering = threading.Lock()
_NARROW_SPACES = re.compile("[\u2007\u2009\u200a\u202f]")
_LINE_ENDS = re.compile("\r\n?|[\x0b\x0c\x85\u2028\u2029]")


def paper_size(page_size: str) -> tuple[float, float]:
    """Width and height of a page in points. Raises ValueError, with a sentence for the person, when it is unknown."""
    if page_size not in PAGE_SIZES:
        raise ValueError(f"Choose A4 or Letter as the page size, not {page_size!r}.")
    return PAGE_SIZES[page_size]


def register_fonts() -> None:
    """Make the fonts known to reportlab, once per process; safe to call from several threads."""
    with _registering:
        if SIGNS_BOLD in pdfmetrics.getRegisteredFontNames():
            return
        for name, source in _SOURCES.items():
            pdfmetrics.registerFont(TTFont(name, io.BytesIO(pymupdf_fonts.myfont(source))))
        for regular, bold in ((SANS, SANS_BOLD), (MONO, MONO_BOLD), (SIGNS, SIGNS_BOLD)):
            pdfmetrics.registerFontFamily(regular, regular, bold, regular, bold)


def plain(text: str) -> str:
    """Text as it can be printed: composed (NFC), line ends as "\\n", no control or format characters.

    Format characters go too: an invisible one can reorder or hide what stands on the sheet. Narrow spaces
    become no-break spaces, so that "1 250 g" stays on one line.
    """
    text = _LINE_ENDS.sub("\n", unicodedata.normalize("NFC", text)).replace("\t", " ")
    text = _NARROW_SPACES.sub("\N{NO-BREAK SPACE}", text)
    return "".join(char for char in text if char == "\n" or unicodedata.category(char) not in ("Cc", "Cf"))


def clipped(words: str, limit: int) -> str:
    """`words` shortened to `limit` characters, an ellipsis at the end where something was left out."""
    return words if len(words) <= limit else words[: limit - 1].rstrip() + "…"


@cache
def _glyphs(font: str) -> frozenset[int]:
    register_fonts()
    return frozenset(pdfmetrics.getFont(font).face.charToGlyph)


def _font_for(char: str, font: str) -> tuple[str, str]:
    """The font that draws `char` and what to draw: `font` itself, the font of signs, or the replacement."""
    if char in "\n " or ord(char) in _glyphs(font):
        return font, char
    # Signs only: letters of scripts that need shaping would be drawn wrongly without a word.
    if unicodedata.category(char)[0] in "SPN" and ord(char) in _glyphs(SIGNS):
        return (SIGNS_BOLD if font in (SANS_BOLD, MONO_BOLD) else SIGNS), char
    return font, REPLACEMENT


def markup(words: str, font: str = SANS, size: float = 0, *, lines: bool = False) -> str:
    """Anything a person typed, as safe markup for a Paragraph: shown literally.

    Line ends are kept with `lines`, else they become spaces, so that a short text stays short on paper.
    `font` is one of the four registered text fonts, `size` in points (0: that of the paragraph).
    """
    sized = f' size="{size}"' if size else ""
    parts = []
    for drawn_in, run in groupby(
        (_font_for(char, font) for char in plain(words)), key=lambda drawn: drawn[0]
    ):
        inside = escape("".join(char for _, char in run)).replace("\n", "<br/>" if lines else " ")
        parts.append(f'<font name="{drawn_in}"{sized}>{inside}</font>')
    return "".join(parts)


@cache
def style(size: float, *, muted: bool = False, **more: Any) -> ParagraphStyle:
    """A paragraph style: `size` in points, leading in proportion."""
    register_fonts()
    values = {"leading": round(size * 1.2, 1), "textColor": MUTED if muted else INK} | more
    return ParagraphStyle(f"plain-{size}", fontName=SANS, fontSize=size, **values)


def text(words: str, size: float, *, font: str = SANS, **how: Any) -> Paragraph:
    """A paragraph of a person's words, drawn literally. `how` as for `style`."""
    return Paragraph(markup(words, font), style(size, **how))


def width_of(words: str, font: str, size: float) -> float:
    """The width in points of `words` on one line."""
    register_fonts()
    return float(pdfmetrics.stringWidth(plain(words), font, size))


def fitted(words: str, width: float, largest: float, smallest: float, *, font: str) -> float:
    """The largest size in points, in half points, at which `words` stay within `width` on one line."""
    size = largest
    while size > smallest and width_of(words, font, size) > width:
        size -= 0.5
    return size


def height_of(flowables: Sequence[Flowable], width: float) -> float:
    """The height in points of pieces set one below the other, `width` points wide."""
    return sum(float(flowable.wrap(width, 10_000)[1]) for flowable in flowables)


def heading(words: str) -> Paragraph:
    return text(words, 11, font=SANS_BOLD)


def label(words: str, *, right: bool = False) -> Paragraph:
    """A small caption, over a figure or in the corner of a box to write in."""
    return text(words, 8, muted=True, alignment=2 if right else 0)


def shares(width: float, weights: Sequence[float]) -> list[float]:
    """`width` dealt out in proportion to `weights`."""
    return [width * weight / sum(weights) for weight in weights]


def table(rows: list[Any], widths: Sequence[float | None], *rules: tuple[Any, ...], **more: Any) -> Table:
    """A table without padding or lines of its own, cells at the top; `rules` as reportlab takes them."""
    everywhere = (0, 0), (-1, -1)
    bare = [(f"{side}PADDING", *everywhere, 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")]
    return Table(
        rows,
        colWidths=list(widths),
        style=[*bare, ("VALIGN", *everywhere, "TOP"), *rules],
        hAlign="LEFT",
        **more,
    )


def ruled(
    rows: list[list[Any]],
    widths: Sequence[float],
    *rules: tuple[Any, ...],
    above: float,
    below: float,
    gap: float,
) -> Table:
    """Lines under a head that comes again on every page: a hairline below each, `above` and `below` points of room in
    them, `gap` between columns."""
    return table(
        rows,
        widths,
        ("LINEABOVE", (0, 0), (-1, 0), RULE, INK),
        ("LINEBELOW", (0, 0), (-1, -1), HAIR, INK),
        ("TOPPADDING", (0, 0), (-1, -1), above),
        ("BOTTOMPADDING", (0, 0), (-1, -1), below),
        ("RIGHTPADDING", (0, 0), (-2, -1), gap),
        *rules,
        repeatRows=1,
    )


def code128(code: str, *, width: float, height: float) -> Code128:
    """`code` as a Code 128 symbol (ISO/IEC 15417) with its quiet zones, at most `width` points wide.

    Printable ASCII only: reportlab would drop anything else in silence. Raises ValueError.
    """
    if not code or not all(" " <= char <= "~" for char in code):
        raise ValueError(f"{code!r} cannot be a barcode: use letters A-Z, digits and hyphens only.")
    modules = Code128(code, barWidth=1, quiet=0).width + 20  # a quiet zone is ten modules on either side
    module = min(1.0, width / modules)
    return Code128(code, barWidth=module, barHeight=height, lquiet=10 * module, rquiet=10 * module)


def head_with_code(what: str, code: str, name: str, width: float, *more: Flowable) -> Table:
    """The head of a sheet about one lot or batch: what it is, the code in large letters and as bars, its name."""
    bars = code128(code, width=0.4 * width, height=40)
    left = width - bars.width
    shown = spaced(code)
    size = fitted(shown, left - 8, 30, 10, font=MONO_BOLD)
    words = [
        text(what, 8, muted=True),
        text(shown, size, font=MONO_BOLD, leading=1.08 * size),
        text(clipped(name, 200), 14, font=SANS_BOLD),
        *more,
    ]
    return table(
        [[words, bars]],
        [left, bars.width],
        ("RIGHTPADDING", (0, 0), (0, 0), 8),
        ("TOPPADDING", (1, 0), (1, 0), 6),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    )


def qr_code(content: str, *, size: float) -> QrCode:
    """`content` as a QR symbol, `size` points square with its quiet zone, error level M.

    Raises ValueError for nothing, or for more than stays readable at this size (300 characters).
    """
    if not content or len(content) > 300:
        raise ValueError("A QR code needs an address of 1 to 300 characters.")
    return QrCode(content, width=size, height=size, qrLevel="M")


def write_in(
    captions: Sequence[tuple[str, str]], width: float, height: float, weights: Sequence[float] = ()
) -> Table:
    """A row to write in: a caption at the top left of each box and perhaps a second at its top right.

    `width` and `height` of the whole row in points; `weights` say how the width is shared, else evenly.
    """
    cells = [
        table([[label(left), label(right, right=True)]], [None, None]) if right else label(left)
        for left, right in captions
    ]
    return table(
        [cells],
        shares(width, weights or [1] * len(cells)),
        ("LINEABOVE", (0, 0), (-1, 0), HAIR, INK),
        ("LINEBELOW", (0, 0), (-1, -1), HAIR, INK),
        ("LINEBEFORE", (1, 0), (-1, -1), HAIR, INK),
        ("LEFTPADDING", (1, 0), (-1, -1), 4),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        rowHeights=[height],
    )


def draw_foot(canvas: Any, foot: Flowable, width: float) -> None:
    """The line at the foot of a page, `width` points wide in all; its right end is left to the page's number."""
    foot.wrapOn(canvas, width - 80, 12)
    foot.drawOn(canvas, SIDE_PT, FOOT_PT - 2)


class Blank(Flowable):  # type: ignore[misc]  # the library is untyped
    """Room to write in: a small caption top left, empty space below. Draws no line; the table does."""

    def __init__(self, height: float, caption: str = "") -> None:
        super().__init__()
        self._height, self._caption = height, caption

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width, self.height = width, self._height
        return width, self._height

    def draw(self) -> None:
        if self._caption:
            caption = text(self._caption, 8, muted=True)
            _, tall = caption.wrapOn(self.canv, self.width, self._height)
            caption.drawOn(self.canv, 0, self.height - tall - 1)


class TickBox(Flowable):  # type: ignore[misc]  # the library is untyped
    """An empty square to tick, sitting on the first line of the words beside it."""

    def __init__(self, size: float = 8) -> None:
        super().__init__()
        self.width = self.height = size

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        self.canv.setLineWidth(0.6)
        self.canv.rect(0, 0, self.width, self.height, stroke=1, fill=0)


class RuledLines(Flowable):  # type: ignore[misc]  # the library is untyped
    """Lines to write on that take what the page has left, from two to `most`; never starts a new page."""

    def __init__(self, caption: str, pitch: float, most: int) -> None:
        super().__init__()
        self._caption, self._pitch, self._most = caption, pitch, most

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        lines = min(self._most, int(height // self._pitch))
        self.width, self.height = width, lines * self._pitch if lines > 1 else 0
        return self.width, self.height

    def draw(self) -> None:
        if not self.height:
            return
        caption = text(self._caption, 8, muted=True)
        _, tall = caption.wrapOn(self.canv, self.width, self._pitch)
        caption.drawOn(self.canv, 0, self.height - tall - 2)
        self.canv.setLineWidth(HAIR)
        for line in range(round(self.height / self._pitch)):
            self.canv.line(0, line * self._pitch, self.width, line * self._pitch)


class NumberedCanvas(Canvas):  # type: ignore[misc]  # the library is untyped
    """A canvas that writes "page 1 of 2" at the foot of every page, once it knows how many there are."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._pages: list[dict[str, Any]] = []

    def showPage(self) -> None:
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self._pages, start=1):
            self.__dict__.update(page)
            self.setFont(SANS, 8)
            self.setFillColor(INK)
            self.drawRightString(self._pagesize[0] - SIDE_PT, FOOT_PT, f"page {number} of {len(self._pages)}")
            super().showPage()
        super().save()


def sheet_page(
    name: str,
    size: tuple[float, float],
    head_room: float,
    furniture: Callable[[Canvas, Any], None],
    then: str | None = None,
) -> PageTemplate:
    """A page with the studio's margins. `head_room` is kept free above the text, in points; `furniture` draws what
    stands on every such page; `then` names the template of the page after it."""
    width, height = size
    frame = Frame(
        SIDE_PT, FOOT_ROOM_PT, width - 2 * SIDE_PT, height - head_room - FOOT_ROOM_PT, 0, 0, 0, 0, id=name
    )
    return PageTemplate(name, [frame], onPage=furniture, pagesize=size, autoNextPageTemplate=then)


def as_pdf(
    story: Sequence[Flowable],
    pages: Sequence[PageTemplate],
    size: tuple[float, float],
    *,
    title: str,
    author: str,
) -> bytes:
    """The pieces set on pages, as PDF bytes; the same pieces give the same bytes."""
    out = io.BytesIO()
    document = BaseDocTemplate(
        out, pagesize=size, title=plain(title), author=plain(author), lang="en", invariant=1
    )
    document.addPageTemplates(list(pages))
    document.build(list(story), canvasmaker=NumberedCanvas)
    return out.getvalue()
