"""A declared table on pages and in files, and the filters of a list. Figures by hand; the shelf is invented."""

import csv
import io
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest
from django.http import QueryDict
from django.template import Context, Template, TemplateSyntaxError
from openpyxl import load_workbook

from inventory.models import Supplier
from studio.web.filters import Choice, Filters, Search, text_of, whole_number
from studio.web.tables import Column, Format, Table

WAX, JAR = SimpleNamespace(unit="g", name="=tallow"), SimpleNamespace(unit="each", name="Jar")


@dataclass
class Row:
    """A lot as these tests know it: base units and millionths."""

    code: str
    item: Any
    on_hand: int | None
    value: int
    place: str = ""
    came: datetime | None = None
    until: date | None = None
    held: bool = False
    loss_ppm: int | None = None
    times: Fraction | None = None

    def get_absolute_url(self) -> str:
        """Where its page is."""
        return f"/lots/{self.code}/"


ROWS = [
    Row(
        "L00AB1",
        WAX,
        1_250_500_000,  # µg: 1,250.5 g
        12_345_678,
        "Rack <R1>",
        datetime(2026, 3, 1, 9, 0, tzinfo=UTC),
        date(2027, 1, 31),
        True,
        25_000,
        Fraction(1, 3),
    ),
    Row("L00AB2", JAR, None, 100_000),
]
LOTS = Table(
    "lots",
    "Lots",
    [
        Column("Lot", "code", Format.CODE, link="get_absolute_url", sort=("code",)),
        Column("Item", "item.name", sort=("item__name",)),
        Column("On hand", "on_hand", Format.QUANTITY),
        Column("Unit", "item.unit"),
        Column("Came", "came", Format.TIME),
        Column("Until", "until", Format.DAY, title="Expires"),
        Column("Held", "held", Format.YES),
        Column("Loss %", "loss_ppm", Format.PERCENT),
        Column("Times", "times", Format.RATIO),
        Column("Place", "place", css="words"),
        Column("Lasts"),
        Column("Value", "value", Format.MONEY, may="sees_costs", sort=("value",)),
    ],
    page=("lot", "place", "on_hand", "until", "lasts", "value"),
)


def asking(query="", *, costs=True, currency="USD"):
    """A request as a table needs it."""
    user = SimpleNamespace(sees_costs=costs)
    return SimpleNamespace(GET=QueryDict(query), user=user, studio=SimpleNamespace(currency=currency))


def csv_rows(request):
    return list(csv.reader(io.StringIO(LOTS.file(request, ROWS).content.decode("utf-8-sig"))))


def sheet(request):
    return load_workbook(io.BytesIO(LOTS.file(request, ROWS).content)).active


LASTS = '{% cell "lasts" %}{{ lot.code }} lasts{% endcell %}'


def drawn(request, inside=LASTS):
    source = Template("{% table table as lot %}" + inside + "{% endtable %}")
    shown = LOTS.shown(request, ROWS)
    html = source.render(Context({"table": shown, "studio": None}))
    return re.sub(r"(?<=>)\s+|\s+(?=<)", "", html)


def test_a_file_holds_exact_figures_in_units_and_no_page_only_column():
    head, wax, jar = csv_rows(asking("format=csv"))

    assert head == [
        "Lot",
        "Item",
        "On hand",
        "Unit",
        "Came",
        "Until",
        "Held",
        "Loss %",
        "Times",
        "Place",
        "Value",
    ]
    # The studio of these tests keeps UTC. A third has no exact decimal: twelve places.
    assert wax == [
        "L00AB1",
        "'=tallow",
        "1250.5",
        "g",
        "2026-03-01 09:00:00",
        "2027-01-31",
        "yes",
        "2.5",
        "0.333333333333",
        "Rack <R1>",
        "12.345678",
    ]
    assert jar == ["L00AB2", "Jar", "", "each", "", "", "no", "", "", "", "0.100000"]


@pytest.mark.parametrize(("currency", "money"), [("USD", "#,##0.00"), ("JPY", "#,##0")])
def test_a_sheet_types_its_cells_and_gives_them_number_formats(currency, money):
    head, wax, _ = sheet(asking("format=xlsx", currency=currency)).iter_rows()
    cells = {title.value: cell for title, cell in zip(head, wax, strict=True)}

    shown = {title: cells[title].number_format for title in ("On hand", "Came", "Until", "Loss %", "Value")}
    assert shown == {
        "On hand": "#,##0.0",
        "Came": "yyyy-mm-dd hh:mm",
        "Until": "yyyy-mm-dd",
        "Loss %": "#,##0.0",
        "Value": money,
    }
    assert (cells["On hand"].value, cells["Value"].value) == (1250.5, 12.345678)
    assert (cells["Item"].value, cells["Item"].data_type) == ("'=tallow", "s")


def test_what_somebody_may_not_see_is_nowhere():
    maker = {"costs": False}
    (head, *_), (top, *_) = (
        csv_rows(asking("format=csv", **maker)),
        sheet(asking("format=xlsx", **maker)).rows,
    )

    assert "Value" not in head
    assert "Value" not in [cell.value for cell in top]
    assert "Value" not in drawn(asking(**maker))
    assert "Value" in drawn(asking())


def test_a_page_has_headings_for_columns_rows_and_phones():
    html = drawn(asking())

    assert '<th scope="col" class="num">On hand</th>' in html
    assert '<th scope="row"><a href="/lots/L00AB1/"><data class="code" value="L00AB1">' in html
    assert '<td data-label="Place" class="words">Rack &lt;R1&gt;</td>' in html
    assert '<td data-label="Expires" class="nowrap">31 Jan 2027</td>' in html
    assert 'data-label="On hand" class="num"><span class="figure">1,250.5<span class="unit">&nbsp;g' in html
    assert '<td data-label="Value" class="num">$12.35</td>' in html
    # Nothing is known of the jar's quantity, place and expiry.
    assert html.count(">–</td>") == 3
    assert html.index('data-label="Place"') < html.index('data-label="On hand"')


def test_a_template_says_what_a_cell_holds_and_nothing_else_changes():
    plain, own = drawn(asking()), drawn(asking(), LASTS + '{% cell "place" %}at {{ lot.place }}{% endcell %}')

    assert '<td data-label="Lasts">L00AB2 lasts</td>' in plain
    assert own.replace("at Rack", "Rack").replace('class="words">at</td>', 'class="words">–</td>') == plain
    with pytest.raises(TemplateSyntaxError, match="No column is called last"):
        drawn(asking(), LASTS + '{% cell "last" %}{% endcell %}')
    with pytest.raises(TemplateSyntaxError, match="says nothing of the cells of lasts"):
        drawn(asking(), "")


def test_a_heading_sorts_and_turns_the_order_round():
    # Filters stay, the number of the page does not.
    assert '<a href="?q=wax&amp;sort=lot">Lot</a>' in drawn(asking("q=wax&page=3"))
    up, down = drawn(asking("sort=lot")), drawn(asking("sort=-lot"))
    assert '<th scope="col" aria-sort="ascending"><a href="?sort=-lot">Lot</a></th>' in up
    assert '<th scope="col" aria-sort="descending"><a href="?sort=lot">Lot</a></th>' in down
    assert "aria-sort" not in drawn(asking("sort=place"))


SUPPLIERS = Table(
    "suppliers",
    "Suppliers",
    [
        Column("Supplier", "name", sort=("name",)),
        Column("Days", "lead_days", Format.NUMBER, may="sees_costs", sort=("lead_days",)),
        Column("Phone", "phone"),
    ],
)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("query", "costs", "order"),
    [
        ("sort=days", True, "BCA"),
        ("sort=-days", True, "ABC"),  # B and C are as fast: by key then, upward either way
        ("sort=supplier", True, "ABC"),
        # Passed over: nobody's column, one that sorts nothing, one the visitor may not see, signs too many.
        ("sort=password", True, "CBA"),
        ("sort=phone", True, "CBA"),
        ("sort=days", False, "CBA"),
        ("sort=--days", True, "CBA"),
        ("", True, "CBA"),
    ],
)
def test_rows_are_sorted_by_what_a_column_declares(query, costs, order):
    for name, days in (("A", 9), ("B", 2), ("C", 2)):
        Supplier.objects.create(name=name, lead_days=days)
    usual = Supplier.objects.order_by("-name")

    rows = SUPPLIERS.sorted(asking(query, costs=costs), usual)

    assert "".join(row.name for row in rows) == order


@pytest.mark.parametrize("query", ["sort=days", "sort=-days"])
def test_the_key_decides_between_equals_so_that_pages_do_not_overlap(query):
    # A small table comes back by key whatever is asked, so what is asked is looked at.
    assert SUPPLIERS.sorted(asking(query), Supplier.objects.all()).query.order_by[1:] == ("pk",)


def test_an_odd_address_asks_for_what_is_usual():
    states = {"shelf": "On the shelf", "all": "All"}
    choice, search = Choice("state", "Show", states, "shelf"), Search("Name has")

    def asked(query, **more):
        filters = Filters(asking(query), choice, search, **more)
        return filters["state"], filters["q"], filters.carried

    assert asked("") == ("shelf", "", {})
    assert asked("state=all&q=+wax%00+&sort=-lot", item=7) == ("all", "wax", {"item": 7, "sort": "-lot"})
    assert asked("state=gone&q=" + "x" * 150, item=None) == ("shelf", "x" * 100, {})


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("0", 0),
        ("007", 7),
        ("9" * 18, 10**18 - 1),
        ("9" * 19, None),
        ("", None),
        ("-1", None),
        ("1e3", None),
        ("1.0", None),
        (" 1", None),
        ("\N{ARABIC-INDIC DIGIT ONE}", None),
        ("\N{SUPERSCRIPT TWO}", None),
    ],
)
def test_a_whole_number_is_plain_digits_and_no_more_than_a_database_takes(text, number):
    assert whole_number(text) == number


def test_no_nul_reaches_a_database():
    assert text_of(asking("q=a%00b"), "q") == "ab"
