"""Customers: the list, one of them with all that went there, put right, erased; and how long they are kept."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Count, OuterRef, Prefetch, Q, Subquery
from django.db.models.functions import Coalesce
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from inventory.customers import customers, retention
from inventory.customers.customers import CustomerGone, StillOpen
from inventory.customers.forms import CustomerForm, RetentionForm
from inventory.customers.tables import DISPATCHES, WITHOUT_CUSTOMER
from inventory.models import Customer, CustomerOrder, Dispatch, Movement
from studio.people.access import MAKERS, OWNER, allow
from studio.web import panels, tables
from studio.web.filters import Choice, Filters, Search
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

SHOWN = {
    "": "Everybody on record",
    "people": "Private persons",
    "shops": "Shops, markets, venues",
    "erased": "Erased",
}
DISPATCHES_SHOWN = 50
DUE_SHOWN = 200


def _of_customer(model: Any) -> Coalesce:
    """How many rows of a kind each customer has."""
    rows = model.objects.filter(customer=OuterRef("pk")).order_by().values("customer")
    return Coalesce(Subquery(rows.annotate(many=Count("pk")).values("many")), 0)


@allow(see=MAKERS)
def customer_list(request: StudioRequest) -> HttpResponse:
    """Who is on record, by name, with the last of their business."""
    filters = Filters(request, Choice("show", "Show", SHOWN), Search("Name or contact has"))
    show = filters["show"]
    rows = retention.with_last(Customer.objects.all()).annotate(
        sent=_of_customer(Dispatch), ordered=_of_customer(CustomerOrder)
    )
    rows = rows.filter(erased_at__isnull=show != "erased")
    if show in {"people", "shops"}:
        rows = rows.filter(is_person=show == "people")
    if text := filters["q"]:
        rows = rows.filter(Q(name__icontains=text) | Q(contact__icontains=text) | Q(reach__icontains=text))
    rows = CUSTOMERS.sorted(request, rows)
    if tables.wanted(request):
        return CUSTOMERS.file(request, rows)
    page = page_of(request, rows)
    context = {
        "page": page,
        "table": CUSTOMERS.shown(request, list(page)),
        "filters": filters,
        "rule": retention.rule(),
    }
    return answer(request, "inventory/customer_list.html", context)


CUSTOMERS = Table(
    "customers",
    "Customers",
    [
        Column("No.", "pk"),
        Column("Name", "known_name", title="Customer", css="words"),
        Column("Private person", "is_person", Format.YES),
        Column("Whom to ask for", "contact"),
        Column("How to reach them", "reach", css="words"),
        Column("Dispatches", "sent", Format.NUMBER, sort=("sent",)),
        Column("Orders", "ordered", Format.NUMBER, sort=("ordered",)),
        Column("Last business", "last_at", Format.DAY, sort=("last_at",)),
        Column("Erased", "erased_at", Format.TIME),
    ],
    page=("name", "how_to_reach_them", "dispatches", "orders", "last_business"),
)


@allow(see=MAKERS)
def customer_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One customer: how to reach them, what went there and by which lots, and what they ordered."""
    customer = get_object_or_404(Customer.objects.select_related("erased_by"), pk=pk)
    lines = Movement.objects.filter(kind=Movement.Kind.DISPATCHED).select_related("lot__item").order_by("pk")
    sent = Dispatch.objects.filter(customer=customer).with_heads()
    sent = sent.prefetch_related(Prefetch("posting__movements", lines, to_attr="sent_lines"))
    page = page_of(request, sent.order_by("-posting__happened_at", "-pk"), DISPATCHES_SHOWN)
    context = {
        "customer": customer,
        "page": page,
        "table": replace(DISPATCHES, page=WITHOUT_CUSTOMER).shown(request, list(page)),
        "orders": customer.orders.order_by("-wanted_on", "-pk")[:DISPATCHES_SHOWN],
        "panels": panels.shown("customer", request, customer),
    }
    return answer(request, "inventory/customer_detail.html", context)


@allow(see=MAKERS, do=MAKERS)
def customer_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Put right what is written of a customer."""
    customer = get_object_or_404(Customer, pk=pk)
    if customer.erased_at and request.method != "POST":
        messages.warning(request, "This customer was erased. Nothing personal is written here any more.")
        return redirect(customer)
    form = CustomerForm(request.POST or None, customer=customer)
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            is_person = form.cleaned_data["is_person"]
            return customers.write_customer(pk, form.who(), is_person=is_person).get_absolute_url()

        try:
            return redirect(once(request, act))
        except CustomerGone as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    context = {"form": form, "customer": customer}
    return answer(request, "inventory/customer_form.html", context, refused=form.is_bound)


@allow(see=OWNER, do=OWNER)
def customer_erase(request: StudioRequest, pk: int) -> HttpResponse:
    """Erase one customer at their request; says first what goes and what stays."""
    customer = get_object_or_404(Customer, pk=pk)
    if customer.erased_at and request.method != "POST":
        messages.warning(request, f"{customer} was erased before.")
        return redirect(customer)
    form = Form(request.POST or None)
    if request.method == "POST":
        form.is_valid()

        def act() -> str:
            erased = customers.erase(pk, signature=sign(request))
            messages.success(request, f"Erased. What went there stays on record as {erased}.")
            return erased.get_absolute_url()

        try:
            return redirect(once(request, act))
        except StillOpen as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    context = {
        "customer": customer,
        "form": form,
        "sent": customer.dispatches.count(),
        "ordered": customer.orders.count(),
    }
    return answer(request, "inventory/customer_erase.html", context, refused=request.method == "POST")


@allow(see=OWNER, do=OWNER)
def customer_retention(request: StudioRequest) -> HttpResponse:
    """How long customers are kept, who would be erased today, and the press that does it."""
    rule = retention.rule()
    form = RetentionForm(initial={"months": rule.months})
    if request.method == "POST":
        if "erase" in request.POST:
            return redirect(once(request, lambda: _erase_due(request)))
        form = RetentionForm(request.POST)
        if form.is_valid():
            return redirect(once(request, lambda: _set_rule(request, form.cleaned_data["months"])))
    found = retention.due(rule.months, today())
    context = {
        "rule": rule,
        "form": form,
        "due": found[:DUE_SHOWN],
        "many": len(found),
        "more": max(len(found) - DUE_SHOWN, 0),
    }
    return answer(request, "inventory/customer_retention.html", context, refused=form.is_bound)


def _set_rule(request: StudioRequest, months: int | None) -> str:
    retention.set_rule(months, signature=sign(request))
    messages.success(request, "Set. Nobody was erased yet; see below who would be.")
    return reverse("inventory:customer-retention")


def _erase_due(request: StudioRequest) -> str:
    many = retention.erase_due(today(), signature=sign(request))
    messages.success(request, f"Erased: {many}." if many else "Nobody's time is over.")
    return reverse("inventory:customer-retention")
