"""Deliveries: entered on one screen, in the units on the invoice."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Count, Sum
from django.forms import BaseFormSet
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect

from inventory.books import BookError
from inventory.deliveries import CannotSpread, receive
from inventory.forms import LINES_AT_MOST, DeliveryForm, DeliveryLines
from inventory.late_costs import shares_of
from inventory.models import Delivery, Item
from studio import panels, tables
from studio.access import EVERYONE, MAKERS, allow
from studio.line_forms import ADD_LINE, hush, with_another_line
from studio.money import MoneyError
from studio.requests import StudioRequest, answer, page_of, sign
from studio.submissions import once

LINES_PREFIX = "lines"
LINES_AT_FIRST = 3


@allow(see=EVERYONE)
def delivery_list(request: StudioRequest) -> HttpResponse:
    """What arrived, the latest first."""
    deliveries = (
        Delivery.objects.select_related("supplier", "posting__reversal")
        .annotate(line_count=Count("lines"), goods=Sum("lines__goods_value"))
        .order_by("-posting__happened_at", "-pk")
    )
    if tables.wanted(request):
        return _export(request, deliveries)
    return answer(request, "inventory/delivery_list.html", {"page": page_of(request, deliveries)})


def _export(request: StudioRequest, deliveries: Any) -> HttpResponse:
    costs = request.user.sees_costs
    head = ["Delivery", "Arrived", "Supplier", "Reference", "Lines"] + (["Goods", "Freight"] if costs else [])
    rows = (
        [d.pk, d.posting.happened_at, str(d.supplier), d.reference, d.line_count]
        + ([tables.micros_cell(d.goods), tables.micros_cell(d.freight)] if costs else [])
        for d in deliveries.iterator(chunk_size=2000)
    )
    return tables.export(request, "deliveries", head, rows)


@allow(see=EVERYONE)
def delivery_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One delivery: its lines, the lots they became and what each cost with its freight."""
    delivery = get_object_or_404(
        Delivery.objects.select_related("supplier", "posting__by", "posting__reversal__by"), pk=pk
    )
    lines = list(delivery.lines.select_related("item").prefetch_related("lots"))
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
    """Enter a delivery of one or several lines and put its lots on the shelf."""
    items = list(Item.objects.current().materials())
    kwargs = {"studio": request.studio, "items": items}
    if request.method != "POST":
        form = DeliveryForm(studio=request.studio, initial=_initial(request))
        lines = DeliveryLines(prefix=LINES_PREFIX, form_kwargs=kwargs)
        lines.extra = LINES_AT_FIRST
        return _page(request, form, lines, items)
    adding = ADD_LINE in request.POST
    data: QueryDict = request.POST
    if adding:
        data = with_another_line(data, LINES_PREFIX, LINES_AT_MOST, fresh={"packs": "1"})
    form = DeliveryForm(data, studio=request.studio)
    lines = DeliveryLines(data, prefix=LINES_PREFIX, form_kwargs=kwargs)
    if adding:
        hush(form, lines)
        return _page(request, form, lines, items)
    if form.is_valid() and lines.is_valid() and (url := _receive(request, form, lines)):
        return redirect(url)
    return _page(request, form, lines, items, refused=True)


def _initial(request: StudioRequest) -> dict[str, Any]:
    supplier = request.GET.get("supplier", "")
    return {"supplier": supplier} if supplier.isdigit() else {}


def _page(
    request: StudioRequest,
    form: DeliveryForm,
    lines: BaseFormSet,
    items: list[Item],
    *,
    refused: bool = False,
) -> HttpResponse:
    context = {"form": form, "lines": lines, "any_items": bool(items)}
    return answer(request, "inventory/delivery_form.html", context, refused=refused)


def _receive(request: StudioRequest, form: DeliveryForm, lines: BaseFormSet) -> str | None:
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
        messages.success(request, "The delivery is on the shelf. Write each code on its container.")
        return delivery.get_absolute_url()

    try:
        return once(request, act)
    except CannotSpread as error:
        form.add_error("spread", str(error))
    except (MoneyError, BookError) as error:
        form.add_error(NON_FIELD_ERRORS, str(error))
    return None
