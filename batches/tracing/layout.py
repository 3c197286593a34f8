"""Where the boxes and lines of a drawn graph stand: in columns from left to right, with few lines crossing.

The usual four steps for layered drawings (common knowledge, no single source): long lines get a place in every column
they pass; each column is put in the order of the middles of what its boxes hang on, back and forth, and the order with
the fewest crossings is kept; boxes are moved towards what they hang on as far as their neighbours allow; lines meet a
box one below another. Plain Python: whole units of the drawing in and out.
"""

import itertools
from bisect import bisect_left, insort
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

SWEEPS = 8
PASSING = 14  # the height a passing line takes in a column
MARGIN = 12
Point = tuple[int, int]


@dataclass(frozen=True)
class Box:
    """Something to be placed: its column and its height."""

    key: Any
    column: int
    height: int


@dataclass(frozen=True)
class Placed:
    """The top left corner of a box."""

    key: Any
    x: int
    y: int
    height: int


@dataclass(frozen=True)
class Line:
    """A line from the right side of one box to the left side of another, by way of points between columns."""

    source: Any
    target: Any
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Layout:
    """The drawing: its size, its boxes and its lines in the order they were given."""

    width: int
    height: int
    boxes: tuple[Placed, ...]
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Measures:
    """How wide boxes are, how far columns stand apart, and how far boxes in one column."""

    box: int = 220
    across: int = 176
    down: int = 18


def lay_out(
    boxes: Sequence[Box], edges: Sequence[tuple[Hashable, Hashable]], measures: Measures | None = None
) -> Layout:
    """Place the boxes and the lines between them. A line that does not lead to the right is drawn straight."""
    measures = measures or Measures()
    work = _Work(boxes, edges)
    work.reduce_crossings()
    tops = work.heights(measures.down)
    return _drawn(boxes, edges, work, tops, measures)


class _Work:
    """The columns, with a place for every line that passes one."""

    def __init__(self, boxes: Sequence[Box], edges: Sequence[tuple[Hashable, Hashable]]) -> None:
        self.column: dict[Hashable, int] = {box.key: box.column for box in boxes}
        self.height: dict[Hashable, int] = {box.key: box.height for box in boxes}
        self.columns: dict[int, list[Hashable]] = {}
        for box in boxes:
            self.columns.setdefault(box.column, []).append(box.key)
        self.chains: dict[int, list[Hashable]] = {}
        self.left: dict[Hashable, list[Hashable]] = {}
        self.right: dict[Hashable, list[Hashable]] = {}
        for number, (source, target) in enumerate(edges):
            self._thread(number, source, target)

    def _thread(self, number: int, source: Hashable, target: Hashable) -> None:
        """Put a line through the columns between its ends."""
        first, last = self.column[source], self.column[target]
        if last <= first:
            return
        between: list[Hashable] = [("passing", number, column) for column in range(first + 1, last)]
        for column, key in enumerate(between, first + 1):
            self.columns.setdefault(column, []).append(key)
            self.column[key], self.height[key] = column, PASSING
        chain = [source, *between, target]
        self.chains[number] = chain
        for one, other in itertools.pairwise(chain):
            self.right.setdefault(one, []).append(other)
            self.left.setdefault(other, []).append(one)

    def reduce_crossings(self) -> None:
        """Order every column; of all orders met the one with the fewest crossings stays."""
        best, fewest = dict(self.columns), self.crossings()
        for sweep in range(SWEEPS):
            if not fewest:
                break
            forward = sweep % 2 == 0
            beside = self.left if forward else self.right
            for column in sorted(self.columns, reverse=not forward):
                self._order(column, beside)
            if (now := self.crossings()) < fewest:
                best, fewest = {column: list(keys) for column, keys in self.columns.items()}, now
        self.columns = best

    def _order(self, column: int, beside: dict[Hashable, list[Hashable]]) -> None:
        """Put a column in the order of the middles of what its boxes hang on; what hangs on nothing keeps its place."""
        keys = self.columns[column]
        places = self.places()
        own = {key: place for place, key in enumerate(keys)}

        def middle(key: Hashable) -> float:
            near = [places[other] for other in beside.get(key, ())]
            return sum(near) / len(near) if near else own[key]

        self.columns[column] = sorted(keys, key=lambda key: (middle(key), own[key]))

    def places(self) -> dict[Hashable, int]:
        """The place of each in its column."""
        return {key: place for keys in self.columns.values() for place, key in enumerate(keys)}

    def crossings(self) -> int:
        """How many pairs of lines cross between neighbouring columns."""
        places, count = self.places(), 0
        for keys in self.columns.values():
            met: list[int] = []
            for key in keys:
                ends = [places[other] for other in self.right.get(key, ())]
                count += sum(len(met) - bisect_left(met, end + 1) for end in ends)
                for end in ends:
                    insort(met, end)
        return count

    def heights(self, gap: int) -> dict[Hashable, int]:
        """The top of each, moved towards what it hangs on without changing any order."""
        tops: dict[Hashable, int] = {}
        for keys in self.columns.values():
            at = 0
            for key in keys:
                tops[key] = at
                at += self.height[key] + gap
        columns = sorted(self.columns)
        for sweep in range(SWEEPS):
            forward = sweep % 2 == 0
            beside = self.left if forward else self.right
            for column in columns if forward else reversed(columns):
                self._move(self.columns[column], beside, tops, gap)
        least = min(tops.values(), default=0)
        return {key: top - least for key, top in tops.items()}

    def _move(
        self,
        keys: list[Hashable],
        beside: dict[Hashable, list[Hashable]],
        tops: dict[Hashable, int],
        gap: int,
    ) -> None:
        """Move a column as near as can be, by least squares, to the middles of what its boxes hang on."""
        wanted, below, at = [], [], 0
        for key in keys:
            near = [tops[other] + self.height[other] // 2 for other in beside.get(key, ())]
            top = sum(near) // len(near) - self.height[key] // 2 if near else tops[key]
            wanted.append(top - at)
            below.append(at)
            at += self.height[key] + gap
        for key, place, offset in zip(keys, _rising(wanted), below, strict=True):
            tops[key] = place + offset


def _rising(wanted: Iterable[int]) -> list[int]:
    """The numbers that never fall and are nearest, by least squares, to those wanted: neighbours that would are
    pooled at their mean."""
    pools: list[tuple[int, int]] = []
    for number in wanted:
        total, count = number, 1
        while pools and pools[-1][0] * count > total * pools[-1][1]:
            before, many = pools.pop()
            total, count = total + before, count + many
        pools.append((total, count))
    return [total // count for total, count in pools for _ in range(count)]


def _drawn(
    boxes: Sequence[Box],
    edges: Sequence[tuple[Hashable, Hashable]],
    work: _Work,
    tops: dict[Hashable, int],
    measures: Measures,
) -> Layout:
    first = min(work.columns, default=0)
    step = measures.box + measures.across
    at = {column: MARGIN + (column - first) * step for column in work.columns}
    placed = tuple(Placed(box.key, at[box.column], MARGIN + tops[box.key], box.height) for box in boxes)
    leaving, reaching = _ports(edges, work, tops)
    lines = []
    for number, (source, target) in enumerate(edges):
        start = at[work.column[source]] + measures.box
        points = [(start, MARGIN + leaving[number])]
        for key in work.chains.get(number, [source, target])[1:-1]:
            middle = MARGIN + tops[key] + PASSING // 2
            points += [(at[work.column[key]], middle), (at[work.column[key]] + measures.box, middle)]
        points.append((at[work.column[target]], MARGIN + reaching[number]))
        lines.append(Line(source, target, tuple(points)))
    wide = (max(work.columns, default=0) - first) * step + measures.box
    tall = max((tops[key] + work.height[key] for key in tops), default=0)
    return Layout(wide + 2 * MARGIN, tall + 2 * MARGIN, placed, tuple(lines))


def _ports(
    edges: Sequence[tuple[Hashable, Hashable]], work: _Work, tops: dict[Hashable, int]
) -> tuple[dict[int, int], dict[int, int]]:
    """Where each line leaves its box and where it reaches the other, one below another in the order of the far ends."""
    out: dict[Hashable, list[tuple[int, int]]] = {}
    into: dict[Hashable, list[tuple[int, int]]] = {}
    for number, (source, target) in enumerate(edges):
        chain = work.chains.get(number, [source, target])
        after, before = chain[1], chain[-2]
        out.setdefault(source, []).append((tops[after] + work.height[after] // 2, number))
        into.setdefault(target, []).append((tops[before] + work.height[before] // 2, number))
    return _spread(out, work, tops), _spread(into, work, tops)


def _spread(
    ends: dict[Hashable, list[tuple[int, int]]], work: _Work, tops: dict[Hashable, int]
) -> dict[int, int]:
    places = {}
    for key, found in ends.items():
        for place, (_, number) in enumerate(sorted(found), 1):
            places[number] = tops[key] + work.height[key] * place // (len(found) + 1)
    return places
