"""Purchase orders to look at: the list, one order with what came of it, and the printed sheet."""

from dataclasses import dataclass, field
from typing import Any

from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from inventory.models import DeliveryLine, Offer, Order, OrderLine, Supplier
from inventory.purchasing.ordering import standing_words, total_of
from inventory.purchasing.purchase_order_pdf import order_pdf
from inventory.purchasing.purchase_order_text import lacking_words, paper_of
from studio.core.codes import normalise
from studio.core.money import round_to_cent
from studio.core.quantities import to_unit
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, printed_by, shown_pdf, today

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
    state, supplier = request.GET.get("state", ""), request.GET.get("supplier", "")
    state = state if state in STATES else ""
    suppliers = list(Supplier.objects.all())
    orders: Any = Order.objects.select_related("supplier", "made_by").with_progress()
    orders = _in_state(orders, state).order_by("-made_at", "-pk")
    if supplier in {str(each.pk) for each in suppliers}:
        orders = orders.filter(supplier=supplier)
    orders = orders.prefetch_related(Prefetch("lines", OrderLine.objects.order_by("pk")))
    if tables.wanted(request):
        return _export_list(request, orders)
    page = page_of(request, orders)
    day = today()
    context = {
        "page": page,
        "rows": [(order, standing_words(order, day), total_of(order.lines.all())) for order in page],
        "states": STATES,
        "state": state,
        "suppliers": suppliers,
        "supplier": supplier,
        "any": Order.objects.exists(),
    }
    return answer(request, "inventory/order_list.html", context)


def _in_state(orders: Any, state: str) -> Any:
    sent = Order.State.SENT
    if state == "open":
        return orders.filter(state__in=[Order.State.DRAFT, sent])
    if state == "part":
        return orders.filter(state=sent, arrival_count__gt=0)
    if state == "overdue":
        return orders.filter(state=sent, expected_on__lt=today())
    return orders.filter(state=state) if state else orders


def _export_list(request: StudioRequest, orders: Any) -> HttpResponse:
    costs, day = request.user.sees_costs, today()
    head = ["Order", "State", "Supplier", "Made", "By", "Sent", "Expected", "Ended", "Why", "Lines"]
    head += ["Total known", "Lines without price"] if costs else []

    def row(order: Any) -> list[object]:
        cells: list[object] = [
            order.code,
            standing_words(order, day)[1],
            order.supplier.name,
            order.made_at,
            str(order.made_by),
            order.sent_at,
            order.expected_on,
            order.ended_at,
            order.ended_because,
            order.line_count,
        ]
        if not costs:
            return cells
        total = total_of(order.lines.all())
        return [*cells, tables.micros_cell(total.known), total.lacking]

    return tables.export(request, "orders", head, map(row, orders.iterator(chunk_size=500)))


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
        return max(self.line.received - self.line.quantity, 0)

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
        return _export_lines(request, order, rows)
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


def _export_lines(request: StudioRequest, order: Order, rows: list[OrderLineRow]) -> HttpResponse:
    costs = request.user.sees_costs
    head = ["Order", "Article number", "Item", "Packs", "Pack", "Unit", "Ordered", "Received", "Outstanding"]
    head += ["Price per pack", "Line"] if costs else []

    def cells(row: OrderLineRow) -> list[object]:
        line, unit = row.line, row.line.item.unit
        figures = [
            tables.exact_cell(to_unit(amount, unit))
            for amount in (line.quantity, line.received, row.outstanding)
        ]
        found = [order.code, line.supplier_code, line.item.name, line.packs, line.typed_pack, unit, *figures]
        return found + ([tables.micros_cell(line.price), tables.micros_cell(row.total)] if costs else [])

    return tables.export(request, f"order-{order.code}", head, map(cells, rows))


@allow(see=EVERYONE)
def order_paper(request: StudioRequest, code: str) -> HttpResponse:
    """The order as a sheet for the supplier; without prices for who may not see them."""
    order = order_of(code)
    lines = list(order.lines.select_related("item"))
    paper = paper_of(
        order, lines, request.studio, priced=request.user.sees_costs, printed=printed_by(request)
    )
    return shown_pdf(order_pdf(paper), f"order-{order.code}")
