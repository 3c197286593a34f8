"""Codes as a hand scanner types them, one to a line: which lots they mean, and how many pieces were held before it.

A jar carries the code of its batch too, and that is what its symbol holds. Which lots a batch became is told by the
package that knows batches; see `inventory.neighbors`.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from inventory.lots.succession import standing_for
from inventory.models import Grade, Lot
from inventory.neighbors import neighbors
from studio.core.codes import is_valid, near, normalise, spaced

LINES_AT_MOST = 500
PIECES_AT_MOST = 9_999
NAMED = 3
SHOWN = 40
_TIMES = re.compile(r"\A(.+?)\s*[x×*]\s*(\d{1,4})\Z", re.IGNORECASE)


@dataclass
class Scanned:
    """Pieces by lot, in the order they were first scanned, and a sentence for every line that means no lot.

    `replaced` are codes (spaced) that were given out and are no lot's any more, each with the lot that was taken for it.
    """

    pieces: dict[int, int] = field(default_factory=dict)
    lots: dict[int, Lot] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    replaced: list[tuple[str, Lot]] = field(default_factory=list)

    @property
    def replaced_words(self) -> list[str]:
        """A sentence for each code that was replaced."""
        return [
            f"The code {code} was replaced by {lot.spaced_code}; that lot is taken."
            for code, lot in self.replaced
        ]


def read_scans(text: str, *, rather: Collection[int] = ()) -> Scanned:
    """What was scanned: a code to a line, each a piece, or `L04 K7C × 6` for six of them.

    Where a batch became several lots, those in `rather` (by key) are meant first, then first quality with something
    left, the oldest first. A handful of queries for any number of lines.
    """
    found = Scanned()
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if len(lines) > LINES_AT_MOST:
        found.problems.append(f"{len(lines)} lines are more than {LINES_AT_MOST}. Send them in several goes.")
        return found
    counted = [_count(line) for line in lines]
    codes = {normalise(code) for code, _ in counted}
    known = _lots_of(codes)
    replaced = _replaced(known)
    close = _close_to(codes - known.keys())
    for code, pieces in counted:
        lots = known.get(normalise(code), [])
        if not lots:
            found.problems.append(_unknown(code, close))
            continue
        lot = min(lots, key=lambda each: (each.pk not in rather, *_rank(each)))
        if normalise(code) in replaced and (spaced(normalise(code)), lot) not in found.replaced:
            found.replaced.append((spaced(normalise(code)), lot))
        found.lots[lot.pk] = lot
        found.pieces[lot.pk] = found.pieces.get(lot.pk, 0) + pieces
    return found


def _count(line: str) -> tuple[str, int]:
    """A line as a code and its number of pieces; a code may have an X in it, so a whole code comes first."""
    match = None if is_valid(normalise(line)) else _TIMES.match(line)
    return (match[1], int(match[2])) if match else (line, 1)


def _lots_of(codes: set[str]) -> dict[str, list[Lot]]:
    known: dict[str, list[Lot]] = {}
    for lot in Lot.objects.filter(code__in=codes).select_related("item"):
        known.setdefault(lot.code, []).append(lot)
    missing = codes - known.keys()
    meant: dict[str, list[int]] = {}
    for neighbor in neighbors() if missing else ():
        for code, keys in neighbor.lots_of_codes(missing).items():
            meant.setdefault(code, []).extend(keys)
    lots = Lot.objects.select_related("item").in_bulk({key for keys in meant.values() for key in keys})
    return known | {code: [lots[key] for key in keys if key in lots] for code, keys in meant.items()}


def _replaced(known: dict[str, list[Lot]]) -> set[str]:
    """Put the lots that lead on in the place of those that ended; gives back the codes of which some did."""
    instead = standing_for([lot for lots in known.values() for lot in lots if not lot.on_hand])
    changed = {code for code, lots in known.items() if any(lot.pk in instead for lot in lots)}
    for code in changed:
        known[code] = [other for lot in known[code] for other in instead.get(lot.pk, [lot])]
    return changed


def _rank(lot: Lot) -> tuple[object, ...]:
    return (not lot.on_hand, lot.grade != Grade.FIRST, lot.arrived_at, lot.pk)


def _close_to(codes: set[str]) -> dict[str, list[Lot]]:
    """The lots of all codes that one slip makes of these."""
    other = {close for code in codes if not is_valid(code) for close in near(code)}
    return _lots_of(other) if other else {}


def _unknown(code: str, close: Mapping[str, Sequence[Lot]]) -> str:
    """Why a code means no lot, and what may have been meant: a lot's code, or a batch's."""
    plain = normalise(code)
    if is_valid(plain):
        return f"No lot carries the code {spaced(plain)}."
    meant = [(other, close[other][0].item) for other in near(plain) if close.get(other)][:NAMED]
    if meant:
        words = " or ".join(f"{spaced(other)} ({item})" for other, item in meant)
        return f"{code[:SHOWN]} is mistyped. Did you mean {words}?"
    return f"{code[:SHOWN]} is not a lot code, nor a batch's. Scan the symbol on the jar, or type what stands beside it."
