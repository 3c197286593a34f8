"""A batch from plan to shelf: planned, drawn into, read, finished; and put right afterwards.

Locking: the batch first, then its lots (in `inventory.books`), codes last.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db import transaction
from django.db.models import prefetch_related_objects
from django.utils import timezone

from batches.models import Batch, Draw, FormulaLine, FormulaVersion, Labour, Outcome, Reading, ready_on
from batches.sheet import batch_sheet
from inventory import books, moving
from inventory.models import Grade, Lot, Movement, PeriodCost, Posting
from inventory.moving import Making, Taking
from studio.numbering import next_codes
from studio.signature import Signature

BATCH_PREFIX = "B"
LOT_PREFIX = "L"


class BatchError(Exception):
    """The batch refuses what was asked. Its text is a sentence that says what to do."""


class NothingDrawn(BatchError):
    """Lines of the formula for which nothing was drawn. `names` are their items."""

    def __init__(self, names: Sequence[str]) -> None:
        super().__init__(
            f"Nothing was drawn for {', '.join(names)}. Record what was used first, or tick that none was used."
        )
        self.names = list(names)


@dataclass(frozen=True)
class Result:
    """What came out: base units of the product, good, seconds, and scrap by defect."""

    good: int = 0
    seconds: int = 0
    scrap: Mapping[str, int] = field(default_factory=dict)

    @property
    def total(self) -> int:
        """Everything that came out, whatever became of it."""
        return self.good + self.seconds + sum(self.scrap.values())


def drawn_by_line(batch: Batch) -> dict[int, int]:
    """Base units drawn so far for each formula line, reversed draws left out."""
    drawn: dict[int, int] = {}
    for line_id, quantity in batch.draws.standing().values_list("line_id", "movement__quantity"):
        drawn[line_id] = drawn.get(line_id, 0) - quantity
    return drawn


def _commit_what_is_left(batch: Batch) -> None:
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
    """Plan a run of `quantity` base units of the product and commit what it needs. Raises RecipeError."""
    # As it stands now: it may have been written anew since it was read. From here on it stays as it is.
    version = (
        FormulaVersion.objects.select_for_update(of=("self",))
        .select_related("formula__item")
        .get(pk=version.pk)
    )
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
    _commit_what_is_left(batch)
    return batch


def _open(batch_id: int) -> Batch:
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
    batch = _open(batch_id)
    if batch.draws.standing().exists():
        raise BatchError(
            "Material was drawn into this batch. Finish it instead, as scrap if nothing came of it."
        )
    batch.state = Batch.State.CALLED_OFF
    batch.note = "\n".join(part for part in (batch.note, f"Called off: {signature.reason}") if part)
    batch.save(update_fields=["state", "note"])
    _commit_what_is_left(batch)
    return batch


def take_hold(batch_id: int, lot_ids: Collection[int]) -> None:
    """Lock a batch, then every lot that several draws are about to take, in one query.

    For draws of several lines in one transaction: two benches that took their lots line by line, in the order of
    their own formulas, could each wait for the other. Raises BatchError, books.BookError.
    """
    _open(batch_id)
    books.lock(lot_ids)


@transaction.atomic
def draw_line(
    batch_id: int, line_id: int, takings: Sequence[Taking], *, signature: Signature, book_found: bool = False
) -> Posting:
    """Record what really went into the batch for one line of its formula, from one lot or several.

    `book_found`: where a lot held less by the books, book the difference as found, to be reviewed.
    Raises BatchError, books.BookError.
    """
    batch = _open(batch_id)
    posting = _draw(batch, line_id, takings, signature, book_found)
    if batch.state == Batch.State.PLANNED:
        batch.state = Batch.State.STARTED
        batch.save(update_fields=["state"])
    _commit_what_is_left(batch)
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
    _commit_what_is_left(batch)
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


@transaction.atomic
def finish(batch_id: int, result: Result, *, signature: Signature, without: bool = False) -> Posting:
    """Put what came out on the shelf. Good units carry the material's value; seconds do where none is good.

    `without` accepts lines of the formula for which nothing was drawn. Raises BatchError, NothingDrawn,
    books.WrongTime.
    """
    batch = _open(batch_id)
    if min(result.good, result.seconds, *result.scrap.values()) < 0:
        raise BatchError("No number of what came out can be below zero.")
    if not result.total:
        raise BatchError("Say how many came out, at least as scrap.")
    draws = list(batch.draws.standing().select_related("movement__posting"))
    _check_drawn(batch, draws, without)
    latest = max((draw.movement.posting.happened_at for draw in draws), default=signature.happened_at)
    if signature.happened_at < latest:
        raise books.WrongTime(
            f"The last draw was on {timezone.localtime(latest):%d %b %Y, %H:%M}; the batch was finished after that."
        )
    made = {Outcome.Result.GOOD: result.good, Outcome.Result.SECOND: result.seconds}
    made = {kind: quantity for kind, quantity in made.items() if quantity}
    values = _carried(sum(draw.value for draw in draws), made)
    makings = [_making(batch, kind, quantity, values[kind], signature) for kind, quantity in made.items()]
    posting, lots = moving.make(makings, prefix=LOT_PREFIX, signature=signature)
    outcomes = [
        Outcome(batch=batch, posting=posting, result=kind, quantity=quantity, lot=lot)
        for (kind, quantity), lot in zip(made.items(), lots, strict=True)
    ]
    outcomes += [
        Outcome(batch=batch, posting=posting, result=Outcome.Result.SCRAP, quantity=quantity, defect=defect)
        for defect, quantity in result.scrap.items()
        if quantity
    ]
    Outcome.objects.bulk_create(outcomes)
    batch.state, batch.finished_at = Batch.State.FINISHED, signature.happened_at
    batch.save(update_fields=["state", "finished_at"])
    _commit_what_is_left(batch)
    return posting


def _check_drawn(batch: Batch, draws: Sequence[Draw], without: bool) -> None:
    lines = batch.version.lines.select_related("item")
    drawn = {draw.line_id for draw in draws}
    missing = [line.item.name for line in lines if line.pk not in drawn]
    if missing and not without:
        raise NothingDrawn(missing)


def _carried(value: int, made: Mapping[Outcome.Result, int]) -> dict[Outcome.Result, int]:
    """Who carries the material's value: all of it the good units; the seconds where none is good."""
    bearer = Outcome.Result.GOOD if Outcome.Result.GOOD in made else Outcome.Result.SECOND
    return {kind: value if kind == bearer else 0 for kind in made}


def _making(batch: Batch, kind: str, quantity: int, value: int, signature: Signature) -> Making:
    finished_on = timezone.localtime(signature.happened_at).date()
    item = batch.item
    return Making(
        item=item,
        grade=Grade.SECOND if kind == Outcome.Result.SECOND else Grade.FIRST,
        quantity=quantity,
        value=value,
        expires_on=finished_on + timedelta(days=item.shelf_life_days) if item.shelf_life_days else None,
        ready_on=ready_on(batch.version, finished_on),
    )


def unsettled(batch: Batch) -> int:
    """Material drawn less what the batch's lots were given, in millionths: nothing, when the books are settled.

    A batch of which only scrap came out has no lot to give its material to: that is lost, and nothing is open.
    """
    lots = [outcome.lot_id for outcome in batch.outcomes.standing() if outcome.lot_id]
    if not lots:
        return 0
    drawn = sum(draw.value for draw in batch.draws.standing().select_related("movement"))
    kinds = (Movement.Kind.MADE, Movement.Kind.REVALUED)
    given = sum(Movement.objects.filter(lot__in=lots, kind__in=kinds).values_list("value", flat=True))
    given += sum(PeriodCost.objects.filter(lot__in=lots).values_list("value", flat=True))
    return drawn - given


def settle_cost(batch: Batch, *, signature: Signature) -> Posting | None:
    """Pass a later change of what was drawn on to what the batch made. None when there is nothing to pass on."""
    if batch.finished_at is None or not (change := unsettled(batch)):
        return None
    outcomes = list(batch.outcomes.standing().exclude(lot=None).select_related("lot"))
    made = {Outcome.Result(outcome.result): outcome.quantity for outcome in outcomes}
    carried = _carried(change, made)
    changes = [
        (outcome.lot, outcome.quantity, carried[Outcome.Result(outcome.result)])
        for outcome in outcomes
        if outcome.lot and carried[Outcome.Result(outcome.result)]
    ]
    # At the time of the finishing: from then on the lots were worth this, and no later past goes below nothing.
    return moving.revalue(changes, signature=signature.at(batch.finished_at))


@transaction.atomic
def undo_finish(batch_id: int, *, signature: Signature) -> Batch:
    """Open a finished batch again, because what came out was entered wrongly.

    Cost corrections of its lots are reversed first, the latest first. Raises BatchError, books.CannotReverse
    (when some of it has left the shelf since).
    """
    batch = Batch.objects.select_for_update(of=("self",)).with_product().get(pk=batch_id)
    if batch.state != Batch.State.FINISHED:
        raise BatchError("This batch is not finished.")
    outcomes = list(batch.outcomes.standing().select_related("posting"))
    lots = [outcome.lot_id for outcome in outcomes if outcome.lot_id]
    _check_all_here(outcomes, books.lock(lots))
    corrections = Posting.objects.standing().filter(
        kind=Posting.Kind.REVALUATION, pk__in=_corrections_of(lots)
    )
    for correction in corrections.order_by("-pk"):
        books.reverse(correction, signature)
    books.reverse(outcomes[0].posting, signature)
    batch.state, batch.finished_at = Batch.State.STARTED, None
    batch.save(update_fields=["state", "finished_at"])
    _commit_what_is_left(batch)
    return batch


def _check_all_here(outcomes: Sequence[Outcome], lots: Mapping[int, Lot]) -> None:
    """Raise CannotReverse when some of what was made has left the shelf.

    Asked before any cost correction is taken back: one of those would fail for the same cause and not name it.
    """
    for outcome in outcomes:
        lot = lots.get(outcome.lot_id or 0)
        if lot and lot.on_hand < outcome.quantity:
            gone = lot.item.quantity(outcome.quantity - lot.on_hand)
            raise books.CannotReverse(
                f"Of lot {lot.spaced_code}, {gone} was used since. Reverse what used it first, the latest first.",
                lot.pk,
            )


def _corrections_of(lots: Sequence[int]) -> set[int]:
    """The postings that moved value, or a cost of the period, of these lots."""
    moved = Movement.objects.filter(lot__in=lots, kind=Movement.Kind.REVALUED).values_list(
        "posting_id", flat=True
    )
    return {*moved, *PeriodCost.objects.filter(lot__in=lots).values_list("posting_id", flat=True)}
