"""What a passed burn test covers: which tests on record speak for a version, and in what the nearest one differs.

A test covers the same waxes, wicks, vessel, fragrances, dyes and additives, no more of any fragrance than was burned, and
the other shares and the fill within the studio's tolerances of what was burned. The wick, the vessel and the load decide
how a candle burns; where the line is drawn is common practice, no source.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from batches.burn_tests.record import with_readings
from batches.burn_tests.verdict import Verdict, verdict_from
from batches.formulas.recipe import Basis
from batches.formulas.sheet import batch_sheet
from batches.models import Batch, BurnLimits, BurnTest, Draw, FormulaLine, FormulaVersion
from batches.models.formulas import DRAWN_INTO_THE_POT
from inventory.models import Item, Kind
from studio.percent import WHOLE, format_percent
from studio.quantities import format_quantity

# These do not burn: a lid, a label or a box more changes nothing.
NOT_BURNED = (Kind.LID, Kind.LABEL, Kind.PACKAGING)
PLACES = (2, 4, 6, 9)


@dataclass(frozen=True)
class Tolerances:
    """How far a candle may differ from the one that was burned, in parts per million of what was burned."""

    fill_ppm: int
    share_ppm: int


@dataclass(frozen=True)
class Makeup:
    """What burns in one candle. `shares`: of the wax, by item; `counted`: base units by item; `fill_ug`: µg of melt."""

    items: Mapping[int, Item]
    shares: Mapping[int, Fraction]
    counted: Mapping[int, int]
    fill_ug: Fraction


@dataclass(frozen=True)
class Coverage:
    """The test that covers a version, or the nearest that does not and how it differs; `test` None where none is near.

    `verdict`: what a test that covers it says of the design.
    """

    test: BurnTest | None = None
    differences: tuple[str, ...] = ()
    basis: str = ""
    burned: Makeup | None = None
    verdict: Verdict | None = None

    @property
    def is_covered(self) -> bool:
        """Whether the test burned what the version is."""
        return self.test is not None and not self.differences

    @property
    def speaks(self) -> bool:
        """Whether it covers the version and shows all that its limits ask for, or the owner accepted what it lacks."""
        return self.is_covered and self.verdict is not None and self.verdict.speaks


def tolerances() -> Tolerances:
    """What the studio allows today; the limits set last hold. There always are some."""
    limits = BurnLimits.objects.all()[0]
    return Tolerances(limits.fill_tolerance_ppm, limits.share_tolerance_ppm)


def makeup(version: FormulaVersion) -> Makeup:
    """What burns in one candle of a version as it is written. Reads its lines with their items."""
    recipe = replace(version.recipe(), loss_ppm=0, pot_ug=None)
    sheet = batch_sheet(recipe, 1)
    lines = {line.pk: line for line in version.lines.all()}
    items: dict[int, Item] = {}
    shares: dict[int, Fraction] = {}
    counted: dict[int, int] = {}
    for target in sheet.targets:
        line = lines[target.line.key]
        if line.item.kind in NOT_BURNED:
            continue
        items[line.item_id] = line.item
        if target.line.is_weighed:
            shares[line.item_id] = shares.get(line.item_id, Fraction(0)) + target.exact / sheet.wax
        else:
            counted[line.item_id] = counted.get(line.item_id, 0) + line.amount
    return Makeup(items, shares, counted, Fraction(version.fill_ug or 0))


def coverage(version: FormulaVersion, allowed: Tolerances | None = None) -> Coverage:
    """The latest passed test that covers a version, before others one that speaks for it; else the nearest one and how
    the version differs from it.

    The version comes with its lines and their items. A handful of queries for any number of tests.
    """
    allowed = allowed or tolerances()
    wanted = makeup(version)
    waxes = [pk for pk, item in wanted.items.items() if item.kind == Kind.WAX]
    of_wax = FormulaLine.objects.filter(item__in=waxes).values("version")
    passed = BurnTest.objects.passed().filter(version__in=of_wax)
    tests = list(with_readings(passed).prefetch_related("version__lines__item"))
    weighed = _weighed(tests)
    nearest = Coverage()
    silent: Coverage | None = None
    for test in tests:
        found = _beside(wanted, test, weighed.get(test.batch_id), allowed)
        if found.is_covered:
            found = replace(found, verdict=verdict_from(test))
            if found.verdict and found.verdict.speaks:
                return found
            silent = silent or found
        if not _is_kin(wanted, found.burned):
            continue
        if nearest.test is None or len(found.differences) < len(nearest.differences):
            nearest = found
    return silent or nearest


def _is_kin(wanted: Makeup, burned: Makeup | None) -> bool:
    """Whether a test is near enough to be named: with the wax, the vessel, a wick or a fragrance is the same."""
    common = set(wanted.items) & set(burned.items if burned else ())
    return any(wanted.items[pk].kind in (Kind.VESSEL, Kind.WICK, Kind.FRAGRANCE) for pk in common)


def _beside(wanted: Makeup, test: BurnTest, weighed: "_Weighed | None", allowed: Tolerances) -> Coverage:
    burned, basis = _burned(test, weighed, allowed)
    return Coverage(test, tuple(differences(wanted, burned, allowed)), basis, burned)


@dataclass
class _Weighed:
    """What a finished batch was really weighed out as: µg of the wax, and of every item of the melt."""

    wax: int = 0
    of_item: dict[int, int] = field(default_factory=dict)
    items: dict[int, Item] = field(default_factory=dict)


def _weighed(tests: Iterable[BurnTest]) -> dict[int | None, _Weighed]:
    """By finished batch that jars were taken from, what went into it; one query."""
    batches = {test.batch_id for test in tests if test.batch and test.batch.state == Batch.State.FINISHED}
    found: dict[int | None, _Weighed] = {}
    if not batches:
        return found
    draws = Draw.objects.standing().filter(DRAWN_INTO_THE_POT, batch__in=batches)
    for draw in draws.select_related("movement__lot__item", "line__item"):
        item, weighed = draw.movement.lot.item, found.setdefault(draw.batch_id, _Weighed())
        weighed.items[item.pk] = item
        weighed.of_item[item.pk] = weighed.of_item.get(item.pk, 0) + draw.quantity
        if draw.line.basis == Basis.WAX_SHARE:
            weighed.wax += draw.quantity
    return found


def _burned(test: BurnTest, weighed: _Weighed | None, allowed: Tolerances) -> tuple[Makeup, str]:
    """What was burned, and in words where that is known from.

    What was weighed within the tolerance of its target counts as the target: no scale meets it to the microgram.
    """
    planned = makeup(test.version)
    fill = _fill(test, planned.fill_ug, allowed)
    basis = f"What was burned is taken from the recipe of {test.version}"
    if weighed is None or not weighed.wax:
        words = (
            f"{basis}." if test.batch is None else f"{basis}; batch {test.batch.spaced_code} is not finished."
        )
        return replace(planned, fill_ug=fill), words
    shares = {pk: Fraction(quantity, weighed.wax) for pk, quantity in weighed.of_item.items()}
    for pk, target in planned.shares.items():
        real = shares.get(pk)
        if real is not None and _close(real, target, allowed.share_ppm):
            shares[pk] = target
    items = {**planned.items, **weighed.items}
    words = f"What was burned is taken from what was weighed into batch {test.batch.spaced_code}."  # type: ignore[union-attr]
    return Makeup(items, shares, planned.counted, fill), words


def _fill(test: BurnTest, planned: Fraction, allowed: Tolerances) -> Fraction:
    """The melt in the jars that were lit, on average, where it is known of each; the fill weight where that was met."""
    melts = [jar.melt_ug for jar in test.jars.all()]
    known = [melt for melt in melts if melt is not None]
    if not known or len(known) < len(melts):
        return planned
    real = Fraction(sum(known), len(known))
    return planned if _close(real, planned, allowed.fill_ppm) else real


def _close(figure: Fraction, burned: Fraction, tolerance_ppm: int) -> bool:
    """Whether a figure lies within a tolerance of what was burned; exactly at it does."""
    return abs(figure - burned) * WHOLE <= burned * tolerance_ppm


def differences(wanted: Makeup, burned: Makeup, allowed: Tolerances) -> list[str]:
    """In what a candle differs from one that was burned beyond what is allowed, each with both figures."""
    items = {**burned.items, **wanted.items}
    found = []
    for pk in [*wanted.shares, *(pk for pk in burned.shares if pk not in wanted.shares)]:
        found += _share(items[pk], wanted.shares.get(pk), burned.shares.get(pk), allowed)
    for pk in [*wanted.counted, *(pk for pk in burned.counted if pk not in wanted.counted)]:
        found += _count(items[pk], wanted.counted.get(pk), burned.counted.get(pk))
    if not _close(wanted.fill_ug, burned.fill_ug, allowed.fill_ppm):
        mine, theirs = _two_weights(wanted.fill_ug, burned.fill_ug)
        found.append(f"fill {mine}, burned at {theirs}")
    return found


def _share(item: Item, share: Fraction | None, burned: Fraction | None, allowed: Tolerances) -> list[str]:
    of_wax = "of the wax" if item.kind == Kind.WAX else "of wax"
    if burned is None and share is not None:
        return [f"{format_percent(share * WHOLE)} {of_wax} of {item} that was not burned"]
    if share is None and burned is not None:
        return [f"no {item}, burned with {format_percent(burned * WHOLE)} {of_wax}"]
    if share is None or burned is None:
        return []
    if share <= burned if item.kind == Kind.FRAGRANCE else _close(share, burned, allowed.share_ppm):
        return []
    mine, theirs = _two_shares(share, burned)
    return [f"{item} {mine} {of_wax}, burned at {theirs}"]


def _count(item: Item, count: int | None, burned: int | None) -> list[str]:
    if count == burned:
        return []
    if burned is None:
        return [f"{item.quantity(count or 0)} × {item} that was not burned"]
    if count is None:
        return [f"no {item}, burned with {item.quantity(burned)}"]
    return [f"{item.quantity(count)} × {item}, burned with {item.quantity(burned)}"]


def _two_shares(mine: Fraction, theirs: Fraction) -> tuple[str, str]:
    """Two shares with as many decimals as tell them apart."""
    pairs = [
        (format_percent(mine * WHOLE, places), format_percent(theirs * WHOLE, places)) for places in PLACES
    ]
    return _first_apart(pairs)


def _two_weights(mine: Fraction, theirs: Fraction) -> tuple[str, str]:
    """Two weights in grams with as many decimals as tell them apart."""
    figures = round(mine), round(theirs)
    shown = [
        tuple(format_quantity(figure, "g", places=places) for figure in figures) for places in (0, 1, *PLACES)
    ]
    return _first_apart([(left, right) for left, right in shown])


def _first_apart(pairs: Sequence[tuple[str, str]]) -> tuple[str, str]:
    return next((pair for pair in pairs if pair[0] != pair[1]), pairs[-1])
