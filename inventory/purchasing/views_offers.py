"""Suppliers' offers, and what an item cost over time."""

from fractions import Fraction
from typing import Any, NamedTuple

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models.functions import Lower
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect

from inventory.items.forms import choices_of
from inventory.items.prices import by_document, price_points
from inventory.models import Item, Offer, OfferBreak, Supplier
from inventory.purchasing.forms_offers import (
    Breaks,
    OfferForm,
    read_breaks,
    typed,
    typed_breaks,
)
from inventory.purchasing.offer_rows import OfferRow, offer_rows
from inventory.purchasing.offers import BREAKS_AT_MOST, Break, OfferError, enter_offer, withdraw
from studio.core.quantities import to_unit
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import tables
from studio.web.filters import Choice, Filters, Search, whole_number
from studio.web.line_forms import ADD_LINE, FormSet, hush, with_another_line
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

PREFIX = "lines"
BREAKS_AT_FIRST = 3
PRICES_SHOWN = 12
STATES = {"standing": "Current offers", "earlier": "Earlier and withdrawn", "all": "All offers"}


@allow(see=EVERYONE, costs=True)
def offer_list(request: StudioRequest) -> HttpResponse:
    """What suppliers ask: what may be ordered by now, or everything that was ever quoted."""
    day = today()
    suppliers = {str(supplier.pk): supplier.name for supplier in Supplier.objects.all()}
    filters = Filters(
        request,
        Choice("state", "Show", STATES, "standing"),
        Choice("supplier", "From", {"": "All suppliers", **suppliers}),
        Search("Item has"),
    )
    state = filters["state"]
    offers = Offer.objects.select_related("item", "supplier").prefetch_related("breaks")
    if state != "all":
        standing = Offer.objects.standing(day).values("pk")
        offers = offers.filter(pk__in=standing) if state == "standing" else offers.exclude(pk__in=standing)
    if supplier := filters["supplier"]:
        offers = offers.filter(supplier__pk=int(supplier))
    if text := filters["q"]:
        offers = offers.filter(item__name__icontains=text)
    offers = offers.order_by(Lower("item__name"), "pack_quantity", "-quoted_on", "-pk")
    if tables.wanted(request):
        rows = offer_rows(offers, day)
        return OFFERS.file(request, (BreakRow(row, step) for row in rows for step in row.offer.breaks.all()))
    page = page_of(request, offers)
    context = {
        "page": page,
        "rows": offer_rows(page.object_list, day),
        "filters": filters,
        "state": state,
        "any": Offer.objects.exists(),
    }
    return answer(request, "inventory/offer_list.html", context)


class BreakRow(NamedTuple):
    """An offer, and one of the prices it asks from a number of packs on."""

    row: OfferRow
    step: OfferBreak

    @property
    def offer(self) -> Offer:
        """What is asked."""
        return self.row.offer

    @property
    def per_unit(self) -> Fraction:
        """The price of one unit, in millionths."""
        return self.step.price / to_unit(self.offer.pack_quantity, self.offer.item.unit)


OFFERS = Table(
    "offers",
    "Offers",
    [
        Column("Item", "offer.item.name"),
        Column("Supplier", "offer.supplier.name"),
        Column("Article number", "offer.supplier_code"),
        Column("Pack", "offer.typed_pack"),
        Column("From packs", "step.from_packs", Format.NUMBER),
        Column("Price per pack", "step.price", Format.PRICE),
        Column("Unit", "offer.item.unit"),
        Column("Price per unit", "per_unit", Format.PRICE),
        Column("Least in packs", "offer.minimum_packs", Format.NUMBER),
        Column("Lead time in days", "offer.lead_days", Format.NUMBER),
        Column("Quoted on", "offer.quoted_on", Format.DAY),
        Column("Valid until", "offer.valid_until", Format.DAY),
        Column("State", "row.word"),
        Column("Note", "offer.note"),
    ],
)


def _offer_of(pk: int) -> Offer:
    offers = Offer.objects.select_related("item", "supplier", "by").prefetch_related("breaks")
    return get_object_or_404(offers, pk=pk)


@allow(see=EVERYONE, costs=True)
def offer_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One offer, and what the same supplier asked for the same pack at other times."""
    offer, day = _offer_of(pk), today()
    others = Offer.objects.filter(
        supplier=offer.supplier_id, item=offer.item_id, pack_quantity=offer.pack_quantity
    ).exclude(pk=offer.pk)
    rows = offer_rows(
        [offer, *others.select_related("item", "supplier").prefetch_related("breaks")[:PRICES_SHOWN]], day
    )
    return answer(
        request, "inventory/offer_detail.html", {"row": rows[0], "offer": offer, "others": rows[1:]}
    )


@allow(see=MAKERS, do=MAKERS, costs=True)
def offer_add(request: StudioRequest) -> HttpResponse:
    """Enter what a supplier quoted; starting from an earlier offer where the address names one."""
    kwargs = {"currency": request.studio.currency}
    if request.method != "POST":
        like = _like(request)
        form = OfferForm(initial=_initial(request, like))
        lines = Breaks(prefix=PREFIX, form_kwargs=kwargs, initial=typed_breaks(like) if like else [])
        lines.extra = 1 if like else BREAKS_AT_FIRST
        return _page(request, form, lines)
    adding = ADD_LINE in request.POST
    data: QueryDict = request.POST
    if adding:
        data = with_another_line(data, PREFIX, BREAKS_AT_MOST)
    form, lines = OfferForm(data), Breaks(data, prefix=PREFIX, form_kwargs=kwargs)
    if adding:
        hush(form, lines)
        return _page(request, form, lines)
    if form.is_valid() and lines.is_valid() and (breaks := read_breaks(form, lines)):
        return redirect(_enter(request, form, breaks))
    return _page(request, form, lines, refused=True)


def _number(request: StudioRequest, name: str) -> int | None:
    """A row's key named in the address, where it can be one."""
    text = request.GET.get(name, "")
    return whole_number(text)


def _like(request: StudioRequest) -> Offer | None:
    number = _number(request, "like")
    return Offer.objects.filter(pk=number).prefetch_related("breaks").first() if number else None


def _initial(request: StudioRequest, like: Offer | None) -> dict[str, Any]:
    named = {"supplier": _number(request, "supplier"), "item": _number(request, "item")}
    return {"quoted_on": today(), **(typed(like) if like else named)}


def _page(request: StudioRequest, form: OfferForm, lines: FormSet, *, refused: bool = False) -> HttpResponse:
    items = Item.objects.current().materials()
    form.fields["item"].choices = choices_of(items, "Choose an item")  # type: ignore[attr-defined]
    context = {"form": form, "lines": lines, "more": len(lines.forms) < BREAKS_AT_MOST}
    return answer(request, "inventory/offer_form.html", context, refused=refused)


def _enter(request: StudioRequest, form: OfferForm, breaks: list[Break]) -> str:
    def act() -> str:
        offer = enter_offer(**form.terms(), breaks=breaks, signature=sign(request))
        messages.success(request, f"The offer for {offer.item} is entered.")
        return offer.get_absolute_url()

    return once(request, act)


@allow(see=MAKERS, do=MAKERS, costs=True)
def offer_withdraw(request: StudioRequest, pk: int) -> HttpResponse:
    """Take an offer that was entered by mistake out of use; says first what will stand in its place."""
    offer = _offer_of(pk)
    if request.method == "POST":

        def act() -> str:
            try:
                withdraw(offer.pk)
                messages.success(request, "The offer is withdrawn. It stays on record.")
            except OfferError as error:
                messages.warning(request, str(error))
            return offer.get_absolute_url()

        return redirect(once(request, act))
    if offer.withdrawn:
        messages.warning(request, "This offer was withdrawn before.")
        return redirect(offer)
    before = Offer.objects.filter(
        supplier=offer.supplier_id, item=offer.item_id, pack_quantity=offer.pack_quantity, withdrawn=False
    ).exclude(pk=offer.pk)
    context = {"offer": offer, "before": before.order_by("-quoted_on", "-pk").first()}
    return answer(request, "inventory/offer_withdraw.html", context)


@allow(see=EVERYONE, costs=True)
def item_prices(request: StudioRequest, pk: int) -> HttpResponse:
    """Everything that was paid or quoted for an item, the latest first."""
    item = get_object_or_404(Item, pk=pk)
    points = price_points(item)
    if tables.wanted(request):
        return _prices(item).file(request, points[::-1])
    page = Paginator(by_document(points)[::-1], 50).get_page(request.GET.get("page"))
    return answer(
        request, "inventory/item_prices.html", {"item": item, "page": page, "price_rows": page.object_list}
    )


def _prices(item: Item) -> Table:
    def per_unit(value: int | None, quantity: int) -> Fraction | None:
        return None if value is None else value / to_unit(quantity, item.unit)

    return Table(
        "prices",
        "Prices",
        [
            Column("Day", "on", Format.DAY),
            Column("What", lambda point: "Paid" if point.paid else "Quoted"),
            Column("Supplier", "supplier"),
            Column("Document", "document"),
            Column("Packs", "packs", Format.NUMBER),
            Column("Pack", "pack"),
            Column("Unit", lambda point: item.unit),
            Column("Price per unit", lambda point: per_unit(point.value, point.quantity), Format.PRICE),
            Column("Landed per unit", lambda point: per_unit(point.landed, point.quantity), Format.PRICE),
        ],
    )
