"""What a passed burn test covers: which tests on record speak for a version, and in what the nearest one differs.

A test covers the same waxes, wicks, vessel, fragrances, dyes and additives, no more of any fragrance than was burned, and
the other shares and the fill within the studio's tolerances of what was burned. The wick, the vessel and the load decide
how a candle burns; where the line is drawn is common practice, no source. Where it is not on record which pot or lot was
burned, a candle is covered only if every one of them covers it: no load counts that was not surely burned.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from django.db.models import Q

from batches.burn_tests.record import with_readings
from batches.burn_tests.verdict import Verdict, verdict_from
from batches.formulas.makeup import (
    NOT_BY_POT,
    Burned,
    Makeup,
    Share,
    Tolerances,
    close,
    makeup,
    on_the_shelf,
    weighed_makeup,
)
from batches.models import Batch, BurnLimits, BurnTest, FormulaLine, FormulaVersion
from inventory.models import Item, Kind
from studio.core.percent import WHOLE, format_percent
from studio.core.quantities import format_quantity

PLACES = (2, 4, 6, 9)


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


def coverage(version: FormulaVersion, allowed: Tolerances | None = None) -> Coverage:
    """The latest passed test that covers a version, before others one that speaks for it; else the nearest one and how
    the version differs from it.

    The version comes with its lines and their items. A handful of queries for any number of tests.
    """
    allowed = allowed or tolerances()
    wanted = makeup(version, on_the_shelf(version))
    tests = list(_near(wanted))
    read = Burned(tests)
    nearest = Coverage()
    silent: Coverage | None = None
    for test in tests:
        found = _beside(wanted, test, read, allowed)
        if found.is_covered:
            found = replace(found, verdict=verdict_from(test))
            if found.verdict and found.verdict.speaks:
                return found
            silent = silent or found
        if not _is_kin(wanted, found.burned):
            continue
        if nearest.test is None or _distance(found) < _distance(nearest):
            nearest = found
    return silent or nearest


def _distance(found: Coverage) -> tuple[bool, int]:
    """One of which something is not known is further off than any of which all is."""
    return bool(found.burned and found.burned.unknown), len(found.differences)


def _near(wanted: Makeup) -> Iterable[BurnTest]:
    """The passed tests of a version with one of its waxes, or with melt made here, in which any wax may be."""
    waxes = [pk for pk, item in wanted.items.items() if item.kind == Kind.WAX]
    of_wax = FormulaLine.objects.filter(Q(item__in=waxes) | Q(item__made_here=True, item__kind=Kind.WAX))
    passed = BurnTest.objects.passed().filter(version__in=of_wax.values("version"))
    return with_readings(passed).select_related("batch__version").prefetch_related("version__lines__item")


def _is_kin(wanted: Makeup, burned: Makeup | None) -> bool:
    """Whether a test is near enough to be named: with the wax, the vessel, a wick or a fragrance is the same."""
    common = set(wanted.items) & set(burned.items if burned else ())
    if not any(wanted.items[pk].kind == Kind.WAX for pk in common):
        return False
    return any(wanted.items[pk].kind in (Kind.VESSEL, Kind.WICK, Kind.FRAGRANCE) for pk in common)


def _beside(wanted: Makeup, test: BurnTest, read: Burned, allowed: Tolerances) -> Coverage:
    burned, basis = _burned(test, read, allowed)
    return Coverage(test, tuple(differences(wanted, burned, allowed)), basis, burned)


def _burned(test: BurnTest, read: Burned, allowed: Tolerances) -> tuple[Makeup, str]:
    """What was burned, and in words where that is known from."""
    weighed = read.weighed.get(test.batch_id)
    if weighed is not None and test.batch is not None:
        planned = makeup(test.version, weighed.choices)
        real = weighed_makeup(planned, weighed, allowed)
        if real is not None:
            words = f"What was burned is taken from what was weighed into batch {test.batch.spaced_code}"
            if weighed.is_known and len(weighed.pots) > 1:
                words += ", pot by pot; which pot the jars came from is not recorded, so each of them counts"
            return replace(real, jars_ug=_fills(test, planned.fill_ug, allowed)), f"{words}."
    choices = read.choices(test)
    planned = makeup(test.version, choices)
    words = f"What was burned is taken from the recipe of {test.version}"
    if test.batch is not None:
        lacks = "has no wax on record" if test.batch.state == Batch.State.FINISHED else "is not finished"
        words += f"; batch {test.batch.spaced_code} {lacks}"
    several = sorted(str(planned.items[pk]) for pk, found in choices.items() if len(found) > 1)
    if several:
        words += f"; which lot of {', '.join(several)} it was is not recorded, so each of them counts"
    return replace(planned, jars_ug=_fills(test, planned.fill_ug, allowed)), f"{words}."


def _fills(test: BurnTest, planned: Fraction, allowed: Tolerances) -> dict[int, Fraction]:
    """The melt in each jar that was lit, by its number; the fill weight where that was met, or nobody noted it.

    A heavy jar and a light one are not two of their average: each burned as it was filled.
    """
    found = {}
    for jar in test.jars.all():
        real = planned if jar.melt_ug is None else Fraction(jar.melt_ug)
        found[jar.number] = planned if close(real, planned, allowed.fill_ppm) else real
    return found


def differences(wanted: Makeup, burned: Makeup, allowed: Tolerances) -> list[str]:
    """In what a candle differs from one that was burned beyond what is allowed, each with both figures; first what is not
    known of either, and then no share is compared."""
    items = {**burned.items, **wanted.items}
    found = _not_known(wanted, burned)
    none = Share(Fraction(0), Fraction(0))
    for pk in {} if found else {**wanted.shares, **burned.shares}:
        found += _share(items[pk], wanted.shares.get(pk, none), burned.shares.get(pk, none), allowed)
    for pk in [*wanted.counted, *(pk for pk in burned.counted if pk not in wanted.counted)]:
        found += _count(items[pk], wanted.counted.get(pk), burned.counted.get(pk))
    return found + _fill(wanted.fill_ug, burned, allowed)


def _fill(fill_ug: Fraction, burned: Makeup, allowed: Tolerances) -> list[str]:
    """How a fill differs from that of every jar, or by number from those that were filled otherwise."""
    jars = burned.jars_ug or {1: burned.fill_ug}
    apart = {number: melt for number, melt in jars.items() if not close(fill_ug, melt, allowed.fill_ppm)}
    if not apart:
        return []
    shown = {number: _two_weights(fill_ug, melt) for number, melt in apart.items()}
    mine = next(iter(shown.values()))[0]
    if len(set(jars.values())) == 1:
        return [f"fill {mine}, burned at {next(iter(shown.values()))[1]}"]
    each = ", ".join(f"jar {number} at {theirs}" for number, (_, theirs) in shown.items())
    return [f"fill {mine}, burned with {each}"]


def _not_known(wanted: Makeup, burned: Makeup) -> list[str]:
    found = [f"what is in {'; '.join(wanted.unknown)} is not known"] if wanted.unknown else []
    if burned.unknown == (NOT_BY_POT,):
        found.append(NOT_BY_POT)
    elif burned.unknown:
        found.append(f"what was burned is not known: what is in {'; '.join(burned.unknown)} is not known")
    return found


def _share(item: Item, share: Share, burned: Share, allowed: Tolerances) -> list[str]:
    """How a share differs, at its most and at its least, from what was surely burned."""
    of_wax = "of the wax" if item.kind == Kind.WAX else "of wax"
    if share.high and not burned.low:
        surely = "surely " if burned.high else ""
        return [f"{format_percent(share.high * WHOLE)} {of_wax} of {item} that was not {surely}burned"]
    if burned.high and not share.low:
        maybe, perhaps = "in some lots " if share.high else "", "" if burned.low else "perhaps "
        return [f"{maybe}no {item}, {perhaps}burned with {format_percent(burned.high * WHOLE)} {of_wax}"]
    pairs = [(share.high, burned.low)]
    if item.kind == Kind.FRAGRANCE:
        apart = [(mine, theirs) for mine, theirs in pairs if mine > theirs]
    else:
        pairs.append((share.low, burned.high))
        apart = [(mine, theirs) for mine, theirs in pairs if not close(mine, theirs, allowed.share_ppm)]
    if not apart:
        return []
    mine, theirs = _two_shares(*apart[0])
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
