"""A batch recorded under a wrong formula version or product is corrected with a reason; the record keeps both.

What was drawn is drawn again for the same line of the right version, from the same lots at the same time, so that
targets, cost and record follow. What has no line there stays with its old line: it is off the formula.

Locking: the batch first, then all its lots in one query.
"""

from django.db import transaction
from django.db.models import Min
from django.utils import timezone

from batches.formulas.same_lines import same_lines
from batches.formulas.sheet import RecipeError, batch_sheet
from batches.models import Batch, Draw, FormulaLine, FormulaVersion, Outcome, VersionCorrection, ready_on
from batches.planning.plans import BatchError, commit_what_is_left
from batches.production.cost_allocation import settle_cost
from batches.production.off_formula_of import hold_what_is_off
from batches.production.releasing import hold_what_was_released
from batches.production.runs import draw
from batches.production.stopped_lots import carrying
from inventory.ledger import books, closing
from inventory.lots.moving import Taking
from inventory.models import Lot, Movement, Posting
from studio.models import Role
from studio.people.signature import Signature

OUTPUT_FIRST = (
    "{wrong} came of this batch and {right} is another product. Open the batch again first, correct the product, then "
    "enter the output: the code on the jars leads on to the new lot. Where some left already, reverse what took it first."
)


@transaction.atomic
def correct_version(batch_id: int, version_id: int, *, signature: Signature) -> VersionCorrection:
    """Say that a batch is of another version than was recorded. Raises BatchError, books.BookError."""
    batch = Batch.objects.select_for_update(of=("self",)).with_product().get(pk=batch_id)
    before = batch.version
    after = (
        FormulaVersion.objects.select_related("formula__item")
        .prefetch_related("lines__item")
        .get(pk=version_id)
    )
    _check(batch, after)
    _check_written(batch, after, signature)
    made = batch.outcomes.exclude(lot=None).values_list("lot_id", flat=True)
    drawn = batch.draws.values_list("movement__lot_id", flat=True)
    books.lock({*made, *drawn, *carrying(batch.pk)})
    correction = VersionCorrection.objects.create(
        batch=batch,
        before=before,
        after=after,
        by=signature.by,
        at=signature.recorded_at,
        reason=signature.reason,
    )
    batch.chosen_lots.all().delete()
    Batch.objects.filter(pk=batch.pk).update(version=after)
    batch = Batch.objects.with_product().get(pk=batch.pk)
    _draw_for(batch, signature)
    _cure_again(batch)
    commit_what_is_left(batch)
    settle_cost(batch, signature=signature)
    hold_what_is_off(batch, signature=signature)
    hold_what_was_released(batch, signature=signature)
    return correction


def _check(batch: Batch, after: FormulaVersion) -> None:
    """Raise BatchError where the batch cannot be of this version."""
    wrong, right = batch.item, after.formula.item
    if after.pk == batch.version_id:
        raise BatchError(f"The batch is of {after} already. Choose another version.")
    if batch.state == Batch.State.CALLED_OFF:
        raise BatchError("This batch was called off. Plan another instead.")
    if right != wrong:
        if batch.outcomes.standing().exclude(result=Outcome.Result.MELT).exists():
            raise BatchError(OUTPUT_FIRST.format(wrong=wrong, right=right))
        if batch.order_line_id:
            raise BatchError(
                f"This batch is planned for an order of {wrong}. Plan {right} as a batch of its own."
            )
    if right.unit != wrong.unit or (after.fill_ug is None) != (batch.version.fill_ug is None):
        raise BatchError(f"{wrong} and {right} are not planned in the same unit. Plan another batch instead.")
    try:
        batch_sheet(after.recipe(), batch.quantity)
    except RecipeError as error:
        raise BatchError(f"{after} cannot be made in this quantity. Choose another version.") from error


def _check_written(batch: Batch, after: FormulaVersion, signature: Signature) -> None:
    """A version written after the batch was begun is the owner's to name: nobody can have poured by it as it stands."""
    begun = batch.draws.standing().aggregate(at=Min("movement__posting__happened_at"))["at"]
    if begun is None or after.written_at <= begun or signature.by.role == Role.OWNER:
        return
    written, first = timezone.localtime(after.written_at), timezone.localtime(begun)
    raise BatchError(
        f"{after} was written on {written:%d %b %Y, %H:%M}, after the first draw on {first:%d %b %Y, %H:%M}. Choose a "
        "version that was there then, or ask the owner."
    )


def _draw_for(batch: Batch, signature: Signature) -> None:
    """Draw again, for the lines of the batch's version, what was drawn for the same lines of another."""
    standing = batch.draws.standing().exclude(line__version=batch.version_id)
    lines = _same_lines(batch, set(standing.values_list("line__version", flat=True)))
    for posting in list(Posting.objects.filter(movements__draw__in=standing).distinct().order_by("pk")):
        moves = list(posting.movements.select_related("draw__line", "posting__bench_entry"))
        drawn = [move for move in moves if move.kind == Movement.Kind.DRAWN]
        line = lines.get(drawn[0].draw.line_id)
        if line is None:
            continue
        books.reverse(posting, signature)
        takings = [Taking(move.lot_id, -move.quantity) for move in drawn]
        again = draw(
            batch,
            line.pk,
            takings,
            signature=signature.at(closing.when_open(posting.happened_at)),
            book_found=len(moves) > len(drawn),
            used={taking.lot_id for taking in takings},
            pot=drawn[0].draw.in_pot,
        )
        books.carry_overrides(posting, again)


def _same_lines(batch: Batch, versions: set[int]) -> dict[int, FormulaLine]:
    """The line of the batch's version that each line of these versions is."""
    ours = list(batch.version.lines.all())
    theirs: dict[int, list[FormulaLine]] = {}
    for line in FormulaLine.objects.filter(version__in=versions):
        theirs.setdefault(line.version_id, []).append(line)
    return {pk: line for lines in theirs.values() for pk, line in same_lines(lines, ours).items()}


def _cure_again(batch: Batch) -> None:
    """What stands of the output cures as the right version says."""
    product = batch.outcomes.standing().filter(result__in=("good", "second"))
    for line in product.select_related("posting"):
        day = ready_on(batch.version, timezone.localtime(line.posting.happened_at).date())
        Lot.objects.filter(outcomes=line).update(ready_on=day)


def off_the_formula(batch: Batch) -> list[Draw]:
    """What went in for a line that the batch's version does not have. One query."""
    draws = batch.draws.standing().exclude(line__version=batch.version_id)
    return list(draws.select_related("line__item", "movement__lot__item").order_by("pk"))
