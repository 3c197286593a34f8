"""The heads under which a cost is told, their names, and which item falls under which."""

from collections.abc import Mapping
from fractions import Fraction
from math import lcm

from costing.model.job_cost import HEADS
from inventory.models import Item, Kind
from studio.core.money import allocate

SPOILAGE = "spoilage"
SHEET_HEADS = (*HEADS, SPOILAGE)

HEAD_OF = {
    Kind.WAX: "wax",
    Kind.FRAGRANCE: "fragrance",
    Kind.DYE: "colour_additives",
    Kind.ADDITIVE: "colour_additives",
    Kind.WICK: "wick",
    Kind.VESSEL: "vessel_lid",
    Kind.LID: "vessel_lid",
    Kind.LABEL: "label_packaging",
    Kind.PACKAGING: "label_packaging",
    Kind.FINISHED: "label_packaging",
}
HEAD_NAMES = dict(
    zip(
        SHEET_HEADS,
        (
            "Wax",
            "Fragrance",
            "Colour and additives",
            "Wick",
            "Vessel and lid",
            "Label and packaging",
            "Labour",
            "Overhead",
            "Spoilage",
        ),
        strict=True,
    )
)


def by_heads(value: int, item: Item, worth: Mapping[Item, Fraction]) -> dict[str, int]:
    """The value of a material by head, in millionths, to the last of them.

    `worth` says how the value of recovered melt is spread over the items in it (`Composition.worth`); what it leaves
    open, and a material of which it says nothing, falls under the head of the item itself.
    """
    shares: dict[str, Fraction] = {}
    for part, share in worth.items():
        head = HEAD_OF[Kind(part.kind)]
        shares[head] = shares.get(head, Fraction(0)) + share
    own = HEAD_OF[Kind(item.kind)]
    shares[own] = shares.get(own, Fraction(0)) + 1 - sum(worth.values(), Fraction(0))
    heads = sorted(head for head, share in shares.items() if share)
    whole = lcm(*(shares[head].denominator for head in heads))
    parts = allocate(value, [int(shares[head] * whole) for head in heads])
    return dict(zip(heads, parts, strict=True))
