"""A code that was given out never leads nowhere: where what brought a lot was reversed, this says to which lots it leads
on, or by whom, when and why it ended.

A decanting that was reversed leads back to the lot it was poured from, a return to the lot that was sent. What a batch
made is told by the package that knows batches; see `inventory.neighbors`.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from inventory.models import Lot, Movement, Posting, ReturnLine
from inventory.neighbors import neighbors

# What brings a lot; what was found or counted in one does not.
ORIGINS = (Movement.Kind.RECEIVED, Movement.Kind.MADE, Movement.Kind.DECANTED, Movement.Kind.RETURNED)
# A chain of corrections of corrections is followed so far.
STEPS_AT_MOST = 20


@dataclass
class Ending:
    """A lot whose origin was reversed: what brought it, what reversed that, and the lots its code leads on to.

    `awaited` says that nothing stands in its place yet because that is still to be entered, at `awaited_at`.
    """

    lot: Lot
    reversal: Posting
    lots: list[Lot] = field(default_factory=list)
    awaited: str = ""
    awaited_at: str = ""

    @property
    def is_replaced(self) -> bool:
        """Whether what carries the code is of the lots in its place: a tub of melt is not the jars that came instead."""
        return bool(self.lots) and all(lot.item.kind == self.lot.item.kind for lot in self.lots)

    @property
    def words(self) -> str:
        """What became of the code, in a sentence for paper."""
        if self.lots and not self.is_replaced:
            there = ", ".join(f"{lot.spaced_code} ({lot.item})" for lot in self.lots)
            return f"What was recorded as {self.lot.spaced_code} was taken back; in its place stands {there}."
        if self.lots:
            there = ", ".join(f"{lot.spaced_code} ({lot.item})" for lot in self.lots)
            return f"The code {self.lot.spaced_code} was replaced by {there}: trace that instead."
        by, at = self.reversal.by, timezone.localtime(self.reversal.recorded_at)
        said = self.reversal.reason or "no reason is on record"
        reversed_words = (
            f"What brought {self.lot.spaced_code} was reversed by {by}, {at:%d %b %Y, %H:%M}: {said}."
        )
        return f"{reversed_words} {self.awaited}" if self.awaited else reversed_words


def ended(lots: QuerySet[Lot]) -> QuerySet[Lot]:
    """Those of these lots that something brought and of which nothing that did stands any more."""
    brought = _brought().filter(lot=OuterRef("pk"))
    return lots.filter(Exists(brought), ~Exists(brought.filter(posting__reversal__isnull=True)))


def _brought() -> QuerySet[Movement]:
    return Movement.objects.filter(kind__in=ORIGINS, quantity__gt=0, posting__reverses__isnull=True)


def endings(lot_ids: Collection[int]) -> dict[int, Ending]:
    """What became of those of these lots whose origin was reversed, by key; lots that stand are left out.

    A fixed number of queries for each step of a chain of corrections, however many lots.
    """
    reversals, onward = _one_step(lot_ids)
    if not reversals:
        return {}
    # What leads on may have ended itself.
    seen, front = set(reversals), {lot_id for lots in onward.values() for lot_id in lots} - set(reversals)
    for _ in range(STEPS_AT_MOST):
        more, further = _one_step(front) if front else ({}, {})
        if not more:
            break
        reversals |= more
        onward |= further
        seen |= set(more)
        front = {lot_id for lots in further.values() for lot_id in lots} - seen
    reached = {lot_id for lots in onward.values() for lot_id in lots} | set(reversals)
    lots = Lot.objects.select_related("item").in_bulk(reached)
    found = {
        lot_id: Ending(
            lots[lot_id], reversals[lot_id], [lots[pk] for pk in _follow(lot_id, onward, reversals)]
        )
        for lot_id in lot_ids
        if lot_id in reversals
    }
    nowhere = [lot_id for lot_id, ending in found.items() if not ending.lots]
    for neighbor in neighbors():
        for lot_id, (words, url) in neighbor.results_awaited(nowhere).items() if nowhere else ():
            found[lot_id].awaited, found[lot_id].awaited_at = words, url
    return found


def _follow(lot_id: int, onward: Mapping[int, Sequence[int]], ended: Collection[int]) -> list[int]:
    """The lots that stand at the end of every way from one that ended, each once, in order."""
    found: dict[int, None] = {}
    waiting, passed = [lot_id], set()
    while waiting:
        at = waiting.pop(0)
        for further in onward.get(at, ()):
            if further not in ended:
                found[further] = None
            elif further not in passed:
                passed.add(further)
                waiting.append(further)
    return list(found)


def _one_step(lot_ids: Collection[int]) -> tuple[dict[int, Posting], dict[int, list[int]]]:
    """Of these lots those that ended: the last reversal of what brought them, and the lots one step on."""
    gone = list(ended(Lot.objects.filter(pk__in=lot_ids)).order_by().values_list("pk", flat=True))
    if not gone:
        return {}, {}
    reversals: dict[int, Posting] = {}
    poured: dict[int, int] = {}
    for move in (
        _brought()
        .filter(lot__in=gone)
        .select_related("posting__reversal__by")
        .order_by("posting__reversal", "pk")
    ):
        reversals[move.lot_id] = move.posting.reversal
        if move.kind == Movement.Kind.DECANTED:
            poured[move.lot_id] = move.posting_id
    onward: dict[int, list[int]] = {lot_id: [] for lot_id in gone}
    parents: dict[int, list[int]] = {}
    gave = Movement.objects.filter(
        posting__in=set(poured.values()), kind=Movement.Kind.DECANTED, quantity__lt=0
    )
    for posting_id, lot_id in gave.order_by("pk").values_list("posting", "lot"):
        parents.setdefault(posting_id, []).append(lot_id)
    for lot_id, posting_id in poured.items():
        onward[lot_id] += parents.get(posting_id, [])
    for lot_id, source in ReturnLine.objects.filter(lot__in=gone).values_list("lot", "source"):
        onward[lot_id].append(source)
    for neighbor in neighbors():
        for lot_id, lots in neighbor.lots_instead(gone).items():
            onward[lot_id] += lots
    return reversals, onward


def standing_for(lots: Sequence[Lot]) -> dict[int, list[Lot]]:
    """The lots to take in the place of those that ended, by the key of each, those that lead nowhere left out."""
    return {
        lot_id: ending.lots for lot_id, ending in endings([lot.pk for lot in lots]).items() if ending.lots
    }
