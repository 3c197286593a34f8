"""What every product earns for an hour of hands, and which inputs move its margin."""

from fractions import Fraction

from django.http import HttpResponse
from django.utils import timezone

from batches.formulas.loads import Load, loads
from batches.formulas.sheet import batch_sheet
from batches.recipe import RecipeError
from costing.contribution.bar_plots import hours_plot, tornado_plot
from costing.contribution.earnings import SOLD_DAYS, earnings, slow_finish, sold_lately
from costing.contribution.sensitivity import Case, Swing, load_of, price_against_load, scented, tornado
from costing.prices.channels import Market
from costing.prices.forms import ByForm, HourForm
from costing.prices.pricing import floor_price
from costing.prices.views import SIZE, money_column, product_of, share_column
from costing.standard.product_costs import ProductCost, product_costs
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, today
from studio.web.tables import Column, Format, Table

USUAL_BY_PPM = 100_000
PRICE_FACTORS = tuple(Fraction(percent, 100) for percent in (60, 80, 90, 100, 110, 120, 150))
LOAD_FACTORS = tuple(Fraction(percent, 100) for percent in (60, 80, 90, 100, 110, 120, 140))


@allow(see=EVERYONE, costs=True)
def earning_list(request: StudioRequest) -> HttpResponse:
    """Contribution per unit, per kilogram of melt and per hands-on hour, ranked."""
    day, studio = today(), request.studio
    form = HourForm(request.GET if "hour" in request.GET else None, studio=studio)
    per_hour = form.cleaned_data.get("hour") if form.is_bound and form.is_valid() else None
    costs = product_costs(day)
    rows, wanted = earnings(costs, Market.on(day), sold_lately(timezone.now()), per_hour)
    if tables.wanted(request):
        return _earnings_table(wanted).file(request, rows)
    page = page_of(request, rows, SIZE)
    context = {
        "page": page,
        "rows": page.object_list,
        "wanted": wanted,
        "is_middle": per_hour is None or not per_hour,
        "form": form,
        "plot": hours_plot(rows, wanted, studio.currency),
        "slow": slow_finish(rows),
        "sold_days": SOLD_DAYS,
        "any_products": bool(costs),
        "incomplete": any(not each.product.is_whole for each in rows),
    }
    return answer(request, "costing/earning_list.html", context)


def _earnings_table(wanted: Fraction | None) -> Table:
    """`wanted` is the contribution of an hour that products are held against, in millionths."""
    return Table(
        "earnings",
        "Contribution of an hour",
        [
            Column("Rank", "rank", Format.NUMBER),
            Column("Product", "product.item.name"),
            Column("Channel", "channel.name"),
            money_column("Price asked", "outcome.asked"),
            money_column("Contribution", "outcome.contribution"),
            money_column("Contribution per kg of melt", "outcome.per_kg"),
            Column("Hands-on minutes", "product.cost.minutes", Format.RATIO),
            money_column("Contribution per hands-on hour", "outcome.per_hour"),
            share_column("Margin %", "outcome.margin"),
            Column(f"Sold in {SOLD_DAYS} days", "sold", Format.NUMBER),
            money_column("Hour held against", lambda row: wanted),
            Column("Minutes that would bring it", "minutes", Format.RATIO),
            money_column("Price that would bring it", "price"),
            Column("Complete", "product.is_whole", Format.YES),
        ],
    )


def _swings_table(by_ppm: int) -> Table:
    return Table(
        "sensitivity",
        "What moves the margin",
        [
            Column("Input", "name"),
            Column("Change %", lambda swing: by_ppm, Format.PERCENT),
            share_column("Margin % when less", "lower"),
            share_column("Margin % when more", "higher"),
            share_column("As it is %", "base"),
        ],
    )


@allow(see=EVERYONE, costs=True)
def product_sensitivity(request: StudioRequest, pk: int) -> HttpResponse:
    """Which inputs move a product's margin most, and what fragrance at a price and a load leaves."""
    each, day = product_of(pk), today()
    market = Market.on(day, [each.item.pk])
    sold_in = [channel for channel in market.channels if market.asked(each.item.pk, channel.pk)]
    form = ByForm(
        request.GET if {"channel", "by"} & request.GET.keys() else None,
        channels=sold_in,
        initial={"by": "10"},
    )
    data = form.cleaned_data if form.is_bound and form.is_valid() else {}
    by_ppm = data.get("by") or USUAL_BY_PPM
    channel = next(
        (one for one in sold_in if str(one.pk) == data.get("channel")), sold_in[0] if sold_in else None
    )
    context: dict[str, object] = {
        "product": each,
        "item": each.item,
        "form": form,
        "channel": channel,
        "by_ppm": by_ppm,
    }
    swings: list[Swing] = []
    if channel and (asked := market.asked(each.item.pk, channel.pk)):
        case = Case(each.sheet.plan, each.version.recipe(), asked.price, market.terms(channel.pk))
        swings = tornado(case, by_ppm)
        context |= {
            "asked": asked,
            "margin": case.margin,
            "floor": floor_price(case.cost.total, case.terms),
            "swings": swings,
            "plot": tornado_plot(swings, by_ppm),
            **_grid(each, case),
        }
    if tables.wanted(request):
        return _swings_table(by_ppm).file(request, swings)
    return answer(request, "costing/product_sensitivity.html", context)


def _grid(each: ProductCost, case: Case) -> dict[str, object]:
    """The price of the fragrance against its load: heads, rows and which loads go beyond what is stated."""
    fragrance = [line for line in case.plan.lines if line.head == "fragrance" and line.price]
    if not fragrance:
        return {}
    columns = [
        (factor, load, load is not None and any(too_much(each, factor)))
        for factor in LOAD_FACTORS
        if (load := load_of(case.recipe, factor)) is not None
    ]
    cells = price_against_load(case, PRICE_FACTORS, [factor for factor, _, _ in columns])
    each_micros = sum(line.value for line in fragrance) / Fraction(
        sum(line.quantity for line in fragrance) or 1
    )
    rows = [
        (factor, factor * each_micros * 10**9, list(zip(row, columns, strict=True)))
        for factor, row in zip(PRICE_FACTORS, cells, strict=True)
    ]
    beyond = [
        load.maximum_words + " for " + str(load.item)
        for load in _loads_at(each, LOAD_FACTORS[-1])
        if load.is_above
    ]
    return {"columns": columns, "grid": rows, "one": Fraction(1), "beyond": beyond}


def too_much(each: ProductCost, factor: Fraction) -> list[Load]:
    """The maxima that a load of `factor` times today's would go beyond."""
    return [load for load in _loads_at(each, factor) if load.is_above]


def _loads_at(each: ProductCost, factor: Fraction) -> list[Load]:
    try:
        sheet = batch_sheet(scented(each.version.recipe(), factor), 1)
    except RecipeError:
        return []
    return loads(each.version.lines.all(), sheet)
