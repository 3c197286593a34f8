"""How much of a lot is in whatever descends from it, and how much of its ancestors is in a lot: worked out by share.

In a mix every part carries of each ingredient what it carries of the whole, so quantities follow by proportion, as
exact fractions; nobody weighed them. What comes out of a run:

- of a blend, and of melt recovered from any pot: its share by weight of what was weighed in;
- of candles: all the rest, the same in every unit, whether good, seconds or scrap. What stayed in the pot is not known
  apart, so a unit may carry a little less than stated;
- wicks, vessels and the like go into units alone, those among them that are to be melted again and were emptied: of
  the pot these carry nothing any more, the melt that was in them does.

Plain Python over a `Lineage` and the flows of its lots; no query, no clock. Quantities are base units of the lot the
share is of.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from batches.lineage.lineage import Flow, Key, Lineage, OutputStep

NOTHING = Fraction(0)
REMELT = ("rework", "emptied")
Row = TypeVar("Row")


class Place(StrEnum):
    """Where material is by now, in words."""

    SHELF = "On the shelf"
    PROGRESS = "In progress"
    SENT = "Sent out"
    SCRAPPED = "Scrapped"
    SAMPLED = "Sampled"
    SENT_BACK = "Back to the supplier"
    COUNTED = "Counted off"
    REWORK = "To be melted again"
    LOST = "Lost in process"
    BEFORE = "Used before these books"
    SENT_BEFORE = "Sent out before these books"
    LOOSE = "Used, no run named"


# What leaves a lot without becoming another lot, by the kind of movement.
_LEAVES = {
    "dispatched": Place.SENT,
    "scrapped": Place.SCRAPPED,
    "sampled": Place.SAMPLED,
    "sent_back": Place.SENT_BACK,
    "used before": Place.BEFORE,
    "sent before": Place.SENT_BEFORE,
}
# Both ways in one: only their balance counts.
_BALANCED = ("corrected", "counted")


@dataclass(frozen=True)
class Run:
    """What is known of a batch: whether it makes something by weight, what was planned (base units of its product),
    what was weighed into its pot (µg), and whether it is over."""

    by_weight: bool
    planned: int
    pot_ug: int
    over: bool


@dataclass(frozen=True)
class End:
    """`quantity` of the lot or batch itself (base units, None of a batch) is at a place, and in it so much of the root."""

    key: Key
    place: Place
    amount: Fraction
    quantity: int | None = None


@dataclass
class Shares:
    """How much of the root went into each that carries some of it, and where all of it is by now.

    The amounts of `ends` come to all that the root ever held.
    """

    total: int
    amounts: dict[Key, Fraction] = field(default_factory=dict)
    ends: list[End] = field(default_factory=list)

    def by_place(self) -> dict[Place, Fraction]:
        """How much is at each place, in the order of places; only where there is something."""
        sums = {
            place: sum((end.amount for end in self.ends if end.place == place), NOTHING) for place in Place
        }
        return {place: amount for place, amount in sums.items() if amount}


def held(flow: Flow) -> int:
    """All that a lot ever held, in base units: what came, was put right, or was counted above the books."""
    came = sum(quantity for kind, quantity in flow.came.items() if kind not in _BALANCED)
    corrected = flow.came.get("corrected", 0) - flow.went.get("corrected", 0)
    return came + corrected + max(_counted(flow), 0)


def _counted(flow: Flow) -> int:
    return flow.came.get("counted", 0) - flow.went.get("counted", 0)


@dataclass(frozen=True)
class _Split:
    """Which part of a batch's pot, and of what was fitted to its units, one line of its yield carries."""

    came: OutputStep
    of_pot: Fraction
    of_fitted: Fraction


def _splits(came: Iterable[OutputStep], run: Run) -> list[_Split]:
    """How what went into a batch is spread over what came out of it."""
    rows = list(came)
    melt = [row for row in rows if row.result == "melt"]
    made = [row for row in rows if row.result != "melt"]
    weighed = sum(row.quantity for row in (rows if run.by_weight else melt))
    pot = max(run.pot_ug, weighed, 1)
    units = sum(row.quantity for row in made)
    whole = max(units, 1) if run.over else max(run.planned, units, 1)
    if run.by_weight:
        return [_Split(row, Fraction(row.quantity, pot), Fraction(row.quantity, pot)) for row in rows]
    rest = 1 - Fraction(sum(row.quantity for row in melt), pot)
    emptied = sum(row.quantity for row in made if row.result == "emptied")
    full = max(whole - emptied, 1)

    def of_pot(row: OutputStep) -> Fraction:
        return NOTHING if row.result == "emptied" else rest * Fraction(row.quantity, full)

    return [_Split(row, Fraction(row.quantity, pot), NOTHING) for row in melt] + [
        _Split(row, of_pot(row), Fraction(row.quantity, whole)) for row in made
    ]


def forward(root: Key, lineage: Lineage, flows: Mapping[int, Flow], runs: Mapping[int, Run]) -> Shares:
    """How much of `root` is in each of its descendants, and where it all is.

    Of a batch it is its product that is followed, in the product's base units; melt recovered from it is not.
    """
    walk = _Forward(lineage, flows, runs)
    return walk.from_root(root)


class _Forward:
    """Carries amounts from the root onward, each key after all that flows into it."""

    def __init__(self, lineage: Lineage, flows: Mapping[int, Flow], runs: Mapping[int, Run]) -> None:
        self.lineage, self.flows, self.runs = lineage, flows, runs
        self.pots: dict[int, Fraction] = {}
        self.fitted: dict[int, Fraction] = {}
        self.drawn = _grouped((row.lot, row) for row in lineage.drawn)
        self.poured = _grouped((row.parent, row) for row in lineage.poured)
        self.came = _grouped((row.batch, row) for row in lineage.came)

    def from_root(self, root: Key) -> Shares:
        """Everything reached from the root, in order."""
        flow = self.flows.get(root.pk) if root.what == "lot" else None
        found = Shares(held(flow) if flow else 0)
        found.amounts[root] = Fraction(found.total)
        reached = self.lineage.carrying(root)
        for key in self.lineage.order:
            if key == root and key.what == "batch":
                self._give_product(key, found)
            elif key in reached and key.what == "lot":
                self._leave_lot(key, found)
            elif key in reached:
                self._leave_batch(key, found)
        return found

    def _give_product(self, key: Key, found: Shares) -> None:
        """What came out of the batch that is the root, each line as a part of all its product."""
        for came in self.came.get(key.pk, ()):
            if came.result == "melt":
                continue
            found.total += came.quantity
            if came.lot is not None:
                found.amounts[Key("lot", came.lot)] = Fraction(came.quantity)
            else:
                place = Place.REWORK if came.result in REMELT else Place.SCRAPPED
                found.ends.append(End(key, place, Fraction(came.quantity), came.quantity))
        found.amounts[key] = Fraction(found.total)

    def _leave_lot(self, key: Key, found: Shares) -> None:
        flow = self.flows.get(key.pk)
        whole = held(flow) if flow else 0
        if not flow or whole <= 0:
            return
        share = found.amounts.get(key, NOTHING) / whole

        def end(place: Place, quantity: int) -> None:
            if quantity > 0:
                found.ends.append(End(key, place, share * quantity, quantity))

        end(Place.SHELF, flow.on_hand)
        end(Place.COUNTED, -_counted(flow))
        poured = self.poured.get(key.pk, ())
        # What came back is a lot of its own, and no longer with whom it was sent to.
        back = sum(pour.quantity for pour in poured if pour.returned)
        for kind, place in _LEAVES.items():
            end(place, flow.went.get(kind, 0) - (back if place == Place.SENT else 0))
        onward = -back
        for draw in self.drawn.get(key.pk, ()):
            onward += draw.quantity
            self._into_batch(key, draw.batch, draw.fitted, share * draw.quantity, found)
        for pour in poured:
            onward += pour.quantity
            child = Key("lot", pour.child)
            found.amounts[child] = found.amounts.get(child, NOTHING) + share * pour.quantity
        end(Place.LOOSE, flow.went.get("drawn", 0) + flow.went.get("decanted", 0) - onward)

    def _into_batch(self, lot: Key, batch: int, fitted: bool, amount: Fraction, found: Shares) -> None:
        key = Key("batch", batch)
        if self.lineage.rank[key] < self.lineage.rank[lot]:
            # Melt recovered from a part of a run went into the same run again.
            found.ends.append(End(key, Place.REWORK, amount))
            return
        into = self.fitted if fitted else self.pots
        into[batch] = into.get(batch, NOTHING) + amount
        found.amounts[key] = found.amounts.get(key, NOTHING) + amount

    def _leave_batch(self, key: Key, found: Shares) -> None:
        run = self.runs[key.pk]
        pot, fitted = self.pots.get(key.pk, NOTHING), self.fitted.get(key.pk, NOTHING)
        left = pot + fitted
        for split in _splits(self.came.get(key.pk, ()), run):
            amount = pot * split.of_pot + fitted * split.of_fitted
            left -= amount
            if split.came.lot is not None:
                lot = Key("lot", split.came.lot)
                found.amounts[lot] = found.amounts.get(lot, NOTHING) + amount
            elif amount:
                place = Place.REWORK if split.came.result in REMELT else Place.SCRAPPED
                found.ends.append(End(key, place, amount, split.came.quantity))
        if left:
            found.ends.append(End(key, Place.LOST if run.over else Place.PROGRESS, left))


def backward(
    root: Key, lineage: Lineage, flows: Mapping[int, Flow], runs: Mapping[int, Run]
) -> dict[Key, Fraction]:
    """How much of each ancestor lot is in `root`, a lot or a batch, in base units of the ancestor."""
    rank = lineage.rank
    drawn = _grouped((row.lot, row) for row in lineage.drawn)
    poured = _grouped((row.parent, row) for row in lineage.poured)
    came = _grouped((row.batch, row) for row in lineage.came)
    amounts: dict[Key, Fraction] = {}
    # Which part of a lot, and of a batch's pot and fittings, is in the root.
    of_lot: dict[int, Fraction] = {}
    of_pot: dict[int, Fraction] = {}
    of_fitted: dict[int, Fraction] = {}
    for key in reversed(lineage.order):
        if key.what == "batch":
            splits = _splits(came.get(key.pk, ()), runs[key.pk]) if key != root else []
            parts = [(split, of_lot.get(split.came.lot or 0, NOTHING)) for split in splits]
            whole = Fraction(key == root)
            of_pot[key.pk] = whole + sum((split.of_pot * part for split, part in parts), NOTHING)
            of_fitted[key.pk] = whole + sum((split.of_fitted * part for split, part in parts), NOTHING)
            continue
        flow = flows.get(key.pk)
        if key == root:
            amounts[key], of_lot[key.pk] = Fraction(held(flow) if flow else 0), Fraction(1)
            continue
        amount = NOTHING
        for draw in drawn.get(key.pk, ()):
            if rank[Key("batch", draw.batch)] > rank[key]:
                amount += draw.quantity * (of_fitted if draw.fitted else of_pot)[draw.batch]
        for pour in poured.get(key.pk, ()):
            amount += pour.quantity * of_lot[pour.child]
        amounts[key] = amount
        of_lot[key.pk] = amount / held(flow) if flow and held(flow) > 0 else NOTHING
    return amounts


def _grouped(pairs: Iterable[tuple[int, Row]]) -> dict[int, list[Row]]:
    groups: dict[int, list[Row]] = {}
    for owner, row in pairs:
        groups.setdefault(owner, []).append(row)
    return groups
