"""Every correction of a run: what stood there, what stands there now, who put it right, when and why."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from batches.models import Draw, Outcome
from batches.records.record_facts import RecordFacts, stands
from inventory.models import Posting
from studio.core.temperatures import Scale, format_temperature
from studio.models import User

NOTHING = "nothing in its place"


@dataclass(frozen=True)
class Correction:
    """One thing that was put right, as finished texts."""

    what: str
    before: str
    after: str
    by: User
    at: datetime
    why: str


def corrections(facts: RecordFacts, unit: Scale = "C") -> list[Correction]:
    """Everything that was put right, in the order in which it was."""
    found = [
        *_draws(facts),
        *_yields(facts),
        *_at_the_bench(facts, unit),
        *_struck(facts, unit),
        *_on_lots(facts),
        *_versions(facts),
    ]
    return sorted(found, key=lambda each: each.at)


def _versions(facts: RecordFacts) -> Iterable[Correction]:
    rows = facts.batch.version_corrections.select_related("before__formula", "after__formula", "by")
    for each in rows:
        yield Correction("Formula version", str(each.before), str(each.after), each.by, each.at, each.reason)


def _draws(facts: RecordFacts) -> Iterable[Correction]:
    groups: dict[int, list[Draw]] = {}
    for draw in facts.draws:
        groups.setdefault(draw.movement.posting_id, []).append(draw)
    for group in groups.values():
        posting = group[0].movement.posting
        if stands(posting):
            continue
        yield Correction(
            str(group[0].line.item),
            _drawn(group),
            _drawn(_in_its_place(group[0], posting, groups)) or NOTHING,
            posting.reversal.by,
            posting.reversal.recorded_at,
            posting.reversal.reason,
        )


def _in_its_place(draw: Draw, posting: Posting, groups: dict[int, list[Draw]]) -> Sequence[Draw]:
    """What was posted with a reversal: of the same line, written down at the same instant by the same person."""
    reversal = posting.reversal
    for pk, group in sorted(groups.items()):
        new = group[0].movement.posting
        same = (new.recorded_at, new.by_id, group[0].line_id) == (
            reversal.recorded_at,
            reversal.by_id,
            draw.line_id,
        )
        if same and pk > reversal.pk:
            return group
    return ()


def _drawn(group: Sequence[Draw]) -> str:
    return ", ".join(
        f"{draw.line.item.quantity(draw.quantity)} of lot {draw.movement.lot.spaced_code}" for draw in group
    )


def _yields(facts: RecordFacts) -> Iterable[Correction]:
    groups: dict[int, list[Outcome]] = {}
    for outcome in facts.outcomes:
        groups.setdefault(outcome.posting_id, []).append(outcome)
    for group in groups.values():
        posting = group[0].posting
        if stands(posting):
            continue
        reversal = posting.reversal
        later = next((groups[pk] for pk in sorted(groups) if pk > reversal.pk), ())
        yield Correction(
            "What came out",
            _came(group),
            _came(later) or NOTHING,
            reversal.by,
            reversal.recorded_at,
            reversal.reason,
        )


def _came(group: Sequence[Outcome]) -> str:
    return ", ".join(
        f"{each.item.quantity(each.quantity)} {each.get_result_display().lower()}{_because(each)}"
        for each in group
    )


def _because(outcome: Outcome) -> str:
    """What was wrong with it, in brackets."""
    flaws = [f"{outcome.item.quantity(flaw.quantity)} {flaw.defect.lower()}" for flaw in outcome.flaws.all()]
    words = ", ".join([outcome.defect.lower(), *flaws] if outcome.defect else flaws)
    return f" ({words})" if words else ""


def _at_the_bench(facts: RecordFacts, unit: Scale) -> Iterable[Correction]:
    for entry in facts.taken_back:
        old = entry.takes_back
        if old is None:
            continue
        if old.reading:
            what = old.reading.get_kind_display()
            before = format_temperature(old.reading.temperature_mc, unit)
        elif old.note:
            what, before = old.note.get_kind_display(), str(old.note)
        else:
            what, before = "Photo", str(old.photo or "")
        yield Correction(what, before, NOTHING, entry.by, entry.recorded_at, "Taken back at the bench")


def _struck(facts: RecordFacts, unit: Scale) -> Iterable[Correction]:
    for each in facts.struck:
        reading = each.reading
        yield Correction(
            reading.get_kind_display(),
            format_temperature(reading.temperature_mc, unit),
            NOTHING,
            each.by,
            each.at,
            each.reason,
        )


def _on_lots(facts: RecordFacts) -> Iterable[Correction]:
    for change in facts.relabelled:
        yield Correction(
            f"Lot {change.lot.spaced_code}, {change.what}",
            change.before or "empty",
            change.after or "empty",
            change.by,
            change.at,
            "Put right on the lot",
        )
