"""A batch from the plan to the pot: planned, drawn into, read; and put right afterwards. Its end: `batches.finishing`.

Locking: the batch first, then its lots (in `inventory.books`), codes last.
"""

from collections.abc import Collection, Sequence
from datetime import date

from django.db import transaction
from django.db.models import prefetch_related_objects

from batches.models import Batch, Draw, FormulaLine, FormulaVersion, Labour, Reading
from batches.passing_on import settle_cost
from batches.sheet import batch_sheet
from inventory import books, moving
from inventory.models import Lot, Movement, Posting
from inventory.moving import Taking
from studio.numbering import next_codes
from studio.signature import Signature

BATCH_PREFIX = "B"
LOT_PREFIX = "L"


class BatchError(Exception):
    """The batch refuses what was asked. Its text is a sentence that says what to do."""


def drawn_by_line(batch: Batch) -> dict[int, int]:
    """Base units drawn so far for each formula line, reversed draws left out."""
    drawn: dict[int, int] = {}
    for line_id, quantity in batch.draws.standing().values_list("line_id", "movement__quantity"):
        drawn[line_id] = drawn.get(line_id, 0) - quantity
    return drawn


def commit_what_is_left(batch: Batch) -> None:
    """Tell stock what the batch still needs: its targets less what was drawn, while it is open."""
    needs: dict[int, int] = {}
    if batch.is_open:
        drawn = drawn_by_line(batch)
        prefetch_related_objects([batch], "version__lines__item")
        for target in batch_sheet(batch.version.recipe(), batch.quantity).targets:
            left = target.total - drawn.get(target.line.key, 0)
            needs[target.line.item_id] = needs.get(target.line.item_id, 0) + max(left, 0)
    moving.commit(batch.code, needs, batch.planned_on)


@transaction.atomic
def plan(
    version: FormulaVersion, quantity: int, *, planned_on: date, note: str = "", signature: Signature
) -> Batch:
    """Plan a run of `quantity` base units of the product and commit what it needs. Raises RecipeError, BatchError."""
    # As it stands now: it may have been written anew since it was read. From here on it stays as it is.
    version = (
        FormulaVersion.objects.select_for_update(of=("self",))
        .select_related("formula__item")
        .get(pk=version.pk)
    )
    if version.state == FormulaVersion.State.RETIRED:
        raise BatchError(f"{version} is retired. Plan from a version that is approved or at trial.")
    batch_sheet(version.recipe(), quantity)
    batch = Batch.objects.create(
        code=next_codes(BATCH_PREFIX, 1)[0],
        version=version,
        quantity=quantity,
        planned_on=planned_on,
        note=note,
        planned_by=signature.by,
        planned_at=signature.recorded_at,
    )
    commit_what_is_left(batch)
    return batch


def open_batch(batch_id: int) -> Batch:
    """The batch, locked. Raises BatchError when it is no longer open."""
    batch = Batch.objects.select_for_update(of=("self",)).with_product().get(pk=batch_id)
    if not batch.is_open:
        raise BatchError(
            f"Batch {batch.spaced_code} is {batch.get_state_display().lower()}; nothing more can be drawn into it."
        )
    return batch


@transaction.atomic
def call_off(batch_id: int, *, signature: Signature) -> Batch:
    """Call off a planned run that nothing was drawn into. Raises BatchError."""
    batch = open_batch(batch_id)
    if batch.draws.standing().exists():
        raise BatchError(
            "Material was drawn into this batch. Finish it instead, as scrap if nothing came of it."
        )
    batch.state = Batch.State.CALLED_OFF
    batch.note = "\n".join(part for part in (batch.note, f"Called off: {signature.reason}") if part)
    batch.save(update_fields=["state", "note"])
    commit_what_is_left(batch)
    return batch


def take_hold(batch_id: int, lot_ids: Collection[int]) -> None:
    """Lock a batch, then every lot that several draws are about to take, in one query.

    For draws of several lines in one transaction: two benches that took their lots line by line, in the order of
    their own formulas, could each wait for the other. Raises BatchError, books.BookError.
    """
    open_batch(batch_id)
    books.lock(lot_ids)


@transaction.atomic
def draw_line(
    batch_id: int, line_id: int, takings: Sequence[Taking], *, signature: Signature, book_found: bool = False
) -> Posting:
    """Record what really went into the batch for one line of its formula, from one lot or several.

    `book_found`: where a lot held less by the books, book the difference as found, to be reviewed.
    Raises BatchError, books.BookError.
    """
    batch = open_batch(batch_id)
    posting = _draw(batch, line_id, takings, signature, book_found)
    if batch.state == Batch.State.PLANNED:
        batch.state = Batch.State.STARTED
        batch.save(update_fields=["state"])
    commit_what_is_left(batch)
    return posting


def _draw(
    batch: Batch,
    line_id: int,
    takings: Sequence[Taking],
    signature: Signature,
    book_found: bool,
    used: Collection[int] = (),
) -> Posting:
    """Post a draw for one line and tie its movements to the batch, which is locked. Lots `used` before are taken
    as they are."""
    line = FormulaLine.objects.select_related("item").filter(pk=line_id, version=batch.version_id).first()
    if line is None:
        raise BatchError("This line is not in the batch's formula. Reload the page.")
    chosen = Lot.objects.filter(pk__in=[taking.lot_id for taking in takings])
    lots = {lot.pk: lot for lot in chosen.select_related("item", "outcome")}
    for taking in takings:
        lot = lots.get(taking.lot_id)
        if lot and lot.item_id != line.item_id:
            raise books.LotNotUsable(
                f"Lot {lot.spaced_code} is {lot.item}, not {line.item}. Take a lot of {line.item}.", lot.pk
            )
        made_by = getattr(lot, "outcome", None)
        if lot and made_by and made_by.batch_id == batch.pk:
            raise books.LotNotUsable(
                f"Lot {lot.spaced_code} came out of this batch. Choose another lot.", lot.pk
            )
    posting = moving.draw(takings, signature=signature, book_found=book_found, used=used)
    Draw.objects.bulk_create(
        Draw(batch=batch, line=line, movement=movement)
        for movement in posting.movements.filter(kind=Movement.Kind.DRAWN)
    )
    return posting


@transaction.atomic
def correct_draw(
    posting: Posting, takings: Sequence[Taking], *, signature: Signature, book_found: bool = False
) -> Posting | None:
    """Put a wrong draw right: reverse it and, unless `takings` is empty, post what was really drawn.

    Both happen when the draw happened and are recorded now, with the reason. When the batch is finished, what
    it made is worth more or less by the difference, from its finishing on. A lot of the first entry may be named
    again even if it is on hold or expired by now: it was used. Raises BatchError, books.BookError.
    """
    draw = Draw.objects.filter(movement__posting=posting).first()
    if draw is None:
        raise BatchError("This posting is not a draw of a batch.")
    batch = Batch.objects.select_for_update(of=("self",)).with_product().get(pk=draw.batch_id)
    # All at once, those of what it made among them: its cost may follow.
    made = batch.outcomes.exclude(lot=None).values_list("lot_id", flat=True)
    drawn = posting.movements.values_list("lot_id", flat=True)
    books.lock({*drawn, *made, *(taking.lot_id for taking in takings)})
    books.reverse(posting, signature)
    corrected = None
    if takings:
        at_the_time = signature.at(posting.happened_at)
        used = {movement.lot_id for movement in posting.movements.all()}
        corrected = _draw(batch, draw.line_id, takings, at_the_time, book_found, used)
        books.carry_overrides(posting, corrected)
    commit_what_is_left(batch)
    settle_cost(batch, signature=signature)
    return corrected


@transaction.atomic
def take_reading(
    batch_id: int, kind: str, temperature_mc: int, *, note: str, signature: Signature
) -> Reading:
    """Record a temperature, in thousandths of a degree Celsius. Raises BatchError."""
    batch = Batch.objects.select_for_update().get(pk=batch_id)
    if batch.state == Batch.State.CALLED_OFF:
        raise BatchError("This batch was called off.")
    if batch.state == Batch.State.PLANNED:
        batch.state = Batch.State.STARTED
        batch.save(update_fields=["state"])
    return Reading.objects.create(
        batch=batch,
        kind=kind,
        temperature_mc=temperature_mc,
        note=note,
        by=signature.by,
        at=signature.happened_at,
    )


def note_labour(
    batch: Batch, *, person_id: int, step: str, minutes: int, worked_on: date, signature: Signature
) -> Labour:
    """Record minutes worked on a batch, which may also be known only after it was finished."""
    return Labour.objects.create(
        batch=batch,
        person_id=person_id,
        step=step,
        minutes=minutes,
        worked_on=worked_on,
        recorded_by=signature.by,
        recorded_at=signature.recorded_at,
    )
