"""What descends from lots and batches, and what they descend from: the lots, the batches and every quantity between.

On SQLite level by level, all lots of a level at once: a statement costs next to nothing there, while a recursive one
reads whole tables once statistics are kept. On PostgreSQL, which plans each statement anew, a recursive one for the keys
and one for each kind of step. So the number of queries grows with how deep material was passed on, if at all, and never
with how wide. Plain SQL, because a trace is asked for whole shelves; each statement begins at the keys it is given and
reaches the rest by an index. What was reversed does not count, on either side. What went from lot to lot is asked of
`inventory.lots.family`.

Quantities are base units of the lot that the material left, or of the lot that came out of a batch.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise
from typing import Literal, NamedTuple

from django.db import connection

from inventory.lots.family import STANDS, LotTransfer, poured_from, poured_into, rows_of


class Key(NamedTuple):
    """A lot or a batch, by its primary key."""

    what: Literal["lot", "batch"]
    pk: int


class DrawStep(NamedTuple):
    """A batch took `quantity` of a lot: into the pot, or `fitted` to each unit, as wicks and vessels are."""

    lot: int
    batch: int
    fitted: bool
    quantity: int


class OutputStep(NamedTuple):
    """A batch gave `quantity` with a result (`Outcome.Result`), as a lot, or as none where it was scrapped.

    Units to remelt whose melt became a lot have the result "emptied".
    """

    batch: int
    lot: int | None
    result: str
    quantity: int


@dataclass
class Lineage:
    """The lots and batches that were reached, the roots included, and what went along between them.

    `drawn` and `poured` name each pair once. `came` has everything that came out of the batches reached, whether it
    was reached itself or not.
    """

    lots: set[int]
    batches: set[int]
    drawn: list[DrawStep] = field(default_factory=list)
    poured: list[LotTransfer] = field(default_factory=list)
    came: list[OutputStep] = field(default_factory=list)

    def keys(self) -> tuple[set[int], set[int]]:
        """The lots and the batches, by primary key."""
        return self.lots, self.batches

    def edges(self) -> Iterator[tuple[Key, Key]]:
        """Every step between two that were reached, the way the material went."""
        for draw in self.drawn:
            yield Key("lot", draw.lot), Key("batch", draw.batch)
        for pour in self.poured:
            yield Key("lot", pour.parent), Key("lot", pour.child)
        for came in self.came:
            if came.lot in self.lots:
                yield Key("batch", came.batch), Key("lot", came.lot)

    @cached_property
    def onward(self) -> dict[Key, list[Key]]:
        """Where each went next."""
        steps: dict[Key, list[Key]] = {}
        for source, target in self.edges():
            steps.setdefault(source, []).append(target)
        return steps

    @cached_property
    def back(self) -> dict[Key, list[Key]]:
        """What went into each."""
        steps: dict[Key, list[Key]] = {}
        for source, target in self.edges():
            steps.setdefault(target, []).append(source)
        return steps

    def carrying(self, *of: Key) -> set[Key]:
        """All that carry some of any of these, themselves included, as far as they were reached."""
        return _closure(of, self.onward)

    def carried_by(self, *by: Key) -> set[Key]:
        """All that any of these carry some of, themselves included, as far as they were reached."""
        return _closure(by, self.back)

    @cached_property
    def order(self) -> list[Key]:
        """All that was reached, each after what went into it.

        Melt recovered from a part of a run may go into the same run again: that step back is left out of account.
        """
        into: dict[Key, set[Key]] = {Key("lot", pk): set() for pk in sorted(self.lots)}
        into |= {Key("batch", pk): set() for pk in sorted(self.batches)}
        for source, target in self.edges():
            into[target].add(source)
        while True:
            try:
                return list(TopologicalSorter(into).static_order())
            except CycleError as error:
                # Each in the ring went into the next; the step into a batch of what came of it is taken out.
                back = next((a, b) for a, b in pairwise(error.args[1]) if b.what == "batch")
                into[back[1]].discard(back[0])

    @cached_property
    def rank(self) -> dict[Key, int]:
        """The place of each in `order`."""
        return {key: place for place, key in enumerate(self.order)}


def _closure(start: Iterable[Key], steps: dict[Key, list[Key]]) -> set[Key]:
    found = set(start)
    waiting = list(found)
    while waiting:
        for key in steps.get(waiting.pop(), ()):
            if key not in found:
                found.add(key)
                waiting.append(key)
    return found


def descendants(lot_ids: Collection[int] = (), batch_ids: Collection[int] = ()) -> Lineage:
    """Everything that carries some of these lots and batches, at any depth; for many at once as for one."""
    if connection.vendor == "postgresql":
        lots, batches = _reached(ONWARD, lot_ids, batch_ids)
        return _with_steps(lots, batches, (DRAWN_FROM_LOTS, lots), poured_from(lots))
    found = Lineage(set(lot_ids), set(batch_ids))
    lots, batches = set(found.lots), set(found.batches)
    while lots or batches:
        drawn = [DrawStep(*row) for row in rows_of(DRAWN_FROM_LOTS, lots)]
        poured = poured_from(lots)
        batches |= {draw.batch for draw in drawn} - found.batches
        found.batches |= batches
        came = [OutputStep(*row) for row in rows_of(CAME_OF_BATCHES, batches)]
        lots = (
            {pour.child for pour in poured} | {row.lot for row in came if row.lot is not None}
        ) - found.lots
        found.lots |= lots
        found.drawn += drawn
        found.poured += poured
        found.came += came
        batches = set()
    return found


def ancestors(lot_ids: Collection[int] = (), batch_ids: Collection[int] = ()) -> Lineage:
    """Everything that these lots and batches carry some of, at any depth; for many at once as for one."""
    if connection.vendor == "postgresql":
        lots, batches = _reached(BACK, lot_ids, batch_ids)
        return _with_steps(lots, batches, (DRAWN_INTO_BATCHES, batches), poured_into(lots))
    found = Lineage(set(lot_ids), set(batch_ids))
    lots, batches = set(found.lots), set(found.batches)
    while lots or batches:
        poured = poured_into(lots)
        batches |= {batch for (batch,) in rows_of(MAKERS_OF_LOTS, lots)} - found.batches
        found.batches |= batches
        drawn = [DrawStep(*row) for row in rows_of(DRAWN_INTO_BATCHES, batches)]
        lots = ({pour.parent for pour in poured} | {draw.lot for draw in drawn}) - found.lots
        found.lots |= lots
        found.drawn += drawn
        found.poured += poured
        batches = set()
    found.came = [OutputStep(*row) for row in rows_of(CAME_OF_BATCHES, found.batches)]
    return found


def _reached(
    statement: str, lot_ids: Collection[int], batch_ids: Collection[int]
) -> tuple[set[int], set[int]]:
    """The keys of lots and of batches that a recursive statement reaches, those it begins with included."""
    with connection.cursor() as cursor:
        cursor.execute(statement, [list(lot_ids), list(batch_ids)])
        rows = cursor.fetchall()
    return {pk for is_lot, pk in rows if is_lot}, {pk for is_lot, pk in rows if not is_lot}


def _with_steps(
    lots: set[int], batches: set[int], drawn: tuple[str, set[int]], poured: list[LotTransfer]
) -> Lineage:
    """The lineage of keys that are all known: its steps, a statement for each kind."""
    return Lineage(
        lots,
        batches,
        [DrawStep(*row) for row in rows_of(*drawn)],
        poured,
        [OutputStep(*row) for row in rows_of(CAME_OF_BATCHES, batches)],
    )


class ShipmentStep(NamedTuple):
    """`quantity` of a lot left to somebody by a dispatch and has not come back."""

    lot: int
    dispatch: int
    quantity: int


def sent(lot_ids: Collection[int]) -> list[ShipmentStep]:
    """What of these lots was sent out and is still there, the earliest first; one query however many they are."""
    return [row for row in (ShipmentStep(*each) for each in rows_of(SENT_OF_LOTS, lot_ids)) if row.quantity]


def pots(batch_ids: Collection[int]) -> dict[int, int]:
    """What was weighed into each of these batches, in µg; those that weighed nothing are left out. One query."""
    return dict(rows_of(POTS_OF_BATCHES, batch_ids))


@dataclass(frozen=True)
class Flow:
    """What came into a lot and what left it, by the kind of movement (`Movement.Kind`), in base units, both above zero.

    What earlier records say was used or sent out, into what and to whom they do not say, stands under "used before"
    and "sent before". Count differences and what was put right
    stand on either side; what was found counts as come.
    """

    came: Mapping[str, int]
    went: Mapping[str, int]

    @property
    def on_hand(self) -> int:
        """What is left of it."""
        return sum(self.came.values()) - sum(self.went.values())


def flows(lot_ids: Collection[int]) -> dict[int, Flow]:
    """The flow of each of these lots that ever moved, by its key; one query however many they are."""
    sides: dict[int, tuple[dict[str, int], dict[str, int]]] = {}
    for lot_id, kind, came, went in rows_of(FLOWS_OF_LOTS, lot_ids):
        own = sides.setdefault(lot_id, ({}, {}))
        for side, quantity in zip(own, (came, went), strict=True):
            if quantity:
                side[kind] = quantity
    return {lot_id: Flow(*own) for lot_id, own in sides.items()}


# Set out with each unit, rather than weighed into the pot; a dye or additive given per unit is weighed.
SET_OUT = "(line.basis = 'per_unit' AND part.kind NOT IN ('dye', 'additive'))"
_DRAWN = f"""
    SELECT took.lot_id, draw.batch_id, {SET_OUT}, CAST(-SUM(took.quantity) AS bigint)
    FROM {{tables}}
    JOIN batches_formulaline AS line ON line.id = draw.line_id
    JOIN inventory_item AS part ON part.id = line.item_id
    WHERE {{these}} AND {STANDS.format("took")}
    GROUP BY took.lot_id, draw.batch_id, {SET_OUT}
"""
DRAWN_FROM_LOTS = _DRAWN.format(
    tables="inventory_movement AS took JOIN batches_draw AS draw ON draw.movement_id = took.id",
    these="took.lot_id {among}",
)
DRAWN_INTO_BATCHES = _DRAWN.format(
    tables="batches_draw AS draw JOIN inventory_movement AS took ON took.id = draw.movement_id",
    these="draw.batch_id {among}",
)
CAME_OF_BATCHES = f"""
    SELECT made.batch_id, made.lot_id,
        CASE WHEN made.result = 'rework' AND EXISTS (
            SELECT 1 FROM batches_outcome AS melt WHERE melt.emptied_id = made.id
        ) THEN 'emptied' ELSE made.result END,
        made.quantity
    FROM batches_outcome AS made
    WHERE made.batch_id {{among}} AND {STANDS.format("made")}
"""
MAKERS_OF_LOTS = f"""
    SELECT DISTINCT made.batch_id
    FROM batches_outcome AS made
    WHERE made.lot_id {{among}} AND {STANDS.format("made")}
"""

# For PostgreSQL alone: a recursive term may name what was reached only once, so all its ways stand in one LATERAL.
_REACHED = """
    WITH RECURSIVE reached(is_lot, id) AS (
        (SELECT TRUE, unnest(%s::bigint[]) UNION ALL SELECT FALSE, unnest(%s::bigint[]))
        UNION
        SELECT step.is_lot, step.id FROM reached CROSS JOIN LATERAL ({steps}) AS step
    )
    SELECT is_lot, id FROM reached
"""
_POURED_STEP = f"""
    SELECT TRUE, {{other}}.lot_id FROM inventory_movement AS {{own}}
    JOIN inventory_posting AS posting ON posting.id = {{own}}.posting_id AND posting.kind = 'decant'
    JOIN inventory_movement AS {{other}} ON {{other}}.posting_id = {{own}}.posting_id
    WHERE reached.is_lot AND {{own}}.lot_id = reached.id AND gave.kind = 'decanted' AND gave.quantity < 0
        AND got.kind = 'decanted' AND got.quantity > 0 AND {STANDS.format("gave")}
    UNION ALL
    SELECT TRUE, line.{{far}} FROM inventory_returnline AS line
    JOIN inventory_return AS back ON back.id = line.goods_return_id
    WHERE reached.is_lot AND line.{{near}} = reached.id AND {STANDS.format("back")}
"""
ONWARD = _REACHED.format(
    steps=f"""
    SELECT FALSE AS is_lot, draw.batch_id AS id FROM inventory_movement AS took
    JOIN batches_draw AS draw ON draw.movement_id = took.id
    WHERE reached.is_lot AND took.lot_id = reached.id AND {STANDS.format("took")}
    UNION ALL
    SELECT TRUE, made.lot_id FROM batches_outcome AS made
    WHERE NOT reached.is_lot AND made.batch_id = reached.id AND made.lot_id IS NOT NULL AND {STANDS.format("made")}
    UNION ALL {_POURED_STEP.format(own="gave", other="got", near="source_id", far="lot_id")}
"""
)
BACK = _REACHED.format(
    steps=f"""
    SELECT FALSE AS is_lot, made.batch_id AS id FROM batches_outcome AS made
    WHERE reached.is_lot AND made.lot_id = reached.id AND {STANDS.format("made")}
    UNION ALL
    SELECT TRUE, took.lot_id FROM batches_draw AS draw
    JOIN inventory_movement AS took ON took.id = draw.movement_id
    WHERE NOT reached.is_lot AND draw.batch_id = reached.id AND {STANDS.format("took")}
    UNION ALL {_POURED_STEP.format(own="got", other="gave", near="lot_id", far="source_id")}
"""
)

SENT_OF_LOTS = f"""
    SELECT gone.lot_id, dispatch.id, CAST(-SUM(gone.quantity) - COALESCE((
        SELECT SUM(line.quantity)
        FROM inventory_return AS back
        JOIN inventory_returnline AS line ON line.goods_return_id = back.id AND line.source_id = gone.lot_id
        WHERE back.dispatch_id = dispatch.id AND {STANDS.format("back")}
    ), 0) AS bigint)
    FROM inventory_movement AS gone
    JOIN inventory_dispatch AS dispatch ON dispatch.posting_id = gone.posting_id
    JOIN inventory_posting AS posting ON posting.id = gone.posting_id
    WHERE gone.lot_id {{among}} AND gone.kind = 'dispatched' AND gone.quantity < 0 AND {STANDS.format("gone")}
    GROUP BY gone.lot_id, dispatch.id, posting.happened_at, gone.posting_id
    ORDER BY posting.happened_at, gone.posting_id, gone.lot_id
"""
POTS_OF_BATCHES = f"""
    SELECT draw.batch_id, CAST(-SUM(took.quantity) AS bigint)
    FROM batches_draw AS draw
    JOIN inventory_movement AS took ON took.id = draw.movement_id
    JOIN batches_formulaline AS line ON line.id = draw.line_id
    JOIN inventory_item AS part ON part.id = line.item_id AND NOT {SET_OUT}
    WHERE draw.batch_id {{among}} AND {STANDS.format("took")}
    GROUP BY draw.batch_id
"""
_KIND = """
    CASE WHEN posting.kind = 'earlier' AND moved.kind = 'drawn' THEN 'used before'
        WHEN posting.kind = 'earlier' AND moved.kind = 'dispatched' THEN 'sent before'
        ELSE moved.kind END
"""
FLOWS_OF_LOTS = f"""
    SELECT moved.lot_id, {_KIND},
        CAST(SUM(CASE WHEN moved.quantity > 0 THEN moved.quantity ELSE 0 END) AS bigint),
        CAST(-SUM(CASE WHEN moved.quantity < 0 THEN moved.quantity ELSE 0 END) AS bigint)
    FROM inventory_movement AS moved
    JOIN inventory_posting AS posting ON posting.id = moved.posting_id AND posting.kind <> 'reversal'
    WHERE moved.lot_id {{among}} AND {STANDS.format("moved")}
    GROUP BY moved.lot_id, {_KIND}
"""
