"""What a table's rows turn out to be: new, known already, known with other values. Shared by all tables."""

import hashlib
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any

from django.utils import timezone

from inventory.importing.cells import Cells, ImportRow, Problem
from inventory.models import Import, ImportedRow

_AT_ONCE = 5_000
OPENS_AT, HAPPENS_AT = time(8), time(12)
"""When a day without a time is entered, on the studio's clock: lots open before anything happens to them."""


@dataclass(frozen=True)
class Entry:
    """Something a file would add: `what` was understood. `says` is its content, word for word the same each time the
    file is read; `key` is what it will be known by, where it goes into the books."""

    row: int
    says: str
    what: Any
    rows: int = 1
    key: str = ""


@dataclass
class Findings:
    """What was made of the rows of one table. `again` are new ones that were in the books and were reversed."""

    heads: tuple[str, ...]
    # How a new entry was understood, in words, under these heads.
    show: Callable[[Any], tuple[str, ...]]
    new: list[Entry] = field(default_factory=list)
    known: int = 0
    again: int = 0
    differs: list[Problem] = field(default_factory=list)
    notices: list[Problem] = field(default_factory=list)
    asks: set[str] = field(default_factory=set)


Understand = Callable[[Cells, Sequence[ImportRow], datetime], Findings]


def unseen(table: Import.Table, contents: Sequence[str], findings: Findings) -> list[tuple[int, str]]:
    """Which rows are not in the books, by what they say: the place of each, and the key it will be known by. Counts
    the others.

    A key is a digest of what a row says and of how many rows before it in the file say the same, so that each of
    several rows alike is known by itself. What was reversed since is no longer in the books; it gets a further key.
    """
    alike: Counter[str] = Counter()
    numbers = []
    for says in contents:
        alike[says] += 1
        numbers.append(alike[says])
    fresh: dict[int, str] = {}
    waiting, again = list(range(len(contents))), 0
    while waiting:
        keys = {
            place: _digest(table.value, contents[place], str(numbers[place]), str(again)) for place in waiting
        }
        there = _in_the_books(list(keys.values()))
        fresh |= {place: key for place, key in keys.items() if key not in there}
        waiting = [place for place, key in keys.items() if there.get(key)]
        findings.known += sum(not reversed_ for reversed_ in there.values())
        findings.again += len(waiting) if again == 0 else 0
        again += 1
    return sorted(fresh.items())


def _digest(*parts: str) -> str:
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()


def _in_the_books(keys: Sequence[str]) -> dict[str, bool]:
    """Those of these keys that were brought in before, and whether what they stand for was reversed."""
    there: dict[str, bool] = {}
    for start in range(0, len(keys), _AT_ONCE):
        rows = ImportedRow.objects.filter(key__in=keys[start : start + _AT_ONCE])
        there |= {key: reversal is not None for key, reversal in rows.values_list("key", "posting__reversal")}
    return there


class Instants:
    """Days as instants on the studio's clock, at one time of day and never after now."""

    def __init__(self, at: time, now: datetime) -> None:
        self.at, self.now, self.zone = at, now, timezone.get_current_timezone()
        self._found: dict[date, datetime] = {}

    def of(self, day: date) -> datetime:
        """The instant of a day."""
        if (found := self._found.get(day)) is None:
            found = self._found[day] = min(datetime.combine(day, self.at, self.zone), self.now)
        return found

    def day_of(self, moment: datetime) -> date:
        """The day an instant falls on."""
        return moment.astimezone(self.zone).date()
