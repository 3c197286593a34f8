"""From a cost sheet to what one good unit costs, as the arithmetic of prices wants it."""

from fractions import Fraction

from costing.model.unit_cost import UnitCost
from costing.standard.cost_sheet import CostSheet


def unit_cost(sheet: CostSheet) -> UnitCost:
    """A cost sheet over its good units: what is lost is carried by what is sold."""
    good = sheet.good
    if not good:
        return UnitCost(Fraction(0))
    return UnitCost(
        material=sheet.material / good,
        labour=sheet.before_loss["labour"] / good,
        overhead=sheet.before_loss["overhead"] / good,
        minutes=sheet.minutes / good,
        melt_ug=sheet.plan.melt_ug / good,
    )
