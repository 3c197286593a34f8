"""What every product earns for an hour of hands, and which inputs move its margin."""

from collections.abc import Sequence
from fractions import Fraction

from django.http import HttpResponse
from django.utils import timezone

from batches.formulas.loads import Load, loads
from batches.formulas.sheet import batch_sheet
from batches.recipe import RecipeError
from costing.contribution.bar_plots import hours_plot, tornado_plot
from costing.contribution.earnings import SOLD_DAYS, Earning, earnings, slow_finish, sold_lately
from costing.contribution.sensitivity import Case, Swing, load_of, price_against_load, scented, tornado
from costing.prices.channels import Market
from costing.prices.forms import ByForm, HourForm
from costing.prices.pricing import floor_price
from costing.prices.views import SIZE, money_cell, product_of, ratio_cell
from costing.standard.product_costs import ProductCost, product_costs
from studio.core.percent import WHOLE
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, today

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
        return _export(request, rows, wanted)
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


def _export(request: StudioRequest, rows: Sequence[Earning], wanted: Fraction | None) -> HttpResponse:
    head = [
        "Rank",
        "Product",
        "Channel",
        "Price asked",
        "Contribution",
        "Contribution per kg of melt",
        "Hands-on minutes",
        "Contribution per hands-on hour",
        "Margin %",
        f"Sold in {SOLD_DAYS} days",
        "Hour held against",
        "Minutes that would bring it",
        "Price that would bring it",
        "Complete",
    ]

    def cells(each: Earning) -> list[object]:
        sold = each.outcome
        return [
            each.rank,
            each.product.item.name,
            each.channel.name,
            money_cell(sold.asked),
            money_cell(sold.contribution),
            money_cell(sold.per_kg),
            tables.exact_cell(each.product.cost.minutes),
            money_cell(sold.per_hour),
            ratio_cell(sold.margin),
            each.sold,
            money_cell(wanted),
            None if each.minutes is None else tables.exact_cell(each.minutes),
            money_cell(each.price),
            "yes" if each.product.is_whole else "no",
        ]

    return tables.export(request, "earnings", head, (cells(each) for each in rows))


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
        head = ["Input", "Change %", "Margin % when less", "Margin % when more", "As it is %"]
        cells = (
            [
                swing.name,
                ratio_cell(Fraction(by_ppm, WHOLE)),
                ratio_cell(swing.lower),
                ratio_cell(swing.higher),
                ratio_cell(swing.base),
            ]
            for swing in swings
        )
        return tables.export(request, "sensitivity", head, cells)
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
