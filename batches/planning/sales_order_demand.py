"""What customers' orders will take of materials although no run is planned for them yet, told to the buying pages.

Of what is still to be poured for an order, open runs that were planned for the shelf are taken off first, the orders that
are wanted first going first; so a run never counts beside the order it is for. Each order wants its materials on the day
its candles have to be poured to be cured in time. What a blend is made of is wanted when a run of the blend is planned.
"""

from collections.abc import Iterable
from datetime import date, timedelta

from django.db.models import F, Q, Sum

from batches.formulas.sheet import batch_sheet
from batches.models import Batch, Outcome
from batches.planning.starting import versions_for
from batches.recipe import RecipeError
from inventory.sales_orders.order_standing import standings


def materials_of_orders(on: date) -> Iterable[tuple[int, date, int]]:
    """Item, the day it is needed, and how much in base units; a fixed number of queries."""
    lines = [line for found in standings(on).values() for line in found if line.to_pour]
    lines.sort(key=lambda line: (line.line.order.wanted_on, line.line.pk))
    items = {line.line.item_id for line in lines}
    for_the_shelf, versions = _for_the_shelf(items), versions_for(items)
    for line in lines:
        item_id = line.line.item_id
        covered = min(for_the_shelf.get(item_id, 0), line.to_pour)
        if covered:
            for_the_shelf[item_id] -= covered
        version = versions.get(item_id)
        if version is None or covered == line.to_pour:
            continue
        try:
            sheet = batch_sheet(version.recipe(), line.to_pour - covered)
        except RecipeError:
            continue  # a formula that cannot be poured says so where it is planned
        needed_on = line.line.order.wanted_on - timedelta(days=version.cure_days)
        for target in sheet.targets:
            yield target.line.item_id, needed_on, target.total


def _for_the_shelf(items: set[int]) -> dict[int, int]:
    """What open runs that are planned for no order will still bring, by item."""
    stands = Q(outcomes__posting__reversal__isnull=True) & ~Q(outcomes__result=Outcome.Result.MELT)
    runs = Batch.objects.unfinished().filter(order_line=None, version__formula__item__in=items)
    rows = runs.annotate(came=Sum("outcomes__quantity", filter=stands), makes=F("version__formula__item"))
    found: dict[int, int] = {}
    for item_id, quantity, came in rows.order_by().values_list("makes", "quantity", "came"):
        found[item_id] = found.get(item_id, 0) + max(quantity - (came or 0), 0)
    return found
