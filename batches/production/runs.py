"""A batch from the plan to the pot: planned, drawn into, read; and put right afterwards.

Its end: `batches.production.finishing`.

Locking: the batch first, then its lots (in `inventory.ledger.books`), codes last.
"""

from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from datetime import date

from django.db import transaction
from django.db.models import prefetch_related_objects

from batches.formulas.same_lines import same_lines
from batches.models import Batch, Draw, FormulaLine, Labour, Reading, StruckReading
from batches.planning.plans import BatchError, commit_what_is_left, open_batch
from batches.production.cost_allocation import settle_cost
from batches.production.off_formula_of import hold_what_is_off
from batches.production.stopped_lots import carrying, hold_what_it_went_into
from inventory.ledger import books, closing
from inventory.lots import moving
from inventory.lots.moving import Taking
from inventory.models import Lot, Movement, Posting
from studio.core.days import begin
from studio.models import Role, User
from studio.people.signature import Signature

LOT_PREFIX = "L"
SAME_POT = 0  # pots count from 1


@contextmanager
def drawing_into(batch_id: int, lot_ids: Collection[int] = (), *, signature: Signature) -> Iterator[Batch]:
    """The batch, locked, to `draw` one or more lines into in one transaction; what it still needs is told at its end.

    `lot_ids`: every lot that several draws are about to take, locked in one query. Two benches that took their lots line
    by line, in the order of their own formulas, could each wait for the other. What came of the batch already is locked
    along: it may be put on hold by a draw, and is, once all are made, where they took a pot above a maximum.
    Raises BatchError, books.BookError.
    """
    with transaction.atomic():
        batch = open_batch(batch_id)
        came = carrying(batch_id)
        if lot_ids or came:
            books.lock({*lot_ids, *came})
        yield batch
        if batch.state == Batch.State.PLANNED:
            batch.state = Batch.State.STARTED
            batch.save(update_fields=["state"])
        commit_what_is_left(batch)
        if came:
            hold_what_is_off(batch, signature=signature)


def draw_line(
    batch_id: int,
    line_id: int,
    takings: Sequence[Taking],
    *,
    signature: Signature,
    book_found: bool = False,
    despite: str = "",
    pot: int | None = None,
) -> Posting:
    """`draw` for one line alone. Raises BatchError, books.BookError."""
    with drawing_into(batch_id, {taking.lot_id for taking in takings}, signature=signature) as batch:
        return draw(
            batch, line_id, takings, signature=signature, book_found=book_found, despite=despite, pot=pot
        )


def line_to_draw(batch: Batch, line_id: int) -> FormulaLine:
    """The line that what went into the batch for this one counts for.

    That is the line itself or, where the batch's version was corrected after it was weighed, the present line that is
    the same (`same_lines`); where the right version has none, the line it was weighed for. Raises BatchError.
    """
    prefetch_related_objects([batch], "version__lines__item")
    lines = list(batch.version.lines.all())
    if line := next((line for line in lines if line.pk == line_id), None):
        return line
    before = batch.version_corrections.values("before")
    old = FormulaLine.objects.filter(version__lines=line_id, version__in=before).select_related("item")
    found = {line.pk: line for line in old.order_by("pk")}
    if line_id not in found:
        raise BatchError("This line is not in the batch's formula. Reload the page.")
    return same_lines(list(found.values()), lines).get(line_id, found[line_id])


def draw(
    batch: Batch,
    line_id: int,
    takings: Sequence[Taking],
    *,
    signature: Signature,
    book_found: bool = False,
    used: Collection[int] = (),
    despite: str = "",
    pot: int | None = None,
) -> Posting:
    """Record what really went into a locked batch for one line of its formula, from one lot or several.

    `pot`: which one it went into, from 1; None where nobody said.
    `book_found`: where a lot held less by the books, book the difference as found, to be reviewed. Lots `used` before
    (by key) are taken as they are. `despite` says why lots went in that are on hold, expired or not released: they are
    taken, to be reviewed, and what came of the batch is put on hold. Raises BatchError, books.BookError.
    """
    line = line_to_draw(batch, line_id)
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
    posting = moving.draw(takings, signature=signature, book_found=book_found, used=used, despite=despite)
    Draw.objects.bulk_create(
        Draw(batch=batch, line=line, movement=movement, pot=pot if line.in_melt else None)
        for movement in posting.movements.filter(kind=Movement.Kind.DRAWN)
    )
    if despite:
        hold_what_it_went_into(batch, posting, signature=signature)
    return posting


@transaction.atomic
def correct_draw(
    posting: Posting,
    takings: Sequence[Taking],
    *,
    signature: Signature,
    book_found: bool = False,
    despite: str = "",
    pot: int | None = SAME_POT,
) -> Posting | None:
    """Put a wrong draw right: reverse it and, unless `takings` is empty, post what was really drawn.

    `pot` is the pot that what is right went into, as in `draw`; the same as before unless it is given.

    Both happen when the draw happened, or where the books are closed there at the first moment after, and are recorded
    now, with the reason. When the batch is finished, what
    it made is worth more or less by the difference, from its finishing on. A lot of the first entry may be named
    again even if it is on hold or expired by now, for no more than was recorded of it: so much was used. More of it, or
    another one that is stopped, is taken for the reason in `despite`, to be reviewed, and what came of the batch is put
    on hold. Raises BatchError, books.BookError.
    """
    wrong = (
        Draw.objects.filter(movement__posting=posting)
        .select_related("movement__posting__bench_entry")
        .first()
    )
    if wrong is None:
        raise BatchError("This posting is not a draw of a batch.")
    batch = Batch.objects.select_for_update(of=("self",)).with_product().get(pk=wrong.batch_id)
    # All at once, those of what it made among them: its cost may follow, and what carries it may be held.
    made = batch.outcomes.exclude(lot=None).values_list("lot_id", flat=True)
    drawn = posting.movements.values_list("lot_id", flat=True)
    books.lock({*drawn, *made, *carrying(batch.pk), *(taking.lot_id for taking in takings)})
    books.reverse(posting, signature)
    corrected = None
    if takings:
        at_the_time = signature.at(closing.when_open(posting.happened_at))
        corrected = draw(
            batch,
            wrong.line_id,
            takings,
            signature=at_the_time,
            book_found=book_found,
            used=_used_before(posting, takings),
            despite=despite,
            pot=wrong.in_pot if pot == SAME_POT else pot,
        )
        books.carry_overrides(posting, corrected)
    commit_what_is_left(batch)
    settle_cost(batch, signature=signature)
    hold_what_is_off(batch, signature=signature)
    return corrected


def _used_before(posting: Posting, takings: Sequence[Taking]) -> set[int]:
    """The lots (by key) of which no more is taken than a draw recorded, and those of which it says why they were used
    although something stood against them: that reason stands for what puts the draw right too. Three queries."""
    recorded: dict[int, int] = {}
    for movement in posting.movements.filter(kind=Movement.Kind.DRAWN):
        recorded[movement.lot_id] = recorded.get(movement.lot_id, 0) - movement.quantity
    wanted: dict[int, int] = {}
    for taking in takings:
        wanted[taking.lot_id] = wanted.get(taking.lot_id, 0) + taking.quantity
    used = {lot_id for lot_id, quantity in wanted.items() if quantity <= recorded.get(lot_id, 0)}
    stopped = posting.stopped_uses.values_list("lot", flat=True)
    return used.union(stopped, posting.override_uses.values_list("override__lot", flat=True))


@transaction.atomic
def take_reading(
    batch_id: int, kind: str, temperature_mc: int, *, note: str, signature: Signature, pot: int | None = None
) -> Reading:
    """Record a temperature, in thousandths of a degree Celsius, and the pot it was read in, from 1, where somebody said.

    Raises BatchError.
    """
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
        pot=None if kind == Reading.Kind.ROOM else pot,
        by=signature.by,
        at=signature.happened_at,
    )


@transaction.atomic
def strike_reading(reading_id: int, *, signature: Signature) -> StruckReading:
    """Strike out a temperature that was noted wrongly; it stays on record with the reason, and counts no longer.

    Raises BatchError when it was struck out or taken back before.
    """
    batch_id = Reading.objects.values_list("batch", flat=True).get(pk=reading_id)
    Batch.objects.select_for_update().get(pk=batch_id)
    reading = Reading.objects.select_related("struck", "bench_entry__taken_back_by").get(pk=reading_id)
    if not reading.stands:
        raise BatchError("This reading was struck out or taken back already.")
    return StruckReading.objects.create(
        reading=reading, by=signature.by, at=signature.recorded_at, reason=signature.reason
    )


@transaction.atomic
def note_labour(
    batch: Batch, *, person_id: int, step: str, minutes: int, worked_on: date, signature: Signature
) -> Labour:
    """Record minutes worked on a batch, which may also be known only after it was finished.

    Raises books.BooksClosed where the books are closed on that day: what goods cost in it would change.
    """
    books.check_day_open(worked_on)
    return Labour.objects.create(
        batch=batch,
        person_id=person_id,
        step=step,
        minutes=minutes,
        worked_on=worked_on,
        by_owner=User.objects.filter(pk=person_id, role=Role.OWNER).exists(),
        recorded_by=signature.by,
        recorded_at=signature.recorded_at,
    )


@transaction.atomic
def take_back_labour(labour_id: int, *, signature: Signature) -> Labour:
    """Take back minutes that were noted wrongly, all of them; whoever noted too much notes the right ones anew.

    Both stay on record. Where the books are closed on that day it counts from the first day after, and what was closed
    stays as it was. Raises BatchError when they were taken back before.
    """
    entry = Labour.objects.select_for_update().get(pk=labour_id)
    if not entry.stands:
        raise BatchError("These minutes were taken back already.")
    return Labour.objects.create(
        batch_id=entry.batch_id,
        person_id=entry.person_id,
        step=entry.step,
        minutes=-entry.minutes,
        worked_on=books.local(closing.when_open(begin(entry.worked_on))).date(),
        by_owner=entry.by_owner,
        recorded_by=signature.by,
        recorded_at=signature.recorded_at,
        takes_back=entry,
        reason=signature.reason,
    )
