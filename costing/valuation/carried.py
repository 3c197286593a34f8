"""Labour, overhead and abnormal loss in goods: what each batch added, and how much of it is still here.

Figures as they stood at one instant go in, and what is on the shelf and in the pots comes out. What goes along with what
leaves a lot, into other batches, containers and back from customers, is `costing.actual.passing`. Abnormal loss is taken
out of goods as its batch ends (IAS 2, read in summaries: abnormal waste is no cost of inventory). Plain arithmetic in
millionths; nothing here reads the database or the clock.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from costing.actual.passing import BatchNode, Flow, LotNode, flow
from costing.model.job_cost import split_spoilage
from studio.core.money import allocate, share
from studio.core.percent import WHOLE


@dataclass(frozen=True)
class Added:
    """Millionths beyond what the books carry: labour of those employed, the owner's, overhead, and material that is
    taken out of goods as abnormal loss (below zero)."""

    labour: int = 0
    owner: int = 0
    overhead: int = 0
    material: int = 0

    def __add__(self, other: "Added") -> "Added":
        return Added(*(a + b for a, b in zip(self.parts, other.parts, strict=True)))

    def __sub__(self, other: "Added") -> "Added":
        return Added(*(a - b for a, b in zip(self.parts, other.parts, strict=True)))

    @property
    def parts(self) -> tuple[int, int, int, int]:
        """The four sums."""
        return self.labour, self.owner, self.overhead, self.material

    def part(self, part: int, whole: int) -> "Added":
        """The share that `part` of `whole` carries, each rounded half to even."""
        if whole <= 0 or not part:
            return NOTHING
        return Added(*(share(sum_, part, whole) if sum_ else 0 for sum_ in self.parts))

    def split(self, weights: Sequence[int]) -> "list[Added]":
        """All of it, by weights, to the last millionth."""
        if not any(weights):
            return [NOTHING] * len(weights)
        return [
            Added(*parts) for parts in zip(*(allocate(sum_, weights) for sum_ in self.parts), strict=True)
        ]


NOTHING = Added()


# What was taken from a lot: ("drawn", batch, lot), ("poured", posting, lot), or ("back", the lot it is now, lot).
Taking = tuple[str, int, int]


@dataclass
class CarryingLot(LotNode[Taking]):
    """A lot that may carry, and what it holds, in base units."""

    on_hand: int = 0


@dataclass
class CarryingBatch:
    """A batch at the instant: its own work and overhead, the material the books took into it, and what it drew and made.

    `made` are the units of each lot that carries; `good`, `lost` and `planned` units of the product. `material` has what
    recovered melt took along left out.
    """

    own: Added
    material: int = 0
    over: bool = False
    good: int = 0
    lost: int = 0
    planned: int = 0
    drew: list[Taking] = field(default_factory=list)
    made: dict[int, int] = field(default_factory=dict)

    @property
    def to_come(self) -> int:
        """Units that are still expected of it."""
        return 0 if self.over else max(self.planned - sum(self.made.values()), 0)


@dataclass(frozen=True)
class Carried:
    """What lies in lots on the shelf, by lot; in batches that are not over; and what was abnormal loss until then.

    `abnormal.material` is above zero; the other parts of it left goods with it. `added` is all that was ever added.
    """

    lots: dict[int, Added]
    batches: dict[int, Added]
    abnormal: Added
    added: Added


def carried(
    batches: Mapping[int, CarryingBatch], lots: Mapping[int, CarryingLot], normal_loss_ppm: int
) -> Carried:
    """Work out what is carried where. Batches and lots are named by their keys."""
    nodes = {
        key: BatchNode(batch.own, batch.drew, list(batch.made.items()), batch.to_come)
        for key, batch in batches.items()
    }
    told = flow(nodes, lots, NOTHING, lambda key, held: _abnormal(batches[key], held, normal_loss_ppm))
    in_pots = {key: _left_in_pot(batch, told, key) for key, batch in batches.items() if not batch.over}
    abnormal = sum(told.lost.values(), NOTHING)
    on_shelf = {
        key: told.lots[key].part(lot.on_hand, lot.took_in) for key, lot in lots.items() if lot.on_hand > 0
    }
    return Carried(
        {key: added for key, added in on_shelf.items() if added != NOTHING},
        {key: added for key, added in in_pots.items() if added != NOTHING},
        abnormal,
        sum((batch.own for batch in batches.values()), NOTHING),
    )


def _abnormal(batch: CarryingBatch, held: Added, normal_loss_ppm: int) -> Added:
    """What a batch that is over lost beyond the normal share of all that was made, of each part and of the material."""
    if not batch.over:
        return NOTHING
    whole = Added(held.labour, held.owner, held.overhead, held.material + batch.material)
    if not sum(batch.made.values()):
        return whole
    if not batch.lost:
        return NOTHING
    # Counted in millionths of a unit: the normal share of a small batch is no whole number of units.
    counts = batch.good * WHOLE, batch.lost * WHOLE, batch.good * normal_loss_ppm
    return Added(*(split_spoilage(part, *counts).abnormal for part in whole.parts))


def _left_in_pot(batch: CarryingBatch, told: Flow[Added, Taking], key: int) -> Added:
    """What a batch that goes on holds beyond what its parts took along."""
    return told.batches[key] - sum((told.lots.get(lot, NOTHING) for lot in batch.made), NOTHING)
