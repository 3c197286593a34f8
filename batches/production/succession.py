"""The same result of a batch keeps its lot, whose code may be on the jars; a code that is none of its results any more
leads on to what its batch made.

A result is the same where batch, result and item are, and melt of units to remelt is not melt from the pot: the good ones
of a part that was taken back are the good ones entered anew. Of several that were taken back the one taken back last comes
first, so that parts come back in order.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple

from django.db.models import Q

from batches.models import Batch, Outcome, Release
from inventory.lots import holding
from inventory.models import Lot, Posting
from studio.people.signature import Signature

Result = Outcome.Result
# What a result that is gone became, the likeliest first: seconds that were none are good, melt goes back into the pot.
LEADS_TO: dict[str, tuple[str, ...]] = {
    Result.GOOD: (Result.GOOD, Result.SECOND, Result.MELT),
    Result.SECOND: (Result.SECOND, Result.GOOD, Result.MELT),
}
OTHERWISE = (Result.MELT, Result.GOOD, Result.SECOND)


class Same(NamedTuple):
    """What makes two results of a batch the same: the result, its item (by key), whether it is melt of units to remelt."""

    result: str
    item: int
    of_remelt: bool = False


@dataclass
class TakenBack:
    """Lots of a batch whose result was taken back and not entered anew, by `Same`, the last one first."""

    lots: dict[Same, list[int]] = field(default_factory=dict)

    def places(self, lines: Sequence[Same]) -> list[int | None]:
        """For each result the lot it was before, each lot once; None where it makes a new one."""
        left = {key: list(lots) for key, lots in self.lots.items()}
        return [left[line].pop(0) if left.get(line) else None for line in lines]


def taken_back(batch: Batch) -> TakenBack:
    """The lots of this batch that wait for their result to be entered anew. One query."""
    rows = batch.outcomes.exclude(lot=None).order_by("pk")
    last: dict[int, tuple[int | None, Same]] = {}
    for lot_id, result, item_id, emptied, reversal in rows.values_list(
        "lot", "result", "lot__item", "emptied", "posting__reversal"
    ):
        last[lot_id] = (reversal, Same(result, item_id, emptied is not None))
    found = TakenBack()
    gone = [(reversal, lot_id, same) for lot_id, (reversal, same) in last.items() if reversal]
    for _, lot_id, same in sorted(gone, key=lambda row: (-row[0], row[1])):
        found.lots.setdefault(same, []).append(lot_id)
    return found


def look_again(batch: Batch, lots: Mapping[int, int], signature: Signature) -> None:
    """Hold lots that were released and are now of more units than were looked at, or of a batch drawn into since.

    `lots` are the base units each lot is entered anew with, by its key. Whoever looks takes the hold off.
    """
    released = {
        each.lot_id: each for each in Release.objects.filter(lot__in=lots).select_related("lot__item")
    }
    for lot_id, release in released.items():
        still = Q(posting__reversal=None) | Q(posting__reversal__recorded_at__gte=release.at)
        seen = batch.outcomes.filter(still, lot=lot_id, posting__recorded_at__lte=release.at).order_by("pk")
        known = seen.values_list("quantity", flat=True).first() or 0
        more = lots[lot_id] - known
        moved = Q(movement__posting__recorded_at__gt=release.at)
        moved |= Q(movement__posting__reversal__recorded_at__gt=release.at)
        if more > 0:
            why = f"Entered anew with {release.lot.item.quantity(more)} more than were released. Look at them too."
        elif batch.draws.filter(moved).exists():
            why = "What went into the batch was changed after this lot was released. Look at it again."
        else:
            continue
        holding.hold_all([lot_id], signature=signature.because(why))


def pass_on_holds(batch: Batch, posting: Posting, *, signature: Signature) -> list[Lot]:
    """Put what stands on lots that were taken back, and did not come again whole since, on what was entered now: the same
    candles may be in it as seconds, as another part, another product or melt. Gives back the lots that were put on hold.

    A hold put on a lot reaches no further once it is released, and what was released of it stays so. Four queries more
    where something was taken back, else one.
    """
    now: dict[int, int] = {}
    was: dict[int, list[tuple[datetime, int]]] = {}
    rows = batch.outcomes.exclude(lot=None).order_by("pk")
    for lot_id, quantity, taken_back_at in rows.values_list(
        "lot", "quantity", "posting__reversal__recorded_at"
    ):
        if taken_back_at is None:
            now[lot_id] = quantity
        else:
            was.setdefault(lot_id, []).append((taken_back_at, quantity))
    less = [lot_id for lot_id, before in was.items() if now.get(lot_id, 0) < max(each for _, each in before)]
    if not less:
        return []
    stands = [
        hold
        for lot_id, holds in holding.standing_on(less).items()
        for hold in holds
        if lot_id not in now
        # What came back before the hold was put on is none of it.
        or now[lot_id] < max((each for at, each in was[lot_id] if at >= hold.at), default=0)
    ]
    made = posting.outcomes.exclude(lot=None).values_list("lot_id", flat=True)
    heirs = {lot_id: [hold for hold in stands if hold.lot_id != lot_id] for lot_id in made}
    return holding.pass_on(heirs, signature=signature)


def lots_instead(lot_ids: Collection[int]) -> dict[int, list[int]]:
    """Lots a batch made of which nothing stands any more, by key, and the lots of the batch in their place, the
    likeliest first; none where its batch has none now. Two queries.

    Of books kept before a result kept its lot this finds the successor too: it is the same batch's.
    """
    gone = {
        lot_id: (batch_id, result)
        for lot_id, batch_id, result in Outcome.objects.filter(begins__in=lot_ids).values_list(
            "begins", "batch", "result"
        )
    }
    stand: dict[int, list[tuple[str, int]]] = {}
    now = Outcome.objects.standing().filter(batch__in={batch_id for batch_id, _ in gone.values()})
    for batch_id, result, lot_id in (
        now.exclude(lot=None).order_by("pk").values_list("batch", "result", "lot")
    ):
        stand.setdefault(batch_id, []).append((result, lot_id))
    found = {}
    for lot_id, (batch_id, was) in gone.items():
        there = stand.get(batch_id, [])
        results = LEADS_TO.get(was, OTHERWISE)
        best = next((result for result in results if any(own == result for own, _ in there)), None)
        found[lot_id] = [lot for result, lot in there if result == best]
    return found


def open_again(lot_ids: Collection[int]) -> dict[int, tuple[str, str]]:
    """Of lots that a batch made and of which nothing stands, those whose batch is open again, by key: what is to be
    done, and where. One query."""
    return {
        lot_id: (
            f"Batch {batch.spaced_code} is open again: what came out of it is still to be entered.",
            batch.get_absolute_url(),
        )
        for lot_id, batch in batches_of_keys(lot_ids).items()
        if batch.is_open
    }


def batches_of(lots: Collection[Lot]) -> dict[int, Batch]:
    """The batch that made each of these lots, by the lot's key, whether its result stands or not. One query."""
    return batches_of_keys([lot.pk for lot in lots])


def batches_of_keys(lot_ids: Collection[int]) -> dict[int, Batch]:
    """`batches_of` by the keys of lots."""
    begun = Outcome.objects.filter(begins__in=lot_ids).select_related("batch__version__formula__item")
    return {line.begins_id: line.batch for line in begun if line.begins_id}
