"""Labour and overhead along lots: what a batch added lies in what it made, and goes along with what leaves it.

The one arithmetic for batches and for stock on hand. A lot carries its share of what its batch cost beyond material, or of
what it was filled from. What leaves a lot takes its share along by quantity, rounded on the running total, so that a lot
used up has passed on exactly what it carried. What is carried is an `Along` for what a batch cost, and for stock the
amounts of `costing.valuation.carried`. Plain arithmetic on figures handed in.
"""

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Generic, Protocol, Self, TypeVar

from studio.core.money import allocate

Node = tuple[str, int]


class Amount(Protocol):
    """What can go along with material."""

    def __add__(self, other: Self, /) -> Self:
        """Both together."""

    def __sub__(self, other: Self, /) -> Self:
        """What is left without the other."""

    def part(self, part: int, whole: int, /) -> Self:
        """The share that `part` of `whole` carries; nothing where there is no whole."""

    def split(self, weights: Sequence[int], /) -> list[Self]:
        """All of it, by weights, to the last unit; nothing anywhere where no weight is above zero."""


A = TypeVar("A", bound=Amount)
# How a taking from a lot is named: the key of its movement, or whatever tells it from others.
K = TypeVar("K", bound=Hashable)


@dataclass(frozen=True)
class Along:
    """What goes along with material: micros of labour and of overhead, and thousandths of a minute."""

    labour: int = 0
    overhead: int = 0
    milliminutes: int = 0

    def __add__(self, other: "Along") -> "Along":
        return Along(
            self.labour + other.labour,
            self.overhead + other.overhead,
            self.milliminutes + other.milliminutes,
        )

    def __sub__(self, other: "Along") -> "Along":
        return Along(
            self.labour - other.labour,
            self.overhead - other.overhead,
            self.milliminutes - other.milliminutes,
        )

    def part(self, part: int, whole: int) -> "Along":
        """The share that `part` of `whole` carries."""
        if whole <= 0:
            return NOTHING
        return Along(
            round(Fraction(self.labour * part, whole)),
            round(Fraction(self.overhead * part, whole)),
            round(Fraction(self.milliminutes * part, whole)),
        )

    def split(self, weights: Sequence[int]) -> "list[Along]":
        """All of it, by weights, to the last unit."""
        if not weights or not any(weights):
            return [NOTHING] * len(weights)
        return [
            Along(*parts)
            for parts in zip(
                allocate(self.labour, weights),
                allocate(self.overhead, weights),
                allocate(self.milliminutes, weights),
                strict=True,
            )
        ]


NOTHING = Along()


@dataclass
class BatchNode(Generic[A, K]):
    """A batch: what its own work and overhead came to, the takings it drew, and the lots it made with their weight."""

    own: A
    drew: list[K] = field(default_factory=list)
    made: list[tuple[int, int]] = field(default_factory=list)  # lot, weight
    # A batch that is still going on has not passed on everything: the weight that is still to come.
    to_come: int = 0


@dataclass
class LotNode(Generic[K]):
    """A lot: which batch made it, by which takings it was filled from other lots, and what was taken from it, in order.

    Of all that was filled by those takings it got `share_of_filling`, a part and the whole. Quantities in base units.
    """

    batch: int | None = None
    filled_from: list[K] = field(default_factory=list)
    share_of_filling: tuple[int, int] = (1, 1)
    took_in: int = 0
    left: list[tuple[K, int]] = field(default_factory=list)  # taking, quantity


@dataclass(frozen=True)
class Flow(Generic[A, K]):
    """What every taking took along, what every lot ever carried, and of every batch what went into it and what was lost."""

    leaving: dict[K, A] = field(default_factory=dict)
    lots: dict[int, A] = field(default_factory=dict)
    batches: dict[int, A] = field(default_factory=dict)
    lost: dict[int, A] = field(default_factory=dict)


def flow(
    batches: Mapping[int, BatchNode[A, K]],
    lots: Mapping[int, LotNode[K]],
    nothing: A,
    lost: Callable[[int, A], A] | None = None,
) -> Flow[A, K]:
    """Work out what goes along where. `lost` says what of all that went into a batch it does not pass on, if anything.

    From the source down, each batch and lot once. Where material goes round in a circle, which only a mistake in the
    books could make, the circle is cut where it is met again.
    """
    told: Flow[A, K] = Flow()
    made: dict[int, A] = {}
    for kind, key in _from_the_source(batches, lots):
        if kind == "batch":
            batch = batches[key]
            told.batches[key] = sum((told.leaving.get(taking, nothing) for taking in batch.drew), batch.own)
            told.lost[key] = lost(key, told.batches[key]) if lost else nothing
            made |= _shared_out(batch, told.batches[key] - told.lost[key], nothing)
        else:
            lot = lots[key]
            filling = sum((told.leaving.get(taking, nothing) for taking in lot.filled_from), nothing)
            told.lots[key] = made.get(key, nothing) + filling.part(*lot.share_of_filling)
            told.leaving.update(_leaving(lot, told.lots[key], nothing))
    return told


def pass_on(batches: Mapping[int, BatchNode[Along, K]], lots: Mapping[int, LotNode[K]]) -> dict[K, Along]:
    """What each taking from these lots takes along, all that went into a batch being passed on to what it made."""
    return flow(batches, lots, NOTHING).leaving


def _from_the_source(
    batches: Mapping[int, BatchNode[A, K]], lots: Mapping[int, LotNode[K]]
) -> Iterable[Node]:
    """Every lot and batch after whatever it was filled from; a stack rather than recursion, for chains of any length."""
    source = {taking: lot for lot, node in lots.items() for taking, _ in node.left}

    def before(node: Node) -> list[Node]:
        kind, key = node
        takings = batches[key].drew if kind == "batch" else lots[key].filled_from
        nodes: list[Node] = [("lot", source[taking]) for taking in takings if taking in source]
        batch = lots[key].batch if kind == "lot" else None
        return nodes if batch is None or batch not in batches else [*nodes, ("batch", batch)]

    seen: set[Node] = set()
    order: list[Node] = []
    for start in [*(("lot", key) for key in lots), *(("batch", key) for key in batches)]:
        stack: list[tuple[Node, bool]] = [(start, False)]
        while stack:
            node, ready = stack.pop()
            if ready:
                order.append(node)
            elif node not in seen:
                seen.add(node)
                stack.append((node, True))
                stack += [(earlier, False) for earlier in before(node)]
    return order


def _shared_out(batch: BatchNode[A, K], passed_on: A, nothing: A) -> dict[int, A]:
    """What each lot of a batch carries of what it passes on, by lot."""
    carried: dict[int, A] = {}
    parts = passed_on.split([*(weight for _, weight in batch.made), batch.to_come])
    for (lot, _), part in zip(batch.made, parts, strict=False):
        carried[lot] = carried.get(lot, nothing) + part
    return carried


def _leaving(lot: LotNode[K], held: A, nothing: A) -> dict[K, A]:
    """What each taking from the lot takes along."""
    gone, so_far = 0, nothing
    leaving = {}
    for taking, quantity in lot.left:
        gone += quantity
        upto = held.part(min(gone, lot.took_in), lot.took_in)
        leaving[taking] = upto - so_far
        so_far = upto
    return leaving
