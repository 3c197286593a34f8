"""What is in the melt that a plan takes: of the lots it took already, those chosen, and those suggested for the rest."""

from collections.abc import Iterable

from batches.lineage.composition import Composition, of_lines, on_shelf
from batches.models import Draw
from batches.planning.planning import Plan


def inside_of(plan: Plan, draws: Iterable[Draw] = ()) -> dict[int, Composition]:
    """What is in each weighed line, by line, in the proportions of its lots. A few queries, however many lots.

    Of a line for which there is no lot at all it is what the shelf would give: nothing, so it is not known. Expects each
    draw with its line, and its movement with the lot and its item.
    """
    rows = [(draw.line, draw.movement.lot, draw.quantity) for draw in draws if draw.line.in_melt]
    for need in plan.weighed:
        rows += [(need.line, pick.lot, pick.quantity) for pick in need.picks]
    there = {line.pk for line, _, quantity in rows if quantity > 0}
    without = on_shelf(need.line for need in plan.weighed if need.line.pk not in there)
    return without | of_lines(rows)
