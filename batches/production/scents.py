"""Whether melt that comes back has another scent than what it would be kept with."""

from batches.lineage.composition import Composition, on_shelf_of, pot_of
from batches.models import Batch
from inventory.models import Item


def _names(portions: list[Composition]) -> str:
    """The scents of these, as words."""
    names = sorted({item.name for portion in portions for item in portion.scents})
    unknown = any(portion.unknown for portion in portions)
    return ", ".join([*names, *(["something that is not known"] if unknown else [])]) or "no fragrance"


def another_scent(batch: Batch, item: Item) -> str:
    """Where melt of a batch has other scents than the lots of an item on the shelf, or it has none and they do: which, as
    a sentence. Empty where they are the same, or there is nothing yet to compare with. A few queries."""
    pot = pot_of(batch)
    if pot is None:
        return ""
    lots = on_shelf_of(item)
    if not lots:
        return ""
    own, there = _names([pot]), _names(lots)
    if own == there and not pot.unknown:
        return ""
    return f"{item} on the shelf holds {there}; this melt holds {own}."
