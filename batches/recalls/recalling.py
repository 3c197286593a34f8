"""Recalls and drills: begun with a look that is frozen, added to, answered customer by customer, and closed.

A recall holds at once all that is affected and still here; a drill holds nothing and is timed. Locking: the recall, then
all affected lots in one query by primary key, then the counter of codes.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from django.db import transaction
from django.db.models import Max, Sum
from django.utils import timezone

from batches.models import (
    Batch,
    Complaint,
    Recall,
    RecallAnswer,
    RecallBatch,
    RecallLot,
    RecallParty,
    RecallSent,
    RecallStep,
)
from batches.recalls.facts import Reach, ShippedQuantity, reach
from inventory.lots.holding import hold_all
from inventory.models import HoldRecord, Item, Lot
from studio.numbering import next_codes
from studio.people.signature import Signature
from studio.web.pdf import clipped

RECALL_PREFIX = "R"
REASON_AT_MOST = 300


class RecallError(Exception):
    """What was asked of a recall cannot be done. Its text is a sentence."""


@dataclass(frozen=True)
class Fresh:
    """What became affected since the last look: lots, batches, and goods that went out.

    `went` holds what somebody has beyond all that was frozen so far; `again` are those of it of which some was frozen
    before, since a return was reversed. `here_again` are lots that were frozen empty, and are here and not on hold.
    """

    lots: list[Lot] = field(default_factory=list)
    batches: list[Batch] = field(default_factory=list)
    went: list[ShippedQuantity] = field(default_factory=list)
    again: list[ShippedQuantity] = field(default_factory=list)
    here_again: list[Lot] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.lots or self.batches or self.went or self.here_again)


@transaction.atomic
def start(
    lot_ids: Collection[int],
    *,
    why: str,
    advice: str = "",
    is_drill: bool = False,
    complaint: Complaint | None = None,
    signature: Signature,
) -> Recall:
    """Begin a recall, or a drill of one, from suspect lots: freeze what they touch, and hold what is still here.

    The clock starts at the signature's event. Raises RecallError.
    """
    if not lot_ids:
        raise RecallError("Name at least one lot that is suspect.")
    found = reach(set(lot_ids), lock=True)
    (code,) = next_codes(RECALL_PREFIX, 1)
    recall = Recall.objects.create(
        code=code,
        is_drill=is_drill,
        why=why,
        advice=advice,
        complaint=complaint,
        started_by=signature.by,
        started_at=signature.happened_at,
    )
    _freeze(recall, found, set(lot_ids), signature)
    return recall


@transaction.atomic
def take_in(recall_id: int, *, signature: Signature) -> RecallStep:
    """Add what became affected since the last look as a step of its own, held like the rest. Raises RecallError."""
    recall = _open(recall_id)
    suspects = set(recall.lots.filter(suspect=True).values_list("lot", flat=True))
    found = reach(suspects, lock=True)
    fresh = _beyond(recall, found)
    if not fresh:
        raise RecallError("Nothing became affected since the last look.")
    if fresh.here_again:
        _hold(recall, fresh.here_again, signature)
    return _freeze(recall, Reach(fresh.lots, found.stood, fresh.batches, fresh.went), set(), signature)


def fresh_since(recall: Recall) -> Fresh:
    """What carries the suspect lots by now and no step has taken in yet; nothing once the recall is closed."""
    if not recall.is_open:
        return Fresh()
    suspects = recall.lots.filter(suspect=True).values_list("lot", flat=True)
    return _beyond(recall, reach(set(suspects)))


def _beyond(recall: Recall, found: Reach) -> Fresh:
    """What was reached now and not frozen by any step; of goods that went out so much as is more than all steps froze."""
    frozen = dict(recall.lots.values_list("lot", "on_hand"))
    batches = set(recall.batches.values_list("batch", flat=True))
    rows = recall.sent.order_by().values_list("lot", "dispatch").annotate(Sum("quantity"))
    sent = {(lot_id, dispatch_id): quantity for lot_id, dispatch_id, quantity in rows}
    went = [
        replace(each, quantity=more)
        for each in found.went
        if (more := each.quantity - sent.get((each.lot_id, each.dispatch.pk), 0)) > 0
    ]
    # Where the recall found something of a lot it is held already, or the owner released it on purpose.
    empty = [lot for lot in found.lots if frozen.get(lot.pk) == 0 and lot.on_hand and not lot.held]
    return Fresh(
        [lot for lot in found.lots if lot.pk not in frozen],
        [batch for batch in found.batches if batch.pk not in batches],
        went,
        [each for each in went if (each.lot_id, each.dispatch.pk) in sent],
        [] if recall.is_drill else _not_held_by(recall, empty),
    )


def _not_held_by(recall: Recall, lots: Sequence[Lot]) -> list[Lot]:
    """Of these lots those that were never put on hold since the recall began: what was held and released was looked at."""
    since = HoldRecord.objects.filter(lot__in=lots, held=True, at__gte=recall.started_at)
    held = set(since.values_list("lot", flat=True))
    return [lot for lot in lots if lot.pk not in held]


def _hold(recall: Recall, lots: Sequence[Lot], signature: Signature) -> list[Lot]:
    """Put these lots on hold for the recall; those it held."""
    reason = clipped(f"Recall {recall.spaced_code}: {recall.why}", REASON_AT_MOST)
    return hold_all([lot.pk for lot in lots], signature=signature.because(reason))


def _freeze(recall: Recall, found: Reach, suspects: set[int], signature: Signature) -> RecallStep:
    """Write down a look as the recall's next step; a drill holds nothing."""
    held_before = {lot.pk for lot in found.lots if lot.held}
    here = [lot for lot in found.lots if lot.on_hand]
    held = [] if recall.is_drill else _hold(recall, here, signature)
    held_now = {lot.pk for lot in held}
    last = recall.steps.aggregate(last=Max("number"))["last"] or 0
    step = RecallStep.objects.create(
        recall=recall, number=last + 1, by=signature.by, at=signature.recorded_at
    )
    RecallLot.objects.bulk_create(
        RecallLot(
            recall=recall,
            step=step,
            lot=lot,
            suspect=lot.pk in suspects,
            came=stood.came,
            used=stood.used,
            decanted=stood.decanted,
            sent=stood.sent,
            lost=stood.lost,
            on_hand=stood.on_hand,
            unexplained=stood.unexplained,
            held_before=lot.pk in held_before,
            held_now=lot.pk in held_now,
        )
        for lot, stood in ((lot, found.stood[lot.pk]) for lot in found.lots)
    )
    RecallBatch.objects.bulk_create(
        RecallBatch(recall=recall, step=step, batch=batch, state=batch.state) for batch in found.batches
    )
    _freeze_sent(recall, step, found.went)
    return step


def _freeze_sent(recall: Recall, step: RecallStep, went: Sequence[ShippedQuantity]) -> None:
    """Who had what: a party for each customer, and one for each channel where none is on record."""
    parties: dict[tuple[int | None, int | None], RecallParty] = {
        (party.customer_id, party.channel_id): party for party in recall.parties.all()
    }
    keys = {each.dispatch.pk: each.dispatch.party for each in went}
    for key in dict.fromkeys(keys.values()):
        if key not in parties:
            customer, channel = key
            parties[key] = RecallParty(recall=recall, customer_id=customer, channel_id=channel)
    RecallParty.objects.bulk_create(party for party in parties.values() if party.pk is None)
    RecallSent.objects.bulk_create(
        RecallSent(
            recall=recall,
            step=step,
            party=parties[keys[each.dispatch.pk]],
            lot_id=each.lot_id,
            dispatch=each.dispatch,
            quantity=each.quantity,
            sent_at=each.dispatch.posting.happened_at,
        )
        for each in went
    )


@transaction.atomic
def answer(
    party_id: int,
    kind: RecallAnswer.Kind,
    *,
    on: date,
    quantities: Mapping[Item, int] | None = None,
    note: str = "",
    signature: Signature,
) -> list[RecallAnswer]:
    """Write down that somebody was told, answered, or what became of their goods: base units by item.

    Raises RecallError when more is accounted for than went to them, or a day lies before the recall.
    """
    party = RecallParty.objects.select_related("recall").get(pk=party_id)
    recall = _open(party.recall_id)
    if on < timezone.localdate(recall.started_at) and kind in (
        RecallAnswer.Kind.TOLD,
        RecallAnswer.Kind.ANSWERED,
    ):
        raise RecallError("This day lies before the recall began. Check the date.")
    if on > timezone.localdate(signature.recorded_at):
        raise RecallError("This day lies in the future. Check the date.")
    said: list[tuple[Item | None, int]] = [(None, 0)]
    if kind in RecallAnswer.ACCOUNTING:
        said = [(item, quantity) for item, quantity in (quantities or {}).items() if quantity]
        if not said:
            raise RecallError("Say how many.")
        _check_accounted(party, said)
    return RecallAnswer.objects.bulk_create(
        RecallAnswer(
            party=party,
            kind=kind,
            item=item,
            quantity=quantity,
            on=on,
            note=note,
            by=signature.by,
            at=signature.recorded_at,
        )
        for item, quantity in said
    )


def _check_accounted(party: RecallParty, said: Sequence[tuple[Item | None, int]]) -> None:
    """No more can come back than went there. Raises RecallError."""
    got = dict(party.sent.order_by().values_list("lot__item").annotate(Sum("quantity")))
    known = party.answers.standing().exclude(item=None)
    done = dict(known.order_by().values_list("item").annotate(Sum("quantity")))
    for item, quantity in said:
        if item is None:
            continue
        left = got.get(item.pk, 0) - done.get(item.pk, 0)
        if quantity > left:
            raise RecallError(
                f"{item.quantity(got.get(item.pk, 0))} of {item} went there and "
                f"{item.quantity(done.get(item.pk, 0))} are accounted for, so at most {item.quantity(left)} "
                "can be entered. Take an entry back first if one was wrong."
            )


@transaction.atomic
def take_back(answer_id: int, *, signature: Signature) -> RecallAnswer:
    """An entry was a slip: it stays, and no longer counts. Raises RecallError."""
    wrong = RecallAnswer.objects.select_related("party").get(pk=answer_id)
    _open(wrong.party.recall_id)
    if wrong.takes_back_id or RecallAnswer.objects.filter(takes_back=wrong).exists():
        raise RecallError("This entry is taken back already.")
    return RecallAnswer.objects.create(
        party=wrong.party,
        kind=wrong.kind,
        item_id=wrong.item_id,
        quantity=wrong.quantity,
        on=wrong.on,
        note=clipped(signature.reason, 200),
        takes_back=wrong,
        by=signature.by,
        at=signature.recorded_at,
    )


@transaction.atomic
def close(recall_id: int, *, finding: str, signature: Signature) -> Recall:
    """End a recall or a drill, and stop its clock. What is on hold stays on hold. Raises RecallError."""
    recall = _open(recall_id)
    if signature.happened_at < recall.started_at:
        raise RecallError("It cannot end before it began.")
    recall.state, recall.finding = Recall.State.CLOSED, finding
    recall.ended_by, recall.ended_at = signature.by, signature.happened_at
    recall.save(update_fields=["state", "finding", "ended_by", "ended_at"])
    return recall


def _open(recall_id: int) -> Recall:
    """The recall, locked and still open. Raises RecallError."""
    recall = Recall.objects.select_for_update(of=("self",)).get(pk=recall_id)
    if not recall.is_open:
        raise RecallError("This recall is closed; nothing is added to it. Begin a new one.")
    return recall
