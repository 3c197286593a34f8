"""What burns in one candle, by item: as a version is written, and as the jars of a burn test were weighed out.

Melt that was recovered, and scented blends, count by what is in them. Where it is not on record which of several pots or
lots it was, every one of them counts: a share is then the least and the most that it may have been.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import product
from math import prod
from typing import NamedTuple

from batches.formulas.loads import contents_of, pot_number, pot_numbers
from batches.formulas.sheet import batch_sheet, pots_for
from batches.lineage.composition import Composition, compositions, mixed, opaque, without_lots
from batches.lineage.lineage import Key
from batches.models import Batch, BurnTest, Draw, FormulaLine, FormulaVersion, Reading
from batches.models.formulas import DRAWN_INTO_THE_POT
from inventory.models import Item, Kind, Lot
from studio.core.percent import WHOLE

# These do not burn: a lid, a label or a box more changes nothing.
NOT_BURNED = (Kind.LID, Kind.LABEL, Kind.PACKAGING)
# More ways to choose among the lots of several melts are not compared; they are not known.
WAYS_LIMIT = 500
NOT_BY_POT = "what was burned is not known by pot"

# What a line takes of, by item: each of the contents it may have. Items that are left out are what they are.
Choices = Mapping[int, Sequence[Composition]]


@dataclass(frozen=True)
class Tolerances:
    """How far a candle may differ from the one that was burned, in parts per million of what was burned."""

    fill_ppm: int
    share_ppm: int


class Share(NamedTuple):
    """The least and the most of an item that there may be, of the wax; 0 where there may be none."""

    low: Fraction
    high: Fraction


@dataclass(frozen=True)
class Makeup:
    """What burns in one candle. `shares`: of the wax, by item; `counted`: base units by item; `fill_ug`: µg of melt.
    `jars_ug`: the same of each jar that was burned, by its number.

    `items` has the lines' own items as well, melt that counts by its content among them. `unknown` are the words for what
    is not known of the melt; where there are any, the shares say nothing.
    """

    items: Mapping[int, Item]
    shares: Mapping[int, Share]
    counted: Mapping[int, int]
    fill_ug: Fraction
    unknown: tuple[str, ...] = ()
    jars_ug: Mapping[int, Fraction] = field(default_factory=dict)


@dataclass
class WeighedMakeup:
    """What a finished batch was really weighed out as: by pot, each draw with what is in its lot where that is known to be
    more than its item. `is_known`: every weight names its pot."""

    pots: dict[int, list[tuple[FormulaLine, Fraction, Composition | None]]] = field(default_factory=dict)
    is_known: bool = True

    @property
    def choices(self) -> Choices:
        """What the lines took together, by item."""
        taken: dict[int, list[tuple[Composition, Fraction]]] = {}
        for line, quantity, portion in (row for rows in self.pots.values() for row in rows):
            if portion is not None:
                taken.setdefault(line.item_id, []).append((portion, quantity))
        return {pk: [mixed(portions)] for pk, portions in taken.items()}


def close(figure: Fraction, burned: Fraction, tolerance_ppm: int) -> bool:
    """Whether a figure lies within a tolerance of what was burned; exactly at it does."""
    return abs(figure - burned) * WHOLE <= burned * tolerance_ppm


def makeup(version: FormulaVersion, choices: Choices) -> Makeup:
    """What burns in one candle of a version as it is written. Reads its lines with their items."""
    sheet = batch_sheet(replace(version.recipe(), loss_ppm=0, pot_ug=None), 1)
    lines = {line.pk: line for line in version.lines.all()}
    items: dict[int, Item] = {}
    counted: dict[int, int] = {}
    melt: list[tuple[FormulaLine, Fraction]] = []
    for target in sheet.targets:
        line = lines[target.line.key]
        if line.item.kind in NOT_BURNED:
            continue
        items[line.item_id] = line.item
        if target.line.is_weighed:
            melt.append((line, target.exact))
        else:
            counted[line.item_id] = counted.get(line.item_id, 0) + line.amount
    named = {line.item_id: line.item for line, _ in melt if line.item_id in choices}
    if prod(len(choices[pk]) for pk in named) > WAYS_LIMIT:
        names = "; ".join(sorted(f"{item} (too many of its lots differ)" for item in named.values()))
        return Makeup(items, {}, counted, Fraction(version.fill_ug or 0), (names,))
    ways = [dict(zip(named, way, strict=True)) for way in product(*(choices[pk] for pk in named))]
    pots = [[(line, amount, way.get(line.item_id)) for line, amount in melt] for way in ways]
    found = _ranged(pots)
    return replace(
        found, items={**items, **found.items}, counted=counted, fill_ug=Fraction(version.fill_ug or 0)
    )


def weighed_makeup(planned: Makeup, weighed: WeighedMakeup, allowed: Tolerances) -> Makeup | None:
    """What went into the pots of a batch; None where no pot got any wax.

    What was weighed within the tolerance of its target counts as the target: no scale meets it to the microgram.
    """
    pots = [rows for rows in weighed.pots.values() if rows]
    with_wax = [rows for rows in pots if _has_wax(rows)]
    if not with_wax:
        return None
    targets = {pk: share.low for pk, share in planned.shares.items()} if not planned.unknown else {}
    found = _ranged(with_wax, targets, allowed.share_ppm)
    known = weighed.is_known and len(with_wax) == len(pots)
    return replace(
        planned,
        items={**planned.items, **found.items},
        shares=found.shares,
        unknown=found.unknown if known else (NOT_BY_POT,),
    )


Rows = Sequence[tuple[FormulaLine, Fraction, Composition | None]]


def _has_wax(rows: Rows) -> bool:
    pot = contents_of(rows)
    return bool(pot.wax or pot.unknown)


def _ranged(
    pots: Iterable[Rows], targets: Mapping[int, Fraction] | None = None, tolerance_ppm: int = 0
) -> Makeup:
    """The least and the most of every item over all the pots, or the ways, that it may have been."""
    items: dict[int, Item] = {}
    every: list[dict[int, Fraction]] = []
    unknown: set[str] = set()
    for rows in pots:
        pot = contents_of(rows)
        unknown |= set(pot.unknown)
        # A melt with a maximum of its own is judged beside what is in it; here only what is in it burns.
        opened = {line.item for line, _, portion in rows if portion is not None and portion.whole is None}
        wax = pot.wax or pot.melt
        shares: dict[int, Fraction] = {}
        items |= {line.item_id: line.item for line, _, _ in rows}
        for item, amount in pot.of_item.items():
            if item in opened:
                continue
            share, target = amount / wax, (targets or {}).get(item.pk)
            shares[item.pk] = target if target is not None and close(share, target, tolerance_ppm) else share
            items[item.pk] = item
        every.append(shares)
    keys = dict.fromkeys(pk for shares in every for pk in shares)
    zero = Fraction(0)
    ranges = {pk: [shares.get(pk, zero) for shares in every] for pk in keys}
    return Makeup(
        items,
        {pk: Share(min(found), max(found)) for pk, found in ranges.items()},
        {},
        zero,
        tuple(sorted(unknown)),
    )


def on_the_shelf(version: FormulaVersion) -> Choices:
    """What a version may be poured of: everything that is in any lot on the shelf, of each item of its melt that is made
    here. Where there is none, what `batches.lineage.composition` says of it."""
    ours = _made_here([version])
    if not ours:
        return {}
    lots = list(Lot.objects.filter(item__in=ours, on_hand__gt=0).select_related("item"))
    known = compositions([lot.pk for lot in lots])
    found = {pk: _apart(known[Key("lot", lot.pk)] for lot in lots if lot.item_id == pk) for pk in ours}
    missing = without_lots([item for pk, item in ours.items() if not found[pk]])
    return found | {item.pk: [portion] for item, portion in missing.items()}


def _made_here(versions: Iterable[FormulaVersion]) -> dict[int, Item]:
    lines = (line for version in versions for line in version.lines.all())
    return {line.item_id: line.item for line in lines if line.in_melt and line.item.made_here}


def _apart(portions: Iterable[Composition]) -> list[Composition]:
    """Those that differ in what burns."""
    found: dict[object, Composition] = {}
    for portion in portions:
        whole = portion.whole
        content = (frozenset(portion.parts.items()), frozenset(portion.unknown.items()), portion.wax)
        found.setdefault(whole.pk if whole is not None else content, portion)
    return list(found.values())


class Burned:
    """What the jars of burn tests were made of, read at once: a fixed number of queries for any number of tests.

    The tests come with their versions, lines and items, and with their batches.
    """

    def __init__(self, tests: Sequence[BurnTest]) -> None:
        draws = list(_draws(tests))
        drawn = {draw.batch_id for draw in draws}
        planned = _made_here(test.version for test in tests if test.batch_id not in drawn)
        self.lots = list(Lot.objects.filter(item__in=planned).select_related("item")) if planned else []
        ours = {draw.movement.lot_id for draw in draws if draw.movement.lot.item.made_here}
        ours |= {lot.pk for lot in self.lots}
        self.known = compositions(ours) if ours else {}
        self.plain = without_lots(planned.values()) if planned else {}
        self.weighed: dict[int | None, WeighedMakeup] = {}
        pots = _pots(tests, draws)
        for draw in draws:
            self._add(draw, pots[draw.batch_id])

    def _add(self, draw: Draw, pots: Sequence[int]) -> None:
        weighed = self.weighed.setdefault(draw.batch_id, WeighedMakeup())
        number = pot_number(draw.in_pot, pots)
        if number is None:
            weighed.is_known = False
        # What names no pot stands in one of its own, so that what the batch took is read all the same.
        portion = self.known.get(Key("lot", draw.movement.lot_id))
        weighed.pots.setdefault(number or 0, []).append((draw.line, Fraction(draw.quantity), portion))

    def choices(self, test: BurnTest) -> Choices:
        """What a test that names no finished batch may have been poured of: any lot that was there when it was lit, empty
        by then or not, for the jars were poured before."""
        return {pk: list(self._of_item(item, test)) for pk, item in _made_here([test.version]).items()}

    def _of_item(self, item: Item, test: BurnTest) -> Iterator[Composition]:
        there = [lot for lot in self.lots if lot.item_id == item.pk and lot.arrived_at <= test.started_at]
        if there:
            yield from _apart(self.known[Key("lot", lot.pk)] for lot in there)
        elif item not in self.plain:
            yield opaque(f"{item} (what was weighed in of it is not on record)")
        elif self.plain[item].unknown:
            yield opaque(f"{item} (no lot of it was there when the test began)")
        else:
            yield self.plain[item]


def _draws(tests: Iterable[BurnTest]) -> Iterable[Draw]:
    """What went into the finished batches that jars were taken from; one query."""
    batches = {test.batch_id for test in tests if test.batch and test.batch.state == Batch.State.FINISHED}
    if not batches:
        return []
    draws = Draw.objects.standing().filter(DRAWN_INTO_THE_POT, batch__in=batches)
    return draws.select_related("movement__lot__item", "movement__posting__bench_entry", "line__item")


def _pots(tests: Iterable[BurnTest], draws: Sequence[Draw]) -> dict[int, list[int]]:
    """The pots of each batch that was drawn into; one query."""
    named: dict[int, set[int | None]] = {draw.batch_id: set() for draw in draws}
    for draw in draws:
        named[draw.batch_id].add(draw.in_pot)
    if named:
        readings = Reading.objects.standing().filter(batch__in=named).select_related("bench_entry")
        for reading in readings:
            named[reading.batch_id].add(reading.pour)
    batches = {test.batch_id: test.batch for test in tests if test.batch is not None}
    return {
        pk: pot_numbers(pots_for(batches[pk].version, batches[pk].quantity), said)
        for pk, said in named.items()
    }
