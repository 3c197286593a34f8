"""The parts of the batch record that say what came of the run: yield, checks, labels, release, where it went."""

from fractions import Fraction

from batches.fill_checks.checking import WORDS
from batches.formulas.fine_weights import fine_unit, shown
from batches.lineage.other_scents import other_scents
from batches.models import Batch, FillCheck, Outcome
from batches.output.yields import OutputPart, parts_of
from batches.records.jar_label_text import jar_texts
from batches.records.record_facts import RecordFacts, at, dispatch_of, stands
from batches.records.record_pdf import STRONG, STRUCK, Section, SheetRow
from inventory.models import Lot
from studio.core.percent import WHOLE, format_percent
from studio.models import Market, Studio


def end_sections(facts: RecordFacts, studio: Studio) -> tuple[Section, ...]:
    """What came out, its yield, fill checks, labels, release and holds, samples, where it went."""
    found = [_came_out(facts), _yield(facts)]
    if facts.version.fill_ug:
        found += [_fills(facts, studio), _labels(facts, studio), _releases(facts)]
    return (*found, _exceptions(facts), *([_sent(facts)] if facts.goods else []))


def _came_out(facts: RecordFacts) -> Section:
    rows: list[SheetRow] = []
    for part in parts_of(facts.standing):
        rows.append(_part(part))
        rows += [_outcome(outcome) for outcome in part.outcomes]
    gone = [outcome for outcome in facts.outcomes if not stands(outcome.posting)]
    rows += [_outcome(outcome) for outcome in gone]
    for sample in facts.samples:
        said = f"{sample.lot.item.quantity(-sample.quantity)} taken of lot {sample.lot.spaced_code}"
        when = f"{at(sample.posting.happened_at)}, {sample.posting.by}"
        rows.append(SheetRow((f"Sample: {sample.posting.reason}".rstrip(": "), said, "", when)))
    nothing = "Nothing came of it." if facts.batch.state == Batch.State.ABANDONED else "Nothing came out yet."
    return Section(
        "What came out",
        ("Result", "How much", "Lot, defect", "When, by"),
        (3, 3, 4.5, 3.5),
        tuple(rows),
        nothing,
    )


def _part(part: OutputPart) -> SheetRow:
    posting = part.posting
    return SheetRow((f"Part {part.number}", "", "", f"{at(posting.happened_at)}, {posting.by}"), STRONG)


def _outcome(outcome: Outcome) -> SheetRow:
    lot, reversed_ = outcome.lot, not stands(outcome.posting)
    flaws = [f"{outcome.item.quantity(flaw.quantity)} {flaw.defect.lower()}" for flaw in outcome.flaws.all()]
    said = [f"lot {lot.spaced_code}" if lot else "", outcome.melt_words, outcome.defect, *flaws]
    if lot and lot.ready_on:
        said.append(f"cured from {lot.ready_on:%d %b %Y}")
    of = f" of {outcome.item}" if outcome.result == Outcome.Result.MELT else ""
    return SheetRow(
        (
            f"{'reversed: ' if reversed_ else ''}{outcome.get_result_display()}{of}",
            outcome.item.quantity(outcome.quantity),
            ", ".join(filter(None, said)),
            "",
        ),
        STRUCK if reversed_ else "",
    )


def _yield(facts: RecordFacts) -> Section:
    so_far, item = facts.so_far, facts.batch.item

    def share(ratio: Fraction | None) -> str:
        return "not known" if ratio is None else format_percent(ratio * WHOLE, 1)

    rows = (
        SheetRow(("Planned", item.quantity(facts.batch.quantity), "")),
        SheetRow(
            (
                "Actual yield: good and seconds",
                item.quantity(so_far.actual),
                f"{share(so_far.of_planned)} of planned",
            )
        ),
        SheetRow(
            (
                "Theoretical yield: what the melt drawn would give with no loss",
                so_far.theoretical_words(item) or "not known",
                f"actual is {share(so_far.of_theoretical)} of theoretical",
            )
        ),
    )
    return Section(
        "Yield",
        ("What", "How much", "Share"),
        (6, 2.5, 4),
        rows,
        notes=("Worked out by this program from the draws and the counts.",),
    )


def _fills(facts: RecordFacts, studio: Studio) -> Section:
    return Section(
        "Fill checks",
        ("When, by", "Weighed", "Mean, least", "Declared", "Rule", "Verdict"),
        (3.4, 1.6, 3, 2, 3.6, 2.4),
        tuple(_fill(facts, check, studio) for check in facts.fill_checks),
        "No fill weights were checked.",
    )


def _fill(facts: RecordFacts, check: FillCheck, studio: Studio) -> SheetRow:
    nets, unit = [weight.net_ug for weight in check.weights.all()], fine_unit(studio)
    note = f"\n{check.note}" if check.note else ""
    return SheetRow(
        (
            f"{at(check.at)}, {check.by}",
            f"{len(nets)} of {check.lot_size}",
            f"{shown(Fraction(sum(nets), len(nets)), unit)}, {shown(min(nets), unit)}",
            shown(check.declared_ug, unit),
            Market(check.market).label,
            f"{WORDS[facts.verdicts[check.pk]][1]}{note}",
        )
    )


def _labels(facts: RecordFacts, studio: Studio) -> Section:
    """The words of the label as they are printed today; a specimen is put beside them by hand."""
    lot = facts.goods[0] if facts.goods else Lot(item=facts.batch.item, code="")
    texts = jar_texts(lot, facts.batch, studio)
    others = other_scents(facts.batch)
    brought = " ".join(filter(None, (others.words, others.unknown)))
    rows = (
        SheetRow(("Net weight", texts.net.words if texts.net else "none declared")),
        SheetRow(("Batch code", facts.batch.spaced_code)),
        SheetRow(("Made by", ", ".join(filter(None, (texts.maker, *texts.place.splitlines()))))),
        SheetRow(("Warning", f"{texts.warning}\n{texts.standard}")),
        SheetRow(("Also on it", texts.words or "nothing")),
        *([SheetRow(("From recovered melt", brought))] if brought else []),
    )
    return Section("Label as it is printed on this day", ("What", "Words"), (2, 10), rows)


def _releases(facts: RecordFacts) -> Section:
    rows = []
    for lot in facts.goods:
        release = getattr(lot, "release", None)
        if release is None:
            rows.append(SheetRow((lot.spaced_code, "not released yet", "", "")))
            continue
        looked = [
            "label right" if release.label_right else "label not looked at",
            "warning label on every unit" if release.warning_on else "warning label not looked at",
        ]
        check = release.fill_check
        looked.append(f"fill check of {at(check.at)}" if check else "no fill check")
        rows.append(
            SheetRow((lot.spaced_code, f"{at(release.at)}, {release.by}", ", ".join(looked), release.note))
        )
    return Section(
        "Label check and release",
        ("Lot", "Released, by", "Looked at", "Note"),
        (2, 3.4, 5, 3),
        tuple(rows),
        "No lot came of it.",
    )


def _exceptions(facts: RecordFacts) -> Section:
    """What was used on the owner's word, and holds of what came of it."""
    rows = [
        SheetRow(
            (
                f"Lot {override.lot.spaced_code} used on the owner's word",
                f"{at(override.at)}, {override.by}",
                f"{override.reason} (until {override.until:%d %b %Y})" if override.until else override.reason,
            )
        )
        for override in facts.overrides
    ]
    rows += [
        SheetRow(
            (
                f"Lot {use.lot.spaced_code} went in although {use.get_stop_display()} when it was recorded",
                f"{at(use.posting.recorded_at)}, {use.posting.by}",
                use.reason,
            )
        )
        for use in facts.stopped_uses
    ]
    rows += [
        SheetRow(
            (
                f"Lot {record.lot.spaced_code} {'put on hold' if record.held else 'taken off hold'}",
                f"{at(record.at)}, {record.by}",
                record.reason,
            )
        )
        for record in facts.holds
    ]
    return Section(
        "Holds and exceptions",
        ("What", "When, by", "Why"),
        (4, 3.4, 6),
        tuple(rows),
        "None: nothing on hold or expired was used, and nothing of it was put on hold.",
    )


def _sent(facts: RecordFacts) -> Section:
    """Where it went: product, to whom, when, how many, of which lot (21 CFR 211.196)."""
    rows = []
    for movement in facts.sent:
        dispatch, lot = dispatch_of(movement.posting), movement.lot
        to = (
            ", ".join(filter(None, (dispatch.to_for(facts.shown_to), dispatch.reference)))
            if dispatch
            else "not on record"
        )
        when = at(movement.posting.happened_at)
        rows.append(SheetRow((when, lot.spaced_code, lot.item.quantity(-movement.quantity), to)))
    left = ", ".join(f"{lot.spaced_code}: {lot.item.quantity(lot.on_hand)}" for lot in facts.goods)
    return Section(
        "Where it went",
        ("When", "Lot", "How many", "To"),
        (3, 2, 2, 6),
        tuple(rows),
        "Nothing was sent out yet.",
        (f"On hand on the day of printing: {left}.",),
    )
