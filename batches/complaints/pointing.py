"""Which of a candle's lots a complaint points to first, by what it is about. Plain Python.

Common practice, no source: a vessel cracks by its glass or by a wick too hot for it; smoke and soot come of the wick and of
what it draws; how it burns likewise; scent is the fragrance's, then the wax's that holds it; the look is the wax's and the
dye's. It says where to begin, not what it was.
"""

MELT = ("wax", "fragrance", "dye", "additive")
POINTS_TO: dict[str, tuple[str, ...]] = {
    "glass": ("vessel", "wick", *MELT),
    "smoke": ("wick", *MELT),
    "burn": ("wick", *MELT, "vessel"),
    "scent": ("fragrance", "wax", "additive", "dye", "wick"),
    "look": ("wax", "dye", "fragrance", "additive", "vessel"),
    "injury": ("vessel", "wick", *MELT),
}
WHY = {
    "glass": "Cracked or broken vessel: the vessel’s lot first, then the wick’s, which may have burned too hot for it.",
    "smoke": "Smoke or soot: the wick’s lot first, then those of the melt.",
    "burn": "How it burns: the wick’s lot first, then those of the melt.",
    "scent": "Scent: the fragrance’s lot first, then the wax’s.",
    "look": "Look: the wax’s lot first, then the dye’s and the fragrance’s.",
    "injury": "Somebody was hurt: the vessel’s lot first, then the wick’s and those of the melt.",
}


def place(complaint_kind: str, item_kind: str) -> int:
    """Where lots of such an item stand in the order, the first 0; what the complaint does not point to comes last."""
    order = POINTS_TO.get(complaint_kind, ())
    return order.index(item_kind) if item_kind in order else len(order)
