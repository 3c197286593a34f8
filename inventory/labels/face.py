"""How one printed lot label is laid out in the room it has.

What gives way on a small label is the QR code first, then the barcode; the code in letters and what the lot is
stay. A symbol is shown only at a size that scans, so that none is there which does not. All lengths are points.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

from studio.web.pdf import (
    HAIR,
    INK,
    MONO_BOLD,
    SANS,
    SANS_BOLD,
    code128,
    fitted,
    grouped,
    markup,
    plain,
    qr_code,
    style,
    width_of,
)

# Bars of 0.25 mm are two dots of a label printer of 203 dpi; common practice, no source.
BAR_PT, BARS_HEIGHT_PT, BARS_HEIGHT_MOST_PT = 0.25 * 72 / 25.4, 17.0, 30.0
QR_MODULE_PT, QR_MOST_PT = 0.35 * 72 / 25.4, 71.0
GAP_PT = 4.0
LEADING = 1.15
CODE_MOST_PT, CODE_BESIDE_PT, CODE_LEAST_PT = 28.0, 12.0, 8.0
CODE_SHARE = 0.3  # of the height of a label
TEXT_MOST_PT, READABLE_PT, TEXT_LEAST_PT = 9.0, 6.0, 4.5
BLANK_LEADING = 1.8  # room to write a date in by hand
NAME_LINES, FACT_LINES = 3, 2


@dataclass(frozen=True)
class Label:
    """What one label says, as finished texts; an empty one is left out.

    `code` without spaces, `url` for the QR code, `quantity` such as "10 kg on 20 Mar 2026", `supplier_lot` the
    bare number, `arrived` and `expires` whole such as "Arrived 1 Mar 2026". `opened` is the day alone: "" leaves
    a blank to write it in, None leaves it out.
    """

    code: str
    url: str
    item: str
    kind: str = ""
    quantity: str = ""
    supplier_lot: str = ""
    arrived: str = ""
    expires: str = ""
    opened: str | None = ""
    place: str = ""
    note: str = ""


@dataclass(frozen=True)
class _Line:
    """A line of text: `rule` points of line to write on after it."""

    words: str
    font: str
    size: float
    leading: float
    rule: float = 0.0


_Symbol = tuple[
    Flowable, float, float
]  # what is drawn, and how far right and down its bottom left corner lies
_Head = tuple[_Line, float, _Symbol]


@dataclass(frozen=True)
class Face:
    """A label laid out: everything that is drawn, from the top left corner of its inside; points right and down."""

    width: float
    height: float
    code: _Line
    head: float
    bars: _Symbol | None
    qr: _Symbol | None
    column: float
    lines: tuple[_Line, ...]

    def draw(self, canvas: Canvas) -> None:
        """Draw it, the origin at the top left corner of the inside. Nothing leaves the inside."""
        _write(canvas, self.code, 0, self.width)
        for symbol in (self.bars, self.qr):
            if symbol:
                drawn, right, down = symbol
                drawn.wrapOn(canvas, self.width, self.height)
                drawn.drawOn(canvas, right, -down)
        down = self.head
        for line in self.lines:
            _write(canvas, line, down, self.column)
            down += line.leading


def _write(canvas: Canvas, line: _Line, down: float, width: float) -> None:
    """One line, cut off at `width`: a sign drawn wider than it was measured must not reach the QR code."""
    written = Paragraph(markup(line.words, line.font, line.size), style(line.size))
    written.wrapOn(canvas, 10_000, line.leading)
    canvas.saveState()
    box = canvas.beginPath()
    box.rect(0, -down - 1.3 * line.leading, width, 1.5 * line.leading)
    canvas.clipPath(box, stroke=0, fill=0)
    written.drawOn(canvas, 0, -down - line.leading)
    if line.rule:
        begins = width_of(line.words, line.font, line.size) + 2
        canvas.setLineWidth(HAIR)
        canvas.setStrokeColor(INK)
        base = -down - line.leading + 0.2 * line.size
        canvas.line(begins, base, begins + line.rule, base)
    canvas.restoreState()


def face(label: Label, width: float, height: float) -> Face:
    """The first arrangement on which everything is there at a readable size, else words alone, as many as fit."""
    for arrangement in _arrangements(label, width, height):
        for size in _sizes(TEXT_MOST_PT, READABLE_PT):
            lines = _lines(label, arrangement.column, size)
            if arrangement.head + sum(line.leading for line in lines) <= height:
                return replace(arrangement, lines=tuple(lines))
    for size in _sizes(READABLE_PT, TEXT_LEAST_PT):
        lines = _lines(label, width, size)
        if arrangement.head + sum(line.leading for line in lines) <= height:
            break
    kept, used = [], arrangement.head
    for line in lines:
        used += line.leading
        if used <= height:
            kept.append(line)
    return replace(arrangement, lines=tuple(kept))


def _sizes(largest: float, smallest: float) -> Iterator[float]:
    size = largest
    while size >= smallest:
        yield size
        size -= 0.5


def _arrangements(label: Label, width: float, height: float) -> Iterator[Face]:
    """Ways to set code, bars and QR code, from all of them to the code alone; each without its lines yet."""
    code = grouped(plain(label.code))
    largest = round(CODE_SHARE * height * 2) / 2
    ways = (
        _beside(label, code, width, largest),
        _beside(label, code, width, CODE_BESIDE_PT),
        _below(label, code, width, largest),
    )
    heads = [Face(width, height, *way, None, width, ()) for way in ways if way]
    for head in heads:
        if with_qr := _qr_under(label, head):
            yield with_qr
    yield from heads
    alone = _code_line(code, width, largest)
    yield Face(width, height, alone, alone.leading, None, None, width, ())


def _code_line(code: str, width: float, largest: float, smallest: float = CODE_LEAST_PT) -> _Line:
    size = fitted(code, width, max(smallest, min(CODE_MOST_PT, largest)), smallest, font=MONO_BOLD)
    return _Line(code, MONO_BOLD, size, LEADING * size)


def _beside(label: Label, code: str, width: float, largest: float) -> _Head | None:
    """The code with its bars on the right; None where the code would be small or the bars too fine."""
    room = width - _bars_width(label.code) - GAP_PT
    line = _code_line(code, room, largest, CODE_BESIDE_PT)
    taken = width_of(code, MONO_BOLD, line.size)
    if taken > room:
        return None
    tall = max(BARS_HEIGHT_PT, min(BARS_HEIGHT_MOST_PT, line.leading))
    bars = code128(label.code, width=width - taken - GAP_PT, height=tall)
    return line, tall + GAP_PT / 2, (bars, width - bars.width, tall)


def _below(label: Label, code: str, width: float, largest: float) -> _Head | None:
    """The code over its bars; None where the bars would be too fine."""
    if _bars_width(label.code) > width:
        return None
    line = _code_line(code, width, largest)
    down = line.leading + BARS_HEIGHT_PT
    bars = code128(label.code, width=width, height=BARS_HEIGHT_PT)
    return line, down + GAP_PT / 2, (bars, 0, down)


def _bars_width(code: str) -> float:
    """The least width at which the bars of a code scan, quiet zones among it."""
    # Drawn with room to spare a module is one point wide.
    return float(code128(code, width=10_000, height=1).width) * BAR_PT


def _qr_under(label: Label, head: Face) -> Face | None:
    """The same with a QR code at the right of the words; None where its squares would be too small."""
    size = min(head.height - head.head, 0.45 * head.width, QR_MOST_PT)
    symbol = qr_code(label.url, size=max(size, 1))
    # A symbol of version v has 4 v + 17 squares on a side (ISO/IEC 18004) and a quiet zone of four on either side.
    squares = 4 * symbol.qr.calculate_version() + 17 + 8
    if size / squares < QR_MODULE_PT:
        return None
    qr = symbol, head.width - size, head.head + size
    column = head.width - size - GAP_PT
    return replace(head, qr=qr, column=column)


def _lines(label: Label, width: float, size: float) -> list[_Line]:
    """The words of a label, set in lines of `width`: what it is, the facts, and room to write the opening day."""
    lines = _name(label.item, width, size)
    lines += [_Line(words, SANS, size, LEADING * size) for words in _packed(_facts(label), width, size)]
    if label.opened == "":
        room = width - width_of("Opened", SANS, size) - 2
        lines.append(_Line("Opened", SANS, size, BLANK_LEADING * size, rule=min(room, 80)))
    return lines


def _facts(label: Label) -> list[str]:
    facts = (
        label.quantity,
        label.kind,
        label.supplier_lot and f"Supplier's lot {label.supplier_lot}",
        label.arrived,
        label.expires,
        label.opened and f"Opened {label.opened}",
        label.place,
        label.note,
    )
    return [_one_line(fact) for fact in facts if fact and fact.strip()]


def _name(item: str, width: float, size: float) -> list[_Line]:
    """The item in bold: larger than the facts where one line takes it, else over several lines."""
    words = _one_line(item)
    at = fitted(words, width, size + 2, size, font=SANS_BOLD)
    shown = _wrapped(words, width, SANS_BOLD, at, NAME_LINES)
    return [_Line(line, SANS_BOLD, at, LEADING * at) for line in shown]


def _one_line(words: str) -> str:
    """On one line, with single spaces; no-break spaces stay, so that a day is never broken."""
    return " ".join(plain(words).replace("\n", " ").split(" ")).strip()


def _packed(facts: Sequence[str], width: float, size: float) -> list[str]:
    """Facts set side by side while they fit, a long one over lines of its own."""
    lines: list[str] = []
    for fact in facts:
        joined = f"{lines[-1]} · {fact}" if lines else fact
        if lines and _width(joined, SANS, size) <= width:
            lines[-1] = joined
        else:
            lines += _wrapped(fact, width, SANS, size, FACT_LINES)
    return lines


def _wrapped(words: str, width: float, font: str, size: float, most: int) -> list[str]:
    """`words` over at most `most` lines of `width`, the last cut; a word longer than a line is broken."""
    lines: list[str] = []
    while words and len(lines) < most - 1 and _width(words, font, size) > width:
        fits = len(_shortened(words, width, font, size))
        at = words.rfind(" ", 1, fits + 1)
        at = at if at > 0 else fits
        lines.append(words[:at])
        words = words[at:].lstrip()
    return [*lines, _cut(words, width, font, size)]


def _cut(words: str, width: float, font: str, size: float) -> str:
    """`words` cut to `width`, an ellipsis at the end where something was left out."""
    if _width(words, font, size) <= width:
        return words
    return _shortened(words, width - _width("…", font, size), font, size).rstrip() + "…"


def _shortened(words: str, width: float, font: str, size: float) -> str:
    """As many of the first characters as fit in `width`; one at least."""
    fits, beyond = 1, len(words) + 1
    while beyond - fits > 1:
        middle = (fits + beyond) // 2
        if _width(words[:middle], font, size) <= width:
            fits = middle
        else:
            beyond = middle
    return words[:fits]


def _width(words: str, font: str, size: float) -> float:
    """The width of `words`, measured once for all the sizes that are tried."""
    return size * _width_at_one(words, font)


@lru_cache(maxsize=8192)
def _width_at_one(words: str, font: str) -> float:
    return width_of(words, font, 1)
