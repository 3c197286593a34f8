"""The part of the batch page that says what its record comes to: off the formula, put right, and lacking."""

from batches.models import Batch
from batches.production.off_formula import off_formula
from batches.records.corrections import corrections
from batches.records.lacking import lacking
from batches.records.record_facts import RecordFacts
from studio.web.panels import Panel
from studio.web.requests import StudioRequest


def record_of_batch(request: StudioRequest, batch: Batch) -> Panel | None:
    """What was off, what was put right and what the record lacks; nothing for a run that was not begun."""
    if batch.state in {Batch.State.PLANNED, Batch.State.CALLED_OFF}:
        return None
    facts, unit = RecordFacts(batch, request.user), request.studio.scale
    weighings = [
        (draw, entry)
        for draw in facts.standing_draws
        if (entry := facts.weighed_at_bench.get(draw.movement.posting_id)) and entry.gross_ug is not None
    ]
    context = {
        "batch": batch,
        "made": facts.as_made,
        "off": off_formula(facts.as_made, unit),
        "weighings": weighings,
        "corrections": corrections(facts, unit),
        "lacking": lacking(facts),
    }
    return Panel("batches/_record.html", context)
