"""Suppliers: who sells to the studio, what each asks and what was ordered of it."""

from django.contrib import messages
from django.db.models import Count, Max
from django.db.models.functions import Lower
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from inventory.models import Supplier
from inventory.purchasing import ordering
from inventory.purchasing.forms_suppliers import SupplierForm
from inventory.purchasing.offer_rows import standing_offers
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

ORDERS_SHOWN = 5

# What a supplier delivered, on the supplier's own page.
DELIVERIES = Table(
    "deliveries",
    "Deliveries",
    [
        Column("Arrived", "posting.happened_at", Format.DAY, link="get_absolute_url"),
        Column("Reference", "reference"),
        Column("Lines", "line_count", Format.NUMBER),
        Column("State"),
    ],
)
SUPPLIERS = Table(
    "suppliers",
    "Suppliers",
    [
        Column("Supplier", "name", link="get_absolute_url"),
        Column("Contact", "contact"),
        Column("E-mail", "email"),
        Column("Phone", "phone"),
        Column("Stated lead time in days", "lead_days", Format.NUMBER, title="Stated lead time"),
        Column("Deliveries", "delivery_count", Format.NUMBER, sort=("delivery_count",)),
        Column("Latest", "latest", Format.DAY, sort=("latest",)),
    ],
    page=("supplier", "contact", "stated_lead_time_in_days", "deliveries", "latest"),
)


@allow(see=EVERYONE)
def supplier_list(request: StudioRequest) -> HttpResponse:
    """Who sells to the studio."""
    # Grouping drops the model's own order, without which pages of a list may overlap.
    suppliers = Supplier.objects.annotate(
        delivery_count=Count("deliveries"), latest=Max("deliveries__posting__happened_at")
    ).order_by(Lower("name"), "pk")
    suppliers = SUPPLIERS.sorted(request, suppliers)
    if tables.wanted(request):
        return SUPPLIERS.file(request, suppliers)
    page = page_of(request, suppliers)
    context = {"page": page, "table": SUPPLIERS.shown(request, list(page))}
    return answer(request, "inventory/supplier_list.html", context)


@allow(see=EVERYONE)
def supplier_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One supplier: what it asks, what was ordered of it and what it delivered."""
    supplier = get_object_or_404(Supplier, pk=pk)
    deliveries = supplier.deliveries.select_related("posting__reversal")
    deliveries = deliveries.annotate(line_count=Count("lines")).order_by("-posting__happened_at", "-pk")
    page = page_of(request, deliveries)
    orders = supplier.orders.with_progress().order_by("-made_at", "-pk")[:ORDERS_SHOWN]
    day = today()
    context = {
        "supplier": supplier,
        "page": page,
        "table": DELIVERIES.shown(request, list(page)),
        "orders": [(order, ordering.standing_words(order, day)) for order in orders],
        "offers": standing_offers(day, supplier=supplier) if request.user.sees_costs else [],
    }
    return answer(request, "inventory/supplier_detail.html", context)


@allow(see=MAKERS, do=MAKERS)
def supplier_add(request: StudioRequest) -> HttpResponse:
    """A new supplier."""
    form = SupplierForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            added: Supplier = form.save()
            messages.success(request, f"{added} is added.")
            return added.get_absolute_url()

        return redirect(once(request, act))
    context = {"form": form, "heading": "Add a supplier", "button": "Add the supplier"}
    return answer(request, "inventory/supplier_form.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def supplier_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Change what is known of a supplier."""
    supplier = get_object_or_404(Supplier, pk=pk)
    form = SupplierForm(request.POST or None, instance=supplier)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{supplier} is saved.")
        return redirect(supplier)
    context = {
        "form": form,
        "heading": Supplier.objects.get(pk=pk).name,
        "button": "Save",
        "supplier": supplier,
    }
    return answer(request, "inventory/supplier_form.html", context, refused=form.is_bound)
