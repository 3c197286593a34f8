"""Customers' orders to look at and to write: the list, one order with how far the shelf covers it, taken and changed."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Case, F, Q, Value, When
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect

from inventory.customers.customers import customers_like
from inventory.models import CustomerOrder, Item, Kind, OrderDispatch
from inventory.sales_orders import customer_orders
from inventory.sales_orders.customer_orders import CustomerOrderError, OrderHead
from inventory.sales_orders.designs import design_cell, products_not_approved
from inventory.sales_orders.forms import LINES_AT_MOST, CustomerOrderForm, CustomerOrderLines
from inventory.sales_orders.order_progress import progress_of
from inventory.sales_orders.order_standing import OrderLineStatus, standings
from studio.core.codes import normalise
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import panels, tables
from studio.web.filters import Choice, Filters, Search
from studio.web.forms import ReasonForm
from studio.web.line_forms import ADD_LINE, FormSet, hush, with_another_line
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

STATES = {"": "All orders", **dict(CustomerOrder.State.choices)}
PREFIX = "lines"
LINES_AT_FIRST = 3


def customer_order_of(code: str) -> CustomerOrder:
    """The order of a code in whatever way it was typed into the address."""
    return get_object_or_404(
        CustomerOrder.objects.select_related("taken_by", "closed_by", "customer", "channel"),
        code=normalise(code),
    )


@dataclass(frozen=True)
class Sums:
    """An order's lines added up, in pieces."""

    lines: list[OrderLineStatus]

    def _sum(self, name: str) -> int:
        return sum(getattr(line, name) for line in self.lines)

    @property
    def wanted(self) -> int:
        """All that is wanted."""
        return sum(line.line.quantity for line in self.lines)

    @property
    def sent(self) -> int:
        """What has left."""
        return self._sum("sent")

    @property
    def ready(self) -> int:
        """What may leave today."""
        return self._sum("ready")

    @property
    def making(self) -> int:
        """What cures, waits for release or is being made."""
        return self._sum("curing") + self._sum("making")

    @property
    def to_pour(self) -> int:
        """What nothing covers yet."""
        return self._sum("to_pour")


def state_words(order: CustomerOrder, sums: Sums, on: date) -> tuple[str, str]:
    """Tone and word for where an order stands on a day."""
    if order.state == CustomerOrder.State.SENT:
        return "good", "Sent"
    if order.state == CustomerOrder.State.CALLED_OFF:
        return "plain", "Called off"
    if order.wanted_on < on:
        return "problem", "Overdue, part sent" if sums.sent else "Overdue"
    if sums.sent:
        return "attention", "Part sent"
    return ("good", "Ready to send") if sums.ready == sums.wanted else ("plain", "Open")


# The list


class OrderRow(NamedTuple):
    """An order, its lines added up, and where it stands."""

    order: CustomerOrder
    sums: Sums
    state: tuple[str, str]

    def still(self, pieces: int) -> int | None:
        """Pieces of an open order; nothing to be told of one that is over."""
        return pieces or None if self.order.is_open else None


ORDERS = Table(
    "customers-orders",
    "Orders from customers",
    [
        Column("Order", "order.code", Format.CODE, link="order.get_absolute_url"),
        Column("Customer", css="words"),
        Column("State", "state", Format.STATE),
        Column("Wanted on", "order.wanted_on", Format.DAY),
        Column("Wanted", "sums.wanted", Format.NUMBER),
        Column("Sent", lambda row: row.sums.sent or None, Format.NUMBER),
        Column("Ready", lambda row: row.still(row.sums.ready), Format.NUMBER),
        Column("Coming", lambda row: row.still(row.sums.making), Format.NUMBER),
        Column("To be poured", lambda row: row.still(row.sums.to_pour), Format.NUMBER),
    ],
)


@allow(see=EVERYONE)
def customer_order_list(request: StudioRequest) -> HttpResponse:
    """Orders, the open ones first by the day they are wanted, then the others, the latest first."""
    filters = Filters(request, Choice("state", "Show", STATES), Search("Customer, reference or code has"))
    over = Case(When(state=CustomerOrder.State.OPEN, then=Value(0)), default=Value(1))
    orders: Any = CustomerOrder.objects.select_related("customer", "channel").annotate(over=over)
    orders = orders.order_by("over", Case(When(over=0, then=F("wanted_on"))), "-wanted_on", "-pk")
    if state := filters["state"]:
        orders = orders.filter(state=state)
    if text := filters["q"]:
        said = Q(reference__icontains=text) | Q(code__startswith=normalise(text))
        orders = orders.filter(said | customers_like(text, request.user, "customer__"))
    if tables.wanted(request):
        return LINES.file(request, _line_rows(request, list(orders.select_related("taken_by"))))
    page = page_of(request, orders)
    context = {
        "page": page,
        "table": ORDERS.shown(request, _with_sums(list(page))),
        "filters": filters,
        "any": CustomerOrder.objects.exists(),
    }
    return answer(request, "inventory/customer_order_list.html", context)


def _with_sums(orders: list[CustomerOrder]) -> list[OrderRow]:
    day = today()
    found = standings(day)
    over = progress_of([order.pk for order in orders if not order.is_open])
    rows = []
    for order in orders:
        lines = found.get(order.pk) or [
            OrderLineStatus(each.line, each.sent) for each in over.get(order.pk, [])
        ]
        sums = Sums(lines)
        rows.append(OrderRow(order, sums, state_words(order, sums, day)))
    return rows


class LineRow(NamedTuple):
    """A line of an order as files hold it; `to` is the customer as far as the visitor may know them."""

    order: CustomerOrder
    state: tuple[str, str]
    line: OrderLineStatus
    to: str
    design: str


def _line_rows(request: StudioRequest, orders: list[CustomerOrder]) -> Iterator[LineRow]:
    """A row for each line; how to reach the customer is left out."""
    rows = _with_sums(orders)
    unapproved = products_not_approved(line.item for row in rows for line in row.sums.lines)
    for order, sums, state in rows:
        to = order.customer.display_name(request.user)
        for line in sums.lines:
            yield LineRow(order, state, line, to, design_cell(line.item.pk in unapproved))


def _still_to_pour(row: LineRow) -> int:
    """What nothing covers yet; nothing of an order that is over."""
    return row.line.to_pour if row.order.is_open else 0


LINES = Table(
    "customers-orders",
    "Lines of customers' orders",
    [
        Column("Order", "order.code"),
        Column("State", "state", Format.STATE),
        Column("Customer", "to"),
        Column("Channel", "order.channel"),
        Column("Reference", "order.reference"),
        Column("Wanted on", "order.wanted_on", Format.DAY),
        Column("Taken", "order.taken_at", Format.TIME),
        Column("By", "order.taken_by"),
        Column("Product", "line.item.name"),
        Column("Design", "design"),
        Column("Wanted", "line.line.quantity", Format.QUANTITY, item="line.item"),
        Column("Sent", "line.sent", Format.QUANTITY, item="line.item"),
        Column("Ready", "line.ready", Format.QUANTITY, item="line.item"),
        Column("Curing", "line.curing", Format.QUANTITY, item="line.item"),
        Column("Being made", "line.making", Format.QUANTITY, item="line.item"),
        Column("To be poured", _still_to_pour, Format.QUANTITY, item="line.item"),
    ],
)


@allow(see=EVERYONE)
def customer_order_detail(request: StudioRequest, code: str) -> HttpResponse:
    """One order: what is wanted, what is ready, what is being made, what is still to be poured, what was sent."""
    order = customer_order_of(code)
    day = today()
    lines = standings(day, order=order)[order.pk]
    sums = Sums(lines)
    sent = OrderDispatch.objects.filter(order=order).select_related(
        "dispatch__posting__by", "dispatch__posting__reversal__by"
    )
    context = {
        "order": order,
        "lines": lines,
        "sums": sums,
        "state": state_words(order, sums, day),
        "sent": sent.order_by("dispatch__posting__happened_at", "pk"),
        "may_send": order.is_open and sums.ready > 0,
        "unapproved": products_not_approved(each.item for each in lines),
        "panels": panels.shown("customer-order", request, order),
    }
    return answer(request, "inventory/customer_order_detail.html", context)


# Writing it


@allow(see=MAKERS, do=MAKERS)
def customer_order_add(request: StudioRequest) -> HttpResponse:
    """Take an order."""

    def write(said: OrderHead, wanted: dict[int, int]) -> CustomerOrder:
        return customer_orders.take(said, wanted, signature=sign(request))

    if request.method == "POST":
        return _posted(request, None, write)
    return _page(request, CustomerOrderForm(), _lines(None), None)


@allow(see=MAKERS, do=MAKERS)
def customer_order_change(request: StudioRequest, code: str) -> HttpResponse:
    """Change an order of which nothing was sent."""
    order = customer_order_of(code)

    def write(said: OrderHead, wanted: dict[int, int]) -> CustomerOrder:
        return customer_orders.change(order.pk, said, wanted, signature=sign(request))

    if request.method == "POST":
        return _posted(request, order, write)
    if not order.is_open:
        messages.warning(request, f"Order {order.spaced_code} is over; nothing on it changes.")
        return redirect(order)
    return _page(request, CustomerOrderForm(order=order), _lines(order), order)


def _lines(order: CustomerOrder | None, data: QueryDict | None = None) -> FormSet:
    lines = order.lines.order_by("pk").values("item", "quantity") if order else []
    typed = [{"item": line["item"], "quantity": str(line["quantity"])} for line in lines]
    offered = Q(kind=Kind.FINISHED) & (Q(retired=False) | Q(pk__in=[line["item"] for line in lines]))
    items = list(Item.objects.filter(offered))
    kwargs = {"items": items, "unapproved": products_not_approved(items)}
    forms = CustomerOrderLines(data, prefix=PREFIX, form_kwargs=kwargs, initial=typed or None)
    forms.extra = 1 if typed else LINES_AT_FIRST
    return forms


def _posted(
    request: StudioRequest,
    order: CustomerOrder | None,
    write: Callable[[OrderHead, dict[int, int]], CustomerOrder],
) -> HttpResponse:
    adding = ADD_LINE in request.POST
    data: QueryDict = request.POST
    if adding:
        data = with_another_line(data, PREFIX, LINES_AT_MOST)
    form, lines = CustomerOrderForm(data, order=order), _lines(order, data)
    if adding:
        hush(form, lines)
        return _page(request, form, lines, order)
    if form.is_valid() and lines.is_valid():

        def act() -> str:
            kept = write(form.said(), lines.wanted())  # type: ignore[attr-defined]  # of our own formset
            messages.success(request, f"Order {kept.spaced_code} is {'saved' if order else 'taken'}.")
            return kept.get_absolute_url()

        try:
            return redirect(once(request, act))
        except CustomerOrderError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    return _page(request, form, lines, order, refused=True)


def _page(
    request: StudioRequest,
    form: CustomerOrderForm,
    lines: FormSet,
    order: CustomerOrder | None,
    *,
    refused: bool = False,
) -> HttpResponse:
    context = {"form": form, "lines": lines, "order": order}
    return answer(request, "inventory/customer_order_form.html", context, refused=refused)


@allow(see=MAKERS, do=MAKERS)
def customer_order_call_off(request: StudioRequest, code: str) -> HttpResponse:
    """Nothing more of it is wanted."""
    order = customer_order_of(code)
    form = ReasonForm(request.POST or None)
    if not order.is_open and request.method != "POST":
        messages.warning(request, f"Order {order.spaced_code} is {order.get_state_display().lower()}.")
        return redirect(order)
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            signature = sign(request, reason=form.cleaned_data["reason"])
            url = customer_orders.call_off(order.pk, signature=signature).get_absolute_url()
            messages.success(
                request, f"Order {order.spaced_code} is called off; nothing is promised to it now."
            )
            return url

        try:
            return redirect(once(request, act))
        except CustomerOrderError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    context = {"form": form, "order": order}
    return answer(request, "inventory/customer_order_call_off.html", context, refused=form.is_bound)
