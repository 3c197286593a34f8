"""What people mistype, and what strangers try, through the pages: a sentence at the field, and nothing moves.

OWASP ASVS 5.0, V2 Validation and Business Logic; OWASP, CSV Injection (from memory).
"""

import pytest
from django.urls import reverse

from inventory.models import Lot, Posting
from studio.core.codes import near
from tests.house import grams
from tests.web.conftest import enter
from tests.web.forms import (
    ADD,
    delivery,
    draw_url,
    drawn,
    formula,
    key,
    line,
    nothing_moves,
    refused,
    send_url,
    sent,
)


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
        ("each", "", ["fill"]),
        ("price", "1,5", ["point"]),
        ("price", "-5", ["minus"]),
        ("price", "€ 5", ["USD"]),
        ("price", "1e3", ["exponent"]),
        ("price", "NaN", ["sum"]),
        ("price", "5000000000", ["1,000,000,000"]),
        ("price", "2.49/m", ["length"]),
        ("price", "", ["fill"]),
        ("packs", "0", ["1"]),
        ("packs", "-1", ["1"]),
        ("packs", "1.5", ["whole number"]),
        ("packs", "99999999999999999999", ["10000"]),
        ("packs", "NaN", ["whole number"]),
        ("item", "999999", ["from the list"]),
        ("item", "9" * 40, ["from the list"]),
        ("item", "wax", ["from the list"]),
        ("expires_on", "0001-01-01", ["year"]),
        ("expires_on", "9999-12-31", ["year"]),
        ("expires_on", "2026-02-30", ["date"]),
        ("expires_on", "31/12/2026", ["date"]),
        ("supplier_lot", "x\x00y", ["null"]),
        ("supplier_lot", "x" * 1_000_000, ["at most 60"]),
    ],
)
def test_a_line_of_a_delivery_is_refused_at_its_field(filled, owner, field, typed, words):
    data = delivery(
        filled,
        line(filled, supplier_lot="TW-99"),
        line(filled, "dye", **{field: typed}, **({} if field == "each" else {"each": "40 g"})),
    )

    with nothing_moves():
        page = owner.post(ADD, data)

    # What was typed beside it stays, in the other line too.
    kept = [typed] if field not in {"item"} and "\x00" not in typed and len(typed) < 100 and typed else []
    refused(page, page.context["lines"].forms[1], field, *words, typed=[*kept, "T-300", "TW-99", "10 kg"])
    assert "Line 2" in page.content.decode()


@pytest.mark.parametrize(("name", "each"), [("wick", "2.5"), ("wick", "3 kg"), ("wick", "half a gross")])
def test_counted_things_are_counted(filled, owner, name, each):
    with nothing_moves():
        page = owner.post(ADD, delivery(filled, line(filled, name, each=each)))

    refused(page, page.context["lines"].forms[0], "each", typed=[each])


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("supplier", "", ["choose"]),
        ("supplier", "999999", ["from the list"]),
        ("freight", "1,5", ["point"]),
        ("freight", "-1", ["minus"]),
        ("spread", "volume", ["from the list"]),
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
        page = owner.post(
            ADD, delivery(filled, line(filled, "wick", each="50"), freight="5", spread="weight")
        )

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
        page = owner.post(
            ADD,
            delivery(filled, line(filled, packs="10000", each="1 kg", price="999999999 per pack", sure="on")),
        )

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
            assert page.content.count(b'<fieldset class="line"') <= 61


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
        page = maker.post(
            draw_url(filled.planned), drawn(filled, filled.planned, "wax", (wax, "460"), (wax, amount))
        )

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
    assert [(task.word, "12" in task.what, lot.spaced_code in task.more) for task in waiting] == [
        ("Look at", True, True)
    ]


def test_a_held_lot_is_refused_even_with_the_tick(filled, maker):
    with nothing_moves():
        page = maker.post(
            draw_url(filled.planned),
            drawn(filled, filled.planned, "fragrance", (filled.held.code, "64", "found")),
        )

    refused(page, row(page), "code", "on hold", typed=["64"])


def test_an_expired_lot_is_refused(filled, maker):
    with nothing_moves():
        page = maker.post(
            draw_url(filled.planned), drawn(filled, filled.planned, "wax", (filled.expired.code, "64"))
        )

    refused(page, row(page), "code", "expired on 10 Mar 2026", typed=["64"])


def test_an_expired_lot_was_good_before_it_expired(filled, maker):
    data = drawn(filled, filled.planned, "wax", (filled.expired.code, "64"), happened_at="2026-03-10T15:00")

    assert maker.post(draw_url(filled.planned), data).status_code == 302
    assert filled.books.of(filled.expired)[0] == grams(236)


def test_a_lot_of_another_item_is_refused(filled, maker):
    with nothing_moves():
        page = maker.post(
            draw_url(filled.planned),
            drawn(filled, filled.planned, "wax", (filled.shelf["fragrance"].code, "64")),
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
        ("", ["fill"]),
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
