"""The item's page and its ledger: bounded however much there is, true at every page and filter, and its plots."""

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Item, Lot, Movement
from tests.house import day
from tests.web.conftest import enter
from tests.web.forms import key, refused
from tests.web.inspection import csv_of, inspect, text_of


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def tallow(filled):
    """An item of its own: 1,000 g on 1 March, then 1 g drawn sixty times."""
    lot = filled.books.receive("Lamp wax", "1000 g", cost=9)
    for number in range(60):
        filled.books.draw(lot, "1 g", at=day(2 + number % 18, 8 + number // 18))
    return lot


def ledger_url(lot):
    return reverse("inventory:item-ledger", args=[lot.item_id])


def rows(page):
    return [
        (line.quantity // 10**6, level // 10**6)
        for line, level in (page.context.get("books") or page.context["table"]).rows
    ]


def test_the_balance_is_true_on_every_page(owner, tallow):
    first, second = owner.get(ledger_url(tallow)), owner.get(ledger_url(tallow) + "?page=2")

    # 61 lines, fifty to a page, the latest first: 940 g are left after the last.
    assert rows(first) == [(-1, 940 + number) for number in range(50)]
    assert rows(second) == [*((-1, 990 + number) for number in range(10)), (1000, 1000)]


def test_the_balance_is_true_under_every_filter(filled, owner, tallow):
    filled.books.take_out(tallow, "40 g", at=day(3, 5))
    url = ledger_url(tallow)

    (scrapped,) = rows(owner.get(url, {"kind": "scrapped"}))
    (received,) = rows(owner.get(url, {"to_on": "2026-03-01"}))
    third = rows(owner.get(url, {"from_on": "2026-03-03", "to_on": "2026-03-03"}))

    # Four were drawn on the 2nd, at 8, 9, 10 and 11 o'clock; four on the 3rd after the 40 g at 5 in the morning.
    assert scrapped == (-40, 956)
    assert received == (1000, 1000)
    assert third == [(-1, 952), (-1, 953), (-1, 954), (-1, 955), (-40, 956)]
    assert len(rows(owner.get(url, {"lot": f"{tallow.code[:3].lower()} {tallow.code[3:]}"}))) == 50
    assert rows(owner.get(url, {"lot": filled.jar.code})) == []
    assert rows(owner.get(url, {"by": filled.people.maker.pk})) == []
    assert len(rows(owner.get(url, {"by": filled.people.owner.pk, "kind": "drawn"}))) == 50


def test_the_export_obeys_the_filters_and_keeps_the_balance(owner, maker, tallow):
    exported = csv_of(owner, f"{ledger_url(tallow)}?format=csv")
    early = csv_of(owner, f"{ledger_url(tallow)}?kind=drawn&to_on=2026-03-02&format=csv")

    assert len(exported) == 61
    assert (exported[0]["Then there"], exported[-1]["Then there"]) == ("940", "1000")
    assert [(row["Quantity"], row["Then there"]) for row in early] == [
        ("-1", "996"),
        ("-1", "997"),
        ("-1", "998"),
        ("-1", "999"),
    ]
    assert exported[-1]["Value"] == "9.000000"
    assert "Value" not in csv_of(maker, f"{ledger_url(tallow)}?format=csv")[0]


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"kind": "stolen"}, "kind"),
        ({"from_on": "yesterday"}, "from_on"),
        ({"to_on": "0001-01-01"}, "to_on"),
        ({"by": "999999"}, "by"),
        ({"by": "x"}, "by"),
        ({"lot": "x" * 200}, "lot"),
        ({"lot": "\x00"}, "lot"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field_and_left_out(owner, tallow, asked, field):
    page = owner.get(ledger_url(tallow), asked)

    assert page.status_code == 422
    assert field in page.context["form"].errors
    assert len(rows(page)) == 50
    assert inspect(page).faults == []


def test_an_odd_page_gives_the_nearest(owner, tallow):
    for odd in ("0", "-1", "99", "x", "9" * 40):
        assert rows(owner.get(ledger_url(tallow), {"page": odd}))


def test_a_lot_s_page_is_bounded_and_its_balance_true(owner, tallow):
    first, second = owner.get(tallow.get_absolute_url()), owner.get(tallow.get_absolute_url() + "?page=2")

    assert rows(first) == [(-1, 940 + number) for number in range(50)]
    assert rows(second)[-1] == (1000, 1000)
    assert "Page 1 of 2" in text_of(first)


def test_an_item_s_page_shows_the_latest_lines_and_leads_to_all(owner, tallow):
    page = owner.get(tallow.item.get_absolute_url())

    assert rows(page) == [(-1, 940 + number) for number in range(10)]
    assert ledger_url(tallow) in page.content.decode()


def test_an_item_of_many_lots_shows_the_first_to_expire_and_leads_to_all(filled, owner):
    lots = [filled.books.receive("Lamp wax", "10 g", cost=1) for _ in range(23)]
    item = lots[0].item

    page = owner.get(item.get_absolute_url())
    listed = owner.get(f"/stock/lots/?item={item.pk}")

    assert len(page.context["lots"]) == 20
    assert f'/stock/lots/?item={item.pk}">All its lots' in page.content.decode()
    assert {lot.item_id for lot in listed.context["table"].rows} == {item.pk}
    assert len(listed.context["table"].rows) == 23
    assert {row["Item"] for row in csv_of(owner, f"/stock/lots/?item={item.pk}&format=csv")} == {"Lamp wax"}
    for odd in ("0", "x", "-1", "9" * 30, "\x00"):
        assert owner.get("/stock/lots/", {"item": odd}).status_code == 200


def test_the_pages_ask_as_often_of_many_lots_and_lines_as_of_few(filled, owner):
    lot = filled.books.receive("Lamp wax", "1000 g", cost=9)
    filled.books.receive("Lamp wax", "10 g", cost=1)
    filled.books.draw(lot, "1 g")
    urls = [
        f"{lot.item.get_absolute_url()}?span=all",
        ledger_url(lot),
        f"{ledger_url(lot)}?kind=drawn&format=csv",
        lot.get_absolute_url(),
    ]

    def asked():
        found = []
        for url in urls:
            with CaptureQueriesContext(connection) as captured:
                assert owner.get(url).status_code == 200
            found.append(len(captured))
        return found

    owner.get("/")
    before = asked()
    for number in range(30):
        filled.books.receive("Lamp wax", "10 g", cost=1)
        filled.books.draw(lot, "1 g", at=day(2 + number % 18))

    assert asked() == before


def test_the_plots_say_what_they_show_and_carry_their_table(owner, tallow):
    page = owner.get(tallow.item.get_absolute_url())

    text = text_of(page)
    assert (
        'role="img" aria-label="Level of Lamp wax from 21 Dec 2025 to 20 Mar 2026: 0 g at first, 940 g now'
        in text
    )
    assert 'aria-label="Price of Lamp wax per kg, goods alone' in text
    assert text.count("<summary>As a table</summary>") == 2
    assert "style=" not in text
    assert 'href="?span=year#plots"' in text
    assert 'href="?span=90#plots" aria-current="true"' in text


def test_the_plots_reach_as_far_back_as_is_asked(owner, tallow):
    for span, first in (("year", "21 Mar 2025"), ("all", "1 Mar 2026"), ("nonsense", "21 Dec 2025")):
        text = text_of(owner.get(tallow.item.get_absolute_url(), {"span": span}))
        assert f"Level of Lamp wax from {first} to 20 Mar 2026" in text, span


def test_who_may_not_see_costs_gets_no_plot_of_prices(filled, maker, tallow):
    text = text_of(maker.get(tallow.item.get_absolute_url()))

    assert "Level of Lamp wax" in text
    assert "Price of Lamp wax" not in text
    assert "paid" not in text


def test_an_item_that_never_moved_has_no_plot(filled, owner):
    text = text_of(owner.get(filled.books.item("Rain on Slate oil").get_absolute_url()))

    assert "Over time" not in text
    assert "Nothing was posted yet" in text


def test_the_ledger_of_everything_is_the_books(filled, owner):
    # Outside the pages: the sum of all quantities is what is on hand.
    for lot in Lot.objects.filter(pk__in=[filled.shelf["wax"].pk, filled.shelf["wick"].pk]):
        text = owner.get(f"{ledger_url(lot)}?format=csv").content.decode("utf-8-sig")
        told = list(csv.DictReader(io.StringIO(text)))
        lines = Movement.objects.filter(lot__item=lot.item_id)
        assert len(told) == lines.count()
        on_hand = sum(lines.values_list("quantity", flat=True))
        assert float(told[0]["Then there"]) * (10**6 if lot.item.unit == "g" else 1) == on_hand


# The figures that pots and releases are held against

STATED = {"maximum_load_ppm": 100_000, "maximum_load_basis": "of_wax", "flash_point_mc": 93_000}
OWNERS = {
    "a maximum raised": ({"maximum_load_ppm": "10.1"}, "maximum_load_ppm", "Only the owner raises"),
    "a maximum removed": (
        {"maximum_load_ppm": "", "maximum_load_basis": ""},
        "maximum_load_ppm",
        "Only the owner raises or removes",
    ),
    "another basis": ({"maximum_load_basis": "of_melt"}, "maximum_load_basis", "Only the owner changes"),
    "another basis and a lower figure": (
        {"maximum_load_ppm": "9.5", "maximum_load_basis": "of_melt"},
        "maximum_load_basis",
        "Only the owner changes",
    ),
    "a flash point raised": ({"flash_point_mc": "94"}, "flash_point_mc", "Only the owner raises"),
    "a flash point removed": ({"flash_point_mc": ""}, "flash_point_mc", "Only the owner raises or removes"),
    "another kind": ({"kind": "additive"}, "kind", "Only the owner changes the kind"),
}


@pytest.mark.parametrize(("typed", "field", "sentence"), OWNERS.values(), ids=OWNERS.keys())
def test_the_owner_alone_loosens_a_limit_on_record(filled, maker, owner, typed, field, sentence):
    scent = filled.books.item("fragrance")
    Item.objects.filter(pk=scent.pk).update(**STATED)
    url = reverse("inventory:item-change", args=[scent.pk])
    data = shown_by(maker.get(url)) | {"place": "Shelf C1"} | typed

    page = maker.post(url, data)

    refused(page, page.context["form"], field, sentence, "the owner", typed=["Shelf C1"])
    scent.refresh_from_db()
    assert {name: getattr(scent, name) for name in STATED} == STATED
    assert (scent.kind, scent.place) == ("fragrance", "")

    assert owner.post(url, data).status_code == 302
    scent.refresh_from_db()
    assert scent.place == "Shelf C1"
    assert {name: getattr(scent, name) for name in STATED} != STATED or scent.kind == "additive"


def test_a_maker_enters_a_limit_and_makes_it_stricter(filled, maker):
    scent = filled.books.item("fragrance")
    Item.objects.filter(pk=scent.pk).update(
        maximum_load_ppm=None, maximum_load_basis="", flash_point_mc=None, kind="fragrance"
    )
    url = reverse("inventory:item-change", args=[scent.pk])
    first = {"maximum_load_ppm": "10", "maximum_load_basis": "of_wax", "flash_point_mc": "93"}
    assert maker.post(url, shown_by(maker.get(url)) | first).status_code == 302
    scent.refresh_from_db()
    assert {name: getattr(scent, name) for name in STATED} == STATED

    stricter = {"maximum_load_ppm": "9.5", "flash_point_mc": "90", "notes": "Sheet of March"}
    assert maker.post(url, shown_by(maker.get(url)) | stricter).status_code == 302

    scent.refresh_from_db()
    assert (scent.maximum_load_ppm, scent.flash_point_mc, scent.notes) == (95_000, 90_000, "Sheet of March")


def shown_by(page):
    """What the form sends where nothing is touched."""
    form, data = page.context["form"], {"submission_key": key()}
    for field in form:
        value = "" if field.value() is None else str(field.value())
        data |= {field.html_initial_name: value} | ({} if value == "False" else {field.html_name: value})
    return data
