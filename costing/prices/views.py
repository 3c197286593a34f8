"""Prices: every product in every channel, one product with what should be asked, and the price list on paper."""

from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from batches.formulas.approved import never_approved
from costing.models import AskedPrice
from costing.prices import channels as verbs
from costing.prices.channels import Market, price_points
from costing.prices.forms import TryForm, WishForm
from costing.prices.forms_channels import AskedPriceForm
from costing.prices.price_list_pdf import price_list_pdf
from costing.prices.price_list_text import price_list_of
from costing.prices.price_rows import ChannelPrice, Wish, channel_price, raised
from costing.prices.pricing import Goal, break_even
from costing.standard.product_costs import ProductCost, product_costs
from inventory.models import Item, Kind
from studio.core.percent import entry_percent
from studio.people.access import BOOKS, EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, printed_by, shown_pdf, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Path, Table, follow

USUAL_MARGIN_PPM = 500_000
USUAL_MONTH = 50
SIZE = 25
UNAPPROVED = "unapproved"  # in the address: `yes` takes designs that were never approved into what leaves


def wish_of(form: WishForm) -> Wish:
    """What was asked for; a margin of a half where nothing can be read."""
    data = form.cleaned_data if form.is_bound and form.is_valid() else {}
    goal = Goal(data.get("goal") or Goal.MARGIN)
    ppm = data.get("ppm")
    return Wish(goal, USUAL_MARGIN_PPM if ppm is None else ppm)


def _asking(request: StudioRequest, *names: str) -> Any:
    """The question in the address, where there is one."""
    return request.GET if any(name in request.GET for name in names) else None


@allow(see=EVERYONE, costs=True)
def price_list(request: StudioRequest) -> HttpResponse:
    """Every product in every channel: what is asked, what is left, and what should be asked."""
    day = today()
    form = WishForm(_asking(request, "goal", "ppm"), initial=_shown(Wish(Goal.MARGIN, USUAL_MARGIN_PPM)))
    wish = wish_of(form)
    market, points = Market.on(day), price_points(request.studio.currency)
    costs = product_costs(day)
    never = never_approved()
    if tables.wanted(request):
        # A file may go to a customer as it is: designs that were never approved stand in it only where asked for.
        listed = [each for each in costs if _with_unapproved(request) or each.item.pk not in never]
        rows = (PriceRow(each, row) for each in listed for row in _rows(each, market, points, wish))
        return _prices_table(wish, never).file(request, rows)
    page = page_of(request, costs, SIZE)
    context = {
        "page": page,
        "rows": [(each, _rows(each, market, points, wish)) for each in page],
        "channels": market.channels,
        "form": form,
        "wish": wish,
        "unapproved": never,
        "left_out": sum(each.item.pk in never for each in costs),
    }
    return answer(request, "costing/price_list.html", context, refused=False)


def _with_unapproved(request: StudioRequest) -> bool:
    """Whether designs that were never approved were asked for too."""
    return request.GET.get(UNAPPROVED) == "yes"


def _shown(wish: Wish) -> dict[str, str]:
    return {"goal": wish.goal.value, "ppm": entry_percent(wish.ppm)}


def _rows(each: ProductCost, market: Market, points: Any, wish: Wish) -> list[ChannelPrice]:
    return [
        channel_price(each.item.pk, each.cost, channel, market, points, wish) for channel in market.channels
    ]


def share_column(heading: str, path: Path) -> Column:
    """A plain ratio as a percentage, to the millionth."""

    def ppm(row: Any) -> int | None:
        ratio = follow(path, row)
        return None if ratio is None else round(ratio * 10**6)

    return Column(heading, ppm, Format.PERCENT)


def money_column(heading: str, path: Path) -> Column:
    """Money that was worked out, to the millionth."""

    def micros(row: Any) -> int | None:
        value = follow(path, row)
        return None if value is None else round(value)

    return Column(heading, micros, Format.MONEY)


class PriceRow(NamedTuple):
    """A product, and what it is sold for through one channel."""

    product: ProductCost
    price: ChannelPrice


def _prices_table(wish: Wish, never: Collection[int]) -> Table:
    """`never` are the keys of products whose design was never approved."""

    def design(row: PriceRow) -> str:
        return "not approved" if row.product.item.pk in never else "approved"

    return Table(
        "prices",
        "Prices",
        [
            Column("Product", "product.item.name"),
            Column("Channel", "price.channel.name"),
            money_column("Price asked", "price.asked.price"),
            Column("Since", "price.asked.since", Format.DAY),
            money_column("Kept before fees", "price.sold.net"),
            money_column("Fees", "price.sold.fees"),
            money_column("Unit cost", "product.cost.total"),
            money_column("Contribution", "price.sold.contribution"),
            share_column("Margin %", "price.sold.margin"),
            share_column("Markup %", "price.sold.markup"),
            money_column("Floor price", "price.floor"),
            money_column(
                f"Suggested for a {wish.goal} of {entry_percent(wish.ppm)} %", "price.suggestion.price"
            ),
            Column("Complete", "product.is_whole", Format.YES),
            Column("Design", design),
        ],
    )


@allow(see=EVERYONE, costs=True)
def price_paper(request: StudioRequest) -> HttpResponse:
    """The price list for customers as a PDF: of one channel, or of all."""
    day = today()
    market = Market.on(day)
    wanted = request.GET.get("channel", "")
    chosen = [channel for channel in market.channels if wanted in ("", str(channel.pk))]
    paper = price_list_of(
        market,
        chosen,
        studio=request.studio,
        day=day,
        printed=printed_by(request),
        with_unapproved=_with_unapproved(request),
    )
    return shown_pdf(price_list_pdf(paper), f"price-list-{day}")


def product_of(pk: int) -> ProductCost:
    """What is sold, with its cost; 404 where it is no product that is made."""
    item = get_object_or_404(Item, pk=pk, kind=Kind.FINISHED)
    found = product_costs(today(), [item.pk])
    if not found:
        raise Http404
    return found[0]


@allow(see=EVERYONE, costs=True)
def product_prices(request: StudioRequest, pk: int) -> HttpResponse:
    """One product: what is asked in each channel, what is left, what should be asked, and what another price does."""
    return _product_page(request, product_of(pk))


def _product_page(
    request: StudioRequest, each: ProductCost, asked_form: AskedPriceForm | None = None
) -> HttpResponse:
    day, studio = today(), request.studio
    market = Market.on(day, [each.item.pk])
    asking = _asking(request, "goal", "ppm", "price", "channel", "units", "fixed", "labour")
    start = _shown(Wish(Goal.MARGIN, USUAL_MARGIN_PPM)) | {"units": str(USUAL_MONTH)}
    form = TryForm(asking, studio=studio, channels=market.channels, initial=start)
    wish = wish_of(form)
    rows = _rows(each, market, price_points(studio.currency), wish)
    trial = _trial(form, rows, each)
    never = never_approved([each.item.pk])
    context = {
        "product": each,
        "item": each.item,
        "unapproved": never,
        "rows": rows,
        "form": form,
        "wish": wish,
        "trial": trial,
        "asked_form": asked_form
        or AskedPriceForm(studio=studio, channels=market.channels, initial={"from_on": day}),
        "refused": asked_form is not None,
        "kept": AskedPrice.objects.filter(item=each.item).select_related("channel", "set_by"),
        "day": day,
        "channels": market.channels,
    }
    if tables.wanted(request):
        if request.GET.get("table") == "asked":
            asked = AskedPrice.objects.filter(item=each.item).select_related("channel", "set_by")
            return ASKED.file(request, asked, name=f"asked-{each.item.pk}")
        return _prices_table(wish, never).file(request, (PriceRow(each, row) for row in rows))
    return answer(request, "costing/product_prices.html", context, refused=asked_form is not None)


ASKED = Table(
    "asked",
    "Prices asked",
    [
        Column("From", "from_on", Format.DAY),
        Column("Channel", "channel.name"),
        money_column("Price", "price_micros"),
        Column("No longer sold", lambda price: price.price_micros is None, Format.YES),
        Column("Why", "note"),
        Column("By", "set_by"),
    ],
)


def _trial(form: TryForm, rows: Sequence[ChannelPrice], each: ProductCost) -> dict[str, Any] | None:
    """What the price typed leaves in the channel chosen, and what it does to the volume; None where none was typed."""
    if not form.is_bound or not form.is_valid() or not rows:
        return None
    data = form.cleaned_data
    row = next((row for row in rows if str(row.channel.pk) == data["channel"]), rows[0])
    if not data["price"]:
        return None
    sold = row.at(data["price"], each.cost)
    varies = data["labour"] == "varies"
    units = data["units"] or USUAL_MONTH
    left = sold.contribution - (each.cost.labour if varies else 0)
    return {
        "row": row,
        "sold": sold,
        "units": units,
        "varies": varies,
        "change": raised(row.sold, sold, each.cost, units, labour_varies=varies) if row.sold else None,
        "fixed": data["fixed"],
        "even": break_even(data["fixed"], left, sold.net) if data["fixed"] else None,
        "left": left,
    }


@allow(do=BOOKS)
def asked_price_add(request: StudioRequest, pk: int) -> HttpResponse:
    """Ask a price for a product in a channel from a day on."""
    each = product_of(pk)
    market = Market.on(today(), [])
    form = AskedPriceForm(request.POST, studio=request.studio, channels=market.channels)
    if not form.is_valid():
        return _product_page(request, each, form)

    def act() -> str:
        data = form.cleaned_data
        verbs.ask(
            item=each.item,
            channel=data["channel"],
            price_micros=data["price_micros"],
            from_on=data["from_on"],
            note=data["note"],
            by=request.user,
            now=timezone.now(),
        )
        return reverse("costing:product-prices", args=[each.item.pk])

    url = once(request, act)
    messages.success(request, "The price holds from its day on. What was asked before stays on record.")
    return redirect(url)
