"""Where goods are sold, what selling there takes, and the price points of the studio."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from costing.models import ChannelTerms
from costing.prices import channels as verbs
from costing.prices.forms_channels import ChannelForm, PricePointsForm, TermsForm
from costing.prices.pricing import Way
from inventory.models import Channel
from studio.people.access import BOOKS, EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table


@allow(see=EVERYONE, costs=True)
def channel_list(request: StudioRequest) -> HttpResponse:
    """Every channel with what selling there takes today."""
    day = today()
    market = verbs.Market.on(day, items=())
    if tables.wanted(request):
        return TERMS.file(request, _terms(ChannelTerms.objects.all()))
    context = {
        "rows": [(channel, market.rows.get(channel.pk)) for channel in Channel.objects.filter(retired=False)],
        "retired": Channel.objects.filter(retired=True),
        "points": verbs.price_points(request.studio.currency),
        "no_points": Way.NONE,
    }
    return answer(request, "costing/channel_list.html", context)


def _terms(terms: QuerySet[ChannelTerms]) -> QuerySet[ChannelTerms]:
    """By channel, the latest first."""
    rows = terms.select_related("channel", "share_of", "set_by")
    return rows.order_by("channel__name", "-from_on", "-pk")


def _millionths(heading: str, name: str, times: int) -> Column:
    """A share in percent, or pieces: kept in other fractions, shown with all decimals."""

    def value(terms: ChannelTerms) -> Decimal | None:
        kept = getattr(terms, name)
        return None if kept is None else Decimal(kept * times).scaleb(-6)

    return Column(heading, value, Format.RATIO)


TERMS = Table(
    "channels",
    "Channels",
    [
        Column("Channel", "channel.name"),
        Column("From", "from_on", Format.DAY),
        _millionths("Percentage fees", "percent_ppm", 100),
        Column("Of the tax too", "fee_on_tax", Format.YES),
        Column("Fixed fees of an order", "fixed_micros", Format.MONEY),
        Column("Shipping of an order", "shipping_micros", Format.MONEY),
        _millionths("Pieces in an order", "units_milli", 1000),
        Column("Tax", "get_tax_display"),
        _millionths("Rate of tax", "tax_ppm", 100),
        _millionths("Discount", "discount_ppm", 100),
        _millionths("Sold at the discount", "discounted_ppm", 100),
        Column("Share of the price in", "share_of.name"),
        _millionths("Share", "share_ppm", 100),
        Column("Set by", "set_by"),
    ],
)


@allow(see=BOOKS, do=BOOKS)
def channel_add(request: StudioRequest) -> HttpResponse:
    """Begin to sell somewhere."""
    posted = request.POST if request.method == "POST" else None
    form = ChannelForm(posted)
    terms = TermsForm(posted, studio=request.studio, initial={"from_on": today(), "units_milli": "1"})
    if posted is not None and form.is_valid() and terms.is_valid():

        def act() -> str:
            data = form.cleaned_data
            channel = verbs.open_channel(
                name=data["name"],
                terms=terms.cleaned_data,
                by=request.user,
                now=timezone.now(),
            )
            return reverse("costing:channel-detail", args=[channel.pk])

        return redirect(once(request, act))
    context = {"form": form, "terms": terms, "lines": [terms]}
    return answer(request, "costing/channel_form.html", context, refused=posted is not None)


def _page(request: StudioRequest, channel: Channel, form: TermsForm | None = None) -> HttpResponse:
    day = today()
    kept = list(channel.terms.select_related("share_of", "set_by"))
    now = next((row for row in kept if row.from_on <= day), None)
    if form is None:
        initial: dict[str, Any] = TermsForm.typed(now) if now else {"units_milli": "1"}
        form = TermsForm(studio=request.studio, channel=channel, initial=initial | {"from_on": day})
    context = {"channel": channel, "kept": kept, "now": now, "terms": form, "refused": form.is_bound}
    return answer(request, "costing/channel_detail.html", context, refused=form.is_bound)


@allow(see=EVERYONE, costs=True)
def channel_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One channel: what selling there takes, and what it took before."""
    channel = get_object_or_404(Channel, pk=pk)
    if tables.wanted(request):
        return TERMS.file(request, _terms(channel.terms.all()))
    return _page(request, channel)


@allow(do=BOOKS)
def channel_terms_add(request: StudioRequest, pk: int) -> HttpResponse:
    """Set what selling in a channel takes from a day on."""
    channel = get_object_or_404(Channel, pk=pk)
    form = TermsForm(request.POST, studio=request.studio, channel=channel)
    if not form.is_valid():
        return _page(request, channel, form)

    def act() -> str:
        verbs.set_terms(channel, terms=form.cleaned_data, by=request.user, now=timezone.now())
        return reverse("costing:channel-detail", args=[channel.pk])

    url = once(request, act)
    messages.success(
        request, "These terms hold from their day on. What was sold before keeps the earlier ones."
    )
    return redirect(url)


@allow(see=BOOKS, do=BOOKS)
def channel_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a channel's name, or say that nothing is sold there any more."""
    channel = get_object_or_404(Channel, pk=pk)
    posted = request.POST if request.method == "POST" else None
    form = ChannelForm(posted, instance=channel)
    if posted is not None and form.is_valid():

        def act() -> str:
            form.save()
            return reverse("costing:channel-detail", args=[channel.pk])

        return redirect(once(request, act))
    context = {"form": form, "channel": channel}
    return answer(request, "costing/channel_form.html", context, refused=posted is not None)


@allow(see=BOOKS, do=BOOKS)
def price_points(request: StudioRequest) -> HttpResponse:
    """Say which prices this studio asks."""
    posted = request.POST if request.method == "POST" else None
    form = PricePointsForm(posted, studio=request.studio)
    if posted is not None and form.is_valid():
        data = form.cleaned_data

        def act() -> str:
            verbs.set_price_points(way=data["way"], step_micros=data["step_micros"], endings=data["endings"])
            return reverse("costing:channel-list")

        url = once(request, act)
        messages.success(request, "Suggested prices go to these price points.")
        return redirect(url)
    return answer(request, "costing/price_points.html", {"form": form}, refused=posted is not None)
