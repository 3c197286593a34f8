"""What is read of a batch to say where it went off its formula, and what came of it put on hold for it."""

from django.db.models import Sum, prefetch_related_objects

from batches.formulas.sheet import batch_sheet
from batches.models import Batch, ChosenLot
from batches.runs.off_formula import Made, why_held
from batches.runs.yields import MADE
from batches.tracing.composition import in_lots
from inventory.lots import holding
from inventory.models import Lot
from studio.signature import Signature


def made_of(batch: Batch) -> Made:
    """How the batch was made. `batch` comes with its version; a fixed number of queries."""
    prefetch_related_objects([batch], "version__lines__item")
    lines = list(batch.version.lines.all())
    for line in lines:
        line.version = batch.version
    by_key = {line.pk: line for line in lines}
    draws = list(
        batch.draws.standing()
        .select_related("line__item", "movement__lot__item", "movement__posting__bench_entry")
        .order_by("movement__posting__happened_at", "pk")
    )
    for draw in draws:
        # What another version asked for stays with its own line, where the version of the batch has none for it.
        draw.line = by_key.get(draw.line_id, draw.line)
    planned: dict[int, list[Lot]] = {}
    for row in ChosenLot.objects.filter(batch=batch).select_related("lot").order_by("pk"):
        planned.setdefault(row.line_id, []).append(row.lot)
    notes = batch.notes.select_related("by", "bench_entry").filter(bench_entry__taken_back_by__isnull=True)
    return Made(
        batch=batch,
        lines=lines,
        sheet=batch_sheet(batch.version.recipe(), batch.quantity),
        draws=draws,
        readings=list(batch.readings.standing().select_related("by", "bench_entry").order_by("at", "pk")),
        notes=list(notes),
        planned=planned,
        units=_units(batch),
        inside=in_lots(draw.movement.lot for draw in draws if draw.line.in_melt),
    )


def _units(batch: Batch) -> int | None:
    """The units that came out, whatever became of them; None while more may follow."""
    if batch.state != Batch.State.FINISHED:
        return None
    made = batch.outcomes.standing().filter(result__in=MADE)
    return made.aggregate(units=Sum("quantity"))["units"] or 0


def hold_what_is_off(batch: Batch, *, signature: Signature) -> list[Lot]:
    """Put what came of a batch on hold until the owner decides, where a pot of it is above a maximum or was poured so.

    Gives back the lots that were not held for it before. The batch is locked by who calls.
    """
    lot_ids = list(batch.outcomes.standing().exclude(lot=None).values_list("lot_id", flat=True))
    if not lot_ids or not (why := why_held(made_of(batch))):
        return []
    return holding.hold_for_owner(lot_ids, signature=signature.because(why))
