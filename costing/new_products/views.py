"""New scents: thought of, worked out, compared, and turned into a formula at trial."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from batches.models import FormulaVersion
from batches.recipe import Basis, RecipeError
from costing.models import Scenario
from costing.new_products.forms import (
    EXPENSES_AT_MOST,
    PARTS_AT_MOST,
    QUOTES_AT_MOST,
    ExpenseLines,
    Parts,
    QuoteLines,
    ScenarioForm,
    StartForm,
    typed_again,
    typed_amount,
    typed_from,
    typed_lines,
)
from costing.new_products.imagined import NotOne
from costing.new_products.keeping import CannotMake, Idea, keep, make_formula, put_away, with_lines
from costing.new_products.reading import Worked, work_out
from costing.prices.channels import Market, price_points
from costing.prices.forms import WishForm
from costing.prices.price_rows import Wish
from costing.prices.views import USUAL_MARGIN_PPM, money_column, share_column, wish_of
from inventory.models import Item
from studio.core.percent import entry_percent
from studio.core.quantities import to_unit
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import tables
from studio.web.filters import whole_number
from studio.web.line_forms import ADD_LINE, FormSet, hush, with_another_line
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

SIZE = 20
COMPARED_AT_MOST = 5
LINES = {"parts": PARTS_AT_MOST, "quotes": QUOTES_AT_MOST, "expenses": EXPENSES_AT_MOST}


def _worked(request: StudioRequest, scenarios: Sequence[Scenario]) -> tuple[list[Worked], WishForm]:
    """Scenarios worked out for the margin or markup asked for, and the form that asks."""
    asking = request.GET if {"goal", "ppm"} & request.GET.keys() else None
    form = WishForm(asking, initial={"goal": "margin", "ppm": entry_percent(USUAL_MARGIN_PPM)})
    points = price_points(request.studio.currency)
    return work_out(scenarios, on=today(), points=points, wish=wish_of(form)), form


@allow(see=EVERYONE, costs=True)
def scenario_list(request: StudioRequest) -> HttpResponse:
    """Every scenario kept, with what it would cost and leave."""
    away = request.GET.get("show") == "away"
    scenarios = with_lines().filter(put_away=away)
    if tables.wanted(request):
        return SCENARIOS.file(request, _worked(request, list(scenarios))[0])
    page = page_of(request, scenarios, SIZE)
    rows, _ = _worked(request, list(page.object_list))
    context = {
        "page": page,
        "rows": rows,
        "away": away,
        "any_away": Scenario.objects.filter(put_away=True).exists(),
    }
    return answer(request, "costing/scenario_list.html", context)


SCENARIOS = Table(
    "new-scents",
    "New scents",
    [
        Column("Scenario", "scenario.name"),
        Column("Starts from", "scenario.version"),
        Column("Fragrance", "scent"),
        share_column("Load % of wax", "load.of_wax"),
        share_column("Load % of melt", "load.of_melt"),
        money_column("Unit cost first run", "first.cost.total"),
        money_column("Unit cost steady", "steady.cost.total"),
        money_column("Packs for the first run", "pack_cash"),
        money_column("Development", "thought.expenses"),
        money_column("Cash before the first sale", "cash"),
        Column("Sold in", "scenario.channel"),
        money_column("At", "scenario.price_micros"),
        share_column("Margin %", "sold.margin"),
        money_column("Contribution", "sold.contribution"),
        Column("Units to repay development", "payback.units", Format.NUMBER),
        Column("Load above the maximum", "above", Format.YES),
        Column("Cannot be worked out", "refusal"),
    ],
)


class PartRow(NamedTuple):
    """A line of one scenario's table: of a candle, of what to buy, of development, or of what to charge."""

    part: str
    what: str
    number: Any = None
    unit: str = ""
    cost: Any = None  # of a unit, by head
    total: Any = None
    more: str = ""


def _parts(row: Worked, wish: Wish) -> Iterator[PartRow]:
    """All tables of one scenario below each other: what a candle costs, what to buy, development, what to charge."""
    for step in row.steps:
        cost = step.cost
        yield PartRow(
            "A candle", step.name, step.units, "candles a run", cost, cost.total, _packs(step.bought)
        )
    for need in row.needs:
        number, unit = to_unit(need.needed, need.part.unit), need.part.unit
        cash = need.bought.cash if need.bought else None
        yield PartRow("To buy at first", need.part.name, number, unit, None, cash, _packs(need.bought))
    for each in row.scenario.expenses.all():
        yield PartRow("Development", each.get_kind_display(), each.number, total=each.total, more=each.words)
    goal = f"{wish.goal} of {entry_percent(wish.ppm)} %"
    for price in row.prices:
        more = price.suggestion.refusal or f"for a {goal}"
        yield PartRow("To charge", price.channel.name, total=price.suggestion.price, more=more)


def _packs(bought: Any) -> str:
    return f"{bought.packs} × {bought.pack.words}" if bought else ""


PARTS = Table(
    "new-scent",
    "A new scent",
    [
        Column("Part", "part"),
        Column("What", "what"),
        Column("Number", "number", Format.RATIO),
        Column("Unit", "unit"),
        money_column("Material", "cost.material"),
        money_column("Labour", "cost.labour"),
        money_column("Overhead", "cost.overhead"),
        money_column("In all", "total"),
        Column("More", "more"),
    ],
)


@allow(see=EVERYONE, costs=True)
def scenario_compare(request: StudioRequest) -> HttpResponse:
    """Two to five scenarios side by side."""
    wanted = [text for text in request.GET.getlist("s") if whole_number(text, 17) is not None]
    chosen = {scenario.pk: scenario for scenario in with_lines().filter(pk__in=wanted[:COMPARED_AT_MOST])}
    scenarios = [chosen[int(text)] for text in dict.fromkeys(wanted) if int(text) in chosen]
    rows, form = _worked(request, scenarios)
    if tables.wanted(request):
        return SCENARIOS.file(request, rows)
    context = {"rows": rows, "form": form, "wish": wish_of(form), "chosen": scenarios}
    return answer(request, "costing/scenario_compare.html", context)


def _scenario(pk: int) -> Scenario:
    scenario: Scenario = get_object_or_404(with_lines(), pk=pk)
    return scenario


@allow(see=EVERYONE, costs=True)
def scenario_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One scenario: unit cost at each step, cash for the first run, development, price, and the load against its maxima."""
    scenario = _scenario(pk)
    rows, form = _worked(request, [scenario])
    if tables.wanted(request):
        parts = _parts(rows[0], wish_of(form))
        return PARTS.file(request, parts, name=f"new-scent-{scenario.pk}")
    context = {"scenario": scenario, "row": rows[0], "form": form, "wish": wish_of(form)}
    return answer(request, "costing/scenario_detail.html", context)


@dataclass
class _Page:
    """The form of a scenario with its three sets of lines."""

    form: ScenarioForm
    parts: FormSet
    quotes: FormSet
    expenses: FormSet

    @property
    def sets(self) -> tuple[FormSet, ...]:
        return self.parts, self.quotes, self.expenses

    @property
    def lines(self) -> list[Any]:
        """Every line in the order of the page, named as its legend names it."""
        told = []
        for word, lines in (("Quote", self.quotes), ("Part", self.parts), ("Expense", self.expenses)):
            for number, line in enumerate(lines.forms, 1):
                line.title = f"{word} {number}"
                told.append(line)
        return told

    def is_valid(self) -> bool:
        """All of it; every part is looked at, so that all complaints come at once."""
        return all([self.form.is_valid(), *(lines.is_valid() for lines in self.sets)])


def _start(request: StudioRequest) -> tuple[FormulaVersion | None, Scenario | None]:
    """What a new scenario starts from: a formula's version, or an earlier scenario."""

    def number(name: str) -> int | None:
        text = request.POST.get(name) or request.GET.get(name, "")
        return whole_number(text, 17)

    versions = FormulaVersion.objects.filter(fill_ug__isnull=False).select_related("formula__item")
    like = with_lines().filter(pk=number("like") or 0).first()
    if like is not None:
        return like.version, like
    version = versions.prefetch_related("lines__item").filter(pk=number("version") or 0).first()
    return version, None


@allow(see=MAKERS, do=MAKERS, costs=True)
def scenario_add(request: StudioRequest) -> HttpResponse:
    """Think of a new scent: choose what it starts from, then say what is another."""
    version, like = _start(request)
    if version is None:
        form = StartForm(request.POST if request.method == "POST" else None)
        refused = form.is_bound and not form.is_valid()
        return answer(request, "costing/scenario_start.html", {"form": form}, refused=refused)
    adding = next((name for name in LINES if request.POST.get(ADD_LINE) == name), "")
    page = _page(request, version, like, adding)
    refused = False
    if request.method == "POST":
        if adding:
            hush(page.form, page.parts)
            hush(page.form, page.quotes)
            hush(page.form, page.expenses)
        else:
            if page.is_valid() and (url := _keep(request, page, version)):
                return redirect(url)
            refused = True
    context = {"page": page, "form": page.form, "version": version, "like": like, "limits": LINES}
    return answer(request, "costing/scenario_form.html", context, refused=refused)


def _page(request: StudioRequest, version: FormulaVersion, like: Scenario | None, adding: str) -> _Page:
    studio = request.studio
    channels = Market.on(today(), []).channels
    items = [item for item in Item.objects.current().materials() if item.kind != "wax"]
    with_items, with_money = {"items": items}, {"currency": studio.currency}
    if request.method == "POST":
        data: QueryDict = request.POST
        if adding:
            data = with_another_line(data, adding, LINES[adding])
        return _Page(
            ScenarioForm(data, studio=studio, channels=channels),
            Parts(data, prefix="parts", form_kwargs=with_items),
            QuoteLines(data, prefix="quotes", form_kwargs=with_money),
            ExpenseLines(data, prefix="expenses", form_kwargs=with_money),
        )
    if like is not None:
        initial = typed_again(like, studio)
        parts, quotes, expenses = typed_lines(like)
    else:
        initial = typed_from(version, studio)
        parts = [
            {"item": line.item_id, "amount": typed_amount(line.item, line.amount)}
            for line in version.lines.all()
            if line.basis == Basis.PER_UNIT
        ]
        quotes, expenses = [], [{"kind": kind} for kind in ("pour", "burn", "certificate")]
    page = _Page(
        ScenarioForm(initial=initial, studio=studio, channels=channels),
        Parts(prefix="parts", form_kwargs=with_items, initial=parts),
        QuoteLines(prefix="quotes", form_kwargs=with_money, initial=quotes),
        ExpenseLines(prefix="expenses", form_kwargs=with_money, initial=expenses),
    )
    page.quotes.extra = 1 if quotes else 3
    return page


def _keep(request: StudioRequest, page: _Page, version: FormulaVersion) -> str | None:
    """Keep the scenario; None where no batch could be poured by it, with the sentence on the form."""
    spare = {line.item_id: line.spare_ppm for line in version.lines.all() if line.basis == Basis.PER_UNIT}

    def filled(lines: Any) -> list[dict[str, Any]]:
        return [line.cleaned_data for line in lines.filled]

    idea = Idea(
        columns=page.form.columns() | {"version": version},
        parts=[
            {
                "item": each["item"],
                "amount": each["understood"],
                "spare_ppm": spare.get(each["item"].pk, 0),
            }
            for each in filled(page.parts)
            if each.get("item")
        ],
        quotes=[
            {
                "pack_quantity": each["pack_quantity"],
                "typed_pack": each["pack"],
                "from_packs": each["from_packs"] or 1,
                "price_micros": each["price_micros"],
            }
            for each in filled(page.quotes)
            if each.get("pack")
        ],
        expenses=[
            {
                "kind": each["kind"],
                "words": each["words"],
                "number": each["number"] or 1,
                "each_micros": each["each_micros"],
            }
            for each in filled(page.expenses)
        ],
    )
    try:
        return once(request, lambda: keep(idea, signature=sign(request)).get_absolute_url())
    except (RecipeError, NotOne) as error:
        page.form.add_error(None, str(error))
    return None


def _act(request: StudioRequest, pk: int, act: Callable[[Scenario], str], said: str) -> HttpResponse:
    scenario = get_object_or_404(Scenario, pk=pk)
    try:
        url = once(request, lambda: act(scenario))
    except (CannotMake, RecipeError, NotOne) as error:
        messages.error(request, str(error))
        return redirect(scenario)
    messages.success(request, said)
    return redirect(url)


@allow(do=MAKERS, costs=True)
def scenario_make(request: StudioRequest, pk: int) -> HttpResponse:
    """Turn a scenario into a formula at trial."""

    def act(scenario: Scenario) -> str:
        return make_formula(scenario.pk, signature=sign(request)).get_absolute_url()

    return _act(request, pk, act, "The formula is written, at trial. Burn-test it before any is sold.")


@allow(do=MAKERS, costs=True)
def scenario_put_away(request: StudioRequest, pk: int) -> HttpResponse:
    """Put a scenario away, or take it out again."""
    away = request.POST.get("away") == "yes"

    def act(scenario: Scenario) -> str:
        put_away(scenario, away)
        return reverse("costing:scenario-list")

    return _act(request, pk, act, "Put away." if away else "Taken out again.")
