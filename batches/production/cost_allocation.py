"""What a batch drew is passed on to what it made, to the last millionth, however often either is put right.

Recovered melt takes its share by weight of what was weighed into the pot. All the rest the good units carry, each the
same in whatever part of the batch it came out; the seconds carry it where none is good. Where only scrap came out it
is lost.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from batches.models import Batch, Draw, Outcome
from inventory.ledger import closing
from inventory.lots import moving
from inventory.models import Movement, PeriodCost, Posting
from studio.core.money import allocate, share
from studio.people.signature import Signature


@dataclass(frozen=True)
class OutputLine:
    """One line of a yield as far as value goes: its result and base units. `key` is None until it is in the books."""

    key: int | None
    result: str
    quantity: int


def _drawn(batch: Batch) -> tuple[int, int, int]:
    """What the batch drew: value in all, and of what was weighed the value and the µg. In millionths and base units."""
    value = melt_value = melt_ug = 0
    for draw in batch.draws.standing().select_related("movement", "line__item"):
        value += draw.value
        if draw.line.in_melt:
            melt_value += draw.value
            melt_ug += draw.quantity
    return value, melt_value, melt_ug


def share_of_melt(melt_value: int, melt_ug: int, recovered_ug: int) -> int:
    """What recovered melt takes along of what was weighed into the pot, in millionths; nothing where nothing was."""
    return share(melt_value, recovered_ug, melt_ug) if melt_ug else 0


def targets(batch: Batch, came: Sequence[OutputLine]) -> list[int]:
    """What each line of the yield is to carry of all the batch drew, in millionths, in the same order."""
    value, melt_value, melt_ug = _drawn(batch)
    carried = [0] * len(came)
    for place, line in enumerate(came):
        if line.result == Outcome.Result.MELT:
            carried[place] = min(share_of_melt(melt_value, melt_ug, line.quantity), value - sum(carried))
    results = {line.result for line in came}
    bearer = Outcome.Result.GOOD if Outcome.Result.GOOD in results else Outcome.Result.SECOND
    bearing = [place for place, line in enumerate(came) if line.result == bearer]
    if bearing:
        parts = allocate(value - sum(carried), [came[place].quantity for place in bearing])
        for place, part in zip(bearing, parts, strict=True):
            carried[place] = part
    return carried


def provisional(batch: Batch, came: Sequence[OutputLine], earlier: Sequence[OutputLine]) -> list[int]:
    """What the lines of a part are worth while the batch goes on: their share of what was drawn so far, as if all that
    was planned came out good. The last part settles it."""
    value, _, _ = _drawn(batch)
    good = sum(line.quantity for line in (*earlier, *came) if line.result == Outcome.Result.GOOD)
    whole = max(batch.quantity, good, 1)
    return [share(value, line.quantity, whole) if line.result == Outcome.Result.GOOD else 0 for line in came]


def standing(batch: Batch) -> list[Outcome]:
    """The lines of the yield that became lots and stand, in the order they came out."""
    return list(batch.outcomes.standing().exclude(lot=None).select_related("lot__item").order_by("pk"))


def as_came(outcomes: Sequence[Outcome]) -> list[OutputLine]:
    """Lines of a yield as the arithmetic sees them."""
    return [OutputLine(outcome.pk, outcome.result, outcome.quantity) for outcome in outcomes]


def _given(lots: Sequence[int]) -> dict[int, int]:
    """What each lot was given of its batch's material: when it was made, and corrected since."""
    given = dict.fromkeys(lots, 0)
    kinds = (Movement.Kind.MADE, Movement.Kind.REVALUED)
    for lot_id, value in Movement.objects.filter(lot__in=lots, kind__in=kinds).values_list("lot_id", "value"):
        given[lot_id] += value
    for lot_id, value in PeriodCost.objects.filter(lot__in=lots).values_list("lot_id", "value"):
        given[lot_id] += value
    return given


def _changes(batch: Batch) -> list[tuple[Outcome, int]]:
    """Each lot's line and how far what it was given is from what it is to carry."""
    outcomes = standing(batch)
    given = _given([outcome.lot_id for outcome in outcomes if outcome.lot_id])
    wanted = targets(batch, as_came(outcomes))
    pairs = zip(outcomes, wanted, strict=True)
    return [(outcome, target - given[outcome.lot_id or 0]) for outcome, target in pairs]


def unsettled(batch: Batch) -> int:
    """How much of what was drawn is not where it belongs, in millionths: nothing, when the books are settled."""
    return sum(abs(change) for _, change in _changes(batch))


def settle_cost(batch: Batch, *, signature: Signature) -> Posting | None:
    """Pass a later change of what was drawn on to what the batch made. None when there is nothing to pass on.

    A batch that is still going on is settled by its last part.
    """
    if batch.state not in {Batch.State.FINISHED, Batch.State.ABANDONED}:
        return None
    changes = [
        (outcome.lot, outcome.quantity, change)
        for outcome, change in _changes(batch)
        if outcome.lot and change
    ]
    if not changes:
        return None
    # At the time of the last finishing: from then on the lots were worth this, and no later past goes below nothing.
    # Where the books are closed there, at the first moment after.
    ended = Posting.objects.filter(outcomes__in=batch.outcomes.standing()).latest("happened_at")
    return moving.revalue(changes, signature=signature.at(closing.when_open(ended.happened_at)))


def weighed(draws: Sequence[Draw]) -> int:
    """How much of the draws went into the pot, in µg."""
    return sum(draw.quantity for draw in draws if draw.line.in_melt)
