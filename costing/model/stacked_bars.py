"""Stacked bars for the eye: widths in whole thousandths of the bar, so that a template only draws."""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.core.money import allocate

FULL = 1000


@dataclass(frozen=True)
class Segment:
    """One head of a bar: its place from the left and its width, in thousandths of the bar."""

    name: str
    number: int
    value: int
    start: int
    width: int


def stacked(heads: Sequence[tuple[str, int]], longest: int = 0) -> list[Segment]:
    """Segments that fill the bar exactly, heads of no value left out. Empty when nothing has a value.

    `longest` is the sum of the longest of several bars, so that they can be compared by the eye.
    """
    values = [max(value, 0) for _, value in heads]
    if not any(values):
        return []
    full = FULL * sum(values) // longest if longest else FULL
    segments, start = [], 0
    for number, ((name, value), width) in enumerate(zip(heads, allocate(full, values), strict=True), start=1):
        if value > 0:
            segments.append(Segment(name, number, value, start, width))
        start += width
    return segments
