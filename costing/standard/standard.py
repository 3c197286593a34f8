"""What a product should cost: its formula at a chosen price basis, the work it should take, and what is usually lost.

Everything for any number of versions is read once, a few queries for each level of blends; then a sheet for any number
of units, day and basis is plain arithmetic (`costing.standard.cost_sheet`). What is not known is named,
with what it blocks.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction

from django.utils import timezone

from batches.formulas.sheet import pots_for
from batches.models import FormulaVersion, Labour
from batches.recipe import RecipeError
from costing.model.heads import HEAD_OF
from costing.model.missing import MissingFigure
from costing.models import WorkStandard
from costing.rates.rates import Rates
from costing.standard.cost_sheet import (
    CostLine,
    CostSheet,
    RunPlan,
    UnitPrice,
    WorkLine,
    cost_sheet,
    quantities,
)
from costing.standard.past_runs import PastRun, read_past_runs
from costing.standard.price_basis import PriceBasis, Prices, no_price
from inventory.models import Item, Kind

RUNS_LOOKED_AT = 5
KILOGRAM_UG = 10**9


@dataclass(frozen=True)
class Bought:
    """How prices are asked for: the basis, and for offers how many units are bought for at once."""

    basis: PriceBasis = PriceBasis.LATEST
    offer_units: int | None = None


AT_LATEST = Bought()


def standard_cost(
    version: FormulaVersion,
    *,
    units: int,
    on: date,
    basis: PriceBasis = PriceBasis.LATEST,
    offer_units: int | None = None,
) -> CostSheet:
    """What `units` of a version (for a blend µg) should cost on a day. For many, read a `Standards` once."""
    return Standards.read([version]).sheet(version, units=units, on=on, bought=Bought(basis, offer_units))


@dataclass
class Standards:
    """Everything that standard costs of some versions rest on, those of their blends at any depth among it."""

    prices: Prices
    rates: Rates
    blends: Mapping[int, Sequence[FormulaVersion]]  # by item, the latest first
    work: Mapping[int, Sequence[WorkStandard]]  # by formula, the latest first
    runs: Mapping[int, Sequence[PastRun]]  # by formula, the latest first
    _told: dict[tuple[int, date, Bought], UnitPrice | MissingFigure] = field(default_factory=dict)

    @classmethod
    def read(cls, versions: Iterable[FormulaVersion], rates: Rates | None = None) -> "Standards":
        """Read once for these versions. Expects each with `formula__item` and `lines__item` where there are many."""
        given = list(versions)
        blends, items = _blends_of(given)
        every = [*given, *(version for each in blends.values() for version in each)]
        formulas = {version.formula_id for version in every}
        work: dict[int, list[WorkStandard]] = {}
        for standard in WorkStandard.objects.filter(formula__in=formulas).prefetch_related("steps"):
            work.setdefault(standard.formula_id, []).append(standard)
        return cls(Prices.read(items), rates or Rates.read(), blends, work, read_past_runs(formulas))

    def sheet(
        self, version: FormulaVersion, *, units: int, on: date, bought: Bought = AT_LATEST
    ) -> CostSheet:
        """What `units` (for a blend µg) should cost on a day. Nothing made costs nothing."""
        return cost_sheet(self.plan(version, units=units, on=on, bought=bought))

    def plan(
        self,
        version: FormulaVersion,
        *,
        units: int,
        on: date,
        bought: Bought = AT_LATEST,
        within: tuple[int, ...] = (),
    ) -> RunPlan:
        """The figures a sheet is added up from. `within`: the blends it is worked out for, to cut a circle."""
        lines, missing, melt = self._lines(version, units, on, bought, (*within, version.formula.item_id))
        work, work_said = self._work(version, units, on)
        spoilage, spoilage_said = self._spoilage(version, on)
        return RunPlan(
            units=units,
            lines=lines,
            work=work,
            overhead=self.rates.rules_on(on),
            spoilage_ppm=spoilage,
            # Where the formula itself is wrong there is nothing to heat.
            pots=pots_for(version, units) if units and lines else 0,
            melt_ug=melt,
            is_blend=version.fill_ug is None,
            missing=(*missing, *self._missing_work(version, work, on)),
            work_said=work_said,
            spoilage_said=spoilage_said,
        )

    # Material

    def _lines(
        self, version: FormulaVersion, units: int, on: date, bought: Bought, within: tuple[int, ...]
    ) -> tuple[tuple[CostLine, ...], list[MissingFigure], Fraction]:
        formula_lines = {line.pk: line for line in version.lines.all()}
        wanted: dict[int, int] = dict.fromkeys(formula_lines, 0)
        for_offers: dict[int, int] = {}
        melt = Fraction(0)
        missing: list[MissingFigure] = []
        try:
            if units:
                sheet, found = quantities(version.recipe(), units)
                wanted, melt = {each.key: each.quantity for each in found}, sheet.melt
            if bought.offer_units:
                _, found = quantities(version.recipe(), bought.offer_units)
                for_offers = {each.key: each.quantity for each in found}
        except RecipeError as error:
            missing.append(
                MissingFigure(
                    str(error),
                    "No quantity can be worked out, so no cost.",
                    "batches:version-detail",
                    (version.formula_id, version.number),
                    "See the formula",
                )
            )
            return (), missing, melt
        lines = []
        for key, quantity in wanted.items():
            item = formula_lines[key].item
            price, gap = self._price(item, quantity, on, bought, for_offers.get(key), within)
            missing += [gap] if gap else []
            lines.append(
                CostLine(
                    key=key,
                    item_id=item.pk,
                    name=item.name,
                    unit=item.unit,
                    head=HEAD_OF[Kind(item.kind)],
                    quantity=quantity,
                    price=price,
                    is_weighed=formula_lines[key].recipe_line().is_weighed,
                )
            )
        return tuple(lines), missing, melt

    def _price(
        self,
        item: Item,
        need: int,
        on: date,
        bought: Bought,
        offer_need: int | None,
        within: tuple[int, ...],
    ) -> tuple[UnitPrice | None, MissingFigure | None]:
        if item.pk in self.blends:
            told = self._blend(item, on, bought, within)
            return (told, None) if isinstance(told, UnitPrice) else (None, told)
        price = self.prices.price(item.pk, need, on=on, basis=bought.basis, offer_need=offer_need)
        if price is not None:
            return price, None
        return None, no_price(item, bought.basis, on)

    def _blend(
        self, item: Item, on: date, bought: Bought, within: tuple[int, ...]
    ) -> UnitPrice | MissingFigure:
        """What a base unit of a blend costs: its own standard, made as it is usually made."""
        if (item.pk, on, bought) in self._told:
            return self._told[item.pk, on, bought]
        version = self.version_of(item.pk, on)
        if item.pk in within or version is None:
            return MissingFigure(
                f"{item} is made of itself.",
                f"{item} counts as nothing here.",
                "inventory:item-detail",
                (item.pk,),
                "See it",
            )
        units, said = self.usual(version, on)
        sheet = cost_sheet(
            self.plan(version, units=units, on=on, bought=replace(bought, offer_units=None), within=within)
        )
        price = sheet.as_price
        told: UnitPrice | MissingFigure
        if price is None or sheet.missing:
            first = sheet.missing[0] if sheet.missing else MissingFigure("Nothing is made.", "")
            told = replace(first, sentence=f"In {item}: {first.sentence}")
        if price is not None and any(line.price for line in sheet.lines):
            # What is known of it counts; what is missing is named beside it.
            told = replace(price, said=f"its own batches, {said}", url=version.get_absolute_url())
        self._told[item.pk, on, bought] = told
        return told

    def version_of(self, item_id: int, on: date) -> FormulaVersion | None:
        """The version by which a blend was made on a day: the latest approved one written by then, else the latest."""
        known = self.blends.get(item_id, ())
        written = [version for version in known if timezone.localtime(version.written_at).date() <= on]
        for versions in (written, known):
            for state in (FormulaVersion.State.APPROVED, FormulaVersion.State.TRIAL):
                for version in versions:
                    if version.state == state:
                        return version
        return known[0] if known else None

    def usual(self, version: FormulaVersion, on: date) -> tuple[int, str]:
        """How much a run of a version usually makes, in units or µg, and why that, in words."""
        if before := self._before(version, on):
            return before[0].quantity, "like the last run"
        if version.fill_ug is None:
            return version.pot_ug or KILOGRAM_UG, "a full pot" if version.pot_ug else "1 kg at a time"
        return 24, "for want of a run to go by"

    # Work and loss

    def _before(self, version: FormulaVersion, on: date) -> list[PastRun]:
        runs = self.runs.get(version.formula_id, ())
        return [run for run in runs if run.finished_on < on][:RUNS_LOOKED_AT]

    def standard_on(self, version: FormulaVersion, on: date) -> WorkStandard | None:
        """The standard of work that the studio set and that holds on a day."""
        return next((each for each in self.work.get(version.formula_id, ()) if each.from_on <= on), None)

    def _work(self, version: FormulaVersion, units: int, on: date) -> tuple[tuple[WorkLine, ...], str]:
        standard = self.standard_on(version, on)
        minutes: dict[str, Fraction] = {}
        said = ""
        if standard is not None and (steps := list(standard.steps.all())):
            each = Fraction(units) if version.fill_ug is not None else Fraction(units, KILOGRAM_UG)
            for step in steps:
                fixed = step.batch_minutes if units else 0
                minutes[step.task] = fixed + each * step.unit_seconds / 60
            said = f"as set from {standard.from_on.day} {standard.from_on:%b %Y}"
        elif runs := [run for run in self._before(version, on) if run.minutes and run.made]:
            made = sum(run.made for run in runs)
            for task in (*Labour.Step.values, *(task for run in runs for task in run.minutes)):
                spent = sum(run.minutes.get(task, 0) for run in runs)
                if spent:
                    minutes[task] = Fraction(spent * units, made)
            said = _seen(len(runs))
        names = dict(Labour.Step.choices)
        lines = tuple(
            WorkLine(task, str(names.get(task, task)), spent, self.rates.per_hour(None, on, task))
            for task, spent in minutes.items()
        )
        return lines, said

    def _spoilage(self, version: FormulaVersion, on: date) -> tuple[int, str]:
        standard = self.standard_on(version, on)
        if standard is not None and standard.spoilage_ppm is not None:
            return standard.spoilage_ppm, f"as set from {standard.from_on.day} {standard.from_on:%b %Y}"
        runs = [run for run in self._before(version, on) if run.made]
        if not runs:
            return 0, "no run to go by, so no loss is counted"
        lost, made = sum(run.lost for run in runs), sum(run.made for run in runs)
        # A share below one: where all was lost there is nothing to spread it over.
        return min(round(Fraction(lost * 1_000_000, made)), 999_999), _seen(len(runs))

    def _missing_work(
        self, version: FormulaVersion, work: Sequence[WorkLine], on: date
    ) -> list[MissingFigure]:
        missing = []
        if not work:
            missing.append(
                MissingFigure(
                    f"Nothing says how long {version.formula.item} takes: no standard is set, and no run has "
                    "minutes noted.",
                    "No labour is counted, nor any overhead that follows it.",
                    "costing:work-standard",
                    (version.formula_id,),
                    "Set how long it takes",
                )
            )
        unpaid = [line.name.lower() for line in work if line.rate is None]
        if unpaid:
            missing.append(
                MissingFigure(
                    f"No labour rate for everybody holds on {on.day} {on:%b %Y}.",
                    f"Time costs nothing here: {', '.join(unpaid)}.",
                    "costing:rates",
                    (),
                    "Set a rate",
                )
            )
        if not self.rates.says_overhead(on):
            missing.append(
                MissingFigure(
                    f"No overhead rate holds on {on.day} {on:%b %Y}.",
                    "No overhead is counted.",
                    "costing:rates",
                    (),
                    "Set a rate",
                )
            )
        return missing


def _seen(runs: int) -> str:
    """On how many runs a figure rests, in words; few are named as few."""
    if runs == 1:
        return "as the last run showed, and one run is no rule"
    if runs == 2:
        return "as the last 2 runs showed, and two are few"
    return f"as the last {runs} runs showed"


def _blends_of(
    versions: Collection[FormulaVersion],
) -> tuple[dict[int, list[FormulaVersion]], set[int]]:
    """The versions of every blend in these, at any depth, by item; and every item that is bought or made for them.

    Two queries for each level of blends.
    """
    blends: dict[int, list[FormulaVersion]] = {}
    items: set[int] = set()
    level: Iterable[FormulaVersion] = versions
    while new := {line.item_id for version in level for line in version.lines.all()} - items:
        items |= new
        found = (
            FormulaVersion.objects.filter(formula__item__in=new, formula__retired=False)
            .select_related("formula__item")
            .prefetch_related("lines__item")
            .order_by("-number", "-pk")
        )
        level = list(found)
        for version in level:
            blends.setdefault(version.formula.item_id, []).append(version)
    return blends, items
