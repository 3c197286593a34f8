"""Suppliers' offers, and what an item cost over time."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models.functions import Lower
from django.forms import BaseFormSet
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect

from inventory.items.forms import choices_of
from inventory.items.prices import PricePoint, by_document, price_points
from inventory.models import Item, Offer, Supplier
from inventory.purchasing.forms_offers import (
    BREAKS_AT_MOST,
    Breaks,
    OfferForm,
    read_breaks,
    typed,
    typed_breaks,
)
from inventory.purchasing.offer_rows import OfferRow, offer_rows
from inventory.purchasing.offers import Break, OfferError, enter_offer, withdraw
from studio.core.quantities import to_unit
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import tables
from studio.web.line_forms import ADD_LINE, hush, with_another_line
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once

PREFIX = "lines"
BREAKS_AT_FIRST = 3
PRICES_SHOWN = 12
STATES = {"standing": "Current offers", "earlier": "Earlier and withdrawn", "all": "All offers"}


@allow(see=EVERYONE, costs=True)
def offer_list(request: StudioRequest) -> HttpResponse:
    """What suppliers ask: what may be ordered by now, or everything that was ever quoted."""
    day = today()
    state = request.GET.get("state", "standing")
    state = state if state in STATES else "standing"
    supplier, text = (
        request.GET.get("supplier", ""),
        request.GET.get("q", "").replace("\x00", "").strip()[:100],
    )
    offers = Offer.objects.select_related("item", "supplier").prefetch_related("breaks")
    if state != "all":
        standing = Offer.objects.standing(day).values("pk")
        offers = offers.filter(pk__in=standing) if state == "standing" else offers.exclude(pk__in=standing)
    suppliers = list(Supplier.objects.all())
    if supplier in {str(each.pk) for each in suppliers}:
        offers = offers.filter(supplier__pk=int(supplier))
    if text:
        offers = offers.filter(item__name__icontains=text)
    offers = offers.order_by(Lower("item__name"), "pack_quantity", "-quoted_on", "-pk")
    if tables.wanted(request):
        return _export(request, offer_rows(offers, day))
    page = page_of(request, offers)
    context = {
        "page": page,
        "rows": offer_rows(page.object_list, day),
        "states": STATES,
        "state": state,
        "suppliers": suppliers,
        "supplier": supplier,
        "text": text,
        "any": Offer.objects.exists(),
    }
    return answer(request, "inventory/offer_list.html", context)


def _export(request: StudioRequest, rows: Sequence[OfferRow]) -> HttpResponse:
    head = [
        "Item",
        "Supplier",
        "Article number",
        "Pack",
        "From packs",
        "Price per pack",
        "Unit",
        "Price per unit",
        "Least in packs",
        "Lead time in days",
        "Quoted on",
        "Valid until",
        "State",
        "Note",
    ]

    def cells(row: OfferRow, from_packs: int, price: int) -> list[object]:
        offer = row.offer
        unit = offer.item.unit
        per_unit = Fraction(price, 10**6) / to_unit(offer.pack_quantity, unit)
        return [
            offer.item.name,
            offer.supplier.name,
            offer.supplier_code,
            offer.typed_pack,
            from_packs,
            tables.micros_cell(price),
            unit,
            tables.exact_cell(per_unit),
            offer.minimum_packs,
            offer.lead_days,
            offer.quoted_on,
            offer.valid_until,
            row.word,
            offer.note,
        ]

    lines = (cells(row, each.from_packs, each.price) for row in rows for each in row.offer.breaks.all())
    return tables.export(request, "offers", head, lines)


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
    return int(text) if text.isascii() and text.isdigit() and len(text) < 15 else None


def _like(request: StudioRequest) -> Offer | None:
    number = _number(request, "like")
    return Offer.objects.filter(pk=number).prefetch_related("breaks").first() if number else None


def _initial(request: StudioRequest, like: Offer | None) -> dict[str, Any]:
    named = {"supplier": _number(request, "supplier"), "item": _number(request, "item")}
    return {"quoted_on": today(), **(typed(like) if like else named)}


def _page(
    request: StudioRequest, form: OfferForm, lines: BaseFormSet, *, refused: bool = False
) -> HttpResponse:
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
        return _export_prices(request, item, points[::-1])
    page = Paginator(by_document(points)[::-1], 50).get_page(request.GET.get("page"))
    return answer(
        request, "inventory/item_prices.html", {"item": item, "page": page, "price_rows": page.object_list}
    )


def _export_prices(request: StudioRequest, item: Item, points: Sequence[PricePoint]) -> HttpResponse:
    head = [
        "Day",
        "What",
        "Supplier",
        "Document",
        "Packs",
        "Pack",
        "Unit",
        "Price per unit",
        "Landed per unit",
    ]

    def per_unit(value: int | None, quantity: int) -> object:
        return (
            None
            if value is None
            else tables.exact_cell(Fraction(value, 10**6) / to_unit(quantity, item.unit))
        )

    rows = (
        [
            point.on,
            "Paid" if point.paid else "Quoted",
            point.supplier,
            point.document,
            point.packs,
            point.pack,
            item.unit,
            per_unit(point.value, point.quantity),
            per_unit(point.landed, point.quantity),
        ]
        for point in points
    )
    return tables.export(request, "prices", head, rows)
