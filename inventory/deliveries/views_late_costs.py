"""Costs that come after the goods: freight or duty billed later, and what of it no stock is left to carry."""

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Sum
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from inventory.deliveries.forms_late_costs import LateCostForm, SpanForm
from inventory.deliveries.late_costs import add_cost
from inventory.deliveries.receiving import CannotSpread
from inventory.ledger.books import BookError, WrongTime
from inventory.models import Delivery, PeriodCost
from studio.core.days import begin, first_instant_after
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table


@allow(see=EVERYONE, do=EVERYONE, costs=True)
def late_cost_add(request: StudioRequest, pk: int) -> HttpResponse:
    """Freight or duty was billed, or credited, after the delivery came."""
    delivery = get_object_or_404(
        Delivery.objects.select_related("supplier", "posting__reversal").prefetch_related("lines__item"),
        pk=pk,
    )
    if hasattr(delivery.posting, "reversal"):
        messages.warning(request, "This delivery was reversed. Add the cost to the one that took its place.")
        return redirect(delivery)
    form = LateCostForm(request.POST or None, studio=request.studio, initial={"spread": delivery.spread})
    if request.method == "POST" and form.is_valid() and (url := _add(request, delivery, form)):
        return redirect(url)
    context = {"form": form, "delivery": delivery, "lines": delivery.lines.all()}
    return answer(request, "inventory/late_cost_form.html", context, refused=request.method == "POST")


def _add(request: StudioRequest, delivery: Delivery, form: LateCostForm) -> str | None:
    """Add the cost; None when it was refused, with the sentence on the form."""
    data = form.cleaned_data
    signature = sign(request, happened_at=data["happened_at"], reason=data["note"])

    def act() -> str:
        add_cost(
            delivery,
            amount=form.signed_amount(),
            spread=data["spread"],
            reference=data["reference"],
            signature=signature,
        )
        messages.success(request, "The cost went to where the goods are; see below.")
        return f"{delivery.get_absolute_url()}#late-costs"

    try:
        return once(request, act)
    except CannotSpread as error:
        form.add_error("spread", str(error))
    except WrongTime as error:
        form.add_error("happened_at", str(error))
    except BookError as error:
        form.add_error(NON_FIELD_ERRORS, str(error))
    return None


@allow(see=EVERYONE, costs=True)
def period_cost_list(request: StudioRequest) -> HttpResponse:
    """Cost corrections that no stock was left to carry, in a span of days; this year's unless asked otherwise."""
    day = today()
    usual = (day.replace(month=1, day=1), day)
    asked = {name: request.GET[name] for name in ("first", "last") if name in request.GET}
    form = SpanForm(asked, usual=usual, initial=dict(zip(("first", "last"), usual, strict=True)))
    first, last = usual
    if form.is_valid():
        first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    costs = PeriodCost.objects.between(begin(first), first_instant_after(last))
    if tables.wanted(request):
        rows = costs.with_causes().order_by("posting__happened_at", "pk")
        return COSTS.file(request, rows.iterator(chunk_size=2000))
    page = page_of(request, costs.with_causes().order_by("-posting__happened_at", "-pk"))
    context = {
        "form": form,
        "page": page,
        "table": COSTS.shown(request, list(page)),
        "total": costs.aggregate(total=Sum("value"))["total"] or 0,
        "first": first,
        "last": last,
    }
    return answer(request, "inventory/period_cost_list.html", context)


def why(cost: PeriodCost) -> str:
    """What led to a cost of the period, in words."""
    posting = cost.posting
    about = posting.reverses or posting
    late = getattr(about, "late_cost", None)
    if late is None:
        words = f"Cost put right after it was made: {about.reason}".removesuffix(": ")
    else:
        what = "Credited" if late.amount < 0 else "Billed"
        named = [text for text in (late.reference, about.reason) if text]
        words = ": ".join(
            [f"{what} later for delivery {late.delivery}", *([", ".join(named)] if named else [])]
        )
    return f"Taken back: {words}" if posting.reverses_id else words


COSTS = Table(
    "period-costs",
    "Costs of the period",
    [
        Column("When", "posting.happened_at", Format.TIME, link="posting.get_absolute_url"),
        Column("Item", "lot.item.name"),
        Column("Lot", "lot.code", Format.CODE, link="lot.get_absolute_url"),
        Column("Why", why),
        Column("Cost", "value", Format.MONEY),
        Column("Posting", "posting_id"),
    ],
    page=("when", "item", "lot", "why", "cost"),
)
