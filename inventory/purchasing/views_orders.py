"""Purchase orders to look at: the list, one order with what came of it, and the printed sheet."""

from dataclasses import dataclass, field
from datetime import date
from typing import Any, NamedTuple

from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from inventory.models import DeliveryLine, Offer, Order, OrderLine, Supplier
from inventory.purchasing.ordering import Total, standing_words, total_of
from inventory.purchasing.purchase_order_pdf import order_pdf
from inventory.purchasing.purchase_order_text import lacking_words, paper_of
from studio.core.codes import normalise
from studio.core.money import round_to_cent
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.filters import Choice, Filters
from studio.web.requests import StudioRequest, answer, page_of, printed_by, shown_pdf, today
from studio.web.tables import Column, Format, Table

STATES = {
    "": "All orders",
    "open": "Drafts and sent",
    "draft": "Drafts",
    "sent": "Sent",
    "part": "Part received",
    "overdue": "Overdue",
    "closed": "Closed",
    "called_off": "Called off",
}


def order_of(code: str) -> Order:
    """The order of a code in whatever way it was typed into the address."""
    orders = Order.objects.select_related("supplier", "made_by", "sent_by", "ended_by")
    return get_object_or_404(orders.with_progress(), code=normalise(code))


# The list


@allow(see=EVERYONE)
def order_list(request: StudioRequest) -> HttpResponse:
    """Orders by where they stand, the latest first."""
    suppliers = {str(supplier.pk): supplier.name for supplier in Supplier.objects.all()}
    filters = Filters(
        request,
        Choice("state", "Show", STATES),
        Choice("supplier", "From", {"": "All suppliers", **suppliers}),
    )
    orders: Any = Order.objects.select_related("supplier", "made_by").with_progress()
    orders = _in_state(orders, filters["state"]).order_by("-made_at", "-pk")
    if supplier := filters["supplier"]:
        orders = orders.filter(supplier=supplier)
    orders = ORDERS.sorted(request, orders)
    orders = orders.prefetch_related(Prefetch("lines", OrderLine.objects.order_by("pk")))
    day = today()
    if tables.wanted(request):
        rows = (_row(order, day) for order in orders.iterator(chunk_size=500))
        return ORDERS.file(request, rows)
    page = page_of(request, orders)
    context = {
        "page": page,
        "table": ORDERS.shown(request, [_row(order, day) for order in page]),
        "filters": filters,
        "any": Order.objects.exists(),
    }
    return answer(request, "inventory/order_list.html", context)


class OrderRow(NamedTuple):
    """An order with where it stands and what it comes to."""

    order: Any
    state: tuple[str, str]
    total: Total


def _row(order: Any, day: date) -> OrderRow:
    return OrderRow(order, standing_words(order, day), total_of(order.lines.all()))


ORDERS = Table(
    "orders",
    "Orders",
    [
        Column("Order", "order.code", Format.CODE, link="order.get_absolute_url", sort=("code",)),
        Column("State", "state", Format.STATE),
        Column("Supplier", "order.supplier.name", sort=("supplier__name",)),
        Column("Made", "order.made_at", Format.TIME),
        Column("By", "order.made_by"),
        Column("Sent", "order.sent_at", Format.DAY, sort=("sent_at",)),
        Column("Expected", "order.expected_on", Format.DAY, sort=("expected_on",)),
        Column("Ended", "order.ended_at", Format.TIME),
        Column("Why", "order.ended_because"),
        Column("Lines", "order.line_count", Format.NUMBER),
        Column("Total known", "total.known", Format.MONEY, title="Total", may="sees_costs"),
        Column("Lines without price", "total.lacking", Format.NUMBER, may="sees_costs"),
    ],
    page=("order", "supplier", "state", "lines", "sent", "expected", "total_known"),
)


def _in_state(orders: Any, state: str) -> Any:
    sent = Order.State.SENT
    if state == "open":
        return orders.filter(state__in=[Order.State.DRAFT, sent])
    if state == "part":
        return orders.filter(state=sent, arrival_count__gt=0)
    if state == "overdue":
        return orders.filter(state=sent, expected_on__lt=today())
    return orders.filter(state=state) if state else orders


# One order


@dataclass
class OrderLineRow:
    """A line of an order, what came of it in base units, and by which standing deliveries."""

    line: Any
    arrivals: list[DeliveryLine] = field(default_factory=list)

    @property
    def outstanding(self) -> int:
        """What is still to come, in base units."""
        outstanding: int = self.line.outstanding
        return outstanding

    @property
    def over(self) -> int:
        """What came beyond what was ordered, in base units."""
        beyond: int = self.line.received - self.line.quantity
        return max(beyond, 0)

    @property
    def total(self) -> int | None:
        """The price of the line to the cent; None where it is not known."""
        return None if self.line.total is None else round_to_cent(self.line.total)


def _rows(order: Order) -> list[OrderLineRow]:
    lines = OrderLine.objects.filter(order=order).with_received().select_related("item", "offer")
    rows = {line.pk: OrderLineRow(line) for line in lines.order_by("pk")}
    came = DeliveryLine.objects.filter(order_line__order=order, delivery__posting__reversal__isnull=True)
    came = came.select_related("delivery__posting").order_by("delivery__posting__happened_at", "pk")
    for arrival in came:
        if arrival.order_line_id:
            rows[arrival.order_line_id].arrivals.append(arrival)
    return list(rows.values())


@allow(see=EVERYONE)
def order_detail(request: StudioRequest, code: str) -> HttpResponse:
    """One order: what was asked for, what came, what is outstanding."""
    order: Any = order_of(code)
    rows = _rows(order)
    if tables.wanted(request):
        return LINES.file(request, rows, name=f"order-{order.code}")
    total = total_of(row.line for row in rows)
    day = today()
    context = {
        "order": order,
        "state": standing_words(order, day),
        "rows": rows,
        "total": total,
        "lacking": lacking_words(total.lacking),
        "outstanding": any(row.outstanding for row in rows),
        "over": [row for row in rows if row.over],
        "late_days": (day - order.expected_on).days if order.is_sent and order.expected_on else 0,
        "may_open": order.state == Order.State.CLOSED and bool(order.ended_because),
    }
    if order.is_draft and request.user.sees_costs:
        context["old_prices"] = _old_prices(rows)
    return answer(request, "inventory/order_detail.html", context)


def _old_prices(rows: list[OrderLineRow]) -> list[OrderLineRow]:
    """The lines of a draft whose price came from an offer that may not be ordered by any more."""
    offers = {row.line.offer_id for row in rows if row.line.offer_id}
    standing = set(Offer.objects.standing(today()).filter(pk__in=offers).values_list("pk", flat=True))
    return [row for row in rows if row.line.offer_id and row.line.offer_id not in standing]


LINES = Table(
    "order",
    "Lines of an order",
    [
        Column("Order", "line.order.code"),
        Column("Article number", "line.supplier_code"),
        Column("Item", "line.item.name"),
        Column("Packs", "line.packs", Format.NUMBER),
        Column("Pack", "line.typed_pack"),
        Column("Unit", "line.item.unit"),
        Column("Ordered", "line.quantity", Format.QUANTITY, item="line.item"),
        Column("Received", "line.received", Format.QUANTITY, item="line.item"),
        Column("Outstanding", "outstanding", Format.QUANTITY, item="line.item"),
        Column("Price per pack", "line.price", Format.PRICE, may="sees_costs"),
        Column("Line", "total", Format.MONEY, may="sees_costs"),
    ],
)


@allow(see=EVERYONE)
def order_paper(request: StudioRequest, code: str) -> HttpResponse:
    """The order as a sheet for the supplier; without prices for who may not see them."""
    order = order_of(code)
    lines = list(order.lines.select_related("item"))
    paper = paper_of(
        order, lines, request.studio, priced=request.user.sees_costs, printed=printed_by(request)
    )
    return shown_pdf(order_pdf(paper), f"order-{order.code}")
