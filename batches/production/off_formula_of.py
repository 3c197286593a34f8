"""What is read of a batch to say where it went off its formula, and what came of it put on hold for it."""

from collections.abc import Iterable, Sequence
from typing import TypeVar

from django.db.models import Sum, prefetch_related_objects

from batches.formulas.loads import pot_numbers
from batches.formulas.sheet import batch_sheet, pots_for
from batches.lineage.composition import in_lots
from batches.lineage.lineage import Lineage, descendants
from batches.models import Batch, BatchNote, ChosenLot, Draw, FormulaLine, Outcome, Reading
from batches.models.formulas import DRAWN_INTO_THE_POT
from batches.output.yields import MADE
from batches.production.off_formula import BatchFacts, why_held
from inventory.lots import holding
from inventory.models import Lot
from studio.people.signature import Signature

Row = TypeVar("Row", Draw, Reading, BatchNote)


def made_of(batch: Batch) -> BatchFacts:
    """How the batch was made. `batch` comes with its version; a fixed number of queries."""
    (made,) = all_made([batch])
    return made


def all_made(batches: Sequence[Batch]) -> list[BatchFacts]:
    """How each of these batches was made, in their order; as many queries for many as for one."""
    prefetch_related_objects(batches, "version__lines__item")
    draws = _draws(batches)
    planned: dict[int, dict[int, list[Lot]]] = {}
    for row in ChosenLot.objects.filter(batch__in=batches).select_related("lot").order_by("pk"):
        planned.setdefault(row.batch_id, {}).setdefault(row.line_id, []).append(row.lot)
    readings = Reading.objects.standing().filter(batch__in=batches)
    readings_of = _by_batch(readings.select_related("by", "bench_entry").order_by("at", "pk"))
    notes = BatchNote.objects.standing().filter(batch__in=batches)
    notes_of = _by_batch(notes.select_related("by", "bench_entry__taken_back_by__by"))
    units = _units(batches)
    inside = in_lots(draw.movement.lot for rows in draws.values() for draw in rows if draw.line.in_melt)
    return [
        BatchFacts(
            batch=batch,
            lines=_lines(batch),
            sheet=batch_sheet(batch.version.recipe(), batch.quantity),
            draws=draws.get(batch.pk, []),
            readings=readings_of.get(batch.pk, []),
            notes=notes_of.get(batch.pk, []),
            planned=planned.get(batch.pk, {}),
            units=units.get(batch.pk, 0) if batch.state == Batch.State.FINISHED else None,
            inside=inside,
        )
        for batch in batches
    ]


def last_pot(batch: Batch) -> int:
    """The highest number of a pot that can be named of a batch: the formula plans it, or a weight went into it."""
    draws = batch.draws.standing().filter(DRAWN_INTO_THE_POT).select_related("movement__posting__bench_entry")
    return pot_numbers(pots_for(batch.version, batch.quantity), (draw.in_pot for draw in draws))[-1]


def _lines(batch: Batch) -> list[FormulaLine]:
    lines = list(batch.version.lines.all())
    for line in lines:
        line.version = batch.version
    return lines


def _draws(batches: Sequence[Batch]) -> dict[int, list[Draw]]:
    by_key = {(batch.pk, line.pk): line for batch in batches for line in _lines(batch)}
    draws = (
        Draw.objects.standing()
        .filter(batch__in=batches)
        .select_related("line__item", "movement__lot__item", "movement__posting__bench_entry")
        .prefetch_related("movement__posting__stopped_uses")
        .order_by("movement__posting__happened_at", "pk")
    )
    found = _by_batch(draws)
    for draw in (draw for rows in found.values() for draw in rows):
        # What another version asked for stays with its own line, where the version of the batch has none for it.
        draw.line = by_key.get((draw.batch_id, draw.line_id), draw.line)
    return found


def _by_batch(rows: Iterable[Row]) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = {}
    for row in rows:
        found.setdefault(row.batch_id, []).append(row)
    return found


def _units(batches: Sequence[Batch]) -> dict[int, int]:
    """The units that came out of each that is finished, whatever became of them; none where more may follow."""
    finished = [batch.pk for batch in batches if batch.state == Batch.State.FINISHED]
    if not finished:
        return {}
    made = Outcome.objects.standing().filter(batch__in=finished, result__in=MADE)
    return dict(made.order_by().values("batch").annotate(units=Sum("quantity")).values_list("batch", "units"))


def hold_what_is_off(batch: Batch, *, signature: Signature) -> list[Lot]:
    """Put what came of a batch on hold until the owner decides, where a pot of it is above a maximum or was poured so;
    and what came of every batch that carries some of it, where that batch reads so by what went into it.

    Gives back the lots that were not held for it before. The batch is locked by who calls, and what carries it
    (`batches.production.stopped_lots.carrying`).
    """
    if not batch.outcomes.standing().exclude(lot=None).exists():
        return []
    family = descendants(batch_ids=[batch.pk])
    others = Batch.objects.with_product().filter(pk__in=family.batches - {batch.pk}).order_by("pk")
    reasons: dict[int, str] = {}
    for made in all_made([batch, *others]):
        if why := why_held(made):
            reasons |= dict.fromkeys(came_of(made.batch, family) - reasons.keys(), why)
    return holding.hold_each_for_owner(reasons, signature=signature) if reasons else []


def came_of(batch: Batch, family: Lineage) -> set[int]:
    """The keys of the lots that came of a batch, and of those they were poured into or came back as."""
    found = {came.lot for came in family.came if came.batch == batch.pk and came.lot is not None}
    fresh = found
    while fresh:
        fresh = {pour.child for pour in family.poured if pour.parent in fresh} - found
        found = found | fresh
    return found
