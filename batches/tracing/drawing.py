"""A trace as a drawing: a box for each lot and batch, a line with its quantity for each step. Pure; no query.

What went in stands to the left of the root, where it went to the right.
"""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from batches.lineage.lineage import Key
from batches.models import Batch
from batches.tracing.layout import Box, Line, Measures, Placed, lay_out
from batches.tracing.shares import Place
from batches.tracing.trace import Edge, Trace
from inventory.models import Lot
from studio.core.codes import spaced

# More cannot be taken in at a glance; the nearest are drawn, and the list and the table have all.
BOXES_AT_MOST = 150
LETTERS_ON_LINE = 15
BOX, LINE_APART = 64, 20
SHORT = {
    Place.SHELF: "here",
    Place.SENT: "sent out",
    Place.SCRAPPED: "scrapped",
    Place.SAMPLED: "sampled",
    Place.SENT_BACK: "sent back",
    Place.COUNTED: "counted off",
    Place.BEFORE: "used before",
    Place.SENT_BEFORE: "sent out before",
    Place.LOOSE: "used",
}


@dataclass(frozen=True)
class TraceBox:
    """A box: where it stands, its three lines, the whole of them for who points at it, and where it leads."""

    x: int
    y: int
    height: int
    what: str
    code: str
    name: str
    state: str
    whole: str
    url: str
    is_root: bool
    held: bool

    @property
    def middle(self) -> int:
        """Half way down the box."""
        return self.y + self.height // 2


class Run(NamedTuple):
    """From x, y along a curve through `half` to `bend`, and on at its `level` to `end`."""

    x: int
    y: int
    bend: int
    level: int
    end: int

    @property
    def half(self) -> int:
        """Half way along the curve."""
        return (self.x + self.bend) // 2


@dataclass(frozen=True)
class Stroke:
    """A line: its runs, each from a point along a curve to where it bends and on to its end; its quantity there."""

    runs: tuple[Run, ...]
    x: int
    y: int
    words: str
    whole: str

    @property
    def path(self) -> str:
        """The line as SVG has it."""
        start = f"M{self.runs[0].x} {self.runs[0].y}"
        return start + "".join(
            f"L{run.x} {run.y}C{run.half} {run.y} {run.half} {run.level} {run.bend} {run.level}H{run.end}"
            for run in self.runs
        )


@dataclass(frozen=True)
class Style:
    """How boxes are set out, and how many letters stand in one."""

    measures: Measures
    letters: int


@dataclass(frozen=True)
class Drawing:
    """The whole of it. `left_out` boxes are too far from the root to be drawn."""

    width: int
    height: int
    box_width: int
    boxes: tuple[TraceBox, ...]
    lines: tuple[Stroke, ...]
    left_out: int
    says: str


SCREEN = Style(Measures(), 27)


def drawing_of(trace: Trace, style: Style = SCREEN, at_most: int = BOXES_AT_MOST) -> Drawing | None:
    """The drawing of a trace, its nearest boxes; None where there is nothing beside the root."""
    columns = _columns(trace)
    if len(columns) < 2:
        return None
    # Of those equally near the youngest come first: of them most is still about.
    near = sorted(columns, key=lambda key: (abs(columns[key]), -key.pk, key.what))[:at_most]
    shown = set(near)
    edges = [
        edge for edge in _merged([*trace.went_in, *trace.went_on]) if {edge.source, edge.target} <= shown
    ]
    reaching: dict[Key, int] = {}
    for edge in edges:
        reaching[edge.target] = reaching.get(edge.target, 0) + 1
    order = [key for key in (*trace.up.order, *trace.down.order) if key in shown]
    boxes = [
        Box(key, columns[key], max(BOX, LINE_APART * (reaching.get(key, 0) + 1)))
        for key in dict.fromkeys(order)
    ]
    layout = lay_out(boxes, [(edge.source, edge.target) for edge in edges], style.measures)
    return Drawing(
        layout.width,
        layout.height,
        style.measures.box,
        tuple(_box(trace, placed, style.letters) for placed in layout.boxes),
        tuple(_stroke(trace, line, edge) for line, edge in zip(layout.lines, edges, strict=True)),
        len(columns) - len(shown),
        _says(trace, columns),
    )


def _columns(trace: Trace) -> dict[Key, int]:
    """How many steps each is from the root at the most: below zero what went in, above where it went."""
    columns = {trace.root: 0}
    for key in trace.down.order:
        for onward in trace.down.onward.get(key, ()):
            if key in columns and trace.down.rank[onward] > trace.down.rank[key]:
                columns[onward] = max(columns.get(onward, 0), columns[key] + 1)
    for key in reversed(trace.up.order):
        for source in trace.up.back.get(key, ()):
            if key in columns and trace.up.rank[source] < trace.up.rank[key]:
                columns[source] = min(columns.get(source, 0), columns[key] - 1)
    return columns


def _merged(edges: Iterable[Edge]) -> list[Edge]:
    """One step between two, where a lot was drawn both into the pot and by the unit."""
    found: dict[tuple[Key, Key], Edge] = {}
    for edge in edges:
        at = (edge.source, edge.target)
        known = found.get(at)
        quantity = edge.quantity + (known.quantity if known else 0)
        found[at] = Edge(edge.source, edge.target, edge.how, quantity, edge.item)
    return list(found.values())


def _says(trace: Trace, columns: dict[Key, int]) -> str:
    """How many went in and carry some of it, drawn or not."""
    before = sum(column < 0 for column in columns.values())
    after = sum(column > 0 for column in columns.values())
    code = spaced(trace.of(trace.root).code)
    parts = [f"{before} lots and batches on the left went into {code}"] if before else []
    parts += [f"{after} on the right carr{'ies' if after == 1 else 'y'} some of {code}"] if after else []
    return "; ".join(parts) + "."


def _box(trace: Trace, placed: Placed, letters: int) -> TraceBox:
    thing = trace.of(placed.key)
    state = _of_lot(trace, thing) if isinstance(thing, Lot) else _of_batch(thing)
    what = "Lot" if isinstance(thing, Lot) else "Batch"
    held = isinstance(thing, Lot) and thing.held
    said = f"On hold. {state}" if held else state
    code = spaced(thing.code)
    return TraceBox(
        placed.x,
        placed.y,
        placed.height,
        what,
        code,
        clipped(thing.item.name, letters),
        clipped(said, letters + 3),
        f"{what} {code}, {thing.item.name}. {said}",
        thing.get_absolute_url(),
        placed.key == trace.root,
        held,
    )


def _of_lot(trace: Trace, lot: Lot) -> str:
    """Where what the lot held is by now; of an ancestor, what is left of it."""
    key = Key("lot", lot.pk)
    if key in trace.shares.amounts or key == trace.root:
        parts = [
            f"{lot.item.quantity(end.quantity)} {SHORT[end.place]}"
            for end in trace.ends_of(key)
            if end.quantity and end.place in SHORT
        ]
        return ", ".join(parts) or "all used"
    theirs = lot.supplier_lot or (lot.supplier.name if lot.supplier else "")
    left = f"{lot.item.quantity(lot.on_hand)} here" if lot.on_hand else "used up"
    return f"{theirs}, {left}" if theirs else left


def _of_batch(batch: Batch) -> str:
    day = f"{batch.finished_at:%d %b %Y}" if batch.finished_at else f"{batch.planned_on:%d %b %Y}"
    return f"{batch.get_state_display()} {day}"


def _stroke(trace: Trace, line: Line, edge: Edge) -> Stroke:
    """A line that curves between columns, and runs straight where its quantity stands."""
    words = edge.item.quantity(edge.quantity)
    x, y = line.points[-1]
    runs = tuple(
        Run(x1, y1, min(x2, x1 + 72), y2, x2)
        for (x1, y1), (x2, y2) in zip(line.points[::2], line.points[1::2], strict=True)
    )
    source, target = (spaced(trace.of(key).code) for key in (edge.source, edge.target))
    whole = f"{words} {edge.how}, {source} to {target}"
    return Stroke(runs, x - 8, y - 5, clipped(words, LETTERS_ON_LINE), whole)


def clipped(words: str, letters: int) -> str:
    """Words that fit into so many letters, cut between words where that leaves half of the room used; broad letters,
    as of Chinese, count twice."""
    room, end = letters, 0
    for char in words:
        room -= 2 if unicodedata.east_asian_width(char) in "WF" else 1
        if room < 0:
            break
        end += 1
    if end == len(words):
        return words
    start = words[: max(end - 1, 0)]
    cut = start.rfind(" ") if not words[end - 1 : end].isspace() else len(start)
    return (start[:cut] if cut > letters // 2 else start).rstrip(" ,") + "…"
