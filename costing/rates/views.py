"""What labour and overhead cost, from which day, and what overhead really came to."""

from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from costing.models import LabourRate, OverheadPaid, OverheadRate
from costing.rates import rates as verbs
from costing.rates.forms import LabourRateForm, OverheadPaidForm, OverheadRateForm
from costing.rates.rates import RateError, Rates
from studio.people.access import BOOKS, EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

MONTHS_SHOWN = 12


@allow(see=EVERYONE, costs=True)
def rates(request: StudioRequest) -> HttpResponse:
    """What labour and overhead cost, from which day."""
    if tables.wanted(request):
        return RATES.file(request, _rates())
    return _rates_page(request)


class RateRow(NamedTuple):
    """A rate, or what was paid for a month; money in millionths, capacity in thousandths."""

    what: str
    from_on: date
    amount: int
    charged: str
    entry: Any
    who: str = ""
    about: str = ""
    per_month: int | None = None
    capacity: int | None = None


def _rates() -> Iterator[RateRow]:
    """Labour, overhead and what was paid, each the latest first."""
    for rate in LabourRate.objects.select_related("person", "set_by"):
        about = rate.get_task_display() if rate.task else ""
        who = str(rate.person or "Everybody")
        yield RateRow("Labour", rate.from_on, rate.per_hour, "for an hour", rate, who, about)
    for over in OverheadRate.objects.select_related("set_by"):
        charged = over.get_basis_display()
        yield RateRow(
            "Overhead",
            over.from_on,
            over.amount,
            charged,
            over,
            about=over.label,
            per_month=over.per_month,
            capacity=over.capacity,
        )
    for paid in OverheadPaid.objects.select_related("set_by"):
        yield RateRow("Paid", paid.month, paid.amount, "in the month", paid, about=paid.note)


def _capacity(row: RateRow) -> Decimal | None:
    return None if row.capacity is None else Decimal(row.capacity * 1000).scaleb(-6)


RATES = Table(
    "rates",
    "Rates",
    [
        Column("What", "what"),
        Column("From", "from_on", Format.DAY),
        Column("Who", "who"),
        Column("For", "about"),
        Column("Amount", "amount", Format.MONEY),
        Column("Charged", "charged"),
        Column("Costs a month", "per_month", Format.MONEY),
        Column("Normal capacity", _capacity, Format.RATIO),
        Column("Set by", "entry.set_by"),
        Column("Set", "entry.set_at", Format.TIME),
    ],
)


def _rates_page(
    request: StudioRequest,
    labour: LabourRateForm | None = None,
    overhead: OverheadRateForm | None = None,
    paid: OverheadPaidForm | None = None,
) -> HttpResponse:
    studio, day = request.studio, today()
    overhead_rates = list(OverheadRate.objects.select_related("set_by"))
    holding = {rate.pk for rate in Rates([], overhead_rates).overhead_on(day)}
    context = {
        "labour_rates": LabourRate.objects.select_related("person", "set_by"),
        "overhead_rates": [(rate, rate.pk in holding) for rate in overhead_rates],
        "paid": OverheadPaid.objects.all()[:MONTHS_SHOWN],
        "labour_form": labour or LabourRateForm(studio=studio, initial={"from_on": day}),
        "overhead_form": overhead or OverheadRateForm(studio=studio, initial={"from_on": day}),
        "paid_form": paid or OverheadPaidForm(studio=studio, initial={"month": day.replace(day=1)}),
        "refused_form": labour or overhead or paid,
    }
    return answer(request, "costing/rates.html", context, refused=bool(labour or overhead or paid))


def _set(request: StudioRequest, form: Form, act: Callable[[], object], said: str) -> HttpResponse | None:
    """Set a rate when the form is right; None when it was refused."""
    if not form.is_valid():
        return None

    def do() -> str:
        act()
        return reverse("costing:rates")

    try:
        url = once(request, do)
    except RateError as error:
        form.add_error("from_on", str(error))
        return None
    messages.success(request, said)
    return redirect(url)


SET = "The rate is set. What came before it stays as it was."


@allow(do=BOOKS)
def labour_rate_add(request: StudioRequest) -> HttpResponse:
    """Set what an hour costs from a day on."""
    form = LabourRateForm(request.POST, studio=request.studio)

    def act() -> object:
        return verbs.set_labour_rate(**form.cleaned_data, by=request.user, now=timezone.now())

    return _set(request, form, act, SET) or _rates_page(request, labour=form)


@allow(do=BOOKS)
def overhead_rate_add(request: StudioRequest) -> HttpResponse:
    """Set an overhead rule from a day on."""
    form = OverheadRateForm(request.POST, studio=request.studio)

    def act() -> object:
        data = form.cleaned_data
        return verbs.set_overhead_rate(
            from_on=data["from_on"],
            basis=data["basis"],
            amount=data["understood"],
            name=data["name"],
            per_month=data["per_month"],
            capacity=data["capacity"],
            by=request.user,
            now=timezone.now(),
        )

    return _set(request, form, act, SET) or _rates_page(request, overhead=form)


@allow(do=BOOKS)
def overhead_paid_add(request: StudioRequest) -> HttpResponse:
    """Write down what overhead really came to in a month."""
    form = OverheadPaidForm(request.POST, studio=request.studio)

    def act() -> object:
        return verbs.set_overhead_paid(**form.cleaned_data, by=request.user, now=timezone.now())

    said = "Written down. It changes no cost; it stands beside what was charged to runs."
    return _set(request, form, act, said) or _rates_page(request, paid=form)
