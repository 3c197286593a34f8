"""A trace as an indented list: what went into what, unfolded once, again only named. Pure; no query."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from batches.lineage.lineage import Key, Lineage
from batches.models import Batch
from batches.tracing.shares import End
from batches.tracing.trace import Edge, ShippedPart, Trace
from inventory.models import Item, Lot


@dataclass
class Node:
    """A lot or a batch in the list, and the step that led to it.

    `quantity` is base units of `item` by that step; `amount` how much of the root is in it, or of it in the root, where
    that is more than one step away.
    """

    key: Key
    lot: Lot | None
    batch: Batch | None
    how: str = ""
    quantity: int | None = None
    item: Item | None = None
    amount: Fraction | None = None
    again: bool = False
    ends: Sequence[End] = ()
    left: Sequence[ShippedPart] = ()
    children: list[Node] = field(default_factory=list)


def backward(trace: Trace) -> Node:
    """What went into the root, down to what came from outside."""
    return _grow(trace, trace.went_in, trace.up, back=True)


def forward(trace: Trace) -> Node:
    """Where the root went, out to whom it was sent."""
    root = _grow(trace, trace.went_on, trace.down, back=False)
    left: dict[int, list[ShippedPart]] = {}
    for row in trace.left:
        left.setdefault(row.lot.pk, []).append(row)
    waiting = [root]
    while waiting:
        node = waiting.pop()
        if not node.again:
            node.ends = trace.ends_of(node.key)
            node.left = left.get(node.key.pk, ()) if node.lot else ()
        waiting += node.children
    return root


def _grow(trace: Trace, edges: Sequence[Edge], found: Lineage, *, back: bool) -> Node:
    """The tree from the root on, level by level, so that a lot is unfolded where it stands highest."""
    steps: dict[Key, list[Edge]] = {}
    for edge in edges:
        steps.setdefault(edge.target if back else edge.source, []).append(edge)
    amounts = trace.inside if back else trace.shares.amounts
    root = Node(trace.root, trace.lot, trace.batch)
    seen: set[Key] = set()
    level = [root]
    while level:
        below: list[Node] = []
        for node in level:
            node.again = node.key in seen
            if node.again:
                continue
            seen.add(node.key)
            for edge in steps.get(node.key, ()):
                key = edge.source if back else edge.target
                node.children.append(_node(trace, key, edge, amounts))
            below += node.children
        level = below
    return root


def _node(trace: Trace, key: Key, edge: Edge, amounts: dict[Key, Fraction]) -> Node:
    lot = trace.lots[key.pk] if key.what == "lot" else None
    batch = trace.batches[key.pk] if key.what == "batch" else None
    return Node(key, lot, batch, edge.how, edge.quantity, edge.item, amounts.get(key))


def outline(root: Node) -> list[tuple[str, Node]]:
    """The tree as a page draws it, step by step: "open" a node, "in" to its list, "left", "out" again, "close".

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
        if node.children or node.left:
            waiting.append(("out", node))
            if node.left:
                waiting.append(("left", node))
            waiting += [("open", child) for child in reversed(node.children)]
            waiting.append(("in", node))
    return steps


def flat(root: Node) -> list[tuple[int, Node]]:
    """The tree line by line, each with how deep it stands, the root at 0."""
    lines: list[tuple[int, Node]] = []
    waiting = [(0, root)]
    while waiting:
        depth, node = waiting.pop()
        lines.append((depth, node))
        waiting += [(depth + 1, child) for child in reversed(node.children)]
    return lines
