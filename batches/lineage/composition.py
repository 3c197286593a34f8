"""What is in a lot: by base item, as exact shares of its weight, through every blend, decanting and recovered melt.

Melt that comes back carries what its pot drew, each item by its weight. Asked for many lots at once; the number of
queries grows with how deep material was passed on, never with how many lots are asked for. What is not known, such as
melt entered as opening stock, stays a share of its own and is never taken for wax.

How a share counts toward a fragrance load: a lot that was bought, and a blend, count as what their item is (a fragrance
blend is fragrance, a wax blend without scent is wax); scented blends, recovered and remelted melt count by what is in
them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, NamedTuple

from django.db.models.expressions import RawSQL

from batches.lineage import lineage
from batches.lineage.lineage import SET_OUT, Key, Lineage
from batches.models import Batch, Draw, FormulaLine, FormulaVersion
from inventory.lots.family import STANDS, LotTransfer, among, rows_of
from inventory.models import Item, Kind, Lot

NOTHING, ALL = Fraction(0), Fraction(1)


@dataclass(frozen=True)
class Composition:
    """What is in a quantity of melt, as shares of its weight: `parts` by base item, and `unknown` by the words for what
    nobody knows the content of, come to exactly one.

    `wax` and `scent` are what counts as wax and as fragrance. `worth` is how its material value is spread over items,
    a blend as one, and comes to one where nothing is unknown. `whole` is the item that it counts as in whole, None
    for what counts by its parts.
    """

    parts: Mapping[Item, Fraction]
    wax: Fraction = NOTHING
    scent: Fraction = NOTHING
    worth: Mapping[Item, Fraction] = field(default_factory=dict)
    unknown: Mapping[str, Fraction] = field(default_factory=dict)
    whole: Item | None = None

    @property
    def scents(self) -> dict[Item, Fraction]:
        """The fragrances in it with their shares, the largest first."""
        found = ((item, share) for item, share in self.parts.items() if item.kind == Kind.FRAGRANCE)
        return dict(sorted(found, key=lambda pair: (-pair[1], pair[0].pk)))

    @property
    def unknown_words(self) -> str:
        """What is missing, as a sentence; empty where everything is known."""
        return f"What is in {'; '.join(sorted(self.unknown))} is not known." if self.unknown else ""


class LotPortion(NamedTuple):
    """`quantity` (µg) of an item, taken from a lot."""

    item: Item
    lot: int
    quantity: int


def alone(item: Item) -> Composition:
    """An item as it is bought."""
    return Composition(
        {item: ALL},
        wax=Fraction(item.kind == Kind.WAX),
        scent=Fraction(item.kind == Kind.FRAGRANCE),
        worth={item: ALL},
        whole=item,
    )


def opaque(what: str) -> Composition:
    """Melt of which nobody knows what is in it; `what` says which and why."""
    return Composition({}, unknown={what: ALL})


def _of_no_record(lot: Lot) -> Composition:
    return opaque(f"{lot.item}, lot {lot.spaced_code} (no batch on record made it)")


def mixed(
    portions: Iterable[tuple[Composition, Fraction | int]], worths: Iterable[Fraction | int] | None = None
) -> Composition:
    """What portions of these weights make together. `worths` are what the portions are worth, where it is known; else
    value follows weight. Portions of nothing are left out; at least one must weigh something."""
    rows = list(portions)
    values = list(worths) if worths is not None else [weight for _, weight in rows]
    whole, value = sum(weight for _, weight in rows), sum(values)
    if not value:
        values, value = [weight for _, weight in rows], whole
    parts: dict[Item, Fraction] = {}
    unknown: dict[str, Fraction] = {}
    worth: dict[Item, Fraction] = {}
    for (portion, weight), carried in zip(rows, values, strict=True):
        _add(parts, portion.parts, Fraction(weight) / whole)
        _add(unknown, portion.unknown, Fraction(weight) / whole)
        _add(worth, portion.worth, Fraction(carried) / value)
    wholes = {portion.whole for portion, weight in rows if weight}
    return Composition(
        parts,
        wax=sum((portion.wax * weight for portion, weight in rows), NOTHING) / whole,
        scent=sum((portion.scent * weight for portion, weight in rows), NOTHING) / whole,
        worth=worth,
        unknown=unknown,
        whole=wholes.pop() if len(wholes) == 1 else None,
    )


def _add(sums: dict[Any, Fraction], shares: Mapping[Any, Fraction], factor: Fraction) -> None:
    for key, share in shares.items():
        if share and factor:
            sums[key] = sums.get(key, NOTHING) + share * factor


def compositions(lot_ids: Collection[int] = (), batch_ids: Collection[int] = ()) -> dict[Key, Composition]:
    """What is in each of these lots, and in the pot of each of these batches, and of all they descend from.

    A batch into which nothing was weighed is left out. Of finished goods it is the melt in them.
    """
    family = lineage.ancestors(lot_ids, batch_ids)
    return _Melting(family).through() if family.lots or family.batches else {}


def quantities(
    taken: Iterable[LotPortion], known: Mapping[Key, Composition]
) -> tuple[dict[Item, Fraction], dict[str, Fraction]]:
    """What was taken, in µg by base item, and in µg by what nobody knows the content of. No query."""
    parts: dict[Item, Fraction] = {}
    unknown: dict[str, Fraction] = {}
    for row in taken:
        portion = known.get(Key("lot", row.lot), alone(row.item))
        _add(parts, portion.parts, Fraction(row.quantity))
        _add(unknown, portion.unknown, Fraction(row.quantity))
    return parts, unknown


def in_lines(draws: Iterable[Draw]) -> dict[int, Composition]:
    """What is in what was drawn for each weighed line, by line, for loads; any set of draws, such as those of one pot.

    Expects each draw with its line, and its movement with lot and item.
    """
    return of_lines((draw.line, draw.movement.lot, draw.quantity) for draw in draws if draw.line.in_melt)


def in_lots(lots: Iterable[Lot]) -> dict[int, Composition]:
    """What is in lots that were made here, by lot; those are left out that are only what they are called.

    Expects each lot with its item.
    """
    ours = {lot.pk for lot in lots if lot.item.made_here}
    if not ours:
        return {}
    known = compositions(ours)
    return {pk: known[Key("lot", pk)] for pk in ours if not is_plain(known[Key("lot", pk)])}


def of_lines(rows: Iterable[tuple[FormulaLine, Lot, int]]) -> dict[int, Composition]:
    """What is in quantities of lots taken for lines, by line; a line is left out where it is only what it is called."""
    taken: dict[int, list[tuple[Lot, int]]] = {}
    for line, lot, quantity in rows:
        if quantity > 0:
            taken.setdefault(line.pk, []).append((lot, quantity))
    known = compositions({lot.pk for lots in taken.values() for lot, _ in lots})
    found = {
        line: mixed((known[Key("lot", lot.pk)], quantity) for lot, quantity in lots)
        for line, lots in taken.items()
    }
    return {line: portion for line, portion in found.items() if not is_plain(portion)}


def on_shelf(lines: Iterable[FormulaLine]) -> dict[int, Composition]:
    """What is in the melt that the lines of a formula would take, by line, for its page: of the lots on the shelf the one
    with most scent, so that no load looks lower than it may get. Where nothing of recovered melt is there, it is not known.

    Expects the lines with their items. Items that were bought are left out.
    """
    ours = {line.pk: line.item for line in lines if line.in_melt and line.item.made_here}
    if not ours:
        return {}
    lots = list(Lot.objects.filter(item__in=set(ours.values()), on_hand__gt=0).select_related("item"))
    known = compositions([lot.pk for lot in lots])
    of_item: dict[int, Composition] = {}
    for lot in lots:
        portion, before = known[Key("lot", lot.pk)], of_item.get(lot.item_id)
        if before is None or _strength(portion) > _strength(before):
            of_item[lot.item_id] = portion
    missing = [item for item in set(ours.values()) if item.pk not in of_item]
    of_item |= {item.pk: portion for item, portion in without_lots(missing).items()}
    found = {pk: of_item[item.pk] for pk, item in ours.items()}
    return {line: portion for line, portion in found.items() if not is_plain(portion)}


def on_shelf_of(item: Item) -> list[Composition]:
    """What is in each lot of an item that is on the shelf; where none is and formulas make it, what those say it is."""
    lots = list(Lot.objects.filter(item=item, on_hand__gt=0))
    if lots:
        known = compositions([lot.pk for lot in lots])
        return [known[Key("lot", lot.pk)] for lot in lots]
    return [portion for portion in without_lots([item]).values() if not portion.unknown]


def _strength(portion: Composition) -> tuple[bool, Fraction]:
    """What is not known may be stronger than anything."""
    return bool(portion.unknown), portion.scent


def is_plain(portion: Composition) -> bool:
    """Whether it is one item and nothing more, as it was bought."""
    return portion.whole is not None and set(portion.parts) == {portion.whole}


def without_lots(items: Iterable[Item]) -> dict[Item, Composition]:
    """What stands for items made here of which nothing is there: themselves, where a formula without scent makes them."""
    kinds = _kinds_by_formula(items)
    return {
        item: alone(item) if _counts_by_name(item, kinds) else opaque(f"{item} (none is on the shelf)")
        for item in items
    }


def _kinds_by_formula(items: Iterable[Item]) -> dict[int, set[str]]:
    """The kinds of what any formula of an item names, by item; those without a formula are left out."""
    wanted = {item.pk for item in items if item.made_here}
    if not wanted:
        return {}
    rows = FormulaVersion.objects.filter(formula__item__in=wanted).order_by()
    found: dict[int, set[str]] = {}
    for item_id, kind in rows.values_list("formula__item_id", "lines__item__kind").distinct():
        found.setdefault(item_id, set()).add(kind or "")
    return found


def _counts_by_name(item: Item, kinds: Mapping[int, set[str]]) -> bool:
    """Whether an item of unknown descent is what its name and kind say: bought, a fragrance, or a blend without scent."""
    if not item.made_here or item.kind == Kind.FRAGRANCE:
        return True
    return item.pk in kinds and Kind.FRAGRANCE not in kinds[item.pk]


class _Melting:
    """Works compositions out from the source down, each lot and pot after all that went into it."""

    def __init__(self, family: Lineage) -> None:
        self.family = family
        self.lots = {lot.pk: lot for lot in _lots(family.lots)}
        self.result = {came.lot: came.result for came in family.came if came.lot is not None}
        self.maker = {came.lot: came.batch for came in family.came if came.lot is not None}
        self.value = {(batch, lot): value for batch, lot, value in rows_of(VALUES_WEIGHED, family.batches)}
        self.poured: dict[int, list[LotTransfer]] = {}
        for pour in family.poured:
            self.poured.setdefault(pour.child, []).append(pour)
        self.weighed: dict[int, list[lineage.DrawStep]] = {}
        for draw in family.drawn:
            if not draw.fitted:
                self.weighed.setdefault(draw.batch, []).append(draw)
        self.found: dict[Key, Composition] = {}
        sources = (
            lot.item for pk, lot in self.lots.items() if pk not in self.maker and pk not in self.poured
        )
        self.kinds = _kinds_by_formula(set(sources))

    def through(self) -> dict[Key, Composition]:
        """Everything, by key."""
        for key in self.family.order:
            portion = self._of_lot(self.lots[key.pk]) if key.what == "lot" else self._of_pot(key.pk)
            if portion is not None:
                self.found[key] = portion
        return self.found

    def _of_pot(self, batch: int) -> Composition | None:
        # Melt of this same pot that went back into it is not met yet, and changes nothing of the shares.
        rows = [
            row
            for row in self.weighed.get(batch, ())
            if Key("lot", row.lot) in self.found and row.quantity > 0
        ]
        if not rows:
            return None
        return mixed(
            ((self.found[Key("lot", row.lot)], row.quantity) for row in rows),
            [self.value.get((batch, row.lot), 0) for row in rows],
        )

    def _of_lot(self, lot: Lot) -> Composition:
        item = lot.item
        if lot.pk in self.maker:
            pot = self.found.get(Key("batch", self.maker[lot.pk]))
            if pot is None:
                return opaque(f"{lot.item}, lot {lot.spaced_code} (nothing is recorded of its pot)")
            return pot_as_lot(pot, item, self.result[lot.pk])
        # What came back of goods that were sent is what it was before.
        pours = [pour for pour in self.poured.get(lot.pk, ()) if Key("lot", pour.parent) in self.found]
        if pours:
            return mixed((self.found[Key("lot", pour.parent)], pour.quantity) for pour in pours)
        return alone(item) if _counts_by_name(item, self.kinds) else _of_no_record(lot)


def pot_as_lot(pot: Composition, item: Item, result: str) -> Composition:
    """What came out of a pot as a lot of an item: recovered melt and scented blends count by what is in them, other
    blends as what their item is."""
    blend = result != "melt" and item.kind != Kind.FINISHED
    if not blend or pot.unknown or (pot.scent and item.kind != Kind.FRAGRANCE):
        return Composition(pot.parts, pot.wax, pot.scent, pot.worth, pot.unknown)
    whole = alone(item)
    return Composition(pot.parts, whole.wax, whole.scent, whole.worth, whole=item)


def _lots(keys: Collection[int]) -> Iterable[Lot]:
    statement, given = among(keys)
    these = RawSQL(statement, [given])  # noqa: S611 - no value stands in the statement
    return Lot.objects.filter(pk__in=these).select_related("item")


def pot_of(batch: Batch) -> Composition | None:
    """What is in the pot of a batch; None where nothing was weighed in."""
    return compositions(batch_ids=[batch.pk]).get(Key("batch", batch.pk))


VALUES_WEIGHED = f"""
    SELECT draw.batch_id, took.lot_id, CAST(-SUM(took.value) AS bigint)
    FROM batches_draw AS draw
    JOIN inventory_movement AS took ON took.id = draw.movement_id
    JOIN batches_formulaline AS line ON line.id = draw.line_id
    JOIN inventory_item AS part ON part.id = line.item_id AND NOT {SET_OUT}
    WHERE draw.batch_id {{among}} AND {STANDS.format("took")}
    GROUP BY draw.batch_id, took.lot_id
"""
