"""From the page of a product or a formula to what it costs and what is charged for it, for people who may see costs."""

from collections.abc import Iterable

from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from batches.models import Formula
from inventory.models import Item, Kind
from studio.web.requests import StudioRequest


def links_of_item(request: StudioRequest, item: Item) -> SafeString | str:
    """Cost sheet and prices of what is made here; nothing for other items or people who do not see costs."""
    if not request.user.sees_costs or not (item.made_here or item.kind == Kind.FINISHED):
        return ""
    return _links(request, item, item.formulas.filter(retired=False))


def links_of_formula(request: StudioRequest, formula: Formula) -> SafeString | str:
    """The same for one formula."""
    return _links(request, formula.item, [formula]) if request.user.sees_costs else ""


def link_of_stock(request: StudioRequest, subject: object) -> SafeString | str:
    """From the list of stock to what it is worth on any day."""
    return render_to_string("costing/_stock_link.html", {}, request) if request.user.sees_costs else ""


def _links(request: StudioRequest, item: Item, formulas: Iterable[Formula]) -> SafeString | str:
    told = list(formulas)
    if not told:
        return ""
    priced = item.kind == Kind.FINISHED and not item.retired and any(not each.retired for each in told)
    context = {"formulas": told, "item": item, "sold": priced}
    return render_to_string("costing/_product_links.html", context, request)
