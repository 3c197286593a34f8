"""Labour and overhead that blends pass on to what used them, to any depth.

A blend's lots carry what its batch cost beyond material: labour, overhead and hands-on minutes, by their share of what
was made. What leaves a lot takes its share along by quantity, rounded on the running total, so that a lot used up has
passed on exactly what it carried. Decanting hands it to the new container. Plain arithmetic on figures handed in.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from studio.core.money import allocate

Node = tuple[str, int]


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
class BatchNode:
    """A batch: what its own work and overhead came to, the movements it drew, and the lots it made with their share."""

    own: Along
    drew: list[int] = field(default_factory=list)
    made: list[tuple[int, int]] = field(default_factory=list)  # lot, weight
    # A batch that is still going on has not passed on everything: the weight that is still to come.
    to_come: int = 0


@dataclass
class LotNode:
    """A lot: which batch made it, which movements it was filled from, and what left it, in order."""

    batch: int | None = None
    filled_from: list[int] = field(default_factory=list)  # movements out of parents
    share_of_filling: tuple[int, int] = (1, 1)
    took_in: int = 0
    left: list[tuple[int, int]] = field(default_factory=list)  # movement, quantity


def pass_on(batches: Mapping[int, BatchNode], lots: Mapping[int, LotNode]) -> dict[int, Along]:
    """What each movement out of these lots takes along, by movement.

    Worked out from the source down, each batch and lot once. Where material goes round in a circle, which only a
    mistake in the books could make, the circle is cut where it is met again.
    """
    source = {movement: lot for lot, node in lots.items() for movement, _ in node.left}
    carried: dict[int, Along] = {}
    for node in _from_the_source(batches, lots, source):
        if node[0] == "lot":
            lot = lots[node[1]]
            carried |= _leaving(lot, _held(lot, node[1], batches, carried))
    return carried


def _from_the_source(
    batches: Mapping[int, BatchNode], lots: Mapping[int, LotNode], source: Mapping[int, int]
) -> Iterable[Node]:
    """Every lot and batch after whatever it was filled from; a stack rather than recursion, for chains of any length."""

    def before(node: Node) -> list[Node]:
        kind, key = node
        movements = batches[key].drew if kind == "batch" else lots[key].filled_from
        found: list[Node] = [("lot", source[movement]) for movement in movements if movement in source]
        batch = lots[key].batch if kind == "lot" else None
        return found + ([("batch", batch)] if batch in batches else [])  # type: ignore[list-item]

    seen: set[Node] = set()
    order: list[Node] = []
    for start in [("lot", key) for key in lots]:
        stack: list[tuple[Node, bool]] = [(start, False)]
        while stack:
            node, ready = stack.pop()
            if ready:
                order.append(node)
            elif node not in seen:
                seen.add(node)
                stack.append((node, True))
                stack += [(each, False) for each in before(node)]
    return order


def _held(lot: LotNode, key: int, batches: Mapping[int, BatchNode], carried: Mapping[int, Along]) -> Along:
    """What a lot carries in all."""
    held = NOTHING
    if lot.batch in batches:
        batch = batches[lot.batch]  # type: ignore[index]
        whole = sum((carried.get(movement, NOTHING) for movement in batch.drew), batch.own)
        parts = whole.split([weight for _, weight in batch.made] + [batch.to_come])
        held += sum(
            (part for (made, _), part in zip(batch.made, parts, strict=False) if made == key), NOTHING
        )
    filling = sum((carried.get(movement, NOTHING) for movement in lot.filled_from), NOTHING)
    return held + filling.part(*lot.share_of_filling)


def _leaving(lot: LotNode, held: Along) -> dict[int, Along]:
    """What each movement out of the lot takes along."""
    gone, so_far = 0, NOTHING
    leaving = {}
    for movement, quantity in lot.left:
        gone += quantity
        upto = held.part(min(gone, lot.took_in), lot.took_in)
        leaving[movement] = upto - so_far
        so_far = upto
    return leaving
