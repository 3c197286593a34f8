"""A batch comes to its end, at once or in parts: what came out goes on the shelf, and is put right afterwards.

Locking: the batch first, then its lots (in `inventory.ledger.books`), codes last.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from batches.models import Batch, BatchEnd, Draw, Flaw, Outcome, ready_on
from batches.planning.plans import BatchError, commit_what_is_left, open_batch
from batches.production.cost_allocation import (
    OutputLine,
    as_came,
    provisional,
    settle_cost,
    standing,
    targets,
    weighed,
)
from batches.production.meanwhile import check_came_meanwhile, check_last_part
from batches.production.off_formula_of import hold_what_is_off
from batches.production.releasing import hold_what_was_released
from batches.production.stopped_lots import carrying, hold_if_stopped_went_in
from batches.production.succession import Same, look_again, pass_on_holds, taken_back
from inventory.ledger import books, closing
from inventory.lots import moving, write_offs
from inventory.lots.moving import Making
from inventory.models import Grade, Item, Kind, Lot, Movement, PeriodCost, Posting, Reason
from studio.core.percent import WHOLE
from studio.core.quantities import Dimension
from studio.people.signature import Signature

# Units and recovered melt are taken up to so much more than the melt weighed in: a pour is a few percent off its weight,
# and so is a scale. Common practice, no source.
MORE_THAN_MELT_PPM = 50_000


class MoreThanDrawn(BatchError):
    """More melt would come back than was weighed in. `of_remelt` where it is the melt of units to remelt."""

    def __init__(self, recovered: int, drawn: int, item: Item, *, of_remelt: bool) -> None:
        super().__init__(
            f"{item.quantity(recovered)} of melt would be recovered of {item.quantity(drawn)} that were weighed in. "
            "Check the weight, or record the material that is missing first."
        )
        self.of_remelt = of_remelt


class NothingDrawn(BatchError):
    """Lines of the formula for which nothing was drawn. `names` are their items."""

    def __init__(self, names: Sequence[str]) -> None:
        super().__init__(
            f"Nothing was drawn for {', '.join(names)}. Record what was used first, or tick that none was used."
        )
        self.names = list(names)


@dataclass(frozen=True)
class Recovered:
    """Melt that goes back on the shelf, in µg, as an item of its own that is made here.

    `of_remelt`: it is the melt in the units to be melted again; `weighed` is false where that is only their fill weight.
    """

    item: Item
    quantity: int
    of_remelt: bool = False
    weighed: bool = True


@dataclass(frozen=True)
class Result:
    """What came out: base units of the product, good, seconds, scrap by defect, and to be melted again.

    `flawed` says of how many seconds which defect is known. `retained` are as many of the good ones, kept as samples.
    `recovered` is melt that became no unit.
    """

    good: int = 0
    seconds: int = 0
    scrap: Mapping[str, int] = field(default_factory=dict)
    flawed: Mapping[str, int] = field(default_factory=dict)
    rework: int = 0
    retained: int = 0
    recovered: Sequence[Recovered] = ()

    @property
    def total(self) -> int:
        """Everything that came out, whatever became of it."""
        return self.good + self.seconds + self.rework + sum(self.scrap.values())


def _check(batch: Batch, result: Result) -> None:
    """Raise BatchError for a result that cannot be."""
    melt = [each.quantity for each in result.recovered]
    counts = (*result.scrap.values(), *result.flawed.values(), *melt)
    if min(result.good, result.seconds, result.rework, result.retained, *counts) < 0:
        raise BatchError("No number of what came out can be below zero.")
    if not result.total and not sum(melt):
        raise BatchError("Say how many came out, at least as scrap.")
    if result.retained > result.good:
        raise BatchError("Samples are kept of the good ones; there are not as many.")
    if sum(result.flawed.values()) > result.seconds:
        raise BatchError("More defects were given than there are seconds.")
    of_units = [each for each in result.recovered if each.of_remelt]
    if len(of_units) > 1 or (of_units and not result.rework):
        raise BatchError("The melt of units to remelt is one lot, and there are units it is of.")
    for each in result.recovered:
        item = each.item
        if not item.made_here or item.dimension is not Dimension.MASS or item == batch.item:
            raise BatchError(
                f"{item} is not an item that is made here by weight. Choose one for recovered melt."
            )


def _check_melt(batch: Batch, result: Result, draws: Sequence[Draw]) -> None:
    """Raise MoreThanDrawn where more melt came back, with what came back before, than was weighed into the pot."""
    recovered = [each for each in result.recovered if each.quantity]
    if not recovered:
        return
    before = batch.outcomes.standing().filter(result=Outcome.Result.MELT)
    whole = (before.aggregate(total=Sum("quantity"))["total"] or 0) + sum(each.quantity for each in recovered)
    drawn = weighed(draws)
    if whole * WHOLE > drawn * (WHOLE + MORE_THAN_MELT_PPM):
        most = max(recovered, key=lambda each: each.quantity)
        raise MoreThanDrawn(whole, drawn, most.item, of_remelt=most.of_remelt)


@transaction.atomic
def finish(
    batch_id: int,
    result: Result,
    *,
    signature: Signature,
    without: bool = False,
    last: bool = True,
    seen: int | None = None,
) -> Posting:
    """Put what came out on the shelf: all of it, or (not `last`) a part while the batch goes on.

    Who carries the material's value: see `batches.production.cost_allocation`. Finished goods wait for their release.
    Samples kept of the good ones leave at once. `without` accepts lines of the formula for which nothing was drawn.
    `seen` is the latest output posting (by key) that whoever enters this was shown, 0 where none; None asks nothing.
    Raises BatchError, MoreThanDrawn, NothingDrawn, CameMeanwhile, books.WrongTime.
    """
    batch = open_batch(batch_id)
    _check(batch, result)
    if seen is not None:
        check_came_meanwhile(batch, seen)
    draws = _draws(batch)
    _check_melt(batch, result, draws)
    if last:
        _check_drawn(batch, draws, without)
    _check_time(batch, draws, signature)
    earlier = standing(batch)
    _lock_for_output(batch, draws)
    posting = _yield(batch, result, earlier, signature, last)
    if last:
        batch.state, batch.finished_at = Batch.State.FINISHED, signature.happened_at
    elif batch.state == Batch.State.PLANNED:
        batch.state = Batch.State.STARTED
    batch.save(update_fields=["state", "finished_at"])
    if last:
        _end(batch, signature)
    if last and earlier:
        settle_cost(batch, signature=signature.because("The last part is finished"))
    _keep_samples(posting, result.retained, signature)
    pass_on_holds(batch, posting, signature=signature)
    hold_if_stopped_went_in(batch, posting, signature=signature)
    hold_what_is_off(batch, signature=signature)
    hold_what_was_released(batch, signature=signature)
    commit_what_is_left(batch)
    return posting


@transaction.atomic
def abandon(batch_id: int, recovered: Sequence[Recovered] = (), *, signature: Signature) -> Batch:
    """Give a run up of which nothing more will come, with a reason. What was drawn and not recovered is lost.

    Raises BatchError when nothing was drawn (such a run is called off) or a part of it came out; MoreThanDrawn.
    """
    batch = open_batch(batch_id)
    draws = _draws(batch)
    if not draws:
        raise BatchError("Nothing was drawn into this batch. Call it off instead.")
    if standing(batch):
        raise BatchError("Some of it came out already. Finish the batch; what is lost is scrap.")
    _check_time(batch, draws, signature)
    if any(each.quantity for each in recovered):
        result = Result(recovered=recovered)
        _check(batch, result)
        _check_melt(batch, result, draws)
        _lock_for_output(batch, draws)
        posting = _yield(batch, result, [], signature, last=True)
        pass_on_holds(batch, posting, signature=signature)
        hold_if_stopped_went_in(batch, posting, signature=signature)
        hold_what_is_off(batch, signature=signature)
    _end(batch, signature)
    batch.state = Batch.State.ABANDONED
    batch.note = "\n".join(part for part in (batch.note, f"Given up: {signature.reason}") if part)
    batch.save(update_fields=["state", "note"])
    commit_what_is_left(batch)
    return batch


def _draws(batch: Batch) -> list[Draw]:
    return list(batch.draws.standing().select_related("movement__posting", "line__item"))


def _lock_for_output(batch: Batch, draws: Sequence[Draw]) -> None:
    """Lock the lots that the output of a batch is judged by, before anything is read of them: what it drew, and what came
    of it or was taken back.

    Whoever corrects what went into melt that was drawn has locked that melt, and holds what came of it: output that is not
    there yet would be seen by neither of the two, did they not stand in line.
    """
    drawn = {draw.movement.lot_id for draw in draws}
    came = batch.outcomes.exclude(lot=None).values_list("lot_id", flat=True)
    if lots := {*drawn, *came, *carrying(batch.pk)}:
        books.lock(lots)


def _end(batch: Batch, signature: Signature) -> None:
    """Keep that the batch came to its end. Raises books.WrongTime, books.BooksClosed."""
    if signature.happened_at > signature.recorded_at:
        raise books.WrongTime("This lies in the future. Give a time that has passed.")
    books.check_open(signature.happened_at)
    _note_end(batch, 1, signature)


def _note_end(batch: Batch, sign: int, signature: Signature) -> None:
    BatchEnd.objects.create(
        batch=batch,
        sign=sign,
        happened_at=signature.happened_at,
        recorded_at=signature.recorded_at,
        by=signature.by,
    )


def _check_drawn(batch: Batch, draws: Sequence[Draw], without: bool) -> None:
    lines = batch.version.lines.select_related("item")
    drawn = {draw.line_id for draw in draws}
    missing = [line.item.name for line in lines if line.pk not in drawn]
    if missing and not without:
        raise NothingDrawn(missing)


def _check_time(batch: Batch, draws: Sequence[Draw], signature: Signature) -> None:
    """What comes out comes out after what went in."""
    latest = max((draw.movement.posting.happened_at for draw in draws), default=signature.happened_at)
    if signature.happened_at < latest:
        raise books.WrongTime(
            f"The last draw was on {timezone.localtime(latest):%d %b %Y, %H:%M}; the batch was finished after that."
        )


def _yield(
    batch: Batch, result: Result, earlier: Sequence[Outcome], signature: Signature, last: bool
) -> Posting:
    """Make the lots of one part and keep its lines."""
    counts = ((Outcome.Result.GOOD, result.good), (Outcome.Result.SECOND, result.seconds))
    lines = [(kind, batch.item, quantity) for kind, quantity in counts if quantity]
    recovered = [each for each in result.recovered if each.quantity]
    lines += [(Outcome.Result.MELT, each.item, each.quantity) for each in recovered]
    came = [OutputLine(None, kind, quantity) for kind, _, quantity in lines]
    before = as_came(earlier)
    values = targets(batch, [*before, *came])[len(before) :] if last else provisional(batch, came, before)
    of_remelt = [False] * (len(lines) - len(recovered)) + [each.of_remelt for each in recovered]
    same = [Same(kind, item.pk, remelt) for (kind, item, _), remelt in zip(lines, of_remelt, strict=True)]
    again = taken_back(batch).places(same)
    makings = [
        replace(_making(batch, kind, item, quantity, value, signature), again=lot_id)
        for (kind, item, quantity), value, lot_id in zip(lines, values, again, strict=True)
    ]
    posting, lots = moving.make(makings, signature=signature)
    outcomes = [
        Outcome(
            batch=batch,
            posting=posting,
            result=kind,
            quantity=quantity,
            lot=lot,
            begins=None if lot.pk in again else lot,
        )
        for (kind, _, quantity), lot in zip(lines, lots, strict=True)
    ]
    look_again(
        batch,
        {lot_id: making.quantity for lot_id, making in zip(again, makings, strict=True) if lot_id},
        signature,
    )
    spoiled = [(Outcome.Result.SCRAP, quantity, defect) for defect, quantity in result.scrap.items()]
    spoiled.append((Outcome.Result.REWORK, result.rework, ""))
    without_lot = [
        Outcome(batch=batch, posting=posting, result=kind, quantity=quantity, defect=defect)
        for kind, quantity, defect in spoiled
        if quantity
    ]
    _keep_lines(outcomes, without_lot, recovered)
    seconds = next((outcome for outcome in outcomes if outcome.result == Outcome.Result.SECOND), None)
    if seconds:
        flaws = [(defect, quantity) for defect, quantity in result.flawed.items() if quantity]
        Flaw.objects.bulk_create(
            Flaw(outcome=seconds, defect=defect, quantity=number) for defect, number in flaws
        )
    return posting


def _keep_lines(
    outcomes: Sequence[Outcome], without_lot: Sequence[Outcome], recovered: Sequence[Recovered]
) -> None:
    """Write the lines of a part; the melt of units to remelt last, since it names their line."""
    of_melt = outcomes[len(outcomes) - len(recovered) :]
    from_units = [row for row, each in zip(of_melt, recovered, strict=True) if each.of_remelt]
    Outcome.objects.bulk_create(
        [row for row in (*outcomes, *without_lot) if not any(row is each for each in from_units)]
    )
    for row, each in zip(of_melt, recovered, strict=True):
        if each.of_remelt:
            row.emptied = next(line for line in without_lot if line.result == Outcome.Result.REWORK)
            row.weighed = each.weighed
            row.save()


def _making(batch: Batch, kind: str, item: Item, quantity: int, value: int, signature: Signature) -> Making:
    finished_on = timezone.localtime(signature.happened_at).date()
    melt = kind == Outcome.Result.MELT
    return Making(
        item=item,
        grade=Grade.SECOND if kind == Outcome.Result.SECOND else Grade.FIRST,
        quantity=quantity,
        value=value,
        expires_on=finished_on + timedelta(days=item.shelf_life_days) if item.shelf_life_days else None,
        ready_on=None if melt else ready_on(batch.version, finished_on),
        awaits_release=item.kind == Kind.FINISHED,
    )


def _keep_samples(posting: Posting, retained: int, signature: Signature) -> None:
    """Take the samples that are kept out of the good units of this part."""
    if retained:
        good = Lot.objects.get(outcomes__posting=posting, outcomes__result=Outcome.Result.GOOD)
        kept = signature.because("Retained sample")
        write_offs.take_out(good.pk, retained, kind=Reason.Kind.SAMPLE, signature=kept)


@transaction.atomic
def undo_finish(batch_id: int, *, signature: Signature, seen: int | None = None) -> Batch:
    """Open a finished batch again, or take back its last part, because what came out was entered wrongly.

    `seen` is the posting (by key, 0: none) that the page showed as the last: where another is by now, it is asked about.
    Samples kept of it are put back, and cost corrections of its lots are reversed first, the latest first. Raises
    BatchError, CameMeanwhile, books.CannotReverse (when some of it has left the shelf since).
    """
    batch = Batch.objects.locked(batch_id)
    outcomes = list(batch.outcomes.standing().select_related("posting__by", "lot__item").order_by("pk"))
    if seen is not None and (outcomes or batch.state == Batch.State.ABANDONED):
        check_last_part(
            batch, [each for each in outcomes if each.posting_id == outcomes[-1].posting_id], seen
        )
    if batch.state == Batch.State.ABANDONED and not outcomes:
        return _go_on(batch, signature)
    if batch.state in {Batch.State.PLANNED, Batch.State.CALLED_OFF} or not outcomes:
        raise BatchError("This batch is not finished.")
    posting = outcomes[-1].posting
    part = [outcome for outcome in outcomes if outcome.posting_id == posting.pk]
    lots = [outcome.lot_id for outcome in outcomes if outcome.lot_id]
    books.lock(lots)
    for sample in _samples_of(part):
        books.reverse(sample, signature)
    _check_all_here(part, Lot.objects.select_related("item").in_bulk(lots))
    corrections = Posting.objects.standing().filter(
        kind=Posting.Kind.REVALUATION, pk__in=_corrections_of(lots), pk__gt=posting.pk
    )
    for correction in corrections.order_by("-pk"):
        books.reverse(correction, signature)
    books.reverse(posting, signature)
    return _go_on(batch, signature)


def _go_on(batch: Batch, signature: Signature) -> Batch:
    if not batch.is_open:
        ended = batch.ends.filter(sign=1).latest("pk").happened_at
        _note_end(batch, -1, signature.at(closing.when_open(ended)))
    batch.state, batch.finished_at = Batch.State.STARTED, None
    batch.save(update_fields=["state", "finished_at"])
    commit_what_is_left(batch)
    return batch


def _samples_of(part: Sequence[Outcome]) -> list[Posting]:
    """The samples that were kept of this part as it was finished, the latest first."""
    lots = [outcome.lot_id for outcome in part if outcome.lot_id]
    at = part[0].posting
    kept = Posting.objects.standing().filter(
        kind=Posting.Kind.SAMPLE, movements__lot__in=lots, recorded_at=at.recorded_at
    )
    return list(kept.distinct().order_by("-pk"))


def _check_all_here(part: Sequence[Outcome], lots: Mapping[int, Lot]) -> None:
    """Raise CannotReverse when some of what was made has left the shelf.

    Asked before any cost correction is taken back: one of those would fail for the same cause and not name it.
    """
    for outcome in part:
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
