"""What the record of a run lacks of what a batch record usually holds, in plain words.

The list follows 21 CFR 211.184, 211.188 and 111.260 (read), models of good records rather than law for candles. What this
tool never keeps (equipment, first makers, the cleaning of the bench, who checked) is written by hand on the paper.
"""

from collections.abc import Iterable

from batches.models import Batch, BatchNote, FormulaVersion, Reading
from batches.production import left_over
from batches.records.record_facts import RecordFacts

BY_HAND = (
    "Scale, pot and other equipment are not kept here: write them on the printed record.",
    "Who made a material first, where that is not its supplier, is not kept here: see its papers.",
    "Whether the bench was clean before and after is not kept here: write it on the printed record.",
    "A second person's check of each weighing is not kept here: sign the printed record.",
)


def lacking(facts: RecordFacts) -> list[str]:
    """What was not recorded, one sentence each, the run's own first."""
    if facts.batch.state in {Batch.State.PLANNED, Batch.State.CALLED_OFF}:
        return []
    return [*_approval(facts), *_went_in(facts), *_process(facts), *_came_out(facts), *BY_HAND]


def _approval(facts: RecordFacts) -> Iterable[str]:
    change = facts.approval
    if facts.version.fill_ug is None:
        return
    if change is None:
        yield "The formula version was not approved."
    elif change.at > facts.batch.planned_at:
        yield "The formula version was approved only after this run was planned."
    elif change.missing:
        yield f"The approval itself lacked something: {change.missing}."


def _went_in(facts: RecordFacts) -> Iterable[str]:
    ended = not facts.batch.is_open
    for each in facts.as_made.pots:
        if each.load and each.load.above:
            before = f"Pot {each.number}: " if len(facts.as_made.pots) > 1 else ""
            yield f"{before}{each.load.above_words}"
    if not all(pot.is_known for pot in facts.as_made.pots):
        yield "Some weights do not say which pot they went into."
    if facts.weighed and facts.weighed.unknown:
        yield f"The fragrance load is not known. {facts.weighed.unknown}"
    for line in facts.lines:
        if not line.actual and line.target.total and ended:
            yield f"Nothing was drawn of {line.line.item}."
    for lot in facts.lots_used:
        if lot.delivery_line_id and lot.item.dimension == "mass" and not lot.supplier_lot:
            yield f"Lot {lot.spaced_code} of {lot.item} has no supplier's lot number."


def _process(facts: RecordFacts) -> Iterable[str]:
    version = facts.version
    read = {reading.kind for reading in facts.readings}
    asked = (
        (
            Reading.Kind.MELT,
            version.heat_to_mc is not None,
            "No temperature of the wax at its hottest was noted.",
        ),
        (
            Reading.Kind.FRAGRANCE,
            version.fragrance_at_mc is not None,
            "At what temperature the fragrance went in was not noted.",
        ),
        (
            Reading.Kind.POUR,
            version.pour_from_mc is not None or version.pour_to_mc is not None or version.fill_ug is not None,
            "No pour temperature was noted.",
        ),
    )
    yield from (sentence for kind, wanted, sentence in asked if wanted and kind not in read)
    done = {note.kind for note in facts.notes}
    if version.stir_minutes and BatchNote.Kind.STIRRED not in done:
        yield "How long it was stirred was not noted."
    if version.rest_hours and BatchNote.Kind.RESTED not in done and not facts.batch.is_open:
        yield "How long it rested was not noted."
    if not any(entry.stands for entry in facts.labour):
        yield "No time worked was noted."


def _came_out(facts: RecordFacts) -> Iterable[str]:
    batch = facts.batch
    if batch.is_open:
        yield "The run is still in progress: what came out is not complete."
        return
    if batch.state == Batch.State.ABANDONED:
        return
    for line, rest in left_over.not_said(batch):
        many = f"{line.item}: {line.item.quantity(rest)} more counted out than the output uses"
        yield f"{many}; nobody said what became of them."
    if facts.so_far.theoretical is None:
        yield "Nothing weighed was drawn, so there is no theoretical yield."
    if facts.version.fill_ug is None:
        return
    if not facts.fill_checks:
        yield "No fill weights were checked."
    if not facts.samples:
        yield "No sample was kept."
    yield from (
        f"Lot {lot.spaced_code} was not released yet." for lot in facts.goods if not hasattr(lot, "release")
    )
    if facts.version.state == FormulaVersion.State.TRIAL:
        yield "The formula version is at trial: it is to be burned before any is sold."
