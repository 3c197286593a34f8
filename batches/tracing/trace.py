"""From any lot or batch: what went into it, where it went, and how much of it is where. Read in a few queries.

The rows come from `lineage`, the arithmetic from `shares` and `mass_balance`; here they are put together for one root
and given the names people know them by.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from django.db.models.expressions import RawSQL

from batches.lineage import lineage
from batches.lineage.lineage import Flow, Key, Lineage, ShipmentStep
from batches.models import Batch, Outcome
from batches.tracing import mass_balance, shares
from batches.tracing.mass_balance import Balance
from batches.tracing.shares import End, Place, Run, Shares
from inventory.lots.family import among
from inventory.models import Dispatch, Item, Lot

OVER = (Batch.State.FINISHED, Batch.State.ABANDONED, Batch.State.CALLED_OFF)


@dataclass(frozen=True)
class Edge:
    """One step of the material: `quantity` base units of `item` went from one to the other, and how, in a word."""

    source: Key
    target: Key
    how: str
    quantity: int
    item: Item


@dataclass(frozen=True)
class ShippedPart:
    """Part of a lot that was sent out, and how much of the root is in it (base units of the root's item)."""

    lot: Lot
    dispatch: Dispatch
    quantity: int
    amount: Fraction


@dataclass(frozen=True)
class TracePart:
    """So much of the root is at a place, in lots of one item: `quantity` base units of it, None in a batch."""

    place: Place
    item: Item
    keys: tuple[Key, ...]
    quantity: int | None
    amount: Fraction


@dataclass
class Trace:
    """Everything known about one lot or batch and what hangs together with it."""

    root: Key
    item: Item
    up: Lineage
    down: Lineage
    lots: dict[int, Lot]
    batches: dict[int, Batch]
    flows: dict[int, Flow]
    runs: dict[int, Run]
    gone: list[ShipmentStep]
    dispatches: dict[int, Dispatch]
    shares: Shares = field(init=False)
    inside: dict[Key, Fraction] = field(init=False)

    def __post_init__(self) -> None:
        self.shares = shares.forward(self.root, self.down, self.flows, self.runs)
        self.inside = shares.backward(self.root, self.up, self.flows, self.runs)

    @property
    def lot(self) -> Lot | None:
        """The root, where it is a lot."""
        return self.lots[self.root.pk] if self.root.what == "lot" else None

    @property
    def batch(self) -> Batch | None:
        """The root, where it is a batch."""
        return self.batches[self.root.pk] if self.root.what == "batch" else None

    def of(self, key: Key) -> Lot | Batch:
        """The lot or batch of a key."""
        return self.lots[key.pk] if key.what == "lot" else self.batches[key.pk]

    def edges_in(self, found: Lineage) -> Iterator[Edge]:
        """Every step of one side, with its quantity and its word, in the order of keys."""
        for draw in sorted(found.drawn):
            word = "set out" if draw.fitted else "drawn"
            lot, batch = Key("lot", draw.lot), Key("batch", draw.batch)
            yield Edge(lot, batch, word, draw.quantity, self.lots[draw.lot].item)
        for pour in sorted(found.poured):
            parent, child = Key("lot", pour.parent), Key("lot", pour.child)
            word = "came back" if pour.returned else "decanted"
            yield Edge(parent, child, word, pour.quantity, self.lots[pour.parent].item)
        words = {"good": "made", "second": "made as seconds", "melt": "recovered as melt"}
        for came in sorted(found.came, key=lambda came: (came.batch, came.lot or 0)):
            if came.lot is not None and came.lot in found.lots:
                batch, lot = Key("batch", came.batch), Key("lot", came.lot)
                yield Edge(batch, lot, words[came.result], came.quantity, self.lots[came.lot].item)

    @cached_property
    def went_in(self) -> list[Edge]:
        """The steps towards the root."""
        return list(self.edges_in(self.up))

    @cached_property
    def went_on(self) -> list[Edge]:
        """The steps onward from the root."""
        return list(self.edges_in(self.down))

    @cached_property
    def sources(self) -> list[tuple[Lot, Fraction]]:
        """The lots it began with, which nothing of ours went into, and how much of each is in the root."""
        found = [
            (self.lots[pk], self.inside[Key("lot", pk)])
            for pk in self.up.lots
            if Key("lot", pk) not in self.up.back and Key("lot", pk) != self.root
        ]
        return sorted(found, key=lambda pair: (pair[0].item.name.casefold(), pair[0].pk))

    @cached_property
    def left(self) -> list[ShippedPart]:
        """What of the root and all that carries some of it was sent out, the earliest first."""
        rows = []
        for row in self.gone:
            whole = shares.held(self.flows[row.lot])
            amount = self.shares.amounts.get(Key("lot", row.lot), Fraction(0))
            rows.append(
                ShippedPart(
                    self.lots[row.lot],
                    self.dispatches[row.dispatch],
                    row.quantity,
                    amount * row.quantity / whole if whole else Fraction(0),
                )
            )
        return rows

    @cached_property
    def parts(self) -> list[TracePart]:
        """Where all of the root is by now: by place, then by item, its own first."""
        groups: dict[tuple[Place, int], list[End]] = {}
        items: dict[int, Item] = {}
        for end in self.shares.ends:
            if end.amount:
                item = self.of(end.key).item
                items[item.pk] = item
                groups.setdefault((end.place, item.pk), []).append(end)
        places = list(Place)
        order = sorted(
            groups,
            key=lambda at: (places.index(at[0]), at[1] != self.item.pk, items[at[1]].name.casefold()),
        )
        return [_part(place, items[item_id], groups[place, item_id]) for place, item_id in order]

    def ends_of(self, key: Key) -> list[End]:
        """Where what a lot held is by now, or what of the root a batch kept."""
        return self._ends.get(key, [])

    @cached_property
    def _ends(self) -> dict[Key, list[End]]:
        found: dict[Key, list[End]] = {}
        for end in self.shares.ends:
            found.setdefault(end.key, []).append(end)
        return found

    @cached_property
    def goods(self) -> dict[Place, int]:
        """Units of finished goods that carry some of the root, by where they are by now."""
        counts: dict[Place, int] = {}
        for part in self.parts:
            if part.item.kind == "finished" and part.quantity:
                counts[part.place] = counts.get(part.place, 0) + part.quantity
        return counts


def _part(place: Place, item: Item, ends: list[End]) -> TracePart:
    quantities = [end.quantity for end in ends if end.quantity is not None]
    return TracePart(
        place,
        item,
        tuple(end.key for end in ends),
        sum(quantities) if quantities else None,
        sum((end.amount for end in ends), Fraction(0)),
    )


def trace_of(root: Lot | Batch) -> Trace:
    """The trace of a lot or a batch; the number of queries grows with its depth alone."""
    key = Key("lot" if isinstance(root, Lot) else "batch", root.pk)
    of = {"lot_ids": [root.pk]} if key.what == "lot" else {"batch_ids": [root.pk]}
    up, down = lineage.ancestors(**of), lineage.descendants(**of)
    lots = {lot.pk: lot for lot in _lots(up.lots | down.lots)}
    batches = {batch.pk: batch for batch in _batches(up.batches | down.batches)}
    gone = lineage.sent(down.lots)
    return Trace(
        root=key,
        item=root.item,
        up=up,
        down=down,
        lots=lots,
        batches=batches,
        flows=lineage.flows(lots),
        runs=runs_of(batches.values()),
        gone=gone,
        dispatches={each.pk: each for each in _dispatches({row.dispatch for row in gone})},
    )


def runs_of(batches: Iterable[Batch]) -> dict[int, Run]:
    """What the arithmetic of shares asks of batches, which come with their versions. One query."""
    known = {batch.pk: batch for batch in batches}
    weighed = lineage.pots(known)
    return {
        pk: Run(
            by_weight=batch.version.fill_ug is None,
            planned=batch.quantity,
            pot_ug=weighed.get(pk, 0),
            over=batch.state in OVER,
        )
        for pk, batch in known.items()
    }


def _these(keys: Collection[int]) -> RawSQL:
    """These keys as one parameter, however many there are."""
    statement, given = among(keys)
    return RawSQL(statement, [given])  # noqa: S611 - no value stands in the statement


def _lots(keys: Collection[int]) -> Iterable[Lot]:
    heads = ("item", "supplier", "delivery_line__delivery__posting")
    return Lot.objects.filter(pk__in=_these(keys)).select_related(*heads)


def _batches(keys: Collection[int]) -> Iterable[Batch]:
    return Batch.objects.filter(pk__in=_these(keys)).with_product() if keys else ()


def _dispatches(keys: Collection[int]) -> Iterable[Dispatch]:
    return (
        Dispatch.objects.filter(pk__in=_these(keys)).select_related("posting", "customer", "channel")
        if keys
        else ()
    )


def balance_of_lot(lot: Lot, *, at_most_ppm: int) -> Balance:
    """The mass balance of one lot. One query."""
    flow = lineage.flows([lot.pk]).get(lot.pk, Flow({}, {}))
    return mass_balance.of_lot(flow, on_hand=lot.on_hand, at_most_ppm=at_most_ppm)


@dataclass(frozen=True)
class BatchBalance:
    """The balances of a batch: of the melt, in µg, and of each item that was set out by the unit."""

    melt: Balance
    fitted: tuple[tuple[Item, Balance], ...]
    expected_ppm: int


def balance_of_batch(batch: Batch, *, at_most_ppm: int) -> BatchBalance:
    """The mass balance of one batch, at the fill weight of its formula. A few queries."""
    over = batch.state in OVER
    weighed: dict[str, int] = {}
    fitted: dict[int, list[int]] = {}
    items: dict[int, Item] = {}
    for draw in batch.draws.standing().select_related("movement", "line__item"):
        item = draw.line.item
        if not draw.line.in_melt:
            items[item.pk] = item
            fitted.setdefault(item.pk, [0, draw.line.amount])[0] += draw.quantity
        else:
            weighed[item.name] = weighed.get(item.name, 0) + draw.quantity
    melt: dict[str, int] = {}
    units: dict[str, int] = {}
    fill = batch.version.fill_ug
    outcomes = list(batch.outcomes.standing())
    emptied = {outcome.emptied_id for outcome in outcomes}
    for outcome in outcomes:
        word = outcome.get_result_display()
        by_weight = fill is None or outcome.result == Outcome.Result.MELT
        # The melt of units to remelt is a line of its own.
        if outcome.pk not in emptied:
            melt[word] = melt.get(word, 0) + outcome.quantity * (1 if by_weight else fill or 0)
        if not by_weight:
            units[word] = units.get(word, 0) + outcome.quantity
    loss = batch.version.loss_ppm
    return BatchBalance(
        melt=mass_balance.of_melt(weighed, melt, loss_ppm=loss, at_most_ppm=at_most_ppm, over=over),
        fitted=tuple(
            (
                items[pk],
                mass_balance.of_fitted(drawn, units, each, at_most_ppm=at_most_ppm, over=over),
            )
            for pk, (drawn, each) in fitted.items()
        ),
        expected_ppm=loss,
    )
