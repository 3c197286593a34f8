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

ORDERS_SHOWN = 5


@allow(see=EVERYONE)
def supplier_list(request: StudioRequest) -> HttpResponse:
    """Who sells to the studio."""
    # Grouping drops the model's own order, without which pages of a list may overlap.
    suppliers = Supplier.objects.annotate(
        delivery_count=Count("deliveries"), latest=Max("deliveries__posting__happened_at")
    ).order_by(Lower("name"), "pk")
    if tables.wanted(request):
        head = ["Supplier", "Contact", "E-mail", "Phone", "Stated lead time in days", "Deliveries", "Latest"]
        rows = (
            [s.name, s.contact, s.email, s.phone, s.lead_days, s.delivery_count, s.latest] for s in suppliers
        )
        return tables.export(request, "suppliers", head, rows)
    return answer(request, "inventory/supplier_list.html", {"page": page_of(request, suppliers)})


@allow(see=EVERYONE)
def supplier_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One supplier: what it asks, what was ordered of it and what it delivered."""
    supplier = get_object_or_404(Supplier, pk=pk)
    deliveries = supplier.deliveries.select_related("posting__reversal")
    deliveries = deliveries.annotate(line_count=Count("lines")).order_by("-posting__happened_at", "-pk")
    orders = supplier.orders.with_progress().order_by("-made_at", "-pk")[:ORDERS_SHOWN]
    day = today()
    context = {
        "supplier": supplier,
        "page": page_of(request, deliveries),
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
            added = form.save()
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
