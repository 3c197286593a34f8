"""Where a batch went off its formula: one list, for the batch's page, its printed record and its release.

Plain Python over what was read once (`batches.production.off_formula_of`). Each pot is judged by itself. What nobody
recorded is "not recorded" or "not known by pot": it stands on the list as well, and is never said to be within.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from batches.formulas.fine_weights import FINE, PLACES
from batches.formulas.loads import WeighedLoad, Weighing, load_of
from batches.formulas.sheet import Sheet
from batches.formulas.tolerance import tolerance_in_all
from batches.lineage.composition import Composition
from batches.models import Batch, BatchNote, Draw, FormulaLine, FormulaVersion, Reading
from batches.production.pots import NOT_KNOWN, Pot, PotWeight, pots_of
from batches.production.readings import against_formula, is_off
from inventory.models import Item, Kind, Lot, Unit
from studio.core.durations import lasted
from studio.core.quantities import format_quantity
from studio.core.temperatures import Scale, format_temperature


@dataclass(frozen=True)
class Deviation:
    """One thing that was not as the formula asks. `is_known` is False where it is only not known whether it was.

    `kind` is one of poured, load, flash, temperature, weight, time, passed over, stopped, lot. `pot` is None where it
    concerns the whole batch, or the batch has one pot only.
    """

    kind: str
    what: str
    pot: int | None = None
    detail: str = ""
    is_known: bool = True

    @property
    def tone(self) -> str:
        """The tone of its mark."""
        if not self.is_known:
            return "plain"
        return "problem" if self.kind in ("poured", "load", "flash") else "attention"

    @property
    def words(self) -> str:
        """The sentence, with the pot before it where there are several."""
        return f"Pot {self.pot}: {self.what}" if self.pot else self.what


@dataclass(frozen=True)
class BatchFacts:
    """How a batch was made, as far as it is on record. `draws`, `readings` and `notes` are those that stand.

    `planned`: the lots chosen by hand, by line; a line without any was left to the suggestion. `units` came out of a
    batch that is finished.
    """

    batch: Batch
    lines: Sequence[FormulaLine]
    sheet: Sheet
    draws: Sequence[Draw]
    readings: Sequence[Reading]
    notes: Sequence[BatchNote]
    planned: Mapping[int, Sequence[Lot]]
    inside: Mapping[int, Composition] = field(default_factory=dict)
    units: int | None = None

    @property
    def version(self) -> FormulaVersion:
        """The formula version it was made by."""
        return self.batch.version

    @cached_property
    def weighings(self) -> list[Weighing]:
        """What was weighed into it."""
        return [
            Weighing(
                draw.line,
                draw.movement.lot_id,
                draw.quantity,
                draw.in_pot,
                self.inside.get(draw.movement.lot_id),
            )
            for draw in self.draws
            if draw.line.in_melt
        ]

    @cached_property
    def pots(self) -> tuple[Pot, ...]:
        """Each pot by itself."""
        return pots_of(self.lines, self.sheet, self.weighings, (reading.pour for reading in self.readings))

    @property
    def has_other_pots(self) -> bool:
        """Whether it was divided into other pots than the formula plans: weights or readings name one more."""
        return len(self.pots) != len(self.sheet.pours)

    @cached_property
    def whole(self) -> WeighedLoad | None:
        """The load of all pots together. Where it is above a maximum one pot at least is; the reverse does not hold."""
        return load_of(self.weighings)

    @property
    def is_load_unknown(self) -> bool:
        """Whether some melt went in of which nobody knows what is in it."""
        return self.whole is not None and bool(self.whole.unknown)

    @property
    def is_load_by_pot(self) -> bool:
        """Whether the load, where there is one, is known of every pot: every weight says which it went into."""
        return self.whole is None or all(pot.is_known for pot in self.pots)

    @property
    def is_over(self) -> bool:
        """Whether nothing more will be done of it: what is missing stays missing."""
        return self.batch.state == Batch.State.FINISHED

    def tell(self, number: int) -> int | None:
        """The pot's number where there is more than one to tell apart."""
        return number if len(self.pots) > 1 else None

    def is_poured(self, pot: int) -> bool:
        """Whether a pot was poured, so that what it lacks by now was passed over."""
        poured = [self.pot_of(reading) for reading in self.readings if reading.kind == Reading.Kind.POUR]
        return self.is_over or pot in [*poured, *map(self.pot_of, self.poured_above)]

    def pot_of(self, said: Reading | BatchNote) -> int | None:
        """The pot that a reading or note speaks of; None where nobody said and there are several."""
        return 1 if len(self.pots) == 1 else said.pour

    @property
    def is_above(self) -> bool:
        """Whether some pot is known to be above a maximum, or somebody said that such a pot was poured."""
        return self.is_load_above or bool(self.poured_above)

    @cached_property
    def is_load_above(self) -> bool:
        """Whether some pot is known to be above a maximum by what was weighed into it."""
        return any(load and load.above for load in [*(pot.load for pot in self.pots), self.whole])

    @property
    def was_poured_above(self) -> bool:
        """Whether somebody said that a pot above a maximum was poured, and by the weights as they stand none is."""
        return bool(self.poured_above) and not self.is_load_above

    @cached_property
    def poured_above(self) -> list[BatchNote]:
        """The answers that a pot above a maximum was poured."""
        return [note for note in self.notes if note.kind == BatchNote.Kind.POURED]

    @cached_property
    def all_within(self) -> bool:
        """Whether every weight is known, pot by pot, and within its tolerance, and every count as planned."""
        weighed = all(weight.is_within for pot in self.pots for weight in pot.weights)
        return weighed and not any(_counts(self)) and not any(_not_asked_for(self))


def off_formula(made: BatchFacts, unit: Scale = "C") -> list[Deviation]:
    """Everything that was off, the gravest first, then what is not known. Nothing of a batch that was not begun."""
    if made.batch.state in {Batch.State.PLANNED, Batch.State.CALLED_OFF}:
        return []
    found = [
        *_poured(made),
        *_loads(made),
        *_flash(made, unit),
        *_temperatures(made, unit),
        *_weights(made),
        *_counts(made),
        *_not_asked_for(made),
        *_times(made),
        *_readings_passed_over(made),
        *_stopped(made),
        *_lots(made),
    ]
    return [each for each in found if each.is_known] + [each for each in found if not each.is_known]


def why_held(made: BatchFacts) -> str:
    """Why what came of it is to be on hold until the owner decides; "" where nothing is.

    Of any length: it tells one finding from another.
    """
    if not made.is_above:
        return ""
    found = [each for each in off_formula(made) if each.kind in ("load", "poured") and each.is_known]
    return f"Off its formula: {' '.join(each.words for each in found)}"


def _poured(made: BatchFacts) -> Iterable[Deviation]:
    for note in made.poured_above:
        pot = made.pot_of(note)
        back = note.taken_back_by
        detail = f"Its temperature was taken back by {back.by}; that it was poured stands." if back else ""
        yield Deviation("poured", note.text, made.tell(pot) if pot else None, detail=detail)


def _loads(made: BatchFacts) -> Iterable[Deviation]:
    said = False
    for pot in made.pots:
        if pot.load and pot.load.above:
            said = True
            yield Deviation("load", f"the load of {pot.load.above_what}.", made.tell(pot.number))
    if not said and made.whole and made.whole.above:
        yield Deviation("load", f"all pots together, the load of {made.whole.above_what}.")
    if not made.is_load_by_pot:
        yield Deviation(
            "load", f"The fragrance load is {NOT_KNOWN}: some weights do not say which pot.", is_known=False
        )


def _scents(made: BatchFacts) -> list[Item]:
    lines = {
        line.item_id: line.item for line in made.lines if line.in_melt and line.item.kind == Kind.FRAGRANCE
    }
    return list(lines.values())


ADDED = {
    Reading.Kind.FRAGRANCE: "was added at",
    Reading.Kind.POUR: "was in the melt when it was poured at",
}
# The same of a fragrance inside melt that went in.
INSIDE = {
    Reading.Kind.MELT: "in the melt at its hottest,",
    Reading.Kind.FRAGRANCE: "in the melt when fragrance was added at",
    Reading.Kind.POUR: "in the melt when it was poured at",
}


def _flash(made: BatchFacts, unit: Scale) -> Iterable[Deviation]:
    added = _scents(made)
    for reading in made.readings:
        pot, kind = made.pot_of(reading), Reading.Kind(reading.kind)
        inside = _scents_inside(made, reading)
        done = {item: f"{'was' if sure else 'may have been'} {INSIDE[kind]}" for item, sure in inside.items()}
        if kind in ADDED:
            done |= dict.fromkeys(added, ADDED[kind])
        for item, what in done.items():
            if item.flash_point_mc is None or reading.temperature_mc < item.flash_point_mc:
                continue
            read = format_temperature(reading.temperature_mc, unit)
            flash = format_temperature(item.flash_point_mc, unit)
            yield Deviation(
                "flash",
                f"{item} {what} {read}, at or above its flash point of {flash}.",
                made.tell(pot) if pot else None,
                detail=str(reading.by),
                is_known=(item in added and kind in ADDED) or inside[item],
            )


def _scents_inside(made: BatchFacts, reading: Reading) -> dict[Item, bool]:
    """The fragrances inside melt that went into the pot of a reading, and whether it is known that it was this pot.

    A blend that counts as one item states its own flash point. At its hottest the wax may have been alone: only what was
    drawn by then was in it.
    """
    if reading.kind not in INSIDE:
        return {}
    pot = made.pot_of(reading)
    found: dict[Item, bool] = {}
    for draw in made.draws:
        portion = made.inside.get(draw.movement.lot_id)
        if portion is None or portion.whole is not None or not draw.line.in_melt:
            continue
        if reading.kind == Reading.Kind.MELT and draw.movement.posting.happened_at > reading.at:
            continue
        sure = len(made.pots) == 1 or (pot is not None and draw.in_pot == pot)
        if sure or pot is None or draw.in_pot is None:
            found |= {item: sure or found.get(item, False) for item in portion.scents}
    return found


def _temperatures(made: BatchFacts, unit: Scale) -> Iterable[Deviation]:
    for reading in made.readings:
        if is_off(reading, made.version):
            pot = made.pot_of(reading)
            read = format_temperature(reading.temperature_mc, unit)
            yield Deviation(
                "temperature",
                f"{reading.get_kind_display()} {read}: {against_formula(reading, made.version, unit)}",
                made.tell(pot) if pot else None,
                detail=str(reading.by),
            )


def _weights(made: BatchFacts) -> Iterable[Deviation]:
    if made.has_other_pots:
        numbers = ", ".join(str(pot.number) for pot in made.pots)
        plans = len(made.sheet.pours)
        yield Deviation(
            "weight",
            f"Divided into pots {numbers}, where the formula plans {plans} {'pots' if plans > 1 else 'pot'}: each is "
            "judged by its load, the weights all together",
        )
    for pot in made.pots:
        for weight in pot.weights:
            yield from _weight(made, pot.number, weight)
    if len(made.pots) > 1:
        yield from _loose(made)


def _weight(made: BatchFacts, number: int, weight: PotWeight) -> Iterable[Deviation]:
    item, pot = weight.line.item, made.tell(number)
    beside = (
        f"{item.quantity(weight.actual)} of {item.quantity(weight.target)} ± {fine(item, weight.tolerance)}"
    )
    if weight.is_over:
        yield Deviation(
            "weight", f"{item}: out of tolerance: {fine(item, weight.off)} over", pot, detail=beside
        )
    elif weight.is_under and made.is_poured(number):
        if not weight.actual:
            yield Deviation("passed over", f"{item}: nothing was weighed", pot, detail=beside)
        else:
            yield Deviation(
                "weight", f"{item}: out of tolerance: {fine(item, -weight.off)} under", pot, detail=beside
            )


def _loose(made: BatchFacts) -> Iterable[Deviation]:
    """Lines of which some weights do not say their pot, and all where no pot has targets of its own: what all pots
    together still show, and of the former that the rest is not known."""
    for target in made.sheet.targets:
        weights = [weight for pot in made.pots for weight in pot.weights if weight.line.pk == target.line.key]
        if not weights or (weights[0].is_known and weights[0].is_planned):
            continue
        line = weights[0].line
        item, division = line.item, made.version.division_ug
        actual = sum(each.quantity for each in made.weighings if each.line.pk == line.pk)
        off = actual - target.total
        allowed = tolerance_in_all(target.pours, line.tolerance_ppm, division)
        if off > allowed or (off < -allowed and made.is_over):
            side = "over" if off > 0 else "under"
            beside = f"{item.quantity(actual)} of {item.quantity(target.total)} ± {fine(item, allowed)}"
            yield Deviation(
                "weight",
                f"{item}, all pots together: out of tolerance: {fine(item, abs(off))} {side}",
                detail=beside,
            )
        if not weights[0].is_known:
            yield Deviation("weight", f"{item}: the weight is {NOT_KNOWN}", is_known=False)


def _counts(made: BatchFacts) -> Iterable[Deviation]:
    """Counted parts: more than planned, or less than every unit needs."""
    for target in made.sheet.targets:
        if target.line.is_weighed:
            continue
        line = next(line for line in made.lines if line.pk == target.line.key)
        actual = sum(draw.quantity for draw in made.draws if draw.line_id == line.pk)
        # Parts that fewer units did not need may have gone back to the shelf.
        units = made.batch.quantity if made.units is None else min(made.units, made.batch.quantity)
        needed = line.amount * units
        if actual > target.total:
            what = f"{line.item}: {line.item.quantity(actual - target.total)} more than planned"
        elif actual < needed and made.is_over:
            what = f"{line.item}: {line.item.quantity(needed - actual)} less than the units need"
            if not actual:
                yield Deviation("passed over", f"{line.item}: nothing was counted out")
                continue
        else:
            continue
        yield Deviation(
            "weight", what, detail=f"{line.item.quantity(actual)} of {line.item.quantity(target.total)}"
        )


def _not_asked_for(made: BatchFacts) -> Iterable[Deviation]:
    """What went in and has no line in the version the batch is of: it was corrected to it afterwards."""
    asked = {line.pk for line in made.lines}
    drawn: dict[Item, int] = {}
    for draw in made.draws:
        if draw.line_id not in asked:
            drawn[draw.line.item] = drawn.get(draw.line.item, 0) + draw.quantity
    for item, quantity in drawn.items():
        yield Deviation("weight", f"{item}: {item.quantity(quantity)} went in, and the formula asks for none")


def _times(made: BatchFacts) -> Iterable[Deviation]:
    version = made.version
    if version.stir_minutes:
        stirred = [note for note in made.notes if note.kind == BatchNote.Kind.STIRRED]
        for pot in made.pots:
            own = [note for note in stirred if made.pot_of(note) == pot.number]
            loose = [note for note in stirred if made.pot_of(note) is None]
            if made.is_poured(pot.number) or own:
                yield from _time("Stirring", version.stir_minutes * 60, own, loose, made.tell(pot.number))
    if version.rest_hours:
        rested = [note for note in made.notes if note.kind == BatchNote.Kind.RESTED]
        if made.is_over or rested:
            # Two people may note one rest, so the longest counts.
            longest = sorted(rested, key=lambda note: note.seconds or 0)[-1:]
            yield from _time("Rest", version.rest_hours * 3600, longest, [], None)


def _time(
    what: str, asked: int, own: Sequence[BatchNote], loose: Sequence[BatchNote], pot: int | None
) -> Iterable[Deviation]:
    if not own:
        said = NOT_KNOWN if loose else "not recorded"
        yield Deviation("time", f"{what}: {said}; {lasted(asked)} were asked for", pot, is_known=False)
        return
    if any(note.seconds is None for note in own):
        yield Deviation(
            "time", f"{what}: how long is not recorded; {lasted(asked)} were asked for", pot, is_known=False
        )
        return
    took = sum(note.seconds or 0 for note in own)
    if took < asked:
        yield Deviation("time", f"{what} for {lasted(took)}, shorter than the {lasted(asked)} asked for", pot)


def _readings_passed_over(made: BatchFacts) -> Iterable[Deviation]:
    version, kinds = made.version, Reading.Kind
    asked = [
        (kinds.MELT, version.heat_to_mc is not None),
        (kinds.FRAGRANCE, version.fragrance_at_mc is not None and bool(_scents(made))),
        (kinds.POUR, version.pour_from_mc is not None or version.pour_to_mc is not None),
    ]
    for pot in made.pots:
        if not made.is_poured(pot.number):
            continue
        for kind in (kind for kind, wanted in asked if wanted):
            of_kind = [reading for reading in made.readings if reading.kind == kind]
            if any(made.pot_of(reading) == pot.number for reading in of_kind):
                continue
            loose = any(made.pot_of(reading) is None for reading in of_kind)
            said = NOT_KNOWN if loose else "not recorded"
            yield Deviation("passed over", f"{kind.label}: {said}", made.tell(pot.number), is_known=False)


def _stopped(made: BatchFacts) -> Iterable[Deviation]:
    """What went in although its lot could not be used, each lot once, with the reason given."""
    told: set[tuple[int, str]] = set()
    for draw in made.draws:
        lot = draw.movement.lot
        for use in draw.movement.posting.stopped_uses.all():
            if use.lot_id == lot.pk and (lot.pk, use.reason) not in told:
                told.add((lot.pk, use.reason))
                stop = use.get_stop_display()
                yield Deviation(
                    "stopped",
                    f"{lot.item}, lot {lot.spaced_code}, was {stop} when it was recorded: {use.reason}",
                )


def _lots(made: BatchFacts) -> Iterable[Deviation]:
    told: set[tuple[int, int]] = set()
    for draw in made.draws:
        line, lot = draw.line, draw.movement.lot
        planned = made.planned.get(line.pk, ())
        if (line.pk, lot.pk) in told:
            continue
        told.add((line.pk, lot.pk))
        if lot.item_id != line.item_id:
            yield Deviation("lot", f"Another item than planned: {lot.item} in place of {line.item}")
        elif planned and lot.pk not in {each.pk for each in planned}:
            codes = ", ".join(each.spaced_code for each in planned)
            yield Deviation("lot", f"{line.item}: lot {lot.spaced_code} in place of the lot chosen, {codes}")


def fine(item: Item, amount: int) -> str:
    """A small weight in the small unit: 3 g rather than 0.003 kg."""
    unit = Unit(item.unit)
    return format_quantity(amount, FINE.get(unit, unit), places=PLACES.get(FINE.get(unit, unit)))
