"""What can happen at the bench: one entry after the other, each taken in once, however often the tablet sends it.

Locking: the batch first, then what the entry touches (`batches.production.runs`). The batch's lock also puts two
sendings of one entry in line: the second finds what the first one did. Where two batches were sent the same key, the
database's own rule decides.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from batches.bench.meanwhile import check_pour
from batches.models import Batch, BatchNote, BatchPhoto, BenchEntry, Reading
from batches.planning.plans import BatchError
from batches.production import runs
from batches.production.off_formula_of import hold_what_is_off
from inventory.ledger import books
from inventory.lots.moving import Taking
from inventory.models import Posting
from studio.people.signature import Signature
from studio.web.uploads import Received

TAKEN_BACK = "Taken back at the bench"


class BenchClash(Exception):
    """The key was taken in before, with other content. Its text is a sentence; `entry` is what stands."""

    def __init__(self, entry: BenchEntry) -> None:
        super().__init__(
            "Another version of this entry was saved before. Look at what is saved; then throw this one away, "
            "or enter it again."
        )
        self.entry = entry


@dataclass(frozen=True)
class Entered:
    """What one entry says, read already: weights in µg, quantities in base units, temperatures in thousandths of °C.

    `quantity` is what left the lot: gross less tare where both are given. `pour` counts from 1, where a run is split.
    `seen` is what the tablet knew to be in that pour already; `as_well`: more was, and this went in too. `despite` says
    why a lot went in that is on hold, expired or not released. `poured_above` is what the tablet said of a load above a
    maximum, where the person answered that the pot was poured all the same.
    """

    key: UUID
    kind: str
    line_id: int | None = None
    pour: int | None = None
    lot_id: int | None = None
    quantity: int | None = None
    gross_ug: int | None = None
    tare_ug: int | None = None
    source: str = BenchEntry.Source.KEYPAD
    book_found: bool = False
    seen: int | None = None
    as_well: bool = False
    despite: str = ""
    reading: str = ""
    temperature_mc: int | None = None
    note_kind: str = BatchNote.Kind.NOTE
    seconds: int | None = None
    text: str = ""
    photo: Received | None = None
    takes_back: UUID | None = None
    poured_above: str = ""


def take_in(batch_id: int, entered: Entered, *, digest: str, signature: Signature) -> BenchEntry:
    """Do what an entry says and keep it under its key; sent again it gives back what was done.

    `digest` is of everything the tablet sent. It counts as having happened when it was entered there; where the
    books cannot have it then (the lot was booked in, or taken from, meanwhile), when it arrives.

    Raises BenchClash, Meanwhile, BatchError, books.BookError.
    """
    try:
        try:
            return _take_in(batch_id, entered, digest, signature)
        except books.WrongTime:
            if signature.happened_at == signature.recorded_at:
                raise
            return _take_in(batch_id, entered, digest, signature, now=True)
    except IntegrityError:
        if known := _known(entered.key, batch_id, digest, signature):
            return known
        raise


@transaction.atomic
def _take_in(
    batch_id: int, entered: Entered, digest: str, signature: Signature, *, now: bool = False
) -> BenchEntry:
    batch = Batch.objects.select_for_update().get(pk=batch_id)
    if known := _known(entered.key, batch_id, digest, signature):
        return known
    # A clock that was set between entering and sending speaks of a time before there was such a run.
    now = now or signature.happened_at < batch.planned_at
    if batch.state == Batch.State.CALLED_OFF:
        raise BatchError(
            f"{_ended(batch)} Nothing more is kept of it. Put the material back, or take it off on its lot's page."
        )
    under = signature.at(signature.recorded_at) if now else signature
    made = ACTS[entered.kind](batch, entered, under)
    entry = BenchEntry.objects.create(
        key=entered.key,
        digest=digest,
        batch=batch,
        kind=entered.kind,
        pour=entered.pour,
        gross_ug=entered.gross_ug,
        tare_ug=entered.tare_ug,
        source=entered.source,
        by=signature.by,
        at=signature.happened_at,
        recorded_at=signature.recorded_at,
        **made,
    )
    if entry.takes_back_id:
        _as_planned(batch_id)
    if entered.poured_above:
        # It may arrive when something came of the batch already.
        hold_what_is_off(batch, signature=signature)
    return entry


def _known(key: UUID, batch_id: int, digest: str, signature: Signature) -> BenchEntry | None:
    """What stands under the key. Raises BenchClash when it is of another batch, person or content."""
    entry = BenchEntry.objects.filter(key=key).first()
    if entry and (entry.digest, entry.batch_id, entry.by_id) != (digest, batch_id, signature.by.pk):
        raise BenchClash(entry)
    return entry


def _draw(batch: Batch, entered: Entered, signature: Signature) -> dict[str, Any]:
    if not batch.is_open:
        again = "take the run up again" if batch.state == Batch.State.ABANDONED else "open it again"
        raise BatchError(
            f"{_ended(batch)} Nothing more can be drawn into it. If it went in all the same, {again} on its page, "
            "then try again here."
        )
    if entered.line_id is None or entered.lot_id is None or not entered.quantity:
        raise BatchError("Choose a lot and enter how much was taken.")
    line = runs.line_to_draw(batch, entered.line_id)
    if entered.quantity > (most := line.item.plausible_limit):
        raise BatchError(
            f"More than {line.item.quantity(most)} of {line.item} is not expected at once. Check the figure, or raise "
            "the limit on the item's page."
        )
    if entered.seen is not None and not entered.as_well:
        check_pour(batch.pk, line.pk, entered.pour or 1, entered.quantity, entered.seen)
    gross, tare = entered.gross_ug, entered.tare_ug
    if (gross is None) != (tare is None) or (gross is not None and gross - (tare or 0) != entered.quantity):
        raise BatchError("Gross less tare is not what was taken. Weigh it again.")
    posting = runs.draw_line(
        batch.pk,
        line.pk,
        [Taking(entered.lot_id, entered.quantity)],
        signature=signature,
        book_found=entered.book_found,
        despite=entered.despite,
        pot=entered.pour,
    )
    return {"line_id": line.pk, "posting": posting}


def _read(batch: Batch, entered: Entered, signature: Signature) -> dict[str, Any]:
    if entered.temperature_mc is None or entered.reading not in Reading.Kind.values:
        raise BatchError("Enter a temperature and what was measured.")
    if not (batch.is_open or (batch.finished_at and signature.happened_at <= batch.finished_at)):
        raise BatchError(f"{_ended(batch)} A temperature read since then is noted on the batch's page.")
    reading = runs.take_reading(
        batch.pk,
        entered.reading,
        entered.temperature_mc,
        note=entered.text[:200],
        signature=signature,
        pot=entered.pour,
    )
    made: dict[str, Any] = {"reading": reading}
    if entered.poured_above:
        made["note"] = BatchNote.objects.create(
            batch=batch,
            kind=BatchNote.Kind.POURED,
            text=f"{entered.poured_above[:400]} It was poured all the same.",
            by=signature.by,
            at=signature.happened_at,
            recorded_at=signature.recorded_at,
        )
    return made


def _note(batch: Batch, entered: Entered, signature: Signature) -> dict[str, Any]:
    if entered.seconds is None and not entered.text:
        raise BatchError("Write the note first.")
    note = BatchNote.objects.create(
        batch=batch,
        kind=entered.note_kind,
        seconds=entered.seconds,
        text=entered.text,
        by=signature.by,
        at=signature.happened_at,
        recorded_at=signature.recorded_at,
    )
    return {"note": note}


def _photo(batch: Batch, entered: Entered, signature: Signature) -> dict[str, Any]:
    if entered.photo is None:
        raise BatchError("The photo is missing. Take it again.")
    photo = BatchPhoto.objects.create(
        batch=batch,
        text=entered.text[:200],
        media_type=entered.photo.media_type,
        digest=hashlib.sha256(entered.photo.data).hexdigest(),
        size=len(entered.photo.data),
        data=entered.photo.data,
        by=signature.by,
        at=signature.happened_at,
        recorded_at=signature.recorded_at,
    )
    return {"photo": photo}


def _undo(batch: Batch, entered: Entered, signature: Signature) -> dict[str, Any]:
    """What an entry drew goes back to its lots; a reading, note or photo stays, marked as taken back.

    That a pot was poured above a maximum counts all the same (`BatchNote.stands`).
    """
    if not batch.is_open:
        raise BatchError(f"{_ended(batch)} Put it right on the batch's page, with a reason.")
    entries = BenchEntry.objects.select_related("posting__reversal", "reading__struck", "taken_back_by__by")
    whole = entries.filter(batch=batch).exclude(kind=BenchEntry.Kind.UNDO)
    entry = whole.filter(key=entered.takes_back).first() if entered.takes_back else None
    if entry is None:
        raise BatchError("What is to be taken back is not saved here. Nothing was changed.")
    if hasattr(entry, "taken_back_by"):
        raise BatchError(f"This was taken back before, by {entry.taken_back_by.by}.")
    if hasattr(entry.reading, "struck"):
        raise BatchError("This was struck out on the batch's page. Nothing is left to take back.")
    made: dict[str, Any] = {"takes_back": entry, "line_id": entry.line_id}
    if entry.posting:
        if hasattr(entry.posting, "reversal"):
            raise BatchError("This was put right on the batch's page. Nothing is left to take back.")
        runs.correct_draw(entry.posting, (), signature=signature.because(TAKEN_BACK))
        made["posting"] = Posting.objects.get(reverses=entry.posting)
    return made


def _ended(batch: Batch) -> str:
    return f"Batch {batch.spaced_code} is {batch.get_state_display().lower()}."


def _as_planned(batch_id: int) -> None:
    """A run of which nothing is in the pot any more, nothing was read and no pot is said to have been poured, is planned
    again and can be moved."""
    batch = Batch.objects.get(pk=batch_id)
    poured = batch.notes.filter(kind=BatchNote.Kind.POURED)
    touched = batch.draws.standing().exists() or batch.readings.standing().exists() or poured.exists()
    if batch.state == Batch.State.STARTED and not touched:
        batch.state = Batch.State.PLANNED
        batch.save(update_fields=["state"])


ACTS: dict[str, Callable[[Batch, Entered, Signature], dict[str, Any]]] = {
    BenchEntry.Kind.DRAW: _draw,
    BenchEntry.Kind.UNDO: _undo,
    BenchEntry.Kind.READING: _read,
    BenchEntry.Kind.NOTE: _note,
    BenchEntry.Kind.PHOTO: _photo,
}
