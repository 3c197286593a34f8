"""The parts of the batch record that say how the run was made: steps and temperatures, notes, time worked."""

from batches.formulas.process_steps import steps
from batches.models import BatchNote, Reading
from batches.production.readings import against_formula
from batches.records.record_facts import RecordFacts, at, minutes_of
from batches.records.record_pdf import STRONG, Section, SheetRow
from studio.core.durations import lasted
from studio.core.temperatures import format_temperature
from studio.models import Studio


def process_sections(facts: RecordFacts, studio: Studio) -> tuple[Section, ...]:
    """Steps and readings, notes and photos, labour."""
    return _steps(facts, studio), _readings(facts, studio), _notes(facts), _labour(facts)


def _steps(facts: RecordFacts, studio: Studio) -> Section:
    version = facts.version
    done = {kind: _lasted(facts, kind) for kind in (BatchNote.Kind.STIRRED, BatchNote.Kind.RESTED)}
    words = {
        "Stir for": done[BatchNote.Kind.STIRRED],
        "Let rest before finishing": done[BatchNote.Kind.RESTED],
    }
    rows = [SheetRow((what, aim, words.get(what, ""))) for what, aim in steps(version, studio.scale)]
    return Section(
        "How it was to be made",
        ("Step", "Asked for", "Noted"),
        (4, 3, 6),
        tuple(rows),
        "The formula asks for no temperatures and times.",
        (f"Working notes: {version.notes}",) if version.notes else (),
    )


def _lasted(facts: RecordFacts, kind: BatchNote.Kind) -> str:
    said = [note for note in facts.notes if note.kind == kind]
    return "; ".join(f"{lasted(note.seconds)}, {note.by}, {at(note.at)}" for note in said) or "not noted"


def reading_named(reading: Reading, facts: RecordFacts) -> str:
    """What was measured, and in which pour where the run has several."""
    of_pour = reading.pour if len(facts.as_made.pots) > 1 else None
    return f"{reading.get_kind_display()}, pour {of_pour}" if of_pour else reading.get_kind_display()


def _readings(facts: RecordFacts, studio: Studio) -> Section:
    rows = [
        SheetRow(
            (
                reading_named(reading, facts),
                format_temperature(reading.temperature_mc, studio.scale),
                against_formula(reading, facts.version, studio.scale),
                f"{at(reading.at)}, {reading.by}",
                reading.note,
            )
        )
        for reading in facts.readings
    ]
    return Section(
        "Temperatures",
        ("Reading", "Read", "Against the formula", "When, by", "Note"),
        (3, 1.6, 4, 3.4, 3),
        tuple(rows),
        "No temperature was noted.",
    )


def _notes(facts: RecordFacts) -> Section:
    rows = [
        SheetRow(
            (
                f"{at(note.at)}, {note.by}",
                note.get_kind_display(),
                f"{lasted(note.seconds)} {note.text}".strip(),
            )
        )
        for note in facts.notes
    ]
    rows += [SheetRow((f"{at(photo.at)}, {photo.by}", "Photo", photo.text)) for photo in facts.photos]
    note = facts.batch.note
    return Section(
        "Notes and photos",
        ("When, by", "What", "Said"),
        (3.4, 1.6, 8),
        tuple(rows),
        "" if note else "Nothing was noted.",
        (f"Said when it was planned or ended: {note}",) if note else (),
    )


def _labour(facts: RecordFacts) -> Section:
    rows = [
        SheetRow(
            (
                entry.get_step_display(),
                f"{entry.worked_on:%d %b %Y}",
                str(entry.person),
                f"{entry.minutes} min",
                f"taken back by {entry.recorded_by}: {entry.reason}"
                if entry.takes_back_id
                else f"noted by {entry.recorded_by}",
            )
        )
        for entry in facts.labour
    ]
    if rows:
        rows.append(SheetRow(("In all", "", "", f"{minutes_of(facts.labour)} min", ""), STRONG))
    return Section(
        "Time worked",
        ("Step", "On", "Who", "Minutes", ""),
        (4, 2, 2, 2, 3),
        tuple(rows),
        "No time worked was noted.",
    )
