"""Items and suppliers: what is kept, how much of it is there, and who sells it."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from inventory.documents import queries
from inventory.item_pages import history
from inventory.items import ledger_lines, levels
from inventory.items.forms import ItemForm
from inventory.items.prices import by_document, price_points
from inventory.items.stock import items_with_stock
from inventory.ledger.reservations import promised_words, promises_of
from inventory.models import CountLine, Item, Kind, Lot, Movement
from inventory.purchasing import ordering
from inventory.purchasing.offer_rows import standing_offers
from inventory.replenishment import at_a_glance
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import panels, tables
from studio.web.filters import Choice, Filters, Search
from studio.web.requests import StudioRequest, answer, page_of, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

LEDGER_LINES, LOTS_AT_MOST = 10, 20
PRICES_SHOWN = 12
# The name of the button that saves an item and offers an empty form for the next.
ADD_ANOTHER = "another"

ITEMS = Table(
    "items",
    "Items",
    [
        Column("Item", "name", sort=("name",)),
        Column("Kind", "kind_words"),
        Column("Unit", "unit"),
        Column("On hand", "on_hand", Format.QUANTITY, item=tables.itself),
        Column("Free to use", "usable", Format.QUANTITY, item=tables.itself),
        Column("Promised", "committed", Format.QUANTITY, item=tables.itself),
        Column("On order", "on_order", Format.QUANTITY, item=tables.itself),
        Column("Lasts", format=Format.NUMBER),
        Column("Usual place", "place", sort=("place", "name")),
        Column("Value", "value", Format.MONEY, may="sees_costs", sort=("value",)),
        Column("State"),
    ],
    page=("item", "on_hand", "free_to_use", "promised", "on_order", "lasts", "value", "state"),
)


@allow(see=EVERYONE)
def item_list(request: StudioRequest) -> HttpResponse:
    """Every item with what is on hand, what may be used and what is promised."""
    day = today()
    items = queries.with_sheet(items_with_stock(day), day)
    filters = Filters(
        request, Choice("kind", "Kind", {"": "All kinds", **dict(Kind.choices)}), Search("Name has")
    )
    if kind := filters["kind"]:
        items = items.filter(kind=kind)
    if text := filters["q"]:
        items = items.filter(name__icontains=text)
    if request.GET.get("retired") != "yes":
        items = items.filter(retired=False)
    items = ITEMS.sorted(request, items)
    if tables.wanted(request):
        return ITEMS.file(request, items.iterator())
    page = page_of(request, items)
    coming = ordering.expected_lines([item.pk for item in page])
    glances = at_a_glance.of([item.pk for item in page], day)
    promises = promises_of([item.pk for item in page])
    for item in page:
        item.promised_words = promised_words(promises[item.pk])
        item.coming = coming[item.pk]
        item.glance = glances.get(item.pk)
    context = {
        "page": page,
        "table": ITEMS.shown(request, list(page)),
        "filters": filters,
        "any": Item.objects.exists(),
        "panels": panels.shown("items", request, None),
    }
    return answer(request, "inventory/item_list.html", context)


@allow(see=EVERYONE)
def item_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One item: its lots, what it is promised to, its level and prices, its papers, and what happened to it lately."""
    day = today()
    item: Any = get_object_or_404(queries.with_sheet(items_with_stock(day), day), pk=pk)
    on_shelf = Lot.objects.filter(item=item).on_shelf().first_to_expire().select_related("supplier")
    lots = list(on_shelf[: LOTS_AT_MOST + 1])
    latest = ledger_lines.latest_first(Movement.objects.filter(lot__item=item))[:LEDGER_LINES]
    context = {
        "item": item,
        "free": item.usable - item.committed,
        "lots": [(lot, lot.state(day)) for lot in lots[:LOTS_AT_MOST]],
        "more_lots": len(lots) > LOTS_AT_MOST,
        "promises": promises_of([item.pk])[item.pk],
        "last_look": CountLine.objects.filter(lot__item=item).last_look(),
        "coming": ordering.expected_lines([item.pk])[item.pk],
        "glance": at_a_glance.of([item.pk], day).get(item.pk),
        "offers": standing_offers(day, item=item) if request.user.sees_costs else [],
        "books": ledger_lines.BOOKS.shown(request, ledger_lines.back_from(item.on_hand, latest)),
        "papers": queries.beside(item.documents.all(), day),
        "sources": queries.sources(item, day),
        "sheet_why": queries.why_missing(item) if item.sheet_missing else "",
        "day": day,
        "panels": panels.shown("item", request, item),
        **_plots(request, item, day),
    }
    return answer(request, "inventory/item_detail.html", context)


def _plots(request: StudioRequest, item: Any, day: date) -> dict[str, Any]:
    """The level over the days asked for and, for those who see costs, what was paid and quoted meanwhile."""
    span = request.GET.get("span", "")
    span = span if span in history.SPANS else "90"
    first = history.first_of(span, item, day)
    past = levels.history(item, item.on_hand, first=first, last=day)
    points = price_points(item) if request.user.sees_costs else []
    return {
        "level": history.level_plot(item, past) if past.opening or past.days else None,
        "price_rows": by_document(points)[-PRICES_SHOWN:][::-1],
        "prices": history.price_plot(item, points, request.studio.currency, first=first, last=day),
        "spans": {key: words for key, (_, words) in history.SPANS.items()},
        "span": span,
    }


@allow(see=MAKERS, do=MAKERS)
def item_add(request: StudioRequest) -> HttpResponse:
    """A new item."""
    form = ItemForm(request.POST or None, studio=request.studio, by=request.user)
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            added: Item = form.save()
            messages.success(request, f"{added} is added.")
            return added.get_absolute_url()

        url = once(request, act)
        return redirect("inventory:item-add" if ADD_ANOTHER in request.POST else url)
    context = {"form": form, "heading": "Add an item", "button": "Add the item", "another": ADD_ANOTHER}
    return answer(request, "inventory/item_form.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def item_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Change what is known of an item."""
    item = get_object_or_404(Item, pk=pk)
    form = ItemForm(request.POST or None, instance=item, studio=request.studio, by=request.user)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{item} is saved.")
        return redirect(item)
    context = {"form": form, "heading": Item.objects.get(pk=pk).name, "button": "Save", "item": item}
    return answer(request, "inventory/item_form.html", context, refused=form.is_bound)
