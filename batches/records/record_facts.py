"""All that is on record of one run, read once: for the printed batch record and for what the batch page says of it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.db.models import QuerySet, Sum
from django.utils import timezone

from batches.fill_checks.checking import judged
from batches.fill_checks.net_contents import Verdict
from batches.formulas.loads import WeighedLoad, load_words
from batches.formulas.sheet import Sheet, Target, batch_sheet
from batches.formulas.tolerance import tolerance_in_all
from batches.lineage.composition import Composition, in_lines, on_shelf
from batches.models import (
    Batch,
    BatchNote,
    BatchPhoto,
    BenchEntry,
    Draw,
    FillCheck,
    FormulaLine,
    FormulaVersion,
    Labour,
    Outcome,
    Reading,
    StateChange,
    StruckReading,
)
from batches.output.yields import Yield, came_out, yield_of
from batches.production.cost_allocation import weighed
from batches.production.off_formula import BatchFacts, fine
from batches.production.off_formula_of import made_of
from batches.production.pots import NOT_KNOWN, NOT_PLANNED, PotWeight
from inventory.ledger.overrides import overrides_used, stopped_uses_of
from inventory.models import (
    Dispatch,
    Document,
    HoldRecord,
    Lot,
    LotChange,
    Movement,
    Override,
    Posting,
    StoppedUse,
)
from studio.models import User


def stands(posting: Posting) -> bool:
    """Whether a posting was not reversed. Expects its reversal read along."""
    return not hasattr(posting, "reversal")


@dataclass(frozen=True)
class LineRecord:
    """One line of the formula: what was to be taken and every draw for it, those that were reversed among them.

    Quantities in base units of the item. `tolerance` is of all pots together, and None where something is counted; then
    `spare` is what of the target is only set out to spare. `pots` is what each pot got of what is weighed.
    """

    line: FormulaLine
    target: Target
    tolerance: int | None
    spare: int
    draws: tuple[Draw, ...]
    pots: tuple[PotWeight, ...] = ()

    @property
    def actual(self) -> int:
        """What was drawn, reversed draws left out."""
        return sum(draw.quantity for draw in self.draws if stands(draw.movement.posting))

    @property
    def off(self) -> int:
        """How much more than the target; less is negative."""
        return self.actual - self.target.total

    @property
    def verdict(self) -> str:
        """In or out of tolerance, in words; pot by pot where there are several."""
        item = self.line.item
        if not self.actual:
            return "nothing drawn"
        if self.tolerance is None:
            if -self.spare <= self.off <= 0:
                return "as planned"
            off = self.off if self.off > 0 else -self.off - self.spare
            return f"{item.quantity(off)} {'more' if self.off > 0 else 'less'} than planned"
        if all(pot.is_within for pot in self.pots):
            return "within tolerance"
        if len(self.pots) == 1:
            return self._beside(self.pots[0])
        if not self.pots[0].is_planned:
            return NOT_PLANNED if self.pots[0].is_known else NOT_KNOWN
        known = [f"pot {place}: {self._beside(pot)}" for place, pot in enumerate(self.pots, 1)]
        return "; ".join(known) if self.pots[0].is_known else NOT_KNOWN

    def _beside(self, pot: PotWeight) -> str:
        if pot.is_within:
            return "within tolerance"
        return f"out of tolerance: {self.fine(abs(pot.off))} {'over' if pot.off > 0 else 'under'}"

    def fine(self, amount: int) -> str:
        """A small weight in the small unit: 3 g rather than 0.003 kg."""
        return fine(self.line.item, amount)


class RecordFacts:
    """The run with everything on record of it. Each part is read when it is first asked for, in a query or two."""

    def __init__(self, batch: Batch, shown_to: User) -> None:
        self.batch = batch
        self.shown_to = shown_to  # owner and makers learn customers' names
        self.version: FormulaVersion = batch.version

    @cached_property
    def sheet(self) -> Sheet:
        """The batch sheet of the run as it was planned."""
        return batch_sheet(self.version.recipe(), self.batch.quantity)

    @cached_property
    def as_made(self) -> BatchFacts:
        """How it was made, pot by pot, for what was off the formula."""
        return made_of(self.batch)

    @cached_property
    def weighed(self) -> WeighedLoad | None:
        """The fragrance load of all pots together; None where no wax or no fragrance was drawn."""
        return self.as_made.whole

    @cached_property
    def inside(self) -> Mapping[int, Composition]:
        """What is in the recovered melt and blends that were drawn, by line."""
        return in_lines(self.standing_draws)

    @cached_property
    def planned_load(self) -> str:
        """The load of the formula, with what the melt that was drawn for it, else what is on the shelf, brings along."""
        lines = [record.line for record in self.lines]
        undrawn = [record.line for record in self.lines if not record.actual]
        return load_words(lines, self.sheet, {**on_shelf(undrawn), **self.inside})

    @cached_property
    def draws(self) -> list[Draw]:
        """Every draw, those that were reversed among them, as they happened."""
        rows = self.batch.draws.with_lots().select_related(
            "movement__lot__supplier", "movement__lot__delivery_line", "movement__posting__bench_entry"
        )
        return list(rows.order_by("movement__posting__happened_at", "pk"))

    @cached_property
    def standing_draws(self) -> list[Draw]:
        """Those that were not reversed."""
        return [draw for draw in self.draws if stands(draw.movement.posting)]

    @cached_property
    def lines(self) -> list[LineRecord]:
        """Every line of the formula, in its order."""
        lines = {line.pk: line for line in self.version.lines.all()}
        division = self.version.division_ug
        found = []
        for target in self.sheet.targets:
            line = lines[target.line.key]
            in_all = tolerance_in_all(target.pours, line.tolerance_ppm, division)
            tolerance = in_all if target.line.is_weighed else None
            of_line = tuple(draw for draw in self.draws if draw.line_id == line.pk)
            needed = 0 if target.line.is_weighed else line.amount * self.batch.quantity
            spare = 0 if target.line.is_weighed else max(target.total - needed, 0)
            pots = tuple(w for pot in self.as_made.pots for w in pot.weights if w.line.pk == line.pk)
            found.append(LineRecord(line, target, tolerance, spare, of_line, pots))
        return found

    @cached_property
    def entries(self) -> list[BenchEntry]:
        """What was entered at the bench, with what took it back."""
        rows = self.batch.bench_entries.select_related(
            "by", "reading", "note", "photo", "takes_back__reading", "takes_back__note", "takes_back__photo"
        )
        return list(rows)

    @cached_property
    def weighed_at_bench(self) -> Mapping[int, BenchEntry]:
        """The bench entry of each posting that has one."""
        return {
            entry.posting_id: entry for entry in self.entries if entry.posting_id and entry.kind == "draw"
        }

    @cached_property
    def taken_back(self) -> list[BenchEntry]:
        """Entries that took back a reading, a note or a photo; of draws the books say it themselves."""
        kinds = {BenchEntry.Kind.READING, BenchEntry.Kind.NOTE, BenchEntry.Kind.PHOTO}
        return [entry for entry in self.entries if entry.takes_back and entry.takes_back.kind in kinds]

    def _gone(self, what: str) -> set[int]:
        gone = (getattr(entry.takes_back, f"{what}_id") for entry in self.taken_back)
        return {pk for pk in gone if pk}

    @cached_property
    def readings(self) -> list[Reading]:
        """Temperatures that stand."""
        return [each for each in self._all_readings if each.stands]

    @cached_property
    def struck(self) -> list[StruckReading]:
        """Temperatures that were struck out."""
        return [each.struck for each in self._all_readings if hasattr(each, "struck")]

    @cached_property
    def _all_readings(self) -> list[Reading]:
        return list(self.batch.readings.select_related("by", "struck__by", "bench_entry__taken_back_by"))

    @cached_property
    def notes(self) -> list[BatchNote]:
        """Notes, and what was stirred and rested, that stand."""
        return list(self.batch.notes.standing().select_related("by"))

    @cached_property
    def photos(self) -> list[BatchPhoto]:
        """Photos that stand, without their bytes."""
        gone = self._gone("photo")
        rows = self.batch.photos.select_related("by").defer("data")
        return [each for each in rows if each.pk not in gone]

    @cached_property
    def labour(self) -> list[Labour]:
        """Time worked, and what was taken back of it."""
        return list(self.batch.labour.select_related("person", "recorded_by", "taken_back"))

    @cached_property
    def outcomes(self) -> list[Outcome]:
        """What came out, taken back parts among it, with lots and releases."""
        rows = self.batch.outcomes.select_related(
            "lot__item",
            "lot__release__by",
            "lot__release__fill_check",
            "posting__by",
            "posting__reversal__by",
        )
        found = list(rows.prefetch_related("flaws").order_by("pk"))
        for outcome in found:
            outcome.batch = self.batch
        return found

    @cached_property
    def standing(self) -> list[Outcome]:
        """What came out and was not taken back."""
        return [outcome for outcome in self.outcomes if stands(outcome.posting)]

    @cached_property
    def made(self) -> list[Lot]:
        """The lots that came of it and stand."""
        return [outcome.lot for outcome in self.standing if outcome.lot]

    @cached_property
    def goods(self) -> list[Lot]:
        """Of those, the product; without recovered melt."""
        return [lot for lot in self.made if lot.item_id == self.batch.item.pk]

    @cached_property
    def so_far(self) -> Yield:
        """The yield of what stands."""
        return yield_of(self.batch, came_out(self.outcomes), weighed(self.standing_draws))

    @cached_property
    def fill_checks(self) -> list[FillCheck]:
        """Fill checks, the first first, with their weights."""
        return list(
            self.batch.fill_checks.select_related("by").prefetch_related("weights").order_by("at", "pk")
        )

    @cached_property
    def verdicts(self) -> Mapping[int, Verdict]:
        """What each fill check comes to."""
        return {check.pk: judged(check).verdict for check in self.fill_checks}

    @cached_property
    def approval(self) -> StateChange | None:
        """How the version came to be approved before the run was planned, else since; None where it never was."""
        changes = self.version.state_changes.filter(state=FormulaVersion.State.APPROVED)
        rows = list(changes.select_related("by", "burn_test__version__formula", "burn_test__decided_by"))
        before = [change for change in rows if change.at <= self.batch.planned_at]
        return before[0] if before else rows[-1] if rows else None

    @cached_property
    def overrides(self) -> list[Override]:
        """What the owner had allowed for lots that were drawn."""
        return list(overrides_used([draw.movement.posting_id for draw in self.standing_draws]))

    @cached_property
    def stopped_uses(self) -> list[StoppedUse]:
        """The lots that went in although something stood against them."""
        return list(stopped_uses_of([draw.movement.posting_id for draw in self.standing_draws]))

    @cached_property
    def holds(self) -> list[HoldRecord]:
        """Holds and their ends of what came of it."""
        rows = HoldRecord.objects.filter(lot__in=[lot.pk for lot in self.made]).select_related("lot", "by")
        return list(rows.order_by("at", "pk"))

    @cached_property
    def relabelled(self) -> list[LotChange]:
        """What was put right on the lots that came of it."""
        rows = LotChange.objects.filter(lot__in=[lot.pk for lot in self.made]).select_related("lot", "by")
        return list(rows.order_by("at", "pk"))

    @cached_property
    def sent(self) -> "QuerySet[Movement]":
        """What was sent out of it, with the dispatch."""
        return (
            Movement.objects.standing()
            .filter(lot__in=[lot.pk for lot in self.goods], kind=Movement.Kind.DISPATCHED)
            .select_related("posting__dispatch__customer", "posting__by", "lot__item")
            .in_order()
        )

    @cached_property
    def samples(self) -> list[Movement]:
        """Samples that were taken of it."""
        rows = Movement.objects.standing().filter(
            lot__in=[lot.pk for lot in self.goods], kind=Movement.Kind.SAMPLED
        )
        return list(rows.select_related("posting__by", "lot__item").in_order())

    @cached_property
    def lots_used(self) -> list[Lot]:
        """Every lot that went into it, each once."""
        return list({draw.movement.lot_id: draw.movement.lot for draw in self.standing_draws}.values())

    @cached_property
    def sums_of_lots(self) -> Mapping[int, Mapping[str, int]]:
        """By lot used and kind of movement, the sum of its standing movements in base units."""
        moved = Movement.objects.standing().filter(lot__in=[lot.pk for lot in self.lots_used])
        found: dict[int, dict[str, int]] = {}
        for row in moved.order_by().values("lot_id", "kind").annotate(total=Sum("quantity")):
            found.setdefault(row["lot_id"], {})[row["kind"]] = row["total"]
        return found

    @cached_property
    def certificates(self) -> Mapping[int, str]:
        """By lot used, the certificates of analysis filed for it."""
        rows = Document.objects.filter(
            lot__in=[lot.pk for lot in self.lots_used],
            kind=Document.Kind.ANALYSIS,
            withdrawn=False,
            erased=False,
        )
        found: dict[int, str] = {}
        for paper in rows.order_by("pk"):
            found[paper.lot_id or 0] = ", ".join(filter(None, (found.get(paper.lot_id or 0), paper.name)))
        return found


def at(moment: datetime) -> str:
    """An instant on the studio's clock, as the record writes it."""
    return f"{timezone.localtime(moment):%d %b %Y, %H:%M}"


def dispatch_of(posting: Posting) -> Dispatch | None:
    """Where a posting sent goods; None for what earlier records sent."""
    return getattr(posting, "dispatch", None)


def minutes_of(entries: Iterable[Labour]) -> int:
    """Minutes worked in all."""
    return sum(entry.minutes for entry in entries)
