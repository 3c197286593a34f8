"""Complaints: taken down, changed, answered, closed and, where a name may no longer be kept, erased.

Locking: the complaint, then the counter of codes.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import Exists, Model, OuterRef, Q
from django.utils import timezone

from batches.models import (
    Batch,
    Complaint,
    ComplaintChange,
    ComplaintPhoto,
    Outcome,
    Recall,
    RecallParty,
)
from batches.production.succession import batches_of
from inventory.lots.succession import endings
from inventory.models import Customer, Kind, Lot
from studio.models import Role
from studio.numbering import next_codes
from studio.people.signature import Signature
from studio.web.pdf import clipped
from studio.web.uploads import Received

COMPLAINT_PREFIX = "Q"
# What is written may name a person; the record of changes says only that it was changed.
NOT_REPEATED = {"what", "answer", "customer", "reference"}
NAMES = {
    "what": "what happened",
    "kind": "what it is about",
    "fire": "fire",
    "units": "candles",
    "item": "product",
    "lot": "lot",
    "batch": "batch",
    "happened_on": "happened on",
    "told_at": "told on",
    "sold_from": "bought from",
    "sold_until": "bought until",
    "reference": "order reference",
}
WORDS_AT_MOST = 200


class ComplaintError(Exception):
    """What was asked of a complaint cannot be done. Its text is a sentence; `field` is the one it is about."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.field = field


@dataclass(frozen=True)
class Candle:
    """Which candle it was: the lot, or the batch where its jars became several lots, or neither.

    `instead_of` is the lot whose code was typed, where its result was taken back and this one is in its place.
    """

    lot: Lot | None = None
    batch: Batch | None = None
    instead_of: Lot | None = None

    @property
    def replaced_words(self) -> str:
        """That another code was typed than this one stands for, as a sentence; "" where it was not."""
        if self.instead_of is None:
            return ""
        to = (
            f"lot {self.lot.spaced_code}"
            if self.lot
            else f"batch {self.batch.spaced_code}"
            if self.batch
            else ""
        )
        return f"The code {self.instead_of.spaced_code} was replaced; the complaint is about {to}."

    @property
    def item_id(self) -> int | None:
        """The product; None where neither is known."""
        if self.lot:
            return self.lot.item_id
        return self.batch.item.pk if self.batch else None


def candle_of(code: str) -> Candle | None:
    """The candle a code on a jar stands for, as stored; None where no lot or batch of finished goods carries it.

    A batch whose good and second units are one lot means that lot.
    """
    lots = Lot.objects.filter(item__kind=Kind.FINISHED).select_related("item")
    if lot := lots.filter(code=code).first():
        return _candle_of_lot(lot)
    batches = Batch.objects.with_product().filter(version__formula__item__kind=Kind.FINISHED)
    batch = batches.filter(code=code).first()
    if batch is None:
        return None
    found = list(lots.filter(outcome__in=Outcome.objects.standing().filter(batch=batch))[:2])
    return Candle(lot=found[0] if len(found) == 1 else None, batch=batch)


def _candle_of_lot(lot: Lot) -> Candle:
    """A lot's candle; where its result was taken back that of the lot in its place, else of the batch it was of."""
    ending = endings([lot.pk]).get(lot.pk)
    if ending is None:
        return Candle(lot=lot, batch=_made_by(lot))
    goods = [other for other in ending.lots if other.item.kind == Kind.FINISHED]
    if len(goods) == 1:
        return Candle(lot=goods[0], batch=_made_by(goods[0]), instead_of=lot)
    batch = batches_of([lot]).get(lot.pk)
    return Candle(lot=None, batch=batch, instead_of=lot) if batch else Candle(lot=lot, batch=None)


def _made_by(lot: Lot) -> Batch | None:
    outcome = Outcome.objects.standing().filter(lot=lot).select_related("batch__version__formula__item")
    made = outcome.first()
    return made.batch if made else None


@transaction.atomic
def take(*, signature: Signature, **said: Any) -> Complaint:
    """Take down a complaint; `said` are columns of Complaint. `told_at` is when the signature's event happened.

    Raises ComplaintError.
    """
    complaint = Complaint(
        told_at=signature.happened_at, taken_by=signature.by, taken_at=signature.recorded_at, **said
    )
    _check(complaint)
    (complaint.code,) = next_codes(COMPLAINT_PREFIX, 1)
    complaint.save(force_insert=True)
    return complaint


@transaction.atomic
def change(complaint_id: int, *, signature: Signature, **said: Any) -> Complaint:
    """Change what a complaint says, and keep what it said before. Columns that say the same already are passed over.

    Closing stamps the time of the event, opening again takes it away. Raises ComplaintError.
    """
    complaint = Complaint.objects.select_for_update(of=("self",)).get(pk=complaint_id)
    if complaint.erased_at and any(said.get(name) for name in NOT_REPEATED):
        raise ComplaintError("What named a person was erased here; nothing of that kind is written any more.")
    before = {name: getattr(complaint, name) for name in said}
    changed = [name for name, value in said.items() if before[name] != value]
    for name in changed:
        setattr(complaint, name, said[name])
    if "state" in changed:
        closed = complaint.state == Complaint.State.CLOSED
        complaint.closed_at = signature.happened_at if closed else None
    _check(complaint)
    if changed:
        complaint.save(update_fields=[*changed, "closed_at"])
        _note(complaint, {name: (before[name], said[name]) for name in changed}, signature)
    return complaint


def _check(complaint: Complaint) -> None:
    """What a complaint must say. Raises ComplaintError."""
    if complaint.state == Complaint.State.CLOSED:
        if not complaint.outcome:
            raise ComplaintError("Say what the customer got before it is closed.", "outcome")
        if not complaint.cause:
            raise ComplaintError("Write the cause, or that none was found, before it is closed.", "cause")
        if complaint.closed_at and complaint.closed_at < complaint.told_at:
            raise ComplaintError("It cannot be closed before you were told of it.", "state")
    if complaint.happened_on and complaint.happened_on > timezone.localdate(complaint.told_at):
        raise ComplaintError(
            "You were told of it before this day. Check both days.",
            "happened_on",
        )


def _note(complaint: Complaint, changes: Mapping[str, tuple[Any, Any]], signature: Signature) -> None:
    ComplaintChange.objects.bulk_create(
        ComplaintChange(
            complaint=complaint,
            what=NAMES.get(name, name),
            before="" if name in NOT_REPEATED else _in_words(complaint, name, before),
            after="" if name in NOT_REPEATED else _in_words(complaint, name, after),
            by=signature.by,
            at=signature.recorded_at,
        )
        for name, (before, after) in changes.items()
    )


def _in_words(complaint: Complaint, name: str, value: Any) -> str:
    """A value as the record of changes says it."""
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    choices = dict(complaint._meta.get_field(name).flatchoices)  # type: ignore[union-attr]
    text = getattr(value, "spaced_code", str(value)) if isinstance(value, Model) else str(value)
    return clipped(str(choices.get(value, text)), WORDS_AT_MOST)


@transaction.atomic
def add_photo(complaint_id: int, file: Received, *, text: str = "", signature: Signature) -> ComplaintPhoto:
    """Keep a photo beside a complaint; the same photo is kept once. Raises ComplaintError."""
    complaint = Complaint.objects.select_for_update(of=("self",)).get(pk=complaint_id)
    if complaint.erased_at:
        raise ComplaintError("What named a person was erased here; no photo is added any more.", "photo")
    digest = hashlib.sha256(file.data).hexdigest()
    if complaint.photos.filter(digest=digest).exists():
        raise ComplaintError("This photo lies beside the complaint already.", "photo")
    return ComplaintPhoto.objects.create(
        complaint=complaint,
        text=text,
        media_type=file.media_type,
        digest=digest,
        size=len(file.data),
        data=file.data,
        by=signature.by,
        at=signature.recorded_at,
    )


@transaction.atomic
def erase(complaint_id: int, *, signature: Signature) -> Complaint:
    """Take away what may name a person: who it was, what was said and answered, the photos. The rest stays.

    For the owner, once it is closed. Calling again changes nothing. Raises ComplaintError.
    """
    complaint = Complaint.objects.select_for_update(of=("self",)).get(pk=complaint_id)
    if signature.by.role != Role.OWNER:
        raise ComplaintError("Only the owner erases what names a person.")
    if complaint.state != Complaint.State.CLOSED:
        raise ComplaintError("It is still open: close it first.")
    return complaint if complaint.erased_at else _erase(complaint, signature)


def still_needed(customer: Customer) -> str:
    """Why this customer cannot be erased yet: a complaint or a recall that is open; empty where neither is."""
    if complaint := customer.complaints.waiting().first():
        return f"Complaint {complaint.spaced_code} is still open. Close it first."
    open_ones = customer.recalled.filter(recall__state=Recall.State.OPEN, recall__is_drill=False)
    if party := open_ones.select_related("recall").first():
        return f"Recall {party.recall.spaced_code} is still open, and they have goods of it. Close it first."
    return ""


def needed() -> Q:
    """Customers whose complaint or recall is open, as a condition."""
    recalled = RecallParty.objects.filter(recall__state=Recall.State.OPEN, recall__is_drill=False)
    complained = Complaint.objects.waiting()
    return Q(Exists(complained.filter(customer=OuterRef("pk")))) | Q(
        Exists(recalled.filter(customer=OuterRef("pk")))
    )


def erase_along(customer: Customer, signature: Signature) -> None:
    """When a customer is erased, what may name them in their complaints goes too."""
    for complaint in customer.complaints.select_for_update(of=("self",)).order_by("pk"):
        _erase(complaint, signature.because("The customer was erased."))


def _erase(complaint: Complaint, signature: Signature) -> Complaint:
    complaint.customer, complaint.reference = None, ""
    complaint.what = complaint.answer = ""
    complaint.erased_at = signature.recorded_at
    complaint.save(update_fields=["customer", "reference", "what", "answer", "erased_at"])
    complaint.photos.update(data=b"", text="", size=0)
    ComplaintChange.objects.create(
        complaint=complaint,
        what="erased what names a person",
        after=clipped(signature.reason, WORDS_AT_MOST),
        by=signature.by,
        at=signature.recorded_at,
    )
    return complaint
