"""The shelf ahead: what is there now, and what is left of it after each run and each delivery, in the order of days.

Plain arithmetic in base units; no database and no clock. Within a day what comes in counts before what goes out, and what
is made before what uses it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum


class Step(IntEnum):
    """What happens, in the order in which it counts within a day."""

    COMES = 0
    MADE = 1
    NEEDED = 2


@dataclass(frozen=True)
class Event:
    """A quantity of one item that comes or goes on a day. `source` says of what; `turn` orders events of a day."""

    on: date
    step: Step
    source: str
    quantity: int
    turn: int = 0

    @property
    def change(self) -> int:
        """What it does to the shelf, signed."""
        return -self.quantity if self.step is Step.NEEDED else self.quantity


@dataclass(frozen=True)
class After:
    """The shelf after an event: `level` may lie below nothing. `short` is what this event alone finds missing."""

    event: Event
    level: int
    short: int


def project(opening: int, events: Iterable[Event]) -> list[After]:
    """The level after each event, in order, beginning with what is there.

    A run that finds too little is short by what is missing for it; what is missing then stays missing, so that the next
    is short by its own need and not by the first one's again.
    """
    level, rows = opening, []
    for event in sorted(events, key=lambda each: (each.on, each.step, each.turn)):
        level += event.change
        short = min(-level, event.quantity) if event.step is Step.NEEDED and level < 0 else 0
        rows.append(After(event, level, short))
    return rows


def first_short(rows: Sequence[After]) -> After | None:
    """The first event that finds too little."""
    return next((row for row in rows if row.short), None)
