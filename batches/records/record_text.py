"""From a run and all that is on record of it to the texts of its printed batch record."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import timezone

from batches.burn_tests.verdict import owners_word_of
from batches.formulas.fine_weights import fine_unit, shown
from batches.models import BenchEntry, Draw
from batches.production.off_formula import off_formula
from batches.production.pots import NOT_KNOWN
from batches.records.corrections import corrections
from batches.records.lacking import lacking
from batches.records.record_facts import LineRecord, RecordFacts, at, stands
from batches.records.record_pdf import STRONG, STRUCK, Picture, Record, Section, SheetRow
from batches.records.record_text_end import end_sections
from batches.records.record_text_process import process_sections
from inventory.models import Lot, Movement
from studio.core.quantities import format_quantity
from studio.models import Studio

BLANKS = ("Scale and pot used", "Bench clean before, by", "Bench clean after, by", "Label kept as a specimen")
SIGNATURES = ("Weighing checked by", "Record checked by", "Released by")


def record_of(
    facts: RecordFacts, studio: Studio, *, printed: str, pictures: Sequence[Picture] = ()
) -> Record:
    """Everything the record says, in the studio's units."""
    batch = facts.batch
    return Record(
        studio=studio.name,
        batch_code=batch.code,
        product=batch.item.name,
        formula=str(facts.version),
        state=batch.get_state_display(),
        facts=_facts(facts, studio),
        sections=(
            _approval(facts),
            _off(facts, studio),
            _went_in(facts, studio),
            _corrections(facts, studio),
            _lots(facts),
            *process_sections(facts, studio),
            *end_sections(facts, studio),
            _lacking(facts),
        ),
        pictures=tuple(pictures),
        blanks=BLANKS,
        signatures=SIGNATURES,
        printed=printed,
        page_size=studio.page_size,
    )


def _facts(facts: RecordFacts, studio: Studio) -> tuple[tuple[str, str], ...]:
    batch, version, item = facts.batch, facts.version, facts.batch.item
    units = " units" if version.fill_ug else ""
    came = facts.so_far
    begun = [draw.movement.posting.happened_at for draw in facts.standing_draws]
    return (
        ("Planned", f"{item.quantity(batch.quantity)}{units}"),
        ("Came out", f"{item.quantity(came.made)}{units}" if came.made else ""),
        ("Planned for", f"{batch.planned_on:%d %b %Y}, by {batch.planned_by}"),
        ("Started", at(min(begun)) if begun else ""),
        ("Finished", at(batch.finished_at) if batch.finished_at else ""),
        ("Melt by the formula", format_quantity(round(facts.sheet.melt), studio.mass_unit)),
        ("Fragrance load", facts.planned_load),
        *_loads(facts),
        (
            "Declared net weight",
            shown(version.declared_ug or version.fill_ug, fine_unit(studio)) if version.fill_ug else "",
        ),
    )


def _loads(facts: RecordFacts) -> tuple[tuple[str, str], ...]:
    """The load that every pot got; what is not known by pot says so beside that of all together."""
    made = facts.as_made
    if len(made.pots) == 1:
        return (("Load as weighed", made.whole.words if made.whole else ""),)
    by_pot = [
        (f"Load as weighed, pot {pot.number}", pot.load.words if pot.load else NOT_KNOWN)
        for pot in made.pots
        if made.whole
    ]
    together = made.whole.words if made.whole else ""
    return (*by_pot, ("Load as weighed, all pots together", together))


def _off(facts: RecordFacts, studio: Studio) -> Section:
    rows = [
        SheetRow((each.words[:1].upper() + each.words[1:], each.detail), STRONG if each.is_known else "")
        for each in off_formula(facts.as_made, studio.scale)
    ]
    nothing = (
        "Nothing: every weight is within its tolerance, pot by pot, and every temperature and time as asked."
        if facts.as_made.all_within and facts.as_made.is_over
        else "Nothing so far."
    )
    return Section("Off the formula", ("What", "Beside"), (9, 4), tuple(rows), nothing)


def _approval(facts: RecordFacts) -> Section:
    """The master formula, who approved it and why, on which burn test."""
    version, change = facts.version, facts.approval
    rows = [
        SheetRow(
            (f"{version} written", at(version.written_at), str(version.written_by), version.what_changed)
        )
    ]
    if change:
        said = f"{change.reason} (although {change.missing})" if change.missing else change.reason
        what = "Approved on the owner's word" if change.missing else "Approved"
        rows.append(SheetRow((what, at(change.at), str(change.by), said)))
        if test := change.burn_test:
            decided = at(test.decided_at) if test.decided_at else ""
            of = f"Burn test {test.pk} of {test.version}: {test.get_state_display().lower()}"
            rows.append(SheetRow((of, decided, str(test.decided_by or ""), test.verdict)))
            if word := owners_word_of(test):
                rows.append(
                    SheetRow(
                        ("The test passed on the owner's word", decided, str(test.decided_by or ""), word)
                    )
                )
    notes = () if change or version.fill_ug is None else ("The version was never approved.",)
    return Section(
        "Formula and approval", ("What", "When", "By", "Why"), (3, 3, 2, 4), tuple(rows), notes=notes
    )


def _went_in(facts: RecordFacts, studio: Studio) -> Section:
    """Every line with its target and every draw for it; what was reversed stays in sight, struck."""
    rows: list[SheetRow] = []
    for line in facts.lines:
        rows.append(_line(line))
        for draw in line.draws:
            entry = facts.weighed_at_bench.get(draw.movement.posting_id)
            rows.append(_draw(draw, entry, studio, len(facts.as_made.pots)))
    return Section(
        "What went in",
        ("Material or part", "Target, lot and supplier's lot", "Actual", "Gross, tare, source", "When, by"),
        (4, 4, 3, 3.4, 3.4),
        tuple(rows),
    )


def _line(line: LineRecord) -> SheetRow:
    item = line.line.item
    off = "" if line.tolerance is None else f" ± {line.fine(line.tolerance)}"
    spare = f", {item.quantity(line.spare)} of it to spare" if line.spare else ""
    return SheetRow(
        (
            f"{item.name}\n{line.line.amount_words}",
            f"target {item.quantity(line.target.total)}{off}{spare}",
            f"{item.quantity(line.actual)} in all",
            line.verdict,
            "",
        ),
        STRONG,
    )


def _pot(draw: Draw, pots: int) -> str:
    """Which pot it went into, where there are several."""
    if pots < 2 or not draw.line.in_melt:
        return ""
    return f", pot {draw.in_pot}" if draw.in_pot else ", pot not recorded"


def _draw(draw: Draw, entry: BenchEntry | None, studio: Studio, pots: int) -> SheetRow:
    lot, posting, item = draw.movement.lot, draw.movement.posting, draw.line.item
    theirs = f", supplier's lot {lot.supplier_lot}" if lot.supplier_lot else ""
    state = "" if stands(posting) else "reversed: "
    return SheetRow(
        (
            "",
            f"lot {lot.spaced_code}{theirs}{_pot(draw, pots)}",
            f"{state}{item.quantity(draw.quantity)}",
            _weighing(entry, studio),
            f"{at(posting.happened_at)}, {posting.by}",
        ),
        "" if stands(posting) else STRUCK,
    )


def _weighing(entry: BenchEntry | None, studio: Studio) -> str:
    """What the scale showed and where the weight came from; a draw that was written up says so."""
    if entry is None:
        return "written up"
    if entry.gross_ug is None:
        return entry.get_source_display()
    unit = fine_unit(studio)
    gross, tare = shown(entry.gross_ug, unit), shown(entry.tare_ug or 0, unit)
    return f"gross {gross}, tare {tare}, {entry.get_source_display()}"


def _corrections(facts: RecordFacts, studio: Studio) -> Section:
    rows = [
        SheetRow((each.what, each.before, each.after, f"{each.by}, {at(each.at)}", each.why))
        for each in corrections(facts, studio.scale)
    ]
    return Section(
        "Corrections",
        ("What", "First written", "Put right to", "By, when", "Why"),
        (3, 3.4, 3.4, 3, 4),
        tuple(rows),
        "Nothing was put right.",
    )


def _lots(facts: RecordFacts) -> Section:
    """Where each lot came from, and what became of all of it."""
    here: dict[int, int] = {}
    for draw in facts.standing_draws:
        here[draw.movement.lot_id] = here.get(draw.movement.lot_id, 0) + draw.quantity
    rows = [_lot(facts, lot, here[lot.pk]) for lot in facts.lots_used]
    return Section(
        "The lots it took, each accounted for",
        ("Lot", "From", "Came", "Into this run", "Used or sent otherwise", "Put right", "Left"),
        (3.6, 4.2, 2.4, 2.2, 2.6, 2, 2.2),
        tuple(rows),
        "No lot was drawn from.",
        ("Came, less what went, with what was put right, is what is left on the day of printing.",)
        if rows
        else (),
    )


def _lot(facts: RecordFacts, lot: Lot, here: int) -> SheetRow:
    item, sums = lot.item, facts.sums_of_lots.get(lot.pk, {})
    kind = Movement.Kind
    decanted = sums.get(kind.DECANTED, 0)
    came = sums.get(kind.RECEIVED, 0) + sums.get(kind.MADE, 0) + max(decanted, 0)
    put_right = sum(sums.get(each, 0) for each in (kind.FOUND, kind.CORRECTED, kind.COUNTED))
    went = (kind.DRAWN, kind.DISPATCHED, kind.SCRAPPED, kind.SAMPLED, kind.SENT_BACK)
    other = -sum(sums.get(each, 0) for each in went) - min(decanted, 0) - here
    agrees = came + put_right - here - other == lot.on_hand
    source = str(lot.supplier) if lot.supplier_id else "made or decanted here"
    theirs = f"\nsupplier's lot {lot.supplier_lot}" if lot.supplier_lot else ""
    papers = facts.certificates.get(lot.pk, "")
    tested = f"\ncertificate of analysis: {papers}" if papers else ""
    return SheetRow(
        (
            f"{item.name}\n{lot.spaced_code}",
            f"{source}{theirs}\narrived {timezone.localtime(lot.arrived_at):%d %b %Y}{tested}",
            item.quantity(came),
            item.quantity(here),
            item.quantity(other),
            f"{'+' if put_right > 0 else ''}{item.quantity(put_right)}",
            f"{item.quantity(lot.on_hand)}{'' if agrees else ': does not agree'}",
        )
    )


def _lacking(facts: RecordFacts) -> Section:
    rows = tuple(SheetRow((f"– {sentence}",)) for sentence in lacking(facts))
    return Section("What the record lacks", ("",), (1,), rows, "Nothing that is usually asked for.")
