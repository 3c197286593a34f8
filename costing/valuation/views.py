"""What goods are worth and what they cost, for the owner and the accountant; and closing the books."""

from datetime import date, timedelta

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from costing.models import GoodsRule
from costing.rates.rates import RateError, check_open
from costing.valuation import closing as verbs
from costing.valuation import compared, statement
from costing.valuation.cost_of_goods import CostOfGoods, cost_of_goods
from costing.valuation.cost_of_goods_pdf import goods_pdf
from costing.valuation.cost_of_goods_text import paper_of
from costing.valuation.forms import CloseForm, GoodsRuleForm, OnForm
from costing.valuation.goods import class_of, goods_at, rule_on
from costing.valuation.ledger_as_of import Instant, lots_on_shelf
from costing.valuation.tables import CLOSED_STOCK, CLOSINGS, ITEM_LOTS, METHODS, RULES, LotRow, stock_table
from inventory.deliveries.forms_late_costs import SpanForm
from inventory.ledger import closing
from inventory.models import Closing, Item, Lot
from studio.core.days import first_instant_after
from studio.core.percent import entry_percent
from studio.people.access import BOOKS, EVERYONE, OWNER, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, printed_by, shown_pdf, sign, today
from studio.web.submissions import once


def _asked(request: StudioRequest) -> tuple[OnForm, Instant, date]:
    """The day asked for, today unless it is a day; and the instant at its end."""
    day = today()
    asked = {"on": request.GET.get("on") or day.isoformat(), "known": request.GET.get("known", "")}
    form = OnForm(asked, today=day)
    known = None
    if form.is_valid():
        day = form.cleaned_data["on"]
        known = form.cleaned_data["known"]
    at = Instant(first_instant_after(day), first_instant_after(known) if known else None)
    return form, at, day


@allow(see=EVERYONE, costs=True)
def stock_value(request: StudioRequest) -> HttpResponse:
    """What goods were worth at the end of a day, by class and by item."""
    form, at, day = _asked(request)
    rule = rule_on(day)
    goods = goods_at(at, rule)
    if tables.wanted(request):
        return stock_table(goods.rule, day).file(request, goods.rows)
    rows = [(row, row.worth(rule) - row.books, row.worth(rule)) for row in goods.rows]
    total = goods.total()
    context = {
        "form": form,
        "day": day,
        "known": at.known and at.known - timedelta(microseconds=1),
        "goods": goods,
        "rule": rule,
        "rows": rows,
        "classes": [
            (name, each, each.worth(rule)) for name, each in goods.classes if each.books or each.worth(rule)
        ],
        "groups": [(name, each.worth(rule)) for name, each in goods.groups],
        "total": total,
        "worth": goods.worth,
        "columns": statement.columns(rule)[1:4],
        "included": statement.included_words(rule),
        "asked": request.GET.urlencode(),
    }
    return answer(request, "costing/stock_value.html", context)


@allow(see=EVERYONE, costs=True)
def stock_value_item(request: StudioRequest, pk: int) -> HttpResponse:
    """The lots of an item at the end of a day, by the books."""
    item = get_object_or_404(Item, pk=pk)
    form, at, day = _asked(request)
    figures = lots_on_shelf(at, item.pk)
    lots = Lot.objects.select_related("item").in_bulk([lot_id for lot_id, _, _ in figures])
    rows = [LotRow(lots[lot_id], quantity, value) for lot_id, quantity, value in figures]
    if tables.wanted(request):
        return ITEM_LOTS.file(request, rows, name=f"lots-{item.pk}-{day}")
    page = page_of(request, rows)
    context = {
        "item": item,
        "form": form,
        "day": day,
        "of": class_of(item),
        "page": page,
        "table": ITEM_LOTS.shown(request, list(page)),
        "quantity": sum(quantity for _, quantity, _ in rows),
        "value": sum(value for _, _, value in rows),
    }
    return answer(request, "costing/stock_value_item.html", context)


def _span(request: StudioRequest) -> tuple[SpanForm, date, date]:
    """The period asked for: the last month that is over unless it is one."""
    last = today().replace(day=1) - timedelta(days=1)
    usual = (last.replace(day=1), last)
    asked = {
        name: request.GET.get(name) or day.isoformat()
        for name, day in zip(("first", "last"), usual, strict=True)
    }
    form = SpanForm(asked, usual=usual, initial=dict(zip(("first", "last"), usual, strict=True)))
    if not form.is_valid():
        return form, *usual
    return form, form.cleaned_data["first"], form.cleaned_data["last"]


def usual_spans(day: date) -> list[tuple[str, date, date]]:
    """Periods one asks for: this month and the last, the last quarter, this year and the last."""
    month = day.replace(day=1)
    before = month - timedelta(days=1)
    quarter = date(day.year, (day.month - 1) // 3 * 3 + 1, 1)
    ended = quarter - timedelta(days=1)
    begun = date(ended.year, (ended.month - 1) // 3 * 3 + 1, 1)
    year = date(day.year, 1, 1)
    return [
        ("This month", month, day),
        ("Last month", before.replace(day=1), before),
        ("Last quarter", begun, ended),
        ("This year", year, day),
        ("Last year", date(day.year - 1, 1, 1), year - timedelta(days=1)),
    ]


def _told(request: StudioRequest) -> tuple[SpanForm, CostOfGoods]:
    form, first, last = _span(request)
    return form, cost_of_goods(first, last, rule_on(last))


@allow(see=EVERYONE, costs=True)
def cost_of_goods_page(request: StudioRequest) -> HttpResponse:
    """What goods cost in a period, where it went, and that it adds up."""
    form, told = _told(request)
    lines = statement.statement(told)
    if tables.wanted(request):
        return _cost_file(request, told, lines)
    turns, lasts = statement.pace(told)
    went = statement.where_it_went(told)
    context = {
        "form": form,
        "told": told,
        "lines": lines,
        "columns": statement.columns(told.rule),
        "went": went,
        "used": told.used,
        "moved": abs(told.cost.material - told.used),
        "moved_words": "more" if told.cost.material > told.used else "less",
        "cost": lines[-3].counted,
        "turns": turns,
        "lasts": lasts,
        "included": statement.included_words(told.rule),
        "spans": usual_spans(today()),
        "query": f"first={told.first}&last={told.last}",
        "closed": closing.latest(),
    }
    return answer(request, "costing/cost_of_goods.html", context)


def _cost_file(request: StudioRequest, told: CostOfGoods, lines: list[statement.Figures]) -> HttpResponse:
    rows: list[list[object]] = [
        [words, *map(tables.micros_cell, cells)] for words, cells in statement.as_cells(lines)
    ]
    rows.append([f"Where the material went, {statement.span_words(told.first, told.last)}"])
    rows += [[name, tables.micros_cell(value)] for name, value in statement.where_it_went(told)]
    rows.append(["In all", tables.micros_cell(told.used)])
    rows += [[sentence] for sentence in statement.included_words(told.rule)]
    name = f"cost-of-goods-{told.first}-{told.last}"
    return tables.export(
        request, name, [statement.span_words(told.first, told.last), *statement.columns(told.rule)], rows
    )


@allow(see=EVERYONE, costs=True)
def cost_of_goods_paper(request: StudioRequest) -> HttpResponse:
    """The same as a PDF for the accountant."""
    _, told = _told(request)
    paper = paper_of(told, request.studio, closed=closing.latest(), printed=printed_by(request))
    return shown_pdf(goods_pdf(paper), f"cost-of-goods-{told.first}-{told.last}")


@allow(see=EVERYONE, costs=True)
def method_comparison(request: StudioRequest) -> HttpResponse:
    """First in first out and averages beside specific lots, item by item."""
    form, first, last = _span(request)
    rows = compared.compare(first, last)
    if tables.wanted(request):
        return METHODS.file(request, rows, name=f"methods-{first}-{last}")
    context = {
        "form": form,
        "page": page_of(request, rows),
        "methods": list(compared.METHODS),
        "sums": compared.sums(rows),
        "first": first,
        "last": last,
        "spans": usual_spans(today()),
    }
    return answer(request, "costing/method_comparison.html", context)


@allow(see=EVERYONE, costs=True)
def goods_rules(request: StudioRequest, form: GoodsRuleForm | None = None) -> HttpResponse:
    """What is counted into goods, from which day."""
    if tables.wanted(request):
        return RULES.file(request, GoodsRule.objects.select_related("set_by"))
    day = today()
    now = rule_on(day)
    initial = {
        "from_on": day,
        "with_labour": now.with_labour,
        "with_owner": now.with_owner,
        "with_overhead": now.with_overhead,
        "blends": now.blends,
        "normal_loss": entry_percent(now.normal_loss_ppm),
    }
    context = {
        "rules": GoodsRule.objects.select_related("set_by"),
        "included": statement.included_words(now),
        "form": form or GoodsRuleForm(initial=initial),
        "refused_form": form,
    }
    return answer(request, "costing/goods_rules.html", context, refused=form is not None)


@allow(do=BOOKS)
def goods_rule_add(request: StudioRequest) -> HttpResponse:
    """Set what is counted from a day on."""
    form = GoodsRuleForm(request.POST)
    if form.is_valid():

        def act() -> str:
            rule = form.save(commit=False)
            check_open(rule.from_on, "rule")
            rule.normal_loss_ppm = form.cleaned_data["normal_loss"]
            rule.set_by, rule.set_at = request.user, timezone.now()
            rule.save(force_insert=True)
            return reverse("costing:goods-rules")

        try:
            url = once(request, act)
        except RateError as error:
            form.add_error("from_on", str(error))
        else:
            messages.success(request, "The rule is set. Reports of days before it stay as they were.")
            return redirect(url)
    return goods_rules(request, form)


def _closings() -> QuerySet[Closing]:
    return Closing.objects.select_related("by")


@allow(see=EVERYONE, do=OWNER, costs=True)
def closing_list(request: StudioRequest) -> HttpResponse:
    """Up to when the books are closed; the owner closes them further."""
    if tables.wanted(request):
        return CLOSINGS.file(request, _closings())
    day = today()
    months = verbs.months_closable(day)
    form = CloseForm(request.POST or None, initial={"through": months[0]} if months else None)
    if request.method == "POST" and form.is_valid():
        signature = sign(request, reason=form.cleaned_data["reason"])

        def act() -> str:
            closed = verbs.close_books(form.cleaned_data["through"], signature=signature)
            return reverse("costing:closing-detail", args=[closed.pk])

        try:
            url = once(request, act)
        except closing.CannotClose as error:
            form.add_error("through", str(error))
        else:
            messages.success(request, "The books are closed. What stood then is kept below.")
            return redirect(url)
    context = {
        "form": form,
        "table": CLOSINGS.shown(request, list(_closings())),
        "months": months,
        "open": verbs.what_is_open(months[0]) if months else [],
        "may_close": request.user.role in OWNER,
    }
    return answer(request, "costing/closing_list.html", context, refused=request.method == "POST")


@allow(see=EVERYONE, costs=True)
def closing_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """A closing: what was kept, and that it still comes out the same."""
    closed = get_object_or_404(Closing.objects.select_related("by"), pk=pk)
    stock = closed.stock.select_related("item").order_by("item__name")
    if tables.wanted(request):
        return CLOSED_STOCK.file(request, stock, name=f"closing-{closed.through}")
    kept = verbs.compared(closed)
    page = page_of(request, stock)
    context = {
        "closing": closed,
        "kept": kept,
        "rule": rule_on(closed.through),
        "same": all(each.same for each in kept),
        "page": page,
        "table": CLOSED_STOCK.shown(request, list(page)),
    }
    return answer(request, "costing/closing_detail.html", context)
