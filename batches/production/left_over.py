"""Counted parts that were set out and not used: back to their lot, or scrapped with a reason, or nobody said.

What is used of a part is its amount per unit times every unit that came out, good, second, scrap or to be melted again.
A part that goes back is a draw put right: its lot gets the quantity and the value that the draw took.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction

from batches.models import Batch, FormulaLine, Outcome
from batches.planning.plans import BatchError
from batches.production.runs import correct_draw
from batches.production.stopped_lots import carrying
from batches.recipe import Basis
from inventory.ledger import books
from inventory.lots import write_offs
from inventory.lots.moving import Taking
from inventory.models import Lot, Posting, Reason
from studio.core.quantities import Dimension
from studio.people.signature import Signature


@dataclass(frozen=True)
class SetOut:
    """So many of a counted part drawn from one lot for one line, by standing draws."""

    line: FormulaLine
    lot: Lot
    drawn: int

    @property
    def key(self) -> tuple[int, int]:
        """The line and the lot, by key."""
        return self.line.pk, self.lot.pk


@dataclass(frozen=True)
class Answer:
    """What became of parts of one lot that were left over, in base units."""

    line_id: int
    lot_id: int
    back: int = 0
    scrapped: int = 0


def set_out(batch: Batch) -> list[SetOut]:
    """The counted parts drawn into a batch, line by line and lot by lot, in the order of the formula. One query."""
    draws = batch.draws.standing().filter(line__basis=Basis.PER_UNIT, line__item__unit="each")
    found: dict[tuple[int, int], SetOut] = {}
    for draw in draws.select_related("line__item", "movement__lot__item").order_by("line", "pk"):
        key = (draw.line_id, draw.movement.lot_id)
        before = found[key].drawn if key in found else 0
        found[key] = SetOut(draw.line, draw.movement.lot, before + draw.quantity)
    return [part for part in found.values() if part.line.item.dimension is Dimension.COUNT]


def left(parts: Sequence[SetOut], made: int) -> dict[int, int]:
    """Of each line (by key) what `made` units did not use; lines of which nothing is left are left out."""
    drawn: dict[int, int] = {}
    amounts = {part.line.pk: part.line.amount for part in parts}
    for part in parts:
        drawn[part.line.pk] = drawn.get(part.line.pk, 0) + part.drawn
    rest = {line_id: drawn[line_id] - amount * made for line_id, amount in amounts.items()}
    return {line_id: over for line_id, over in rest.items() if over > 0}


def not_said(batch: Batch) -> list[tuple[FormulaLine, int]]:
    """Of a finished batch the parts of which nobody said what became of them. Two queries."""
    if batch.state != Batch.State.FINISHED:
        return []
    lines = batch.outcomes.standing().exclude(result=Outcome.Result.MELT)
    parts = set_out(batch)
    over = left(parts, sum(lines.values_list("quantity", flat=True))) if parts else {}
    by_key = {part.line.pk: part.line for part in parts}
    return [(by_key[line_id], rest) for line_id, rest in over.items()]


@transaction.atomic
def settle(batch_id: int, answers: Sequence[Answer], *, reason: str, signature: Signature) -> None:
    """Take what was left over out of the batch again, and scrap what is of no use. `reason` is why it is scrapped.

    Before the batch is finished, in the same transaction. Raises BatchError, books.BookError.
    """
    answers = [each for each in answers if each.back or each.scrapped]
    if not answers:
        return
    batch = Batch.objects.select_for_update(of=("self",)).with_product().get(pk=batch_id)
    made = batch.outcomes.exclude(lot=None).values_list("lot_id", flat=True)
    drawn = batch.draws.standing().values_list("movement__lot", flat=True)
    books.lock({*made, *drawn, *carrying(batch.pk)})
    for each in answers:
        words = "Left over, back on the shelf" if not each.scrapped else "Left over, not used"
        _take_back(batch, each, signature.because(words))
        if each.scrapped:
            why = signature.because(f"Left over of batch {batch.spaced_code}: {reason}"[:300])
            write_offs.take_out(each.lot_id, each.scrapped, kind=Reason.Kind.SCRAP, signature=why)


def _take_back(batch: Batch, each: Answer, signature: Signature) -> None:
    """Put the draws of one line from one lot right by what was left over, the latest first."""
    over = each.back + each.scrapped
    draws = batch.draws.standing().filter(line=each.line_id, movement__lot=each.lot_id)
    for draw in list(draws.select_related("movement__posting").order_by("-pk")):
        if not over:
            return
        less = min(over, draw.quantity)
        over -= less
        correct_draw(
            draw.movement.posting, _without(draw.movement.posting, each.lot_id, less), signature=signature
        )
    if over:
        raise BatchError("More was left over than was set out. Look at the figures again.")


def _without(posting: Posting, lot_id: int, less: int) -> list[Taking]:
    """What a draw took, less so much of one lot."""
    rest: Mapping[int, int] = {
        move.lot_id: -move.quantity - (less if move.lot_id == lot_id else 0)
        for move in posting.movements.filter(kind="drawn")
    }
    return [Taking(lot, quantity) for lot, quantity in rest.items() if quantity]
