"""What tracing and the exported tables say, with figures worked out by hand (see `filled`)."""

import io
from decimal import Decimal

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from batches import checks as of_batches
from inventory import checks
from inventory.models import Lot, Movement
from tests.web.conftest import enter
from tests.web.forms import draw_url, drawn, key, sent
from tests.web.inspection import csv_of, text_of


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def test_a_candle_is_traced_back_to_its_deliveries_and_forward_to_its_customers(filled, maker):
    text = text_of(maker.get(reverse("batches:trace-code", args=[filled.cured.code])))

    for word in (
        filled.finished.code,
        *(lot.code for lot in filled.shelf.values()),
        "TW-88",
        "SF-31",
        "T-204",
    ):
        assert word in text, word
    for word in ("Harbour Street Market", "HS-17", "Adds up"):
        assert word in text, word
    assert filled.held.code not in text
    assert filled.fresh.code not in text


def test_the_pieces_of_a_batch_are_told_apart_and_add_up(filled, maker):
    # Ten were poured: nine good of which two were sent out, one scrap.
    facts = maker.get(reverse("batches:trace-code", args=[filled.finished.code])).context["facts"]

    assert [facts[name] for name in ("units", "here", "sent", "gone")] == [10, 7, 2, 1]


def test_a_material_is_traced_forward_to_every_batch_and_customer(filled, maker):
    text = text_of(maker.get(reverse("batches:trace-code", args=[filled.shelf["wax"].code])))

    for code in (
        filled.finished,
        filled.fresh,
        filled.blend,
        filled.started,
        filled.cured,
        filled.curing,
        filled.seconds,
        filled.blended,
    ):
        assert code.code in text
    assert "Harbour Street Market" in text
    assert filled.planned.code not in text
    # 10 kg less 920, 368, 500 and 460 g.
    assert "7,752 g" in text
    assert "Adds up" in text


def test_the_trace_page_leads_to_what_was_meant(filled, maker):
    code = filled.cured.code

    assert maker.get("/trace/", {"code": code.lower()}).headers["Location"].endswith(f"/{code}/")
    page = maker.get("/trace/", {"code": code[:4] + code[5] + code[4]})
    assert code in [hit.thing.code for hit in page.context["misses"]]
    assert "Nothing carries marzipan." in text_of(maker.get("/trace/", {"code": "marzipan"}))


# Exports


def test_lots_leave_with_exact_figures(filled, owner):
    rows = {row["Lot"]: row for row in csv_of(owner, "/stock/lots/?state=all&format=csv")}

    wax = rows[filled.shelf["wax"].code]
    # 10 kg and 67.43 less 920, 368, 500 and 460 g at 6.743 a kilogram: 52.271736.
    assert (wax["On hand"], wax["Unit"], wax["Value"]) == ("7752", "g", "52.271736")
    assert (wax["Supplier's lot"], wax["State"]) == ("TW-88", "Free to use")
    assert rows[filled.held.code]["State"] == "On hold"
    assert rows[filled.curing.code]["State"] == "Curing"
    assert len(rows) == Lot.objects.count()


def test_the_same_table_as_a_sheet(filled, owner):
    sheet = load_workbook(io.BytesIO(owner.get("/stock/lots/?state=all&format=xlsx").content)).active
    head, *rows = sheet.iter_rows(values_only=True)
    wax = next(dict(zip(head, row, strict=True)) for row in rows if row[0] == filled.shelf["wax"].code)

    assert (wax["On hand"], Decimal(str(wax["Value"]))) == (7_752, Decimal("52.271736"))
    assert wax["Arrived"].isoformat() == "2026-03-01T09:00:00"
    assert len(rows) == Lot.objects.count()


def test_the_books_leave_whole_and_add_up_to_the_shelf(filled, owner):
    rows = csv_of(owner, "/stock/ledger/?format=csv")

    assert len(rows) == Movement.objects.count()
    wax = [row for row in rows if row["Lot"] == filled.shelf["wax"].code]
    assert sum(Decimal(row["Quantity"]) for row in wax) == Decimal("7752")
    assert sum(Decimal(row["Value"]) for row in wax) == Decimal("52.271736")


def test_items_deliveries_and_rates_leave_with_exact_figures(filled, owner):
    items = {row["Item"]: row for row in csv_of(owner, "/stock/?format=csv")}
    # Of fragrance 888 g are free and 200 g on hold; promised: 40 g to the run begun and 64 g to the planned one.
    fragrance = items["fragrance"]
    assert (fragrance["On hand"], fragrance["Free to use"], fragrance["Promised"]) == ("1088", "888", "104")
    deliveries = {row["Delivery"]: row for row in csv_of(owner, "/stock/deliveries/?format=csv")}
    first = deliveries[str(filled.delivery.pk)]
    assert (first["Goods"], first["Freight"], first["Lines"]) == ("105.000000", "10.500000", "2")
    assert [(row["What"], row["Amount"]) for row in csv_of(owner, "/costing/rates/?format=csv")] == [
        ("Labour", "24.600000"),
        ("Overhead", "7.400000"),
    ]


def test_a_list_keeps_its_filter_in_its_export(filled, owner):
    assert {row["Lot"] for row in csv_of(owner, "/stock/lots/?state=held&format=csv")} == {filled.held.code}
    assert {row["What"] for row in csv_of(owner, "/stock/ledger/?kind=dispatch&format=csv")} == {"Dispatch"}
    assert {row["Kind"] for row in csv_of(owner, "/stock/?kind=wick&format=csv")} == {"Wick"}
    states = {row["State"] for row in csv_of(owner, "/batches/?state=finished&format=csv")}
    assert states == {"Finished"}


def test_pages_of_a_list_hold_every_row_once(filled, owner):
    for number in range(60):
        filled.books.formula(f"Candle {number:02d}", [("wax", "wax_share", 1_000_000)], fill="100 g")

    seen = [
        row.name for number in (1, 2) for row in owner.get("/formulas/", {"page": number}).context["page"]
    ]

    assert len(seen) == len(set(seen)) == 64
    assert seen == sorted(seen, key=str.lower)


# Rates


def test_a_rate_is_set_by_the_bookkeeper_and_leaves_the_past_alone(filled):
    client = enter(filled.people.bookkeeper)
    before = client.get(filled.finished.get_absolute_url()).content

    answer = client.post(
        reverse("costing:labour-rate-add"),
        {"from_on": "2026-03-11", "person": "", "per_hour": "30", "submission_key": key()},
    )

    assert answer.headers["Location"] == "/costing/rates/"
    text = text_of(client.get("/costing/rates/"))
    assert "$30.00" in text
    assert "$24.60" in text
    assert b"$24.60" in before
    assert "$24.60" in text_of(client.get(filled.finished.get_absolute_url()))


def test_what_the_books_hold_agrees_after_everything(filled, maker):
    def said():
        every = (*checks.CHECKS, *of_batches.CHECKS)
        return [sentence for check in every if check is not checks.guards_in_place for sentence in check()]

    before = said()
    maker.post(reverse("inventory:lot-send", args=[filled.cured.code]), sent("3"))
    maker.post(
        draw_url(filled.planned), drawn(filled, filled.planned, "wax", (filled.shelf["wax"].code, "736"))
    )

    # The fixture draws three lots into no batch; nothing else is to be said, before or after.
    assert len(before) == 3
    assert said() == before
