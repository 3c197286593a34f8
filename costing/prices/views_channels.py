"""Where goods are sold, what selling there takes, and the price points of the studio."""

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


@allow(see=EVERYONE, costs=True)
def channel_list(request: StudioRequest) -> HttpResponse:
    """Every channel with what selling there takes today."""
    day = today()
    market = verbs.Market.on(day, items=())
    if tables.wanted(request):
        return _export(request, ChannelTerms.objects.all())
    context = {
        "rows": [(channel, market.rows.get(channel.pk)) for channel in Channel.objects.filter(retired=False)],
        "retired": Channel.objects.filter(retired=True),
        "points": verbs.price_points(request.studio.currency),
        "no_points": Way.NONE,
    }
    return answer(request, "costing/channel_list.html", context)


def _export(request: StudioRequest, terms: QuerySet[ChannelTerms]) -> HttpResponse:
    head = [
        "Channel",
        "From",
        "Percentage fees",
        "Of the tax too",
        "Fixed fees of an order",
        "Shipping of an order",
        "Pieces in an order",
        "Tax",
        "Rate of tax",
        "Discount",
        "Sold at the discount",
        "Share of the price in",
        "Share",
        "Set by",
    ]

    def percent(ppm: int | None) -> object:
        return None if ppm is None else tables.micros_cell(ppm * 100)

    rows = (
        [
            row.channel.name,
            row.from_on,
            percent(row.percent_ppm),
            "yes" if row.fee_on_tax else "no",
            tables.micros_cell(row.fixed_micros),
            tables.micros_cell(row.shipping_micros),
            tables.micros_cell(row.units_milli * 1000),
            row.get_tax_display(),
            percent(row.tax_ppm),
            percent(row.discount_ppm),
            percent(row.discounted_ppm),
            row.share_of.name if row.share_of else "",
            percent(row.share_ppm),
            str(row.set_by),
        ]
        for row in terms.select_related("channel", "share_of", "set_by").order_by(
            "channel__name", "-from_on", "-pk"
        )
    )
    return tables.export(request, "channels", head, rows)


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
        return _export(request, channel.terms.all())
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
