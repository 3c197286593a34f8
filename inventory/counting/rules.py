"""How often an item is counted and how far a count may be off: classes by yearly value, due days, tolerances.

Plain arithmetic, no database and no clock. Sorting items into three classes by what was used of them in a year, and
counting the dear ones most often, is what operations textbooks call ABC analysis; the cuts are the studio's own.
Shares and tolerances are parts per million.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

WHOLE = 1_000_000
DAYS_IN_A_YEAR = 365


@dataclass(frozen=True)
class Cut:
    """A class: its letter, and the share of the yearly value up to which it reaches."""

    letter: str
    share_ppm: int


def classify(values: Iterable[tuple[int, int]], cuts: Sequence[Cut]) -> dict[int, str]:
    """The class of each item, from pairs of item id and what was used of it in a year, in millionths.

    Items are taken in order of value. A class takes items as long as the running share, the item's own included,
    is at most the class's; the most valuable item is always in the first class, and what reaches beyond the last
    cut or was not used at all is in the last. Of equal values the lower id comes first. `cuts` in order.
    """
    ranked = sorted(values, key=lambda pair: (-pair[1], pair[0]))
    total = sum(value for _, value in ranked if value > 0)
    found: dict[int, str] = {}
    running, at = 0, 0
    for item_id, value in ranked:
        if value <= 0:
            found[item_id] = cuts[-1].letter
            continue
        running += value
        if found:
            while at < len(cuts) - 1 and running * WHOLE > cuts[at].share_ppm * total:
                at += 1
        found[item_id] = cuts[at].letter
    return found


def due_on(last: date | None, times_a_year: int) -> date | None:
    """The day an item is due that was last counted on `last`; None, so at once, when it never was.

    A part of a day is left off, so that a year holds as many counts as it should.
    """
    return last + timedelta(days=DAYS_IN_A_YEAR // times_a_year) if last else None


def is_due(last: date | None, times_a_year: int, on: date) -> bool:
    """Whether an item last counted on a day, or never, is due on another."""
    due = due_on(last, times_a_year)
    return due is None or due <= on


def beyond(counted: int, book: int, tolerance_ppm: int) -> bool:
    """Whether a count is further from the book figure than the tolerance, a share of the book figure, allows.

    Exactly at the tolerance is within it. Of an empty lot any find is beyond.
    """
    return abs(counted - book) * WHOLE > tolerance_ppm * book


def off_ppm(counted: int, book: int) -> Fraction | None:
    """The difference as a share of the book figure, in parts per million; None where the books hold nothing."""
    return Fraction((counted - book) * WHOLE, book) if book else None
