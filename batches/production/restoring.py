"""What brings a pot back whose load is above a maximum, while it can still be brought back: wax, if the pot takes it."""

from fractions import Fraction

from batches.formulas.overshoot import overshoot
from batches.production.off_formula import BatchFacts
from batches.production.pots import Pot
from inventory.models import Kind, LoadBasis


def wax_words(made: BatchFacts, pot: Pot) -> str:
    """How much wax brings a pot's load back and what melt that makes, or that the pot does not take it, in a sentence.

    "" where the load is above no maximum.
    """
    if pot.load is None or not pot.load.above:
        return ""
    version, item = made.version, next(line.item for line in made.lines if line.in_melt)
    wax, melt = int(pot.load.wax), int(pot.load.melt)
    needed = 0
    for load in pot.load.above:
        own = int(load.of_wax * wax)
        of_melt = load.item.maximum_load_basis == LoadBasis.OF_MELT
        found = overshoot(
            own,
            wax,
            _planned(made, load.item.pk, load.item.kind) or load.maximum or Fraction(1),
            version.fill_ug,
            version.loss_ppm,
            None if of_melt else load.maximum,
            maximum_of_melt=load.maximum if of_melt else None,
            other_ug=melt - wax - own,
            pot_ug=version.pot_ug,
        )
        needed = max(needed, found.wax_to_add_ug)
    steps = -(-needed // version.division_ug) * version.division_ug
    whole = item.quantity(melt + steps)
    if version.pot_ug is not None and melt + steps > version.pot_ug:
        return (
            f"{item.quantity(steps)} of wax would bring it back, and the melt would then be {whole}. "
            f"The pot takes {item.quantity(version.pot_ug)}: divide the melt into two pots first."
        )
    return f"Add {item.quantity(steps)} of wax to bring it back; the melt is then {whole}."


def _planned(made: BatchFacts, item_id: int, kind: str) -> Fraction | None:
    """The load of wax that the formula plans: of all fragrance for a wax, else of the item itself."""
    if kind == Kind.WAX:
        return made.sheet.load_of_wax
    own = sum(
        (t.exact for t in made.sheet.targets if t.line.is_weighed and t.line.item_id == item_id), Fraction(0)
    )
    return own / made.sheet.wax if own and made.sheet.wax else None
