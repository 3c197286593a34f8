"""What people mistype, and what strangers try, through the pages: a sentence at the field, and nothing moves.

OWASP ASVS 5.0, V2 Validation and Business Logic; OWASP, CSV Injection (from memory).
"""

import csv
import io

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from batches.models import Batch, FormulaVersion
from costing.models import LabourRate
from inventory.models import Delivery, HoldRecord, Item, Lot, Posting, Supplier
from studio.codes import near
from studio.models import Studio
from tests.house import day, grams, money
from tests.web.conftest import enter
from tests.web.forms import (
    delivery,
    draw_url,
    drawn,
    formula,
    ingredient,
    key,
    line,
    nothing_moves,
    refused,
    send_url,
    sent,
)
from tests.web.pages import readable, tables

ADD = "/stock/deliveries/add/"


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("each", "25", ["Add a unit", "25 g"]),
        ("each", "3", ["Add a unit"]),
        ("each", "12 each", ["weight"]),
        ("each", "2 m", ["length"]),
        ("each", "500 ml", ["volume"]),
        ("each", "-2 kg", ["minus"]),
        ("each", "−2 kg", ["minus"]),
        ("each", "0 kg", ["above zero"]),
        ("each", "1,5 kg", ["point", "1.5"]),
        ("each", "1.500,0 kg", ["point"]),
        ("each", "1e9 kg", ["exponent"]),
        ("each", "9**9**9 g", ["number"]),
        ("each", "NaN", ["number"]),
        ("each", "Infinity kg", ["number"]),
        ("each", "99999999999999999999 kg", ["more than"]),
        ("each", "0.00000000001 g", ["too small"]),
        ("each", "1/2 kg", ["decimals"]),
        ("each", "٣ kg", ["plain figures"]),
        ("each", "5\N{ZERO WIDTH SPACE} kg", ["plain figures"]),
        ("each", "\N{RIGHT-TO-LEFT OVERRIDE}5 kg", ["plain figures"]),
        ("each", "{{ 7*7 }} kg", ["number"]),
        ("each", "<script>alert(1)</script>", ["number"]),
        ("each", "500 gr", ["grains"]),
        ("each", "", ["required"]),
        ("price", "1,5", ["point"]),
        ("price", "-5", ["minus"]),
        ("price", "€ 5", ["USD"]),
        ("price", "1e3", ["exponent"]),
        ("price", "NaN", ["sum"]),
        ("price", "5000000000", ["1,000,000,000"]),
        ("price", "2.49/m", ["length"]),
        ("price", "", ["required"]),
        ("packs", "0", ["1"]),
        ("packs", "-1", ["1"]),
        ("packs", "1.5", ["whole number"]),
        ("packs", "99999999999999999999", ["10000"]),
        ("packs", "NaN", ["whole number"]),
        ("item", "999999", ["valid choice"]),
        ("item", "9" * 40, ["valid choice"]),
        ("item", "wax", ["valid choice"]),
        ("expires_on", "0001-01-01", ["year"]),
        ("expires_on", "9999-12-31", ["year"]),
        ("expires_on", "2026-02-30", ["date"]),
        ("expires_on", "31/12/2026", ["date"]),
        ("supplier_lot", "x\x00y", ["null"]),
        ("supplier_lot", "x" * 1_000_000, ["at most 60"]),
    ],
)
def test_a_line_of_a_delivery_is_refused_at_its_field(filled, owner, field, typed, words):
    data = delivery(filled, line(filled, supplier_lot="TW-99"), line(filled, "dye", **{field: typed}, **(
        {} if field == "each" else {"each": "40 g"}
    )))

    with nothing_moves():
        page = owner.post(ADD, data)

    # What was typed beside it stays, in the other line too.
    kept = [typed] if field not in {"item"} and "\x00" not in typed and len(typed) < 100 and typed else []
    refused(page, page.context["lines"].forms[1], field, *words, typed=[*kept, "T-300", "TW-99", "10 kg"])
    assert "Line 2" in page.content.decode()


@pytest.mark.parametrize(
    ("name", "each"), [("wick", "2.5"), ("wick", "3 kg"), ("wick", "half a gross")]
)
def test_counted_things_are_counted(filled, owner, name, each):
    with nothing_moves():
        page = owner.post(ADD, delivery(filled, line(filled, name, each=each)))

    refused(page, page.context["lines"].forms[0], "each", typed=[each])


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("supplier", "", ["required"]),
        ("supplier", "999999", ["valid choice"]),
        ("freight", "1,5", ["point"]),
        ("freight", "-1", ["minus"]),
        ("spread", "volume", ["valid choice"]),
        ("arrived_at", "2026-03-21T09:00", ["future"]),
        ("arrived_at", "0001-01-01T00:00", ["year"]),
        ("arrived_at", "9999-12-31T23:59", ["year"]),
        ("arrived_at", "yesterday", ["date and a time"]),
        ("reference", "R\x00", ["null"]),
    ],
)
def test_the_head_of_a_delivery_is_refused_at_its_field(filled, owner, field, typed, words):
    with nothing_moves():
        page = owner.post(ADD, delivery(filled, line(filled), **{field: typed}))

    refused(page, page.context["form"], field, *words, typed=["10 kg", "60.00"])


def test_freight_by_weight_over_counted_things_is_refused(filled, owner):
    with nothing_moves():
        page = owner.post(ADD, delivery(filled, line(filled, "wick", each="50"), freight="5", spread="weight"))

    refused(page, page.context["form"], "spread", "every line is weighed")


def test_a_tonne_of_dye_is_asked_about_and_taken_after_the_tick(filled, owner):
    data = delivery(filled, line(filled, "dye", each="1000 kg"))
    with nothing_moves():
        page = owner.post(ADD, data)

    refused(page, page.context["lines"].forms[0], "each", "1,000,000", "unit", "tick", typed=["1000 kg"])
    assert 'name="lines-0-sure"' in page.content.decode()

    # The corrected form goes under the same key.
    assert owner.post(ADD, data | {"lines-0-sure": "on"}).status_code == 302
    assert Lot.objects.latest("pk").on_hand == grams(1_000_000)


def test_not_even_a_tick_takes_more_than_can_be_kept(filled, owner):
    # 10,000 packs of a thousand tonnes: 10^19 µg, beyond 2^63.
    data = delivery(filled, line(filled, packs="10000", each="1000000 kg", sure="on", price="0"))
    with nothing_moves():
        page = owner.post(ADD, data)

    refused(page, page.context["lines"].forms[0], "each", "cannot hold", "unit")


def test_a_line_dearer_than_can_be_kept_is_refused(filled, owner):
    with nothing_moves():
        page = owner.post(ADD, delivery(filled, line(filled, packs="10000", each="1 kg", price="999999999 per pack", sure="on")))

    assert page.status_code == 422
    assert "1,000,000,000" in page.content.decode()


@pytest.mark.parametrize(
    "tampered",
    [
        {"lines-TOTAL_FORMS": "1000000000"},
        {"lines-TOTAL_FORMS": "-5"},
        {"lines-TOTAL_FORMS": "many"},
        {"lines-TOTAL_FORMS": ""},
        {"lines-TOTAL_FORMS": "9" * 5_000},
        {"lines-TOTAL_FORMS": "1\x00"},
        {"lines-INITIAL_FORMS": "1000000000"},
        {"lines-INITIAL_FORMS": "x"},
    ],
)
@pytest.mark.parametrize("adding", [{}, {"add_line": "1"}])
def test_a_tampered_count_of_lines_does_no_harm(filled, owner, tampered, adding):
    with nothing_moves():
        for url, data in (
            (ADD, delivery(filled, line(filled), **tampered)),
            (reverse("batches:version-add", args=[filled.candle.formula_id]), formula([]) | tampered),
        ):
            data.pop("lines-0-item", None)
            page = owner.post(url, data | adding)
            assert page.status_code == (200 if adding else 422)
            assert page.content.count(b"<fieldset class=\"line\"") <= 61


def test_a_missing_count_of_lines_does_no_harm(filled, owner):
    data = delivery(filled, line(filled))
    del data["lines-TOTAL_FORMS"], data["lines-INITIAL_FORMS"]
    with nothing_moves():
        assert owner.post(ADD, data).status_code == 422


def test_an_empty_delivery_is_refused(filled, owner):
    with nothing_moves():
        page = owner.post(ADD, delivery(filled, {"packs": "1"}))

    assert page.status_code == 422
    assert "Enter at least one line." in page.content.decode()


# What goes into a batch


def row(page, number=0):
    return page.context["rows"][number]


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        ("0", ["above zero"]),
        ("-5", ["minus"]),
        ("1,5", ["point", "1.5"]),
        ("5 ml", ["volume"]),
        ("5 m", ["length"]),
        ("1e3", ["exponent"]),
        ("NaN", ["number"]),
        ("9" * 30, ["more than"]),
        ("3000 kg", ["unit"]),
        ("8\x00", ["null"]),
    ],
)
def test_an_amount_that_cannot_be_is_refused_at_its_row(filled, maker, amount, words):
    wax = filled.shelf["wax"].code
    with nothing_moves():
        page = maker.post(draw_url(filled.planned), drawn(filled, filled.planned, "wax", (wax, "460"), (wax, amount)))

    refused(page, row(page, 1), "amount", *words, typed=[wax, "460"])


def test_a_lot_drawn_below_zero_is_asked_about_and_taken_as_found_after_the_tick(filled, maker):
    # The shelf's fragrance: 1 kg less 80 g and 32 g: 888 g. The scale says 900.
    lot = filled.shelf["fragrance"]
    data = drawn(filled, filled.planned, "fragrance", (lot.code, "900"))
    with nothing_moves():
        page = maker.post(draw_url(filled.planned), data)

    refused(page, row(page), "amount", "holds 888", "900", "12", "tick", typed=["900"])
    tick = next(name for name in data if name.endswith("-code")).replace("-code", "-found")
    assert f'name="{tick}"' in page.content.decode()

    assert maker.post(draw_url(filled.planned), data | {tick: "on"}).status_code == 302

    assert filled.books.of(lot) == (0, 0)
    posting = Posting.objects.latest("pk")
    assert sorted(posting.movements.values_list("kind", "quantity")) == [
        ("drawn", -grams(900)),
        ("found", grams(12)),
    ]
    today = enter(filled.people.owner).get("/")
    waiting = [task for task in today.context["tasks"] if task.url == posting.get_absolute_url()]
    assert [(task.word, "12" in task.what, lot.spaced_code in task.more) for task in waiting] == [("Look at", True, True)]


def test_a_held_lot_is_refused_even_with_the_tick(filled, maker):
    with nothing_moves():
        page = maker.post(
            draw_url(filled.planned), drawn(filled, filled.planned, "fragrance", (filled.held.code, "64", "found"))
        )

    refused(page, row(page), "code", "on hold", typed=["64"])


def test_an_expired_lot_is_refused(filled, maker):
    with nothing_moves():
        page = maker.post(draw_url(filled.planned), drawn(filled, filled.planned, "wax", (filled.expired.code, "64")))

    refused(page, row(page), "code", "expired on 10 Mar 2026", typed=["64"])


def test_an_expired_lot_was_good_before_it_expired(filled, maker):
    data = drawn(filled, filled.planned, "wax", (filled.expired.code, "64"), happened_at="2026-03-10T15:00")

    assert maker.post(draw_url(filled.planned), data).status_code == 302
    assert filled.books.of(filled.expired)[0] == grams(236)


def test_a_lot_of_another_item_is_refused(filled, maker):
    with nothing_moves():
        page = maker.post(
            draw_url(filled.planned), drawn(filled, filled.planned, "wax", (filled.shelf["fragrance"].code, "64"))
        )

    refused(page, row(page), "code", "is fragrance, not wax", typed=["64"])


def test_a_mistyped_code_offers_the_near_one(filled, maker):
    lot = filled.shelf["wax"]
    others = set(Lot.objects.exclude(pk=lot.pk).values_list("code", flat=True))
    wrong = next(
        lot.code[:4] + char + lot.code[5:]
        for char in "XYZWV"
        if not others & set(near(lot.code[:4] + char + lot.code[5:])) and char != lot.code[4]
    )
    with nothing_moves():
        page = maker.post(draw_url(filled.planned), drawn(filled, filled.planned, "wax", (wrong, "64")))

    refused(page, row(page), "code", "Did you mean", lot.spaced_code, "wax", typed=[wrong, "64"])


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("", ["code of the wax lot"]),
        ("jar on the left", ["not a lot code"]),
        ("<script>alert(1)", ["not a lot code"]),
        ("' OR 1=1 --", ["not a lot code"]),
        ("{{ lot }}", ["not a lot code"]),
        ("L\x00", ["null"]),
        ("L" * 21, ["at most 20"]),
        ("\N{ZERO WIDTH SPACE}", ["not a lot code"]),
    ],
)
def test_what_is_no_code_is_refused(filled, maker, code, words):
    with nothing_moves():
        page = maker.post(draw_url(filled.planned), drawn(filled, filled.planned, "wax", (code, "64")))

    refused(page, row(page), "code", *words, typed=["64"])


@pytest.mark.parametrize(
    ("when", "words"),
    [
        ("2026-02-28T09:00", ["arrived on 01 Mar 2026"]),
        ("2026-03-20T12:01", ["future"]),
        ("2027-01-01T00:00", ["future"]),
        ("0001-01-01T00:00", ["year"]),
        ("9999-12-31T23:59", ["year"]),
        ("noon", ["date and a time"]),
        ("2026-03-20T25:00", ["date and a time"]),
    ],
)
def test_a_time_that_cannot_be_is_refused(filled, maker, when, words):
    data = drawn(filled, filled.planned, "wax", (filled.shelf["wax"].code, "64"), happened_at=when)
    with nothing_moves():
        page = maker.post(draw_url(filled.planned), data)

    refused(page, page.context["form"], "happened_at", *words, typed=["64"])


def test_no_amount_at_all_is_refused(filled, maker):
    for data in (drawn(filled, filled.planned, "wax", ("", "")), {"submission_key": key()}):
        with nothing_moves():
            page = maker.post(draw_url(filled.planned), data)
        assert page.status_code == 422
        assert "Enter at least one amount." in page.content.decode()


def test_one_wrong_row_keeps_all_others_from_being_recorded(filled, maker):
    # Whole or not at all: two lines, of which the second is short.
    data = drawn(filled, filled.planned, "wax", (filled.shelf["wax"].code, "736"))
    data |= drawn(filled, filled.planned, "fragrance", (filled.shelf["fragrance"].code, "900"))
    with nothing_moves():
        page = maker.post(draw_url(filled.planned), data)

    assert page.status_code == 422
    assert 'value="736"' in page.content.decode()


# Goods going out


@pytest.mark.parametrize(
    ("quantity", "words"),
    [
        ("", ["required"]),
        ("0", ["above zero"]),
        ("-1", ["minus"]),
        ("1.5", ["whole"]),
        ("1,5", ["point"]),
        ("2 kg", ["count"]),
        ("8", ["holds 7", "8"]),
        ("NaN", ["number"]),
        ("9" * 30, ["more than"]),
    ],
)
def test_a_count_that_cannot_be_sent_is_refused(filled, maker, quantity, words):
    with nothing_moves():
        page = maker.post(send_url(filled.cured), sent(quantity))

    refused(page, page.context["form"], "quantity", *words, typed=["Harbour Street Market"])


def test_a_curing_lot_does_not_go_out(filled, maker):
    with nothing_moves():
        page = maker.post(send_url(filled.curing), sent("1"))

    refused(page, page.context["form"], "quantity", "cures until 26 Mar 2026", typed=["1"])


def test_nor_does_a_cured_one_before_it_had_cured(filled, maker):
    with nothing_moves():
        page = maker.post(send_url(filled.cured), sent("1", happened_at="2026-03-15T10:00"))

    refused(page, page.context["form"], "quantity", "cures until 17 Mar 2026")


@pytest.mark.parametrize(
    ("when", "words"),
    [("2026-03-09T10:00", ["arrived on 10 Mar"]), ("2026-03-21T10:00", ["future"]), ("2026-3-1", ["date"])],
)
def test_goods_do_not_leave_before_they_were_made_or_after_now(filled, maker, when, words):
    with nothing_moves():
        page = maker.post(send_url(filled.cured), sent("1", happened_at=when))

    refused(page, page.context["form"], "happened_at", *words)


def test_material_is_not_sent_out(filled, maker):
    with nothing_moves():
        answer = maker.post(send_url(filled.shelf["wax"]), sent("1 kg"))

    assert answer.headers["Location"] == filled.shelf["wax"].get_absolute_url()


# Formulas and plans


def test_wax_shares_that_do_not_come_to_the_whole_are_refused(filled, maker):
    lines = [
        ingredient(filled, "wax", "wax_share", "60"),
        ingredient(filled, "Lane blend", "wax_share", "39.9"),
        ingredient(filled, "fragrance", "of_melt", "8"),
    ]
    with nothing_moves():
        page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), formula(lines))

    refused(page, page.context["form"], "__all__", "wax shares", "99.9", "100", typed=["60", "39.9", "8"])


@pytest.mark.parametrize(
    ("lines", "number", "field", "words"),
    [
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "100")], 1, "amount", ["too much"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_wax", "140")], 1, "amount", ["too much"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "0")], 1, "amount", ["above zero"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "-8")], 1, "amount", ["negative"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "8,5")], 1, "amount", ["point"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "8e0")], 1, "amount", ["number"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "NaN")], 1, "amount", ["number"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "8.00001")], 1, "amount", ["four decimals"]),
        ([("wax", "wax_share", "100"), ("wick", "of_melt", "1")], 1, "basis", ["not weighed"]),
        ([("wax", "wax_share", "100"), ("wick", "per_unit", "1.5")], 1, "amount", ["whole"]),
        ([("wax", "wax_share", "100"), ("wick", "per_unit", "1", "9,5")], 1, "spare", ["point"]),
        ([("wax", "wax_share", "100"), ("wick", "by_ear", "1")], 1, "basis", ["valid choice"]),
    ],
)
def test_a_line_of_a_formula_is_refused_at_its_field(filled, maker, lines, number, field, words):
    data = formula([ingredient(filled, *line) for line in lines])
    with nothing_moves():
        page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), data)

    refused(page, page.context["lines"].forms[number], field, *words, typed=["100", lines[1][2]])


def test_rates_on_the_melt_that_leave_no_room_for_wax_are_refused(filled, maker):
    lines = [
        ingredient(filled, "wax", "wax_share", "100"),
        ingredient(filled, "fragrance", "of_melt", "60"),
        ingredient(filled, "dye", "of_melt", "45"),
    ]
    page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), formula(lines))

    refused(page, page.context["form"], "__all__", "105", "no room for wax")


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("fill_ug", "0", ["above zero"]),
        ("fill_ug", "", ["required"]),
        ("division_ug", "0", ["above zero"]),
        ("loss_ppm", "100", ["__all__", "loss allowance"]),
        ("loss_ppm", "-3", ["negative"]),
        ("pot_ug", "50", ["__all__", "pot"]),
        ("heat_to_mc", "hot", []),
        ("pour_to_mc", "-300", []),
        ("cure_days", "-1", ["0"]),
        ("cure_days", "99999999", ["365"]),
        ("rest_hours", "99999999999999999999", []),
        ("what_changed", "x" * 1_000_000, ["at most 300"]),
    ],
)
def test_the_process_of_a_formula_is_refused_at_its_field(filled, maker, field, typed, words):
    data = formula([ingredient(filled, "wax", "wax_share", "100")], **{field: typed})
    with nothing_moves():
        page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), data)

    where = "__all__" if "__all__" in words else field
    refused(page, page.context["form"], where, *[word for word in words if word != "__all__"])


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("quantity", "0", ["above zero"]),
        ("quantity", "-3", ["minus"]),
        ("quantity", "2.5", ["whole"]),
        ("quantity", "1,5", ["point"]),
        ("quantity", "2 kg", ["count"]),
        ("quantity", "1e3", ["exponent"]),
        ("quantity", "60000", ["50,000"]),
        ("quantity", "9" * 30, ["more than"]),
        ("quantity", "", ["required"]),
        ("formula", "", ["required"]),
        ("formula", "999999", ["valid choice"]),
        ("formula", "9" * 40, ["valid choice"]),
        ("planned_on", "0001-01-01", ["year"]),
        ("planned_on", "9999-12-31", ["year"]),
        ("planned_on", "soon", ["date"]),
        ("note", "x\x00", ["null"]),
        ("note", "x" * 400, ["at most 300"]),
    ],
)
def test_a_plan_is_refused_at_its_field(filled, maker, field, typed, words):
    data = {"formula": str(filled.candle.pk), "quantity": "12", "planned_on": "2026-03-25", "note": "", "submission_key": key()}
    with nothing_moves():
        page = maker.post("/batches/plan/", data | {field: typed})

    refused(page, page.context["form"], field, *words)


def test_a_run_larger_than_can_be_kept_is_refused(filled, maker):
    # A limit raised beyond all sense, and a run of 10^15 candles of 100 g: 10^23 µg.
    Item.objects.filter(pk=filled.candle.formula.item_id).update(expected_at_most=10**15)
    data = {"formula": str(filled.candle.pk), "quantity": str(10**15), "planned_on": "2026-03-25", "submission_key": key()}
    with nothing_moves():
        page = maker.post("/batches/plan/", data)
        shown = maker.get("/batches/plan/", data)

    for answer in (page, shown):
        refused(answer, answer.context["form"], "quantity", "more than")


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"good": "", "seconds": ""}, "good", ["how many came out"]),
        ({"good": "-1"}, "good", ["minus"]),
        ({"good": "4.5"}, "good", ["whole"]),
        ({"good": "0"}, "good", ["how many"]),
        ({"good": "50"}, "good", ["50", "planned for 5", "tick"]),
        ({"good": "4", "scrap_1": "1"}, "defect_1", ["what was wrong"]),
        ({"good": "4", "defect_1": "Frosting"}, "scrap_1", ["how much", "Frosting"]),
        ({"good": "4", "scrap_1": "1", "defect_1": "Gremlins"}, "defect_1", ["valid choice"]),
        ({"good": "5"}, "without", ["fragrance", "wick", "vessel"]),
        ({"good": "5", "without": "on", "happened_at": "2026-03-20T11:00"}, "happened_at", ["last draw"]),
        ({"good": "5", "without": "on", "happened_at": "2026-03-20T13:00"}, "happened_at", ["future"]),
        ({"good": "9" * 30}, "good", ["more than"]),
    ],
)
def test_what_came_out_is_refused_at_its_field(filled, maker, fields, field, words):
    with nothing_moves():
        page = maker.post(
            reverse("batches:batch-finish", args=[filled.started.code]), {"submission_key": key(), **fields}
        )

    refused(page, page.context["form"], field, *words, typed=[fields["good"]] if fields["good"] else [])


@pytest.mark.parametrize(
    ("url", "fields", "field", "words"),
    [
        ("batch-read", {"kind": "pour", "temperature": ""}, "temperature", ["required"]),
        ("batch-read", {"kind": "pour", "temperature": "warm"}, "temperature", []),
        ("batch-read", {"kind": "pour", "temperature": "-400"}, "temperature", []),
        ("batch-read", {"kind": "pour", "temperature": "1e9"}, "temperature", []),
        ("batch-read", {"kind": "sky", "temperature": "60"}, "kind", ["valid choice"]),
        ("batch-read", {"kind": "pour", "temperature": "60", "at": "2026-03-21T00:00"}, "at", ["future"]),
        ("batch-labour", {"minutes": "0"}, "minutes", ["1"]),
        ("batch-labour", {"minutes": "1441"}, "minutes", ["1440"]),
        ("batch-labour", {"minutes": "NaN"}, "minutes", ["whole number"]),
        ("batch-labour", {"minutes": "5", "worked_on": "0001-01-01"}, "worked_on", ["year"]),
        ("batch-labour", {"minutes": "5", "person": "9999"}, "person", ["valid choice"]),
        ("batch-labour", {"minutes": "5", "worked_on": "2026-03-21"}, "worked_on", ["future"]),
    ],
)
def test_readings_and_labour_are_refused_at_their_field(filled, maker, url, fields, field, words):
    own = {"person": str(filled.people.maker.pk), "step": "pour", "worked_on": "2026-03-20"} if "labour" in url else {}
    page = maker.post(
        reverse(f"batches:{url}", args=[filled.started.code]), {**own, **fields, "submission_key": key()}
    )

    refused(page, page.context["refused_form"], field, *words)
    assert not filled.started.readings.exists()
    assert not filled.started.labour.exists()


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"kind": "wax", "unit": "each"}, "unit", ["weight"]),
        ({"kind": "finished", "unit": "g"}, "unit", ["counted"]),
        ({"kind": "air", "unit": "g"}, "kind", ["valid choice"]),
        ({"kind": "wax", "unit": "stone"}, "unit", ["valid choice"]),
        ({"name": "WAX", "kind": "wax", "unit": "g"}, None, ["exists already"]),
        ({"maximum_load_ppm": "10"}, "maximum_load_basis", ["wax or of melt"]),
        ({"maximum_load_ppm": "10,5", "maximum_load_basis": "of_wax"}, "maximum_load_ppm", ["point"]),
        ({"density_ug_per_ml": "9"}, "density_ug_per_ml", ["0.3 and 3"]),
        ({"density_ug_per_ml": "0,9"}, "density_ug_per_ml", ["point"]),
        ({"flash_point_mc": "hot"}, "flash_point_mc", []),
        ({"shelf_life_days": "-1"}, "shelf_life_days", ["0"]),
        ({"shelf_life_days": "999999999"}, "shelf_life_days", ["36500"]),
        ({"shelf_life_days": "1.5"}, "shelf_life_days", ["whole number"]),
        ({"expected_at_most": "20"}, None, []),
        ({"expected_at_most": "20 m"}, "expected_at_most", ["length"]),
        ({"name": ""}, "name", ["required"]),
        ({"name": "x" * 121}, "name", ["at most 120"]),
        ({"name": "wax\x00"}, "name", ["null"]),
        ({"notes": "x" * 1_000_000}, "notes", ["at most 2000"]),
        ({"made_here": "on", "kind": "finished", "unit": "each"}, "made_here", ["finished good"]),
    ],
)
def test_an_item_is_refused_at_its_field(filled, maker, fields, field, words):
    data = {"name": "Moor wax", "kind": "wax", "unit": "g", "place": "Shelf B2", "submission_key": key(), **fields}
    before = Item.objects.count()

    page = maker.post("/stock/items/add/", data)

    if fields == {"expected_at_most": "20"}:
        # A bare number is in the unit the item is shown in.
        assert Item.objects.get(name="Moor wax").expected_at_most == grams(20)
        return
    refused(page, page.context["form"], field or "__all__", *words, typed=["Shelf B2"])
    assert Item.objects.count() == before


def test_an_item_that_is_in_stock_keeps_what_it_is_measured_by(filled, maker):
    url = reverse("inventory:item-change", args=[filled.shelf["wick"].item_id])

    page = maker.post(url, {"name": "wick", "kind": "wick", "unit": "m"})

    refused(page, page.context["form"], "unit", "cannot change")


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"name": ""}, "name", ["required"]),
        ({"name": "tollgate wax AND wick"}, "__all__", ["exists already"]),
        ({"name": "Moor & Heath", "email": "post at moor"}, "email", ["e-mail", "email"][1:]),
        ({"name": "Moor & Heath", "lead_days": "-3"}, "lead_days", ["0"]),
        ({"name": "Moor & Heath", "lead_days": "9" * 30}, "lead_days", []),
        ({"name": "Moor & Heath", "notes": "x\x00"}, "notes", ["null"]),
    ],
)
def test_a_supplier_is_refused_at_its_field(filled, maker, fields, field, words):
    before = Supplier.objects.count()

    page = maker.post("/stock/suppliers/add/", {"submission_key": key(), **fields})

    refused(page, page.context["form"], field, *words)
    assert Supplier.objects.count() == before


@pytest.mark.parametrize(
    ("what", "fields", "field", "words"),
    [
        ("labour", {"per_hour": "-5"}, "per_hour", ["minus"]),
        ("labour", {"per_hour": "24,60"}, "per_hour", ["point"]),
        ("labour", {"per_hour": "99999999999"}, "per_hour", ["1,000,000,000"]),
        ("labour", {"per_hour": "24", "from_on": "9999-01-01"}, "from_on", ["year"]),
        ("labour", {"per_hour": "24", "person": "9" * 30}, "person", ["valid choice"]),
        ("overhead", {"basis": "per_batch", "amount": "20 %"}, "amount", ["percentage"]),
        ("overhead", {"basis": "of_labour", "amount": "-20"}, "amount", ["negative"]),
        ("overhead", {"basis": "of_labour", "amount": "many"}, "amount", ["percentage"]),
        ("overhead", {"basis": "by_ear", "amount": "7"}, "basis", ["valid choice"]),
        ("overhead", {"basis": "per_batch", "amount": ""}, "amount", ["required"]),
    ],
)
def test_a_rate_is_refused_at_its_field(filled, owner, what, fields, field, words):
    url = reverse(f"costing:{what}-rate-add")

    page = owner.post(url, {"from_on": "2026-03-20", "submission_key": key(), **fields})

    refused(page, page.context["refused_form"], field, *words)
    assert LabourRate.objects.count() == 1


# Keys


def test_a_form_sent_twice_posts_once_and_leads_to_the_same_page(filled, owner):
    data = delivery(filled, line(filled))
    before = Delivery.objects.count()

    answers = [owner.post(ADD, data).headers["Location"] for _ in range(3)]

    assert answers == [Delivery.objects.latest("pk").get_absolute_url()] * 3
    assert Delivery.objects.count() == before + 1


@pytest.mark.parametrize("act", ["send", "draw", "plan", "item", "hold"])
def test_every_kind_of_form_is_accepted_once(filled, maker, act):
    url, data = {
        "send": (send_url(filled.cured), sent("3")),
        "draw": (draw_url(filled.planned), drawn(filled, filled.planned, "wax", (filled.shelf["wax"].code, "92"))),
        "plan": ("/batches/plan/", {"formula": str(filled.candle.pk), "quantity": "3", "planned_on": "2026-03-25", "submission_key": key()}),
        "hold": (reverse("inventory:lot-hold", args=[filled.shelf["wax"].code]), {"reason": "Cloudy", "submission_key": key()}),
        "item": ("/stock/items/add/", {"name": "Moor wax", "kind": "wax", "unit": "g", "submission_key": key()}),
    }[act]
    kept = (Posting, Batch, Item, HoldRecord)
    before = [model.objects.count() for model in kept]

    first, second = maker.post(url, data), maker.post(url, data)

    assert (first.status_code, second.status_code) == (302, 302)
    assert first.headers["Location"] == second.headers["Location"]
    assert sum(model.objects.count() for model in kept) - sum(before) == 1


def test_the_last_of_a_lot_sent_twice_goes_once(filled, maker):
    # The second finds the lot empty, and still is answered with the first one's result.
    data = sent("7")

    assert maker.post(send_url(filled.cured), data).status_code == 302
    assert maker.post(send_url(filled.cured), data).status_code == 302
    assert filled.books.of(filled.cured) == (0, 0)


def test_the_same_key_with_other_content_clashes(filled, maker):
    data = sent("1")
    maker.post(send_url(filled.cured), data)
    with nothing_moves():
        other = maker.post(send_url(filled.cured), data | {"quantity": "2"})
        elsewhere = maker.post(send_url(filled.seconds), data)
        somebody = enter(filled.people.owner).post(send_url(filled.cured), data)

    assert [answer.status_code for answer in (other, somebody)] == [409, 409]
    # On another page the lot is not ready before the key is looked at, or the key clashes.
    assert elsewhere.status_code in {409, 422}
    assert "already sent with other figures" in other.content.decode()


@pytest.mark.parametrize("odd", [None, "", "1", "\x00", "x" * 10_000, "zzzzzzzz-0f62-4a8e-9a77-3f2f10c9a001"])
def test_a_form_without_its_key_changes_nothing(filled, maker, odd):
    data = sent("1")
    del data["submission_key"]
    with nothing_moves():
        page = maker.post(send_url(filled.cured), data | ({} if odd is None else {"submission_key": odd}))

    assert page.status_code == 409


def test_a_refused_form_keeps_its_key_and_a_fresh_one_gets_a_new_one(filled, maker):
    data = sent("99")

    page = maker.post(send_url(filled.cured), data)

    assert f'value="{data["submission_key"]}"' in page.content.decode()
    assert data["submission_key"] not in maker.get(send_url(filled.cured)).content.decode()


# Things that are gone


def test_a_line_that_is_not_in_the_batch_is_left_alone(filled, maker):
    wax = filled.shelf["wax"].code
    with nothing_moves():
        # A line of another formula, and one that never was.
        for number in (filled.books.line(filled.overdue, "wax"), 999_999, "x", "-1"):
            page = maker.post(
                draw_url(filled.planned),
                {f"line{number}-0-code": wax, f"line{number}-0-amount": "5", "submission_key": key()},
            )
            assert page.status_code == 422, number


def test_a_line_named_in_the_address_that_is_gone_shows_an_empty_page(filled, maker):
    for odd in ("999999", "x", "\x00", "-1", "9" * 50):
        assert maker.get(draw_url(filled.planned), {"line": odd}).status_code == 200


def test_an_item_retired_meanwhile_is_refused_at_its_line(filled, owner):
    data = delivery(filled, line(filled, "dye", each="5 g"))
    Item.objects.filter(name="dye").update(retired=True)
    with nothing_moves():
        page = owner.post(ADD, data)

    refused(page, page.context["lines"].forms[0], "item", "valid choice")


def test_a_version_retired_meanwhile_is_refused(filled, maker):
    FormulaVersion.objects.filter(pk=filled.candle.pk).update(state="retired")
    data = {"formula": str(filled.candle.pk), "quantity": "3", "planned_on": "2026-03-25", "submission_key": key()}
    with nothing_moves():
        page = maker.post("/batches/plan/", data)

    refused(page, page.context["form"], "formula", "valid choice")


def test_a_lot_that_is_gone_when_the_form_arrives_is_a_sentence(filled, maker, monkeypatch):
    # Lots are never deleted; should one be, the books say so.
    ghost = Lot(pk=10**6, code="L00001", item=filled.shelf["wax"].item)
    monkeypatch.setattr("batches.forms.find_lot", lambda text: ghost)
    with nothing_moves():
        page = maker.post(draw_url(filled.planned), drawn(filled, filled.planned, "wax", ("L00001", "5")))

    assert page.status_code == 422
    assert "no longer there" in page.content.decode()


@pytest.mark.parametrize("batch", ["finished", "called_off"])
def test_a_batch_that_is_over_takes_nothing_more(filled, maker, batch):
    over = getattr(filled, batch)
    with nothing_moves():
        for name in ("batch-draw", "batch-finish"):
            answer = maker.post(reverse(f"batches:{name}", args=[over.code]), {"submission_key": key()})
            assert answer.headers["Location"] == over.get_absolute_url()


def test_a_batch_finished_while_the_form_was_open_is_a_sentence(filled, maker, monkeypatch):
    stale = Batch.objects.select_related("version__formula__item").get(pk=filled.finished.pk)
    stale.state = "started"
    monkeypatch.setattr("batches.views_draws.batch_of", lambda code: stale)
    with nothing_moves():
        page = maker.post(
            draw_url(filled.finished), drawn(filled, filled.finished, "wax", (filled.shelf["wax"].code, "5"))
        )

    assert page.status_code == 422
    assert "is finished; nothing more can be drawn" in page.content.decode()


# Odd bytes and odd questions


@pytest.mark.parametrize(
    "body",
    [
        b"name=%ED%A0%80&submission_key=",  # a lone surrogate
        b"name=%FF%FE%00&submission_key=",
        b"name=%C0%AF&submission_key=",  # an overlong slash
        b"name=" + b"x" * 1_000_000,
        b"&&&&=&;;",
        b"name[a][b][c][d]=1",
    ],
)
def test_bytes_that_are_no_text_do_no_harm(filled, maker, body):
    before = Supplier.objects.count()

    for content_type in ("application/x-www-form-urlencoded", "text/plain", "application/json"):
        assert maker.post("/stock/suppliers/add/", body, content_type).status_code in {200, 409, 422}
    assert Supplier.objects.count() == before


ODD_QUESTIONS = [
    "\x00",
    "' OR '1'='1",
    "%' --",
    "9" * 5_000,
    "-1",
    "\N{RIGHT-TO-LEFT OVERRIDE}\N{ZERO WIDTH JOINER}",
    "{{ 7*7 }}",
    "<script>alert(1)</script>",
    "é\N{COMBINING ACUTE ACCENT}\N{PILE OF POO}",
    "٣",
    "²",
    "1e999",
    "NaN",
]


@pytest.mark.parametrize("odd", ODD_QUESTIONS)
def test_an_odd_question_gets_a_page(filled, maker, odd):
    query = dict.fromkeys(("q", "kind", "state", "retired", "page", "code", "formula", "quantity", "supplier", "line", "planned_on", "note", "next"), odd)
    for url in ("/stock/", "/stock/lots/", "/stock/books/", "/stock/deliveries/", "/stock/deliveries/add/", "/batches/", "/batches/plan/", "/trace/", "/find/", "/formulas/", "/stock/suppliers/"):
        page = maker.get(url, query)
        assert page.status_code in {200, 422}, url
        assert b"<script>alert" not in page.content
        exported = maker.get(url, query | {"format": "csv"})
        assert exported.status_code in {200, 422}, url


# Names that are more than names

NASTY = '<script>alert("x")</script>{{ 7*191 }}{% now "Y" %}${7*191}\'"&amp;'
SHORT = '"><img src=x onerror=alert(1)>'


def nasty_studio(filled):
    """Every text field a person may fill, filled with what would run, through the pages."""
    owner, house = enter(filled.people.owner), filled

    def post(url, data, code=302):
        answer = owner.post(url, {"submission_key": key(), **data})
        assert answer.status_code == code, (url, answer.context and answer.context.get("form") and answer.context["form"].errors)
        return answer

    post("/settings/", {"name": NASTY[:80], "currency": "USD", "mass_unit": "g", "temperature_unit": "C", "page_size": "A4", "time_zone": "UTC"})
    post(f"/people/{house.people.maker.pk}/", {"first_name": NASTY[:80], "username": "tobin", "role": "maker", "is_active": "on", "password": ""})
    post("/stock/suppliers/add/", {"name": NASTY, "contact": NASTY, "phone": SHORT, "notes": NASTY})
    supplier = Supplier.objects.get(name=NASTY)
    post("/stock/items/add/", {"name": NASTY, "kind": "dye", "unit": "g", "place": SHORT, "notes": NASTY})
    product = {"name": f"{NASTY} jar"[:120], "kind": "finished", "unit": "each"}
    post("/stock/items/add/", product)
    item = Item.objects.get(name=NASTY)
    for thing in (NASTY, "wax"):
        post(ADD, delivery(house, line(house, thing, each="5 g", supplier_lot=SHORT), supplier=str(supplier.pk), reference=SHORT))
    lot = Lot.objects.get(item=item)
    post(reverse("inventory:lot-change", args=[lot.code]), {"place": SHORT, "expires_on": "", "supplier_lot": NASTY[:60]})
    for act in ("hold", "release"):
        post(reverse(f"inventory:lot-{act}", args=[lot.code]), {"reason": NASTY})
    made = Item.objects.get(name=product["name"])
    post("/formulas/add/", {"name": NASTY, "item": str(made.pk)})
    version = reverse("batches:version-add", args=[made.formulas.get().pk])
    lines = [ingredient(house, "wax", "wax_share", "100"), ingredient(house, NASTY, "of_melt", "1")]
    post(version, formula(lines, what_changed=NASTY, notes=NASTY))
    plan = {"formula": str(made.formulas.get().versions.get().pk), "quantity": "1", "planned_on": "2026-03-20", "note": NASTY}
    post("/batches/plan/", plan)
    batch = Batch.objects.latest("pk")
    for name, code, amount in (("wax", house.shelf["wax"].code, "99"), (NASTY, lot.code, "1")):
        post(draw_url(batch), drawn(house, batch, name, (code, amount)))
    post(reverse("batches:batch-read", args=[batch.code]), {"kind": "pour", "temperature": "60", "note": NASTY})
    posting = Posting.objects.filter(movements__lot=lot, kind="draw").get()
    correct = reverse("batches:draw-correct", args=[batch.code, posting.pk])
    post(correct, {**drawn(house, batch, NASTY, (lot.code, "2")), "reason": NASTY, "submission_key": key()})
    post(reverse("batches:batch-finish", args=[batch.code]), {"good": "1"})
    candle = Lot.objects.get(outcome__batch=batch)
    Lot.objects.filter(pk=candle.pk).update(ready_on=None)
    post(send_url(candle), sent("1", to=NASTY, channel=SHORT, reference=SHORT))
    post(reverse("inventory:posting-reverse", args=[Posting.objects.filter(kind="dispatch").latest("pk").pk]), {"reason": NASTY})
    return {
        "item": item.get_absolute_url(),
        "supplier": supplier.get_absolute_url(),
        "lot": lot.get_absolute_url(),
        "candle": candle.get_absolute_url(),
        "batch": batch.get_absolute_url(),
        "version": batch.version.get_absolute_url(),
        "formula": made.formulas.get().get_absolute_url(),
        "trace": reverse("batches:trace-code", args=[lot.code]),
        "trace of the batch": reverse("batches:trace-code", args=[batch.code]),
        "delivery": lot.delivery_line.delivery.get_absolute_url(),
        "posting": Posting.objects.latest("pk").get_absolute_url(),
        "ticket": reverse("batches:batch-ticket", args=[batch.code]),
        "search": "/find/?q=script",
        "plan": f"/batches/plan/?formula={batch.version_id}&quantity=3&note={SHORT}",
        "item form": reverse("inventory:item-change", args=[item.pk]),
        "supplier form": reverse("inventory:supplier-change", args=[supplier.pk]),
        "lot form": reverse("inventory:lot-change", args=[lot.code]),
        "next version": version,
    }


def test_what_would_run_is_shown_as_it_was_typed_on_every_page(filled):
    # OWASP Cheat Sheet Series, Cross Site Scripting Prevention.
    urls = nasty_studio(filled)
    owner = enter(filled.people.owner)
    seen = 0
    for what, url in {**readable(filled, "owner"), **urls}.items():
        page = owner.get(url)
        assert page.status_code == 200, what
        if not page.headers["Content-Type"].startswith("text/html"):
            continue
        text = page.content.decode()
        assert "<script>alert" not in text, what
        assert "<img src=x" not in text, what
        assert "1337" not in text, what  # 7 × 191, had a template worked it out
        seen += "&lt;script&gt;alert" in text
    assert seen >= 30


def test_exports_carry_it_as_plain_text(filled):
    nasty_studio(filled)
    owner = enter(filled.people.owner)
    met = 0
    for what, url in tables(filled, "owner").items():
        joined = f"{url}{'&' if '?' in url else '?'}format="
        text = owner.get(joined + "csv").content.decode("utf-8-sig")
        cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
        sheet = load_workbook(io.BytesIO(owner.get(joined + "xlsx").content)).active
        assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row), what
        # A figure may well begin with a minus; what is no figure may not begin like a formula.
        assert not [cell for cell in cells if cell.startswith(("=", "+", "@", "\t", "\r"))], what
        met += NASTY in cells
    assert met >= 4


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r="])
def test_a_formula_in_a_name_reaches_a_spreadsheet_as_text(filled, owner, start):
    name = f'{start}HYPERLINK("http://elsewhere.example","wax")'
    Item.objects.create(name=name, kind="wax", unit="g")

    text = owner.get("/stock/?format=csv").content.decode("utf-8-sig")
    sheet = load_workbook(io.BytesIO(owner.get("/stock/?format=xlsx").content)).active

    assert [row[0] for row in csv.reader(io.StringIO(text)) if "HYPERLINK" in row[0]] == [f"'{name}"]
    (cell,) = [cell for row in sheet.iter_rows() for cell in row if "HYPERLINK" in str(cell.value)]
    assert cell.data_type == "s"
    assert cell.value.startswith("'")


@pytest.mark.parametrize("name", ["Moor\x07wax", "Moor\x0bwax", "Moor\x1bwax", "Moor\ufffewax", "Moor\N{RIGHT-TO-LEFT OVERRIDE}wax\N{ZERO WIDTH SPACE}", "蠟燭 \N{CANDLE}"])
def test_signs_that_a_file_cannot_hold_do_not_spoil_it(filled, owner, name):
    data = {"name": name, "kind": "finished", "unit": "each", "submission_key": key()}
    owner.post("/stock/items/add/", data)
    made = Item.objects.get(name=name)
    version = filled.books.formula(name, [("wax", "wax_share", 1_000_000)], fill="100 g")
    batch = filled.books.plan(version, 2)

    for url in (made.get_absolute_url(), batch.get_absolute_url(), "/stock/", "/batches/"):
        assert owner.get(url).status_code == 200
    for url in ("/stock/?format=xlsx", "/stock/?format=csv", "/batches/?format=xlsx"):
        content = owner.get(url).content
        if "xlsx" in url:
            assert load_workbook(io.BytesIO(content)).active.max_row > 1
    ticket = owner.get(reverse("batches:batch-ticket", args=[batch.code]))
    assert ticket.content.startswith(b"%PDF")


def test_long_names_break_nothing(filled, owner):
    name = "W" * 120
    Item.objects.create(name=name, kind="wax", unit="g")

    for url in ("/stock/", "/", "/find/?q=WWW", "/stock/?format=xlsx"):
        assert owner.get(url).status_code == 200


def test_a_day_that_never_was_in_the_studios_zone_is_refused_with_a_sentence(filled, owner):
    # Clocks in Berlin went from 02:00 to 03:00 on 30 March 2025, and from 03:00 back to 02:00 on 26 October 2025.
    Studio.objects.update(time_zone="Europe/Berlin")

    for when in ("2025-03-30T02:30", "2025-10-26T02:30"):
        page = owner.post(ADD, delivery(filled, line(filled), arrived_at=when))
        refused(page, page.context["form"], "arrived_at", "couldn’t be interpreted", typed=["10 kg"])


def test_figures_of_a_lot_received_through_the_page_are_exact(filled, owner):
    # 25 lb = 25 × 453,592,370 µg exactly; two packs at 98.75 the line with 3.10 freight.
    data = delivery(filled, line(filled, packs="2", each="25 lb", price="98.75"), freight="3.10")

    assert owner.post(ADD, data).status_code == 302

    lot = Lot.objects.latest("pk")
    assert (lot.on_hand, lot.value) == (50 * 453_592_370, money("101.85"))
    assert (lot.arrived_at, lot.expires_on) == (day(20, 12), None)
