"""Everything a tablet needs to weigh up a batch, with the network or without: plain figures, ready for JSON.

Weights are in µg, other quantities in base units, temperatures in thousandths of °C, instants in milliseconds since
1970; loads are exact fractions as text. No costs are in any of it. A fixed number of queries.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from fractions import Fraction
from typing import Any

from django.utils import timezone

from batches.formulas.approving import owners_word
from batches.formulas.cautions import ALWAYS, at_step, particular
from batches.formulas.fine_weights import fine_unit
from batches.formulas.loads import Inside, planned_pot
from batches.formulas.tolerance import tolerance_of
from batches.lineage.composition import Composition
from batches.models import Batch, BatchNote, BenchEntry, Draw, FormulaLine, FormulaVersion, Reading
from batches.planning.plan_composition import inside_of
from batches.planning.planning import Need, Plan, plan_of_batch
from batches.planning.plans import drawn_by_line
from inventory.ledger import books
from inventory.models import Kind, Lot, Movement
from studio.core.durations import clock
from studio.core.quantities import Dimension
from studio.core.temperatures import format_temperature
from studio.models import Studio, User

Json = dict[str, Any]


def milliseconds(moment: datetime) -> int:
    """An instant as scripts count it."""
    return round(moment.timestamp() * 1000)


def bench_state(batch: Batch, studio: Studio, user: User, now: datetime) -> Json:
    """The batch as the tablet keeps it. `batch` comes with its product and lines."""
    entries = list(entries_of(batch))
    drawn, by_pour = drawn_by_line(batch), drawn_by_pour(batch, entries)
    draws = batch.draws.standing().select_related("line__item", "movement__lot__item").order_by("pk")
    used = _lots_used(draws)
    plan = plan_of_batch(batch, on=timezone.localdate(now), drawn=drawn)
    inside = inside_of(plan, draws)
    version = batch.version
    readings = batch.readings.standing().select_related("bench_entry").order_by("at", "pk")
    return {
        "now": milliseconds(now),
        "user": {"id": user.pk, "name": str(user)},
        "batch": _batch_state(batch),
        "unit": studio.mass_unit,
        "scale": studio.scale,
        "division": version.division_ug,
        "process": _process_state(version),
        "pours": [pour.units for pour in plan.sheet.pours],
        "fill": version.fill_ug,
        "fill_unit": fine_unit(studio),
        "pot": version.pot_ug,
        "loss": version.loss_ppm,
        "wanted": _fraction(_wanted(plan, inside)),
        "word": owners_word(version),
        "cautions": particular(version, plan.sheet, unit=studio.scale, inside=inside),
        "always": list(ALWAYS),
        "at_step": at_step(version, plan.sheet, unit=studio.scale, inside=inside),
        "lines": [
            _line(need, by_pour.get(need.line.pk, {}), version.division_ug)
            | {"used": used.get(need.line.pk, []), "inside": _inside(inside.get(need.line.pk))}
            for need in in_order(plan)
        ],
        "lots": [lot_state(lot, now) for lot in _lots(plan)],
        "readings": [
            {
                "kind": reading.kind,
                "temperature": reading.temperature_mc,
                "at": milliseconds(reading.at),
                "pour": reading.pour,
                "entry": _key_of(reading),
            }
            for reading in readings
        ],
        "entries": [entry_state(entry, studio) for entry in entries],
    }


def _batch_state(batch: Batch) -> Json:
    return {
        "code": batch.code,
        "spaced": batch.spaced_code,
        "product": batch.item.name,
        "words": batch.item.quantity(batch.quantity) + (" units" if batch.version.fill_ug else ""),
        "state": batch.get_state_display(),
        "open": batch.is_open,
        "url": batch.get_absolute_url(),
        "notes": "\n".join(part for part in (batch.version.notes, batch.note) if part),
    }


def _process_state(version: FormulaVersion) -> Json:
    return {
        "heat": version.heat_to_mc,
        "fragrance": version.fragrance_at_mc,
        "pour_from": version.pour_from_mc,
        "pour_to": version.pour_to_mc,
        "stir_minutes": version.stir_minutes,
        "rest_hours": version.rest_hours,
    }


def entries_of(batch: Batch) -> Iterable[BenchEntry]:
    """What was entered at the bench, the latest first, with all it takes to tell of it but the photos' bytes."""
    rows = batch.bench_entries.select_related(
        "by",
        "line__item",
        "posting__reversal",
        "reading__struck",
        "note",
        "photo",
        "takes_back",
        "taken_back_by__by",
    )
    return rows.defer("photo__data").prefetch_related("posting__movements__lot").order_by("-at", "-pk")


def _key_of(reading: Reading) -> str | None:
    """The key of the entry a reading came with; None where it was noted on the batch's page."""
    entry = getattr(reading, "bench_entry", None)
    return str(entry.key) if entry else None


def in_order(plan: Plan) -> list[Need]:
    """As one works: the wax, what is melted into it, the fragrance last; then what is set out with each vessel."""
    place = {Kind.WAX: 0, Kind.FRAGRANCE: 2}
    weighed = sorted(plan.weighed, key=lambda need: place.get(Kind(need.item.kind), 1))
    return [*weighed, *plan.counted]


def allowed_off(line: FormulaLine, target: int, division_ug: int) -> int:
    """How far off a target is still right, in base units; what is counted or measured out is right when it is exact."""
    if line.item.dimension is not Dimension.MASS:
        return 0
    return tolerance_of(target, line.tolerance_ppm, division_ug)


def _line(need: Need, by_pour: Mapping[int, int], division: int) -> Json:
    item, target = need.item, need.target
    return {
        "id": need.line.pk,
        "item": item.pk,
        "name": item.name,
        "kind": item.kind,
        "kind_words": item.kind_words,
        "amount_words": need.line.amount_words,
        "dimension": item.dimension.value,
        "unit": item.unit,
        "in_melt": need.is_weighed,
        "basis": need.line.basis,
        "flash": item.flash_point_mc,
        "maximum": item.maximum_load_ppm,
        "maximum_basis": item.maximum_load_basis,
        "expected_at_most": item.plausible_limit,
        "short": item.quantity(need.short) if need.short and need.left else "",
        "pours": [
            {"target": pour, "drawn": drawn, "tolerance": allowed_off(need.line, pour, division)}
            for pour, drawn in zip(target.pours, allotted(target.pours, need.drawn, by_pour), strict=True)
        ],
        "loose": need.is_weighed and _is_loose(len(target.pours), need.drawn, by_pour),
        "coarse": need.coarse,
        "picks": [{"lot": pick.lot.pk, "quantity": pick.quantity} for pick in need.picks],
    }


def _is_loose(pots: int, drawn: int, by_pour: Mapping[int, int]) -> bool:
    """Whether some of what was drawn is in no pot of the formula: it names none of several, or one beyond them."""
    beyond = any(pour > pots for pour in by_pour)
    return beyond or (pots > 1 and drawn > sum(by_pour.values()))


def allotted(pours: Sequence[int], drawn: int, by_pour: Mapping[int, int]) -> list[int]:
    """What was drawn for each pour: at the bench as it was said there, all else filling them from the first."""
    found = [by_pour.get(number, 0) for number in range(1, len(pours) + 1)]
    rest = drawn - sum(found)
    for place, target in enumerate(pours):
        taken = rest if place == len(pours) - 1 else min(rest, max(target - found[place], 0))
        found[place] += taken
        rest -= taken
    return found


def drawn_by_pour(batch: Batch, entries: Iterable[BenchEntry]) -> dict[int, dict[int, int]]:
    """Base units drawn by line and pour, of what names its pot: here, or on the batch's page."""
    by_pour: dict[int, dict[int, int]] = {}
    at_bench = {entry.posting_id: entry.pour or 1 for entry in entries if entry.kind == BenchEntry.Kind.DRAW}
    rows = batch.draws.standing().values_list("line_id", "movement__quantity", "pot", "movement__posting")
    for line_id, quantity, pot, posting_id in rows:
        if pour := pot or at_bench.get(posting_id):
            of_line = by_pour.setdefault(line_id, {})
            of_line[pour] = of_line.get(pour, 0) - quantity
    return by_pour


def _lots_used(draws: Iterable[Draw]) -> dict[int, list[int]]:
    """The lots that are in it already, by line."""
    used: dict[int, list[int]] = {}
    for draw in draws:
        of_line = used.setdefault(draw.line_id, [])
        if draw.movement.lot_id not in of_line:
            of_line.append(draw.movement.lot_id)
    return used


def stands(entry: BenchEntry) -> bool:
    """Whether what was entered still counts: neither taken back nor put right or struck out on the batch's page."""
    put_right = hasattr(entry.posting, "reversal") or hasattr(entry.reading, "struck")
    return not put_right and not hasattr(entry, "taken_back_by")


def _taken(entry: BenchEntry) -> int:
    """Base units that an entry's posting drew."""
    if entry.posting is None:
        return 0
    return -sum(move.quantity for move in entry.posting.movements.all() if move.kind == Movement.Kind.DRAWN)


def _lots(plan: Plan) -> Iterable[Lot]:
    """Every lot on the shelf of anything the batch needs, usable or not: what is not is to be named as such."""
    items = {need.item.pk for need in plan.needs}
    return Lot.objects.on_shelf().filter(item__in=items).select_related("item").first_to_expire()


def lot_state(lot: Lot, now: datetime) -> Json:
    """A lot as the tablet knows it; `stop` is why it may not be used, in a sentence."""
    stop, tone, word = "", *lot.state(timezone.localdate(now))
    try:
        books.check_usable(lot, now)
    except books.LotNotUsable as error:
        stop = str(error)
    return {
        "id": lot.pk,
        "code": lot.code,
        "item": lot.item_id,
        "item_name": lot.item.name,
        "on_hand": lot.on_hand,
        "place": " · ".join(filter(None, (lot.place, lot.container))),
        "expires": f"{lot.expires_on:%d %b %Y}" if lot.expires_on else "",
        "tone": tone,
        "word": word,
        "stop": stop,
    }


def entry_state(entry: BenchEntry, studio: Studio) -> Json:
    """One entry as the tablet shows it."""
    return {
        "key": str(entry.key),
        "kind": entry.kind,
        "line": entry.line_id,
        "pour": entry.pour,
        "quantity": _taken(entry) if entry.kind == BenchEntry.Kind.DRAW else None,
        "note_kind": entry.note.kind if entry.note else "",
        "words": words_of(entry, studio),
        "by": str(entry.by),
        "at": milliseconds(entry.at),
        "stands": stands(entry),
        "fate": _fate(entry),
        "poured_above": _is_poured_above(entry),
    }


def _is_poured_above(entry: BenchEntry) -> bool:
    """Whether it says that a pot was poured above a maximum, which stands whatever becomes of the entry."""
    return entry.note is not None and entry.note.kind == BatchNote.Kind.POURED


def _fate(entry: BenchEntry) -> str:
    """What became of an entry, in words; "" where it stands."""
    back = getattr(entry, "taken_back_by", None)
    if back is None:
        return "" if stands(entry) else "put right"
    said = f"taken back by {back.by}"
    return (
        f"temperature {said}; that it was poured above a maximum stands" if _is_poured_above(entry) else said
    )


def words_of(entry: BenchEntry, studio: Studio) -> str:
    """What was entered, in a few words: "920 g of Soy wax from L00 01X"."""
    if entry.kind == BenchEntry.Kind.DRAW and entry.posting and entry.line:
        lots = [
            move.lot.spaced_code for move in entry.posting.movements.all() if move.kind == Movement.Kind.DRAWN
        ]
        item = entry.line.item
        return f"{item.quantity(_taken(entry))} of {item} from {', '.join(lots)}"
    if entry.reading:
        read = f"{entry.reading.get_kind_display()}: {reading_words(entry.reading, studio)}"
        return f"{read}, above a maximum" if _is_poured_above(entry) else read
    if entry.note:
        parts = ("" if entry.note.seconds is None else clock(entry.note.seconds), entry.note.text)
        return f"{entry.note.get_kind_display()}: {', '.join(filter(None, parts))}"
    if entry.photo:
        return f"Photo: {entry.photo.text}" if entry.photo.text else "Photo"
    return "Taken back"


def reading_words(reading: Reading, studio: Studio) -> str:
    """A reading's temperature in the studio's unit."""
    return format_temperature(reading.temperature_mc, studio.scale)


def _wanted(plan: Plan, inside: Inside) -> Fraction | None:
    """The load of wax as planned, with what recovered melt brings along; None where there is no wax or no fragrance."""
    pot = planned_pot((need.line for need in plan.weighed), plan.sheet, inside)
    wax = pot.wax + sum(pot.unknown.values(), Fraction(0))
    return pot.scent / wax if wax and pot.scent else None


def _inside(portion: Composition | None) -> Json | None:
    """What is in melt that counts by its parts, as shares of its weight; None where it counts as what its item is.

    `parts` are the waxes and fragrances whose maxima are judged.
    """
    if portion is None or portion.whole is not None:
        return None
    return {
        "wax": _share(portion.wax),
        "scent": _share(portion.scent),
        "unknown": _share(sum(portion.unknown.values(), Fraction(0))),
        "words": portion.unknown_words,
        "parts": [
            {
                "item": item.pk,
                "name": item.name,
                "kind": item.kind,
                "maximum": item.maximum_load_ppm,
                "maximum_basis": item.maximum_load_basis,
                "share": _share(share),
            }
            for item, share in portion.parts.items()
            if item.kind in (Kind.WAX, Kind.FRAGRANCE)
        ],
    }


def _fraction(number: Fraction | None) -> list[str] | None:
    return None if number is None else _share(number)


def _share(number: Fraction) -> list[str]:
    return [str(number.numerator), str(number.denominator)]
