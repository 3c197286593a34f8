"""Purchase orders written, changed while they are drafts, sent, closed, called off and opened again."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.forms import Form
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect

from inventory.models import Item, Offer, Order, Supplier
from inventory.purchasing import ordering
from inventory.purchasing.forms_orders import (
    LINES_AT_MOST,
    OpenAgainForm,
    OrderForm,
    OrderLineForm,
    OrderLines,
    SendOrderForm,
)
from inventory.purchasing.forms_packs import supplier_key
from inventory.purchasing.lead_time import LeadTime
from inventory.purchasing.ordering import OrderError, standing_words
from inventory.purchasing.pack_contents import known_packs, remember
from inventory.purchasing.views_orders import order_of
from studio.core.codes import normalise
from studio.core.durations import days_words
from studio.people.access import MAKERS, allow
from studio.web.filters import whole_number
from studio.web.forms import ReasonForm
from studio.web.line_forms import ADD_LINE, FormSet, hush, with_another_line
from studio.web.requests import StudioRequest, answer, sign, today
from studio.web.submissions import once

PREFIX = "lines"
LINES_AT_FIRST = 3

# Writing it


@allow(see=MAKERS, do=MAKERS)
def order_add(request: StudioRequest) -> HttpResponse:
    """Write an order: empty, for a supplier, for one of its offers, or as an earlier one (`?like=`)."""

    def write(data: dict[str, Any], wanted: list[ordering.LineRequest]) -> Order:
        return ordering.draft(**data, wanted=wanted, signature=sign(request))

    if request.method == "POST":
        return _posted(request, None, write)
    supplier, typed = _start(request)
    form = OrderForm(initial={"supplier": supplier} if supplier else {})
    return _page(request, form, _lines(request, None, typed), None)


def _start(request: StudioRequest) -> tuple[Supplier | None, list[dict[str, Any]]]:
    """What the address asks to begin with: a supplier and lines as they would be typed."""
    costs = request.user.sees_costs
    like = (
        Order.objects.filter(code=normalise(request.GET.get("like", ""))).select_related("supplier").first()
    )
    if like:
        return like.supplier, [
            OrderLineForm.typed(line, costs=costs) | {"line": None} for line in like.lines.order_by("pk")
        ]
    if offer := _named(request, "offer", Offer.objects.select_related("supplier")):
        line = {"item": offer.item_id, "packs": offer.minimum_packs, "each": offer.typed_pack}
        return offer.supplier, [line | {"supplier_code": offer.supplier_code}]
    return _named(request, "supplier", Supplier.objects.all()), []


def _named(request: StudioRequest, name: str, rows: Any) -> Any:
    key = whole_number(request.GET.get(name, ""))
    return None if key is None else rows.filter(pk=key).first()


@allow(see=MAKERS, do=MAKERS)
def order_change(request: StudioRequest, code: str) -> HttpResponse:
    """Change an order that is not sent yet."""
    order = order_of(code)
    if not order.is_draft:
        messages.warning(request, f"Order {order.spaced_code} is no draft any more; nothing on it changes.")
        return redirect(order)

    def write(data: dict[str, Any], wanted: list[ordering.LineRequest]) -> Order:
        return ordering.change(order.pk, **data, wanted=wanted, signature=sign(request))

    if request.method == "POST":
        return _posted(request, order, write)
    initial = {"supplier": order.supplier_id, "expected_on": order.expected_on, "note": order.note}
    typed = [OrderLineForm.typed(line, costs=request.user.sees_costs) for line in order.lines.order_by("pk")]
    return _page(request, OrderForm(initial=initial, order=order), _lines(request, order, typed), order)


def _lines(
    request: StudioRequest, order: Order | None, typed: list[dict[str, Any]], data: QueryDict | None = None
) -> FormSet:
    kept = {str(line.pk): line for line in order.lines.all()} if order else {}
    kwargs = {
        "items": list(Item.objects.current().materials()),
        "currency": request.studio.currency,
        "costs": request.user.sees_costs,
        "kept": kept,
    }
    if data is not None:
        kwargs["known"] = known_packs(supplier_key(data.get("supplier", "")))
    lines = OrderLines(data, prefix=PREFIX, form_kwargs=kwargs, initial=typed or None)
    lines.extra = 1 if typed else LINES_AT_FIRST
    return lines


def _posted(
    request: StudioRequest,
    order: Order | None,
    write: Callable[[dict[str, Any], list[ordering.LineRequest]], Order],
) -> HttpResponse:
    adding = ADD_LINE in request.POST
    data: QueryDict = request.POST
    if adding:
        data = with_another_line(data, PREFIX, LINES_AT_MOST, fresh={"packs": "1"})
    form, lines = OrderForm(data, order=order), _lines(request, order, [], data)
    if adding:
        hush(form, lines)
        return _page(request, form, lines, order)
    if form.is_valid() and lines.is_valid() and (url := _write(request, form, lines, write)):
        return redirect(url)
    return _page(request, form, lines, order, refused=True)


def _page(
    request: StudioRequest, form: OrderForm, lines: FormSet, order: Order | None, *, refused: bool = False
) -> HttpResponse:
    context = {"form": form, "lines": lines, "order": order}
    return answer(request, "inventory/order_form.html", context, refused=refused)


def _write(
    request: StudioRequest,
    form: OrderForm,
    lines: FormSet,
    write: Callable[[dict[str, Any], list[ordering.LineRequest]], Order],
) -> str | None:
    """Write the draft; None when it was refused, with the sentence on the form."""
    wanted = [line.wanted() for line in lines.forms if line.has_changed()]
    data = {name: form.cleaned_data[name] for name in ("supplier", "note", "expected_on")}

    def act() -> str:
        order = write(data, wanted)
        packed = [line.pack_line for line in lines.forms if line.has_changed() and line.pack_line]
        remember(data["supplier"], packed, signature=sign(request))
        for line in packed:
            messages.info(request, f"{line.words}.")
        messages.success(request, _said(order, asked=data["expected_on"]))
        return order.get_absolute_url()

    try:
        return once(request, act)
    except OrderError as error:
        form.add_error(NON_FIELD_ERRORS, str(error))
    return None


def _said(order: Order, *, asked: Any) -> str:
    """That the draft is kept, and where the day it is expected comes from."""
    saved = f"Order {order.spaced_code} is a draft. Mark it as sent when it has gone to the supplier."
    if asked:
        return saved
    lead = ordering.lead_for(order.supplier, order.lines.all(), today())
    if lead is None:
        return f"{saved} No lead time is on record, so no day is expected."
    return f"{saved} Expected on {_day(order.expected_on)}: {_lead_words(*lead)}."


def _day(day: Any) -> str:
    return f"{day.day} {day:%b %Y}"


def _sentence(words: str) -> str:
    """With a capital at the start, names left as they are."""
    return words[:1].upper() + words[1:]


def _lead_words(item: Item, lead: LeadTime) -> str:
    return f"{item} takes {days_words(lead.mean)}, from {lead.said}"


# What happens to it


@allow(see=MAKERS, do=MAKERS)
def order_send(request: StudioRequest, code: str) -> HttpResponse:
    """The order went to the supplier; asks when it should arrive."""
    order = order_of(code)
    lead = ordering.lead_for(order.supplier, order.lines.select_related("item"), today())
    usual = ordering.day_expected(order.supplier, order.lines.select_related("item"), today())
    form = SendOrderForm(request.POST or None, initial={"expected_on": order.expected_on or usual})
    if lead and usual:
        form.fields["expected_on"].help_text = f"{_sentence(_lead_words(*lead))}: sent today, {_day(usual)}."
    else:
        form.fields[
            "expected_on"
        ].help_text = "No lead time is on record. Without a day it never counts as late."

    def do(form: Form) -> None:
        signature = sign(request, happened_at=form.cleaned_data["sent_at"])
        ordering.send(order.pk, signature=signature, expected_on=form.cleaned_data["expected_on"])
        messages.success(request, f"Order {order.spaced_code} is sent. From now on nothing on it changes.")

    what = "The order itself goes to the supplier by e-mail, telephone or web shop; this writes down that it did."
    return _act(request, order, form, do, heading="Mark as sent", what=what, open_to=order.is_draft)


@allow(see=MAKERS, do=MAKERS)
def order_close(request: StudioRequest, code: str) -> HttpResponse:
    """The rest is not coming."""
    order: Any = order_of(code)

    def do(form: Form) -> None:
        ordering.close(order.pk, signature=sign(request, reason=form.cleaned_data["reason"]))
        messages.success(request, f"Order {order.spaced_code} is closed; nothing more of it is expected.")

    what = "What is outstanding counts as not coming. An order closes by itself when everything arrived."
    open_to = order.is_sent and order.arrival_count > 0
    return _act(
        request, order, ReasonForm(request.POST or None), do, heading="Close", what=what, open_to=open_to
    )


@allow(see=MAKERS, do=MAKERS)
def order_call_off(request: StudioRequest, code: str) -> HttpResponse:
    """Nothing of it is wanted or coming."""
    order: Any = order_of(code)

    def do(form: Form) -> None:
        ordering.call_off(order.pk, signature=sign(request, reason=form.cleaned_data["reason"]))
        messages.success(request, f"Order {order.spaced_code} is called off.")

    what = (
        "Nothing of it came, and nothing is expected any more. It stays on record."
        if order.is_sent
        else ("It was never sent. It stays on record.")
    )
    open_to = order.is_draft or (order.is_sent and not order.arrival_count)
    form = ReasonForm(request.POST or None)
    return _act(request, order, form, do, heading="Call off", what=what, open_to=open_to, danger=True)


@allow(see=MAKERS, do=MAKERS)
def order_reopen(request: StudioRequest, code: str) -> HttpResponse:
    """The rest is coming after all."""
    order = order_of(code)

    def do(form: Form) -> None:
        ordering.reopen(order.pk, signature=sign(request))
        messages.success(request, f"Order {order.spaced_code} is open again.")

    what = f"It was closed because: {order.ended_because}. What is outstanding is expected again."
    open_to = order.state == Order.State.CLOSED and bool(order.ended_because)
    form = OpenAgainForm(request.POST or None)
    return _act(request, order, form, do, heading="Open again", what=what, open_to=open_to)


def _act(
    request: StudioRequest,
    order: Order,
    form: Form,
    do: Callable[[Form], None],
    *,
    heading: str,
    what: str,
    open_to: bool,
    danger: bool = False,
) -> HttpResponse:
    """A page that says what will happen to the order and does it on the press."""
    if not open_to and request.method != "POST":
        messages.warning(
            request, f"Order {order.spaced_code} is {standing_words(order, today())[1].lower()}."
        )
        return redirect(order)
    if form.is_bound and form.is_valid():

        def act() -> str:
            do(form)
            return order.get_absolute_url()

        try:
            return redirect(once(request, act))
        except OrderError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    context = {"order": order, "form": form, "heading": heading, "what": what, "danger": danger}
    return answer(request, "inventory/order_act.html", context, refused=form.is_bound)
