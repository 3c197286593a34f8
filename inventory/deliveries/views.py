"""Deliveries: entered on one screen, in the units on the invoice."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Count, Sum
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect

from inventory.deliveries.forms import LINES_AT_MOST, DeliveryForm, DeliveryLines
from inventory.deliveries.late_costs import shares_of
from inventory.deliveries.receiving import CannotSpread, receive
from inventory.ledger.books import BookError, WrongTime
from inventory.models import Delivery, Item, Order, OrderLine
from inventory.purchasing.forms_packs import supplier_key
from inventory.purchasing.ordering import OrderError, more_than_ordered
from inventory.purchasing.pack_contents import known_packs, remember
from studio.core.codes import normalise
from studio.core.money import MoneyError, entry_money
from studio.core.quantities import entry_text
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import panels, tables
from studio.web.filters import whole_number
from studio.web.line_forms import ADD_LINE, FormSet, hush, with_another_line
from studio.web.requests import StudioRequest, answer, page_of, sign
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

LINES_PREFIX = "lines"
LINES_AT_FIRST = 3

DELIVERIES = Table(
    "deliveries",
    "Deliveries",
    [
        Column("Delivery", "pk"),
        Column(
            "Arrived",
            "posting.happened_at",
            Format.DAY,
            link="get_absolute_url",
            sort=("posting__happened_at",),
        ),
        Column("Supplier", "supplier", sort=("supplier__name",)),
        Column("Reference", "reference", sort=("reference",)),
        Column("Lines", "line_count", Format.NUMBER),
        Column("Goods", "goods", Format.MONEY, may="sees_costs", sort=("goods",)),
        Column("Freight", "freight", Format.MONEY, may="sees_costs", sort=("freight",)),
        Column("State"),
    ],
    page=("arrived", "supplier", "reference", "lines", "goods", "freight", "state"),
)


@allow(see=EVERYONE)
def delivery_list(request: StudioRequest) -> HttpResponse:
    """What arrived, the latest first."""
    deliveries = (
        Delivery.objects.select_related("supplier", "posting__reversal")
        .annotate(line_count=Count("lines"), goods=Sum("lines__goods_value"))
        .order_by("-posting__happened_at", "-pk")
    )
    deliveries = DELIVERIES.sorted(request, deliveries)
    if tables.wanted(request):
        return DELIVERIES.file(request, deliveries.iterator(chunk_size=2000))
    page = page_of(request, deliveries)
    context = {"page": page, "table": DELIVERIES.shown(request, list(page))}
    return answer(request, "inventory/delivery_list.html", context)


@allow(see=EVERYONE)
def delivery_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One delivery: its lines, the lots they became and what each cost with its freight."""
    delivery = get_object_or_404(
        Delivery.objects.select_related("supplier", "posting__by", "posting__reversal__by"), pk=pk
    )
    lines = list(delivery.lines.select_related("item", "order_line__order").prefetch_related("lots"))
    context: dict[str, Any] = {
        "delivery": delivery,
        "lines": lines,
        "goods": sum(line.goods_value for line in lines),
        "total": sum(line.landed_value for line in lines),
    }
    if request.user.sees_costs:
        late = list(delivery.late_costs.with_shares())
        context["late_costs"] = [(cost, shares_of(cost)) for cost in late]
        context["panels"] = panels.shown("late-costs", request, late)
    return answer(request, "inventory/delivery_detail.html", context)


@allow(see=MAKERS, do=MAKERS)
def delivery_add(request: StudioRequest) -> HttpResponse:
    """Enter a delivery of one or several lines and put its lots on the shelf; filled in from an order, if it names one."""
    items = list(Item.objects.current().materials())
    order = _order(request)
    ordered = _ordered(order)
    kwargs = {"studio": request.studio, "items": items, "ordered": {str(line.pk): line for line in ordered}}
    if request.method == "POST":
        kwargs["known"] = known_packs(supplier_key(request.POST.get("supplier", "")))
    if request.method != "POST":
        if order and not order.is_sent:
            messages.warning(request, f"Order {order.spaced_code} does not wait for goods.")
            return redirect(order)
        form = DeliveryForm(studio=request.studio, initial=_initial(request, order))
        outstanding = [_as_ordered(request, line) for line in ordered if line.received < line.quantity]
        lines = DeliveryLines(prefix=LINES_PREFIX, form_kwargs=kwargs, initial=outstanding)
        lines.extra = 0 if outstanding else LINES_AT_FIRST
        return _page(request, form, lines, items, order)
    adding = ADD_LINE in request.POST
    data: QueryDict = request.POST
    if adding:
        data = with_another_line(data, LINES_PREFIX, LINES_AT_MOST, fresh={"packs": "1"})
    form = DeliveryForm(data, studio=request.studio)
    lines = DeliveryLines(data, prefix=LINES_PREFIX, form_kwargs=kwargs)
    if adding:
        hush(form, lines)
        return _page(request, form, lines, items, order)
    if form.is_valid() and lines.is_valid() and (url := _receive(request, form, lines)):
        return redirect(url)
    return _page(request, form, lines, items, order, refused=True)


def _order(request: StudioRequest) -> Order | None:
    """The order named in the address, from which the delivery is entered."""
    code = normalise(request.GET.get("order", ""))
    return Order.objects.filter(code=code).select_related("supplier").first() if code else None


def _ordered(order: Order | None) -> list[Any]:
    """The lines of the order, with what came of each."""
    if order is None:
        return []
    lines = OrderLine.objects.filter(order=order).with_received().select_related("item")
    return list(lines.order_by("pk"))


def _as_ordered(request: StudioRequest, line: Any) -> dict[str, Any]:
    """What is outstanding of a line, as it would be typed; its price only for who may see it."""
    packs, rest = divmod(line.quantity - line.received, line.pack_quantity)
    filled = {"order_line": str(line.pk), "item": line.item_id, "packs": packs, "each": line.typed_pack}
    if rest:
        # Packs of another size came before: what is left is no whole number of those that were ordered.
        unit = line.item.unit
        loose = entry_text(line.quantity - line.received, unit)
        filled |= {"packs": 1, "each": loose if unit == "each" else f"{loose} {unit}"}
    elif request.user.sees_costs and line.price is not None:
        filled["price"] = f"{entry_money(line.price)}/pack"
    return filled


def _initial(request: StudioRequest, order: Order | None) -> dict[str, Any]:
    if order:
        return {"supplier": order.supplier_id}
    supplier = request.GET.get("supplier", "")
    return {} if whole_number(supplier) is None else {"supplier": supplier}


def _page(
    request: StudioRequest,
    form: DeliveryForm,
    lines: FormSet,
    items: list[Item],
    order: Order | None,
    *,
    refused: bool = False,
) -> HttpResponse:
    context = {"form": form, "lines": lines, "any_items": bool(items), "order": order}
    return answer(request, "inventory/delivery_form.html", context, refused=refused)


def _receive(request: StudioRequest, form: DeliveryForm, lines: FormSet) -> str | None:
    """Receive the delivery; None when it was refused, with the sentence on the form."""
    data = form.cleaned_data
    filled: list[Any] = [line for line in lines.forms if line.has_changed()]
    signature = sign(request, happened_at=data["arrived_at"])

    def act() -> str:
        delivery = receive(
            supplier=data["supplier"],
            reference=data["reference"],
            arrivals=[line.arrival() for line in filled],
            freight=data["freight"] or 0,
            spread=data["spread"],
            signature=signature,
        )
        packed = [line.pack_line for line in filled if line.pack_line]
        remember(data["supplier"], packed, signature=signature)
        messages.success(request, "The delivery is on the shelf. Write each code on its container.")
        for line in packed:
            messages.info(request, f"{line.words}.")
        for sentence in more_than_ordered([line.ordered.pk for line in filled if line.ordered]):
            messages.warning(request, sentence)
        return delivery.get_absolute_url()

    try:
        return once(request, act)
    except CannotSpread as error:
        form.add_error("spread", str(error))
    except WrongTime as error:
        form.add_error("arrived_at", str(error))
    except (MoneyError, BookError, OrderError) as error:
        form.add_error(NON_FIELD_ERRORS, str(error))
    return None
