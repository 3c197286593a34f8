"""From any lot or batch: what went into it, and where it went. Worked out level by level from the books.

Level by level, because a recursive query reads the whole table once SQLite keeps statistics, and so would grow
with the books although its answer does not. Reversed draws and yields do not count.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from django.db.models import Q

from batches.models import Batch, Draw, Outcome
from batches.querysets import DrawQuerySet, OutcomeQuerySet
from inventory.family import poured_from, poured_into
from inventory.models import Dispatch, Item, Lot, Movement, Posting


@dataclass
class Node:
    """A lot or a batch in the tree, with the quantity on the edge that led to it (base units of `item`)."""

    lot: Lot | None
    batch: Batch | None
    quantity: int | None
    item: Item | None
    children: list[Node] = field(default_factory=list)
    dispatches: list[tuple[Dispatch, int]] = field(default_factory=list)
    # What earlier records say was used, or sent out; into what and to whom they do not say. Base units.
    used_before: int = 0
    sent_before: int = 0
    again: bool = False
    decanted: bool = False
    recovered: bool = False

    @property
    def sent(self) -> int:
        """All that was sent out of the lot, in base units."""
        return sum(quantity for _, quantity in self.dispatches)


def backward(*, lots: Iterable[Lot] = (), batches: Iterable[Batch] = ()) -> list[Node]:
    """Trees of what went into these: a made lot's batch, a batch's lots, down to deliveries."""
    return _grow(_roots(lots, batches), _inputs_of_batches, _makers_of_lots)


def forward(*, lots: Iterable[Lot] = (), batches: Iterable[Batch] = ()) -> list[Node]:
    """Trees of where these went: a lot's batches, a batch's lots, out to dispatches."""
    roots = _grow(_roots(lots, batches), _outputs_of_batches, _users_of_lots)
    nodes: dict[int, list[Node]] = {}
    _walk(roots, lambda node: nodes.setdefault(node.lot.pk, []).append(node) if node.lot else None)
    _add_dispatches(nodes)
    return roots


def outline(root: Node) -> list[tuple[str, Node]]:
    """The tree as a page draws it, step by step: "open" a node, "in" to its list, "sent", "out" again, "close".

    A list rather than a page that calls itself, since material that is melted again and again makes a tree deeper
    than calls may nest.
    """
    steps: list[tuple[str, Node]] = []
    waiting = [("open", root)]
    while waiting:
        step, node = waiting.pop()
        steps.append((step, node))
        if step != "open":
            continue
        waiting.append(("close", node))
        if node.children or node.dispatches:
            waiting.append(("out", node))
            if node.dispatches:
                waiting.append(("sent", node))
            waiting += [("open", child) for child in reversed(node.children)]
            waiting.append(("in", node))
    return steps


def _roots(lots: Iterable[Lot], batches: Iterable[Batch]) -> list[Node]:
    return [Node(lot, None, None, lot.item) for lot in lots] + [
        Node(None, batch, None, batch.item) for batch in batches
    ]


Edges = dict[int, list[Node]]


def _grow(
    roots: list[Node], of_batches: Callable[[set[int]], Edges], of_lots: Callable[[set[int]], Edges]
) -> list[Node]:
    """Add children level by level. What was reached before is named again but not unfolded again."""
    seen: set[tuple[str, int]] = set()
    level = roots
    while level:
        fresh = []
        for node in level:
            key = ("lot", node.lot.pk) if node.lot else ("batch", node.batch.pk)  # type: ignore[union-attr]
            node.again = key in seen
            if not node.again:
                seen.add(key)
                fresh.append(node)
        lots = {node.lot.pk for node in fresh if node.lot}
        batches = {node.batch.pk for node in fresh if node.batch}
        from_lots = of_lots(lots) if lots else {}
        from_batches = of_batches(batches) if batches else {}
        level = []
        for node in fresh:
            children = from_lots.get(node.lot.pk, []) if node.lot else from_batches.get(node.batch.pk, [])  # type: ignore[union-attr]
            node.children = children
            level += children
    return roots


def _draws() -> DrawQuerySet:
    return Draw.objects.standing().select_related(
        "movement__lot__item",
        "movement__lot__supplier",
        "movement__lot__delivery_line__delivery",
        "batch__version__formula__item",
    )


def _inputs_of_batches(batch_ids: set[int]) -> Edges:
    found: dict[tuple[int, int], Node] = {}
    for draw in _draws().filter(batch__in=batch_ids).order_by("pk"):
        lot = draw.movement.lot
        node = found.setdefault((draw.batch_id, lot.pk), Node(lot, None, 0, lot.item))
        node.quantity = (node.quantity or 0) + draw.quantity
    return _by_owner(found)


def _users_of_lots(lot_ids: set[int]) -> Edges:
    found: dict[tuple[int, int], Node] = {}
    for draw in _draws().filter(movement__lot__in=lot_ids).order_by("pk"):
        lot = draw.movement.lot
        node = found.setdefault((lot.pk, draw.batch_id), Node(None, draw.batch, 0, lot.item))
        node.quantity = (node.quantity or 0) + draw.quantity
    edges = _by_owner(found)
    for pouring in poured_from(lot_ids):
        node = Node(pouring.child, None, pouring.quantity, pouring.child.item, decanted=True)
        edges.setdefault(pouring.parent.pk, []).append(node)
    return edges


def _outcomes() -> OutcomeQuerySet:
    return (
        Outcome.objects.standing()
        .exclude(lot=None)
        .select_related("lot__item", "batch__version__formula__item")
    )


def _makers_of_lots(lot_ids: set[int]) -> Edges:
    edges: Edges = {}
    for outcome in _outcomes().filter(lot__in=lot_ids).order_by("pk"):
        if lot := outcome.lot:
            edges.setdefault(lot.pk, []).append(_of_outcome(None, outcome))
    for pouring in poured_into(lot_ids):
        node = Node(pouring.parent, None, pouring.quantity, pouring.parent.item, decanted=True)
        edges.setdefault(pouring.child.pk, []).append(node)
    return edges


def _of_outcome(lot: Lot | None, outcome: Outcome) -> Node:
    """What came out of a batch: its lot, or without one the batch it came out of."""
    recovered = outcome.result == Outcome.Result.MELT
    return Node(lot, None if lot else outcome.batch, outcome.quantity, outcome.lot.item, recovered=recovered)  # type: ignore[union-attr]


def _outputs_of_batches(batch_ids: set[int]) -> Edges:
    edges: Edges = {}
    for outcome in _outcomes().filter(batch__in=batch_ids).order_by("pk"):
        if lot := outcome.lot:
            edges.setdefault(outcome.batch_id, []).append(_of_outcome(lot, outcome))
    return edges


def _by_owner(found: dict[tuple[int, int], Node]) -> Edges:
    edges: Edges = {}
    for (owner, _), node in found.items():
        edges.setdefault(owner, []).append(node)
    return edges


def _walk(nodes: Iterable[Node], visit: Callable[[Node], object]) -> None:
    waiting = list(nodes)
    while waiting:
        node = waiting.pop()
        visit(node)
        waiting += node.children


def _add_dispatches(nodes: dict[int, list[Node]]) -> None:
    """Hang the dispatches of every lot in the tree on its node, and what earlier records say, in one query."""
    drawn_before = Q(kind=Movement.Kind.DRAWN, posting__kind=Posting.Kind.EARLIER)
    left = (
        Movement.objects.standing()
        .filter(Q(kind=Movement.Kind.DISPATCHED) | drawn_before, lot__in=nodes)
        .select_related("posting__dispatch")
        .in_order()
    )
    for movement in left:
        for node in nodes[movement.lot_id]:
            if not node.again:
                _hang(node, movement)


def _hang(node: Node, movement: Movement) -> None:
    """Put what left a lot for somewhere outside the tree on its node."""
    if movement.posting.kind != Posting.Kind.EARLIER:
        dispatch = movement.posting.dispatch
        dispatch.posting = movement.posting
        node.dispatches.append((dispatch, -movement.quantity))
    elif movement.kind == Movement.Kind.DRAWN:
        node.used_before -= movement.quantity
    else:
        node.sent_before -= movement.quantity


@dataclass(frozen=True)
class Balance:
    """Where a lot's quantity went, in base units; `unexplained` is nothing when the books agree.

    `counted` is what counts found more, or less where it is below zero. `went` pairs a word with a quantity, only for
    what there was.
    """

    came: int
    corrected: int
    went: tuple[tuple[str, int], ...]
    on_hand: int
    counted: int = 0

    @property
    def unexplained(self) -> int:
        """What came and is not accounted for."""
        there = self.came + self.corrected + self.counted
        return there - sum(quantity for _, quantity in self.went) - self.on_hand


CAME = (Movement.Kind.RECEIVED, Movement.Kind.MADE, Movement.Kind.FOUND)
WENT = {
    Movement.Kind.DRAWN: "Drawn into batches",
    Movement.Kind.DISPATCHED: "Sent out",
    Movement.Kind.SCRAPPED: "Scrapped",
    Movement.Kind.SAMPLED: "Sampled",
    Movement.Kind.SENT_BACK: "Sent back",
}


def balance(lot: Lot) -> Balance:
    """The mass balance of one lot, from its movements. What was decanted counts by the way it went."""
    sums = dict.fromkeys(Movement.Kind.values, 0)
    poured_in = poured_out = used_before = 0
    for kind, quantity, reverses, posted, undone in lot.movements.order_by().values_list(
        "kind", "quantity", "posting__reverses", "posting__kind", "posting__reverses__kind"
    ):
        if kind == Movement.Kind.DRAWN and Posting.Kind.EARLIER in (posted, undone):
            used_before -= quantity
        elif kind == Movement.Kind.DECANTED:
            # A reversal turns the sign: it takes away from the side it undoes.
            if (quantity > 0) is (reverses is None):
                poured_in += quantity
            else:
                poured_out -= quantity
        else:
            sums[kind] += quantity
    went = [
        ("Used before these books", used_before),
        ("Decanted", poured_out),
        *((word, -sums[kind]) for kind, word in WENT.items()),
    ]
    return Balance(
        came=sum(sums[kind] for kind in CAME) + poured_in,
        corrected=sums[Movement.Kind.CORRECTED],
        went=tuple((word, quantity) for word, quantity in went if quantity),
        on_hand=lot.on_hand,
        counted=sums[Movement.Kind.COUNTED],
    )
