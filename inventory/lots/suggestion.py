"""Which lots to take for a need: as few as possible, and among those the first to expire.

First to expire goes first, but one lot that covers the whole need is preferred to several that share it,
and few to many, because each extra lot in a batch widens a recall. Common practice, no source. Plain
arithmetic in base units; which lots may be used at all (held, expired) is settled before they come here.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Shelf:
    """A lot that may be used: `on_hand` in base units, `expires_on` None when it does not expire."""

    lot_id: int
    code: str
    on_hand: int
    expires_on: date | None
    arrived_on: date


@dataclass(frozen=True)
class Pick:
    """What to take of one lot, in base units, above zero."""

    lot_id: int
    code: str
    quantity: int


@dataclass(frozen=True)
class Suggestion:
    """The picks in the order to use them, what they leave uncovered (base units), and why, in a sentence."""

    picks: tuple[Pick, ...]
    short: int
    reason: str


def suggest_lots(need: int, shelves: Iterable[Shelf]) -> Suggestion:
    """Suggest lots for `need` base units.

    Lots stand in line by expiry (none last), then oldest arrival, then code. The answer has the smallest
    number of lots that covers the need; where several sets have that number, the one holding the lot nearest
    the front of the line, then the next nearest, and so on. Lots are used up in line, so that only the last
    is left with a rest. When all of them together fall short, all are suggested and `short` says by how much.

    Raises ValueError when the need is below zero.
    """
    if need < 0:
        raise ValueError("What is needed cannot be below zero.")
    if need == 0:
        return Suggestion((), 0, "Nothing is needed.")
    line = sorted((lot for lot in shelves if lot.on_hand > 0), key=_place_in_line)
    chosen = _fewest_first_in_line(need, line)
    if chosen is None:
        return Suggestion(_take(need, line), need - _held(line), _reason_short(len(line)))
    return Suggestion(_take(need, chosen), 0, _reason(chosen, line))


def _place_in_line(lot: Shelf) -> tuple[date, date, str, int]:
    return (lot.expires_on or date.max, lot.arrived_on, lot.code, lot.lot_id)


def _fewest_first_in_line(need: int, line: Sequence[Shelf]) -> list[Shelf] | None:
    """The set described by `suggest_lots`, in line; None when even all lots fall short."""
    # The largest lots cover a need with the fewest, so they give the number and say what is still reachable.
    count = next((n for n in range(1, len(line) + 1) if _largest(line, n) >= need), None)
    if count is None:
        return None
    chosen: list[Shelf] = []
    for index, lot in enumerate(line):
        still_open = count - len(chosen) - 1
        if _held(chosen) + lot.on_hand + _largest(line[index + 1 :], still_open) >= need:
            chosen.append(lot)
        if len(chosen) == count:
            break
    return chosen


def _take(need: int, lots: Iterable[Shelf]) -> tuple[Pick, ...]:
    picks = []
    for lot in lots:
        quantity = min(need, lot.on_hand)
        picks.append(Pick(lot.lot_id, lot.code, quantity))
        need -= quantity
    return tuple(picks)


def _held(lots: Iterable[Shelf]) -> int:
    return sum(lot.on_hand for lot in lots)


def _largest(lots: Iterable[Shelf], count: int) -> int:
    """What the `count` fullest of these lots hold together."""
    return sum(sorted((lot.on_hand for lot in lots), reverse=True)[:count])


def _reason(chosen: Sequence[Shelf], line: Sequence[Shelf]) -> str:
    if len(chosen) > 2:
        return f"{len(chosen)} lots, because no {len(chosen) - 1} together hold enough."
    if len(chosen) == 2:
        return "2 lots, because no single lot holds enough."
    if chosen[0] is line[0]:
        return "One lot covers it; a second would widen a recall."
    return "One lot covers it; an earlier lot does not hold enough, and sharing would widen a recall."


def _reason_short(count: int) -> str:
    if count == 0:
        return "No lot that may be used is on the shelf."
    if count == 1:
        return "The only lot does not hold enough."
    together = "Both lots" if count == 2 else f"All {count} lots"
    return f"{together} together do not hold enough."
