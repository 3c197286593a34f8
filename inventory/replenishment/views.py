"""What to buy: the list of all items, one item with its reasoning, and what sleeps on the shelf."""

from collections import Counter
from collections.abc import Callable
from datetime import timedelta
from fractions import Fraction
from statistics import median
from typing import Any

from django.db.models import Sum
from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from inventory.counting.figures import classes
from inventory.models import USES, Item, Kind, Movement, OneOff
from inventory.replenishment import facts, forecast_text, slow_stock
from inventory.replenishment.arithmetic import up
from inventory.replenishment.demand import LITTLE_USES, between
from inventory.replenishment.forecast_plot import plot_of, steps
from inventory.replenishment.forms import LEAST_SERVICE_PPM, MOST_SERVICE_PPM, SERVICES, WINDOWS
from inventory.replenishment.outlook import ReorderForecast
from inventory.replenishment.outlooks import outlooks
from inventory.replenishment.rules import Rules, in_force
from studio.core.days import begin
from studio.core.percent import format_percent
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.filters import text_of, whole_number
from studio.web.requests import StudioRequest, answer, page_of, today
from studio.web.tables import Column, Format, Table, follow

USES_SHOWN, OPTIONS_SHOWN = 8, 3
# So many times a usual day's use stands out. Common practice, no source.
STANDS_OUT = 3
REVIEWS = (7, 14, 28)


def trying(request: StudioRequest, own_ppm: int | None = None) -> tuple[Rules, dict[str, Any]]:
    """The rules with what the address tries out, and what the form that tries shows.

    `own_ppm` is the service level of the one item that is looked at, where it has its own.
    """
    kept = in_force()
    usual = own_ppm or kept.service_ppm
    service, window = _number(request, "service"), _number(request, "window")
    if service is None or not LEAST_SERVICE_PPM <= service <= MOST_SERVICE_PPM:
        service = usual
    if window is None or not 14 <= window <= 365:
        window = kept.window_days
    rules = kept.trying(service_ppm=None if service == usual else service, window_days=window)
    return rules, {
        "rules": rules,
        "kept": kept,
        "service_ppm": service,
        "tries": rules != kept,
        "services": [(ppm, format_percent(ppm)) for ppm in sorted({*SERVICES, service, usual})],
        "windows": sorted({*WINDOWS, window, kept.window_days}),
    }


def _number(request: StudioRequest, name: str) -> int | None:
    text = request.GET.get(name, "")
    return whole_number(text, 7)


@allow(see=EVERYONE)
def reorder_list(request: StudioRequest) -> HttpResponse:
    """Every item with how long it lasts, by when to order, how much and of whom."""
    day = today()
    rules, tried = trying(request)
    found = forecast_text.by_urgency(outlooks(facts.read(day, window=rules.window_days), rules).values())
    groups = Counter(forecast_text.group_of(each) for each in found)
    show, kind = request.GET.get("show", ""), request.GET.get("kind", "")
    text = text_of(request, "q")
    shown = [
        each
        for each in found
        if (
            forecast_text.group_of(each) == show
            if show in forecast_text.SHOWN
            else forecast_text.group_of(each) not in {"made"}
        )
        and (each.item.kind == kind or kind not in Kind.values)
        and text.lower() in each.item.name.lower()
    ]
    if tables.wanted(request):
        return ITEMS.file(request, shown)
    page = page_of(request, shown)
    context = {
        "page": page,
        "rows": [row_of(each) for each in page],
        "shows": [(key, label, groups[key]) for key, label in forecast_text.SHOWN.items()],
        "show": show,
        "kinds": Kind.choices,
        "kind": kind,
        "text": text,
        "any": bool(found),
        "due": groups["due"],
        "day": day,
        **tried,
    }
    return answer(request, "inventory/reorder_list.html", context)


def row_of(outlook: ReorderForecast) -> dict[str, Any]:
    """An item as the list shows it."""
    wanted = outlook.order_in is not None
    return {
        "outlook": outlook,
        "item": outlook.item,
        "state": forecast_text.state_of(outlook),
        "cover": forecast_text.cover_words(outlook),
        "best": outlook.best if wanted else None,
        "why": forecast_text.why(outlook),
    }


def _best(outlook: ReorderForecast) -> Any:
    """What would be bought best; None where nothing is to be bought."""
    return outlook.best if outlook.order_in is not None else None


def _of_best(path: str) -> Callable[[ReorderForecast], Any]:
    return lambda outlook: follow(path, _best(outlook))


ITEMS = Table(
    "what-to-buy",
    "What to buy",
    [
        Column("Item", "item.name"),
        Column("Kind", "item.kind_words"),
        Column("Unit", "item.unit"),
        Column("State", forecast_text.state_of, Format.STATE),
        Column("Free to use", "known.usable", Format.QUANTITY),
        Column("Promised", "known.committed", Format.QUANTITY),
        Column("On order", "known.on_order", Format.QUANTITY),
        Column("Use a day", lambda outlook: round(outlook.leaning_on.now), Format.QUANTITY),
        Column("Days of cover", "cover", Format.NUMBER),
        Column("Reorder point", "point", Format.QUANTITY),
        Column("Safety stock", "keep", Format.QUANTITY),
        Column("Order by", "order_by", Format.DAY),
        Column("Runs out", lambda outlook: outlook.on(outlook.runs_out), Format.DAY),
        Column("Packs", _of_best("option.packs"), Format.NUMBER),
        Column("Pack", _of_best("source.typed_pack")),
        Column("Order", _of_best("option.quantity"), Format.QUANTITY),
        Column("From", _of_best("source.supplier.name")),
        Column("Why", forecast_text.why),
        Column("Price per pack", _of_best("option.price"), Format.PRICE, may="sees_costs"),
        Column("Goods", _of_best("option.goods"), Format.MONEY, may="sees_costs"),
    ],
)


def outlook_of(pk: int, rules: Rules) -> ReorderForecast:
    """The outlook of one item, or 404."""
    item = get_object_or_404(Item, pk=pk)
    found = outlooks(facts.read(today(), window=rules.window_days, item_ids=[item.pk]), rules)
    if item.pk not in found:
        # A retired item keeps its page; nothing more is expected of it.
        of = facts.ItemFacts(item)
        found = outlooks(facts.Facts(today(), {item.pk: of}, {}), rules)
    return found[item.pk]


@allow(see=EVERYONE)
def item_reorder(request: StudioRequest, pk: int) -> HttpResponse:
    """All the reasoning of one item."""
    rules, tried = trying(request, get_object_or_404(Item, pk=pk).service_ppm)
    outlook = outlook_of(pk, rules)
    told = steps(outlook)
    if tables.wanted(request):
        table = _days(outlook)
        return table.file(request, steps(outlook))
    context = {
        "outlook": outlook,
        "item": outlook.item,
        "state": forecast_text.state_of(outlook),
        "why": forecast_text.why(outlook),
        "hurry": forecast_text.hurry(outlook),
        "stand_in": forecast_text.stand_in(outlook),
        "proposed": outlook.best if outlook.order_in is not None else None,
        "cover": forecast_text.cover_words(outlook),
        "past": forecast_text.demand_words(outlook),
        "service": forecast_text.service_words(outlook),
        "missing": forecast_text.missing_of(outlook),
        "plot": plot_of(outlook, told) if outlook.known.usable or outlook.is_used else None,
        "choices": outlook.choices[:OPTIONS_SHOWN],
        "others": outlook.choices[OPTIONS_SHOWN:],
        "difference": _difference(outlook),
        "economic": None if outlook.economic is None else up(outlook.economic),
        "up_to": [(review, outlook.up_to(review)) for review in REVIEWS],
        "position": outlook.known.usable + outlook.known.on_order,
        "replaces": outlook.item.replaces.all(),
        "day": outlook.day,
        **_uses(outlook),
        **tried,
    }
    return answer(request, "inventory/item_reorder.html", context)


def _difference(outlook: ReorderForecast) -> Fraction | None:
    """What the proposed order saves in a year against the next; None where it cannot be said."""
    years = [choice.option.yearly for choice in outlook.choices[:2]]
    return years[1] - years[0] if len(years) == 2 and None not in years else None  # type: ignore[operator]


def _uses(outlook: ReorderForecast) -> dict[str, Any]:
    """The largest uses of the window, and what of it was left out."""
    first = begin(outlook.day - timedelta(days=outlook.rules.window_days))
    moved = Movement.objects.standing().filter(
        lot__item=outlook.item,
        kind__in=USES,
        posting__happened_at__gte=first,
        posting__happened_at__lt=begin(outlook.day),
    )
    left_out = OneOff.objects.standing()
    by_posting = moved.order_by().values_list("posting", "posting__happened_at", "posting__kind")
    largest = (
        by_posting.exclude(posting__in=left_out.values("posting"))
        .annotate(used=Sum("quantity"))
        .order_by("used", "posting")
    )
    aside = by_posting.filter(posting__in=left_out.values("posting")).annotate(used=Sum("quantity"))
    records = {
        record.posting_id: record
        for record in left_out.filter(posting__in=aside.values("posting")).select_related("by")
    }
    today_on = outlook.day.toordinal()
    past = between(outlook.known.used, today_on - outlook.rules.window_days, today_on)
    days, usual = len(past), round(median(past.values())) if past else 0
    return {
        "largest": [
            (
                pk,
                at,
                -used,
                round(Fraction(-used, usual), 1) if usual else None,
                _stands_out(-used, usual, days),
            )
            for pk, at, _, used in largest[:USES_SHOWN]
        ],
        "left_out": [(pk, at, -used, records[pk]) for pk, at, _, used in aside.order_by("posting")],
    }


def _stands_out(used: int, usual: int, days: int) -> bool:
    """Whether a use is so far from a usual day's, the median, that somebody should say whether it will come again."""
    return days >= LITTLE_USES and used >= STANDS_OUT * usual


def _days(outlook: ReorderForecast) -> Table:
    """The days to come of one item."""

    def quantity(heading: str, value: str) -> Column:
        return Column(heading, value, Format.QUANTITY, item=lambda step: outlook.item)

    return Table(
        f"level-to-come-{outlook.item.pk}",
        "Days to come",
        [
            Column("Day", lambda step: outlook.on(step.number), Format.DAY),
            Column("Unit", lambda step: outlook.item.unit),
            quantity("Usual use", "usual"),
            quantity("Planned", "planned"),
            quantity("Comes", "came"),
            quantity("Goes off", "expired"),
            quantity("Level", "level"),
            quantity("At worst", "low"),
            quantity("At best", "high"),
        ],
    )


@allow(see=EVERYONE)
def slow_list(request: StudioRequest) -> HttpResponse:
    """What sleeps on the shelf, and the classes by yearly value."""
    day = today()
    rules, tried = trying(request)
    found = outlooks(facts.read(day, window=rules.window_days), rules).values()
    known = classes(day)
    rows = slow_stock.asleep(found, known)
    if tables.wanted(request):
        return ASLEEP.file(request, rows)
    context = {
        "page": page_of(request, rows),
        "classes": slow_stock.by_class(found, known, rows),
        "surplus": sum(row.surplus_value for row in rows),
        "lost": sum(row.lost_value for row in rows),
        "day": day,
        **tried,
        "services": (),
    }
    return answer(request, "inventory/slow_list.html", context)


ASLEEP = Table(
    "slow-stock",
    "Slow and surplus",
    [
        Column("Item", "outlook.item.name"),
        Column("Class", "letter"),
        Column("Unit", "outlook.item.unit"),
        Column("State", "words", Format.STATE),
        Column("On hand", "outlook.known.on_hand", Format.QUANTITY, item="outlook.item"),
        Column("Days of cover", "outlook.cover", Format.NUMBER),
        Column("Beyond a year", "surplus", Format.QUANTITY, item="outlook.item"),
        Column("Goes off", "lost", Format.QUANTITY, item="outlook.item"),
        Column("From", "lost_on", Format.DAY),
        Column("Beyond a year is worth", "surplus_value", Format.MONEY, may="sees_costs"),
        Column("What goes off is worth", "lost_value", Format.MONEY, may="sees_costs"),
    ],
)
