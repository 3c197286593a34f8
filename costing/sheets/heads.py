"""The heads under which a cost is told, their names, and which item falls under which."""

from costing.runs.job import HEADS
from inventory.models import Kind

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
