"""From the page of a product or a formula to what it costs and what is charged for it, for people who may see costs."""

from collections.abc import Iterable

from batches.models import Formula
from inventory.models import Item, Kind
from studio.web.panels import Panel
from studio.web.requests import StudioRequest


def links_of_item(request: StudioRequest, item: Item) -> Panel | None:
    """Cost sheet and prices of what is made here; nothing for other items or people who do not see costs."""
    if not request.user.sees_costs or not (item.made_here or item.kind == Kind.FINISHED):
        return None
    return _links(item, item.formulas.filter(retired=False))


def links_of_formula(request: StudioRequest, formula: Formula) -> Panel | None:
    """The same for one formula."""
    return _links(formula.item, [formula]) if request.user.sees_costs else None


def link_of_stock(request: StudioRequest, subject: object) -> Panel | None:
    """From the list of stock to what it is worth on any day."""
    return Panel("costing/_stock_link.html", {}) if request.user.sees_costs else None


def _links(item: Item, formulas: Iterable[Formula]) -> Panel | None:
    told = list(formulas)
    if not told:
        return None
    priced = item.kind == Kind.FINISHED and not item.retired and any(not each.retired for each in told)
    context = {"formulas": told, "item": item, "sold": priced}
    return Panel("costing/_product_links.html", context)
