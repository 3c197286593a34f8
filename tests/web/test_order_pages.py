"""Offers and purchase orders through the pages, from the first quotation to goods on the shelf (see `filled`)."""

import io
from datetime import date

import pypdf
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import DeliveryLine, Lot, Offer, Order, Supplier
from inventory.purchasing import ordering
from studio.core.numerals import NBSP
from studio.models import Studio
from tests.house import day, grams, money
from tests.web.conftest import enter
from tests.web.forms import delivery, key, nothing_moves, refused
from tests.web.forms import line as arrived
from tests.web.inspection import csv_of, text_of

ORDERS, OFFERS, ADD_OFFER, ADD_ORDER = (
    "/stock/purchase-orders/",
    "/stock/supplier-prices/",
    "/stock/supplier-prices/add/",
    "/stock/purchase-orders/add/",
)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


def _lines(rows):
    data = {"lines-TOTAL_FORMS": str(len(rows)), "lines-INITIAL_FORMS": "0"}
    for number, row in enumerate(rows):
        data |= {f"lines-{number}-{name}": value for name, value in row.items()}
    return data


def offer(house, *breaks, **fields):
    """Everything the page of an offer sends; breaks are pairs of packs and price, as typed."""
    return {
        "supplier": str(house.books.supplier().pk),
        "item": str(house.books.item("fragrance").pk),
        "pack": "2.5 kg",
        "minimum_packs": "1",
        "quoted_on": "2026-03-12",
        "submission_key": key(),
        **_lines([{"from_packs": packs, "price": price} for packs, price in breaks]),
        **fields,
    }


def wanted(house, name="wax", **fields):
    """A line of an order: 6 packs of 20 kg unless told otherwise."""
    return {"item": str(house.books.item(name).pk), "packs": "6", "each": "20 kg", **fields}


def order(house, *lines, **head):
    """Everything the page of an order sends."""
    supplier = str(house.books.supplier().pk)
    return {"supplier": supplier, "submission_key": key(), **_lines(lines), **head}


def page_of(code, name):
    return reverse(f"inventory:order-{name}", args=[code])


# Offers


def test_an_offer_is_entered_with_its_breaks(filled, owner):
    data = offer(
        filled,
        ("", "132"),
        ("4", "124.50"),
        ("", ""),
        lead_days="8",
        supplier_code="SF-25",
        valid_until="2026-06-30",
    )

    answer = owner.post(ADD_OFFER, data)

    made = Offer.objects.latest("pk")
    assert answer.headers["Location"] == made.get_absolute_url()
    assert (made.pack_quantity, made.lead_days, made.supplier_code) == (grams(2_500), 8, "SF-25")
    assert list(made.breaks.values_list("from_packs", "price")) == [(1, money(132)), (4, money("124.50"))]
    text = text_of(owner.get(made.get_absolute_url()))
    # 132 over 2.5 kg and 124.50 over 2.5 kg.
    for words in (
        "$132.00",
        "$52.80 per kg",
        "$124.50",
        "$49.80 per kg",
        "8 days",
        "8 days ago",
        "30 Jun 2026",
    ):
        assert words in text, words
    assert "$124.50" in text_of(owner.get(filled.books.item("fragrance").get_absolute_url()))
    assert "$124.50" in text_of(owner.get(filled.books.supplier().get_absolute_url()))


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"pack": "2.5"}, "pack", ["Add a unit"]),
        ({"pack": "500 ml"}, "pack", ["volume"]),
        ({"pack": "900 kg"}, "pack", ["more than is expected", "tick"]),
        ({"quoted_on": "2026-03-21"}, "quoted_on", ["future"]),
        ({"quoted_on": ""}, "quoted_on", ["fill"]),
        ({"valid_until": "2026-03-11"}, "valid_until", ["before the day it was quoted"]),
        ({"minimum_packs": "0"}, "minimum_packs", ["1"]),
        ({"lead_days": "9999"}, "lead_days", ["730"]),
        ({"supplier": ""}, "supplier", ["choose"]),
        ({"item": "999999"}, "item", ["from the list"]),
        ({"supplier_code": "x\x00"}, "supplier_code", ["null"]),
    ],
)
def test_the_head_of_an_offer_is_refused_at_its_field(filled, owner, fields, field, words):
    with nothing_moves():
        page = owner.post(ADD_OFFER, offer(filled, ("1", "132"), **fields))

    refused(page, page.context["form"], field, *words, typed=["132"])


@pytest.mark.parametrize(
    ("breaks", "fields", "place", "field", "words"),
    [
        ([("1", "132"), ("1", "120")], {}, 1, "from_packs", ["from 1 is there already"]),
        ([("1", "132"), ("9", "120"), ("4", "110")], {}, 2, "from_packs", ["smallest first"]),
        ([("4", "132")], {}, 0, "from_packs", ["begin at 1", "make 4 the least"]),
        ([("1", "132")], {"minimum_packs": "4"}, 0, "from_packs", ["fewer than 4", "lower the least"]),
        ([("1", "132"), ("", "120")], {}, 1, "from_packs", ["fill"]),
        ([("1", "0")], {}, 0, "price", ["above zero"]),
        ([("1", "1,5")], {}, 0, "price", ["point"]),
        ([("1", "-5")], {}, 0, "price", ["minus"]),
        ([("1", "€ 5")], {}, 0, "price", ["USD"]),
        ([("1", "NaN")], {}, 0, "price", ["sum"]),
        ([("1", "5000000000")], {}, 0, "price", ["1,000,000,000"]),
        ([("1.5", "5")], {}, 0, "from_packs", ["whole number"]),
        ([("4", "")], {}, 0, "price", ["fill"]),
    ],
)
def test_a_price_of_an_offer_is_refused_at_its_field(filled, owner, breaks, fields, place, field, words):
    with nothing_moves():
        page = owner.post(ADD_OFFER, offer(filled, *breaks, **fields))

    refused(page, page.context["lines"].forms[place], field, *words, typed=["2.5 kg"])


def test_an_offer_without_a_price_is_refused(filled, owner):
    with nothing_moves():
        page = owner.post(ADD_OFFER, offer(filled, ("", "")))

    assert page.status_code == 422
    assert "Enter the price of a pack." in text_of(page)


def test_a_price_that_rises_is_asked_about_once(filled, owner):
    data = offer(filled, ("1", "132"), ("4", "142"))
    with nothing_moves():
        page = owner.post(ADD_OFFER, data)

    refused(page, page.context["lines"].forms[1], "price", "prices usually fall", "tick", typed=["142"])
    assert 'name="dearer"' in text_of(page)
    assert owner.post(ADD_OFFER, data | {"dearer": "on"}).status_code == 302
    assert Offer.objects.latest("pk").breaks.count() == 2


def test_another_price_keeps_what_was_typed_up_to_six(filled, owner):
    data = offer(filled, ("oops", ""), add_line="1")
    text = text_of(owner.post(ADD_OFFER, data))
    assert 'value="oops"' in text
    assert 'name="lines-1-price"' in text
    assert 'class="error"' not in text

    full = text_of(owner.post(ADD_OFFER, offer(filled, *[("", "")] * 6, add_line="1")))
    assert 'name="lines-6-price"' not in full
    assert "Another price" not in full


def test_quote_again_begins_with_the_last(filled, owner):
    text = text_of(owner.get(f"{ADD_OFFER}?like={filled.offer.pk}"))

    for value in ("20 kg", "83.17", "80.53", "TW-20", "2026-03-20"):
        assert f'value="{value}"' in text, value


def test_an_offer_is_withdrawn_with_one_press_and_the_one_before_stands_again(filled, owner):
    url = reverse("inventory:offer-withdraw", args=[filled.offer.pk])
    assert "quoted on 9 Jan 2026 stands in its place" in text_of(owner.get(url))
    data = {"submission_key": key()}

    assert owner.post(url, data).status_code == 302
    assert owner.post(url, data).status_code == 302

    filled.offer.refresh_from_db()
    assert filled.offer.withdrawn
    rows = csv_of(owner, f"{OFFERS}?format=csv")
    assert [(row["Quoted on"], row["State"]) for row in rows if row["Item"] == "wax"] == [
        ("2026-01-09", "Current")
    ]
    assert owner.get(url).status_code == 302
    again = owner.post(url, {"submission_key": key()}, follow=True)
    assert "withdrawn before" in text_of(again)


def test_offers_leave_with_one_row_for_each_price(filled, owner):
    rows = csv_of(owner, f"{OFFERS}?state=all&q=WAX&supplier={filled.books.supplier().pk}&format=csv")

    told = [(row["From packs"], row["Price per pack"], row["Price per unit"], row["State"]) for row in rows]
    # 83.17 and 80.53 over 20,000 g, and 81.29 of January.
    assert told == [
        ("1", "83.170000", "0.0041585", "Current"),
        ("5", "80.530000", "0.0040265", "Current"),
        ("1", "81.290000", "0.0040645", "Replaced"),
    ]


def test_all_prices_of_an_item_leave_as_a_table(filled, owner):
    url = reverse("inventory:item-prices", args=[filled.books.item("wax").pk])

    rows = csv_of(owner, f"{url}?format=csv")

    first = next(row for row in rows if row["Document"] == "T-204" and row["Pack"] == "10 kg")
    # 61.30 and 67.43 landed, over 10,000 g.
    assert (first["Price per unit"], first["Landed per unit"]) == ("0.00613", "0.006743")
    quoted = [(row["Day"], row["Price per unit"]) for row in rows if row["What"] == "Quoted"]
    assert quoted == [("2026-03-01", "0.0040265"), ("2026-03-01", "0.0041585"), ("2026-01-09", "0.0040645")]


# Writing an order


def test_a_draft_takes_prices_article_number_and_day_from_the_offer(filled, owner):
    page = owner.post(ADD_ORDER, order(filled, wanted(filled, price=""), {"packs": "1"}), follow=True)

    made = Order.objects.latest("pk")
    line = made.lines.get()
    assert (line.price, line.offer, line.supplier_code) == (money("80.53"), filled.offer, "TW-20")
    assert made.expected_on == date(2026, 3, 24)
    text = text_of(page)
    assert (
        "Expected on 24 Mar 2026: wax takes 4 days, from 3 deliveries of this supplier, whatever came" in text
    )
    # 6 × 80.53.
    assert "$483.18" in text


def test_what_has_no_price_says_so_and_the_total_says_what_it_lacks(filled, owner):
    text = text_of(owner.get(filled.order_draft.get_absolute_url()))

    assert "not known" in text
    assert "$483.18" in text
    assert "1 line has no price and is not in the total." in text
    listed = text_of(owner.get(ORDERS))
    assert "without 1 line" in listed
    # The late order: one pack at 83.17.
    assert "$83.17" in listed


def test_a_maker_orders_without_seeing_prices_and_keeps_those_somebody_typed(filled, maker):
    books = filled.books
    drafted = books.order(("wax", 6, "20 kg"), ("wick", 2, 250, "24.13"), ("vessel", 1, 12, "51.60"))
    kept = list(drafted.lines.order_by("pk"))
    page = maker.get(page_of(drafted.code, "change"))
    text = text_of(page)
    assert "$" not in text
    assert "24.13" not in text
    assert 'name="lines-0-price"' not in text

    rows = [
        wanted(filled, "wax", packs="4", line=str(kept[0].pk)),
        wanted(filled, "wick", packs="3", each="250", line=str(kept[1].pk)),
        wanted(filled, "vessel", each="24", line=str(kept[2].pk), price="1"),
    ]
    data = order(filled, *rows, seen=page.context["form"].initial["seen"])

    assert maker.post(page_of(drafted.code, "change"), data).status_code == 302
    assert list(drafted.lines.order_by("pk").values_list("packs", "price")) == [
        (4, money("83.17")),  # the offer at four packs
        (3, money("24.13")),  # as somebody typed it
        (6, None),  # another pack: that price is not known
    ]


def test_a_line_is_left_out_and_one_is_needed(filled, owner):
    url = page_of(filled.order_draft.code, "change")
    seen = owner.get(url).context["form"].initial["seen"]
    rows = [wanted(filled, drop="on", packs="x"), wanted(filled, "wick", each="250")]
    with nothing_moves():
        none = owner.post(url, order(filled, rows[0], seen=seen))
    assert "Order at least one thing." in text_of(none)

    assert owner.post(url, order(filled, *rows, seen=seen)).status_code == 302
    assert [line.item.name for line in filled.order_draft.lines.all()] == ["wick"]


def test_a_draft_changed_meanwhile_is_not_replaced_unseen(filled, owner):
    url = page_of(filled.order_draft.code, "change")
    seen = owner.get(url).context["form"].initial["seen"]
    ordering.change(
        filled.order_draft.pk,
        supplier=filled.books.supplier(),
        wanted=[filled.books.wanted("dye", 1, "100 g")],
        signature=filled.books.sign(),
    )
    data = order(filled, wanted(filled), seen=seen)
    with nothing_moves():
        page = owner.post(url, data)

    assert page.status_code == 422
    assert "Somebody changed this draft meanwhile." in text_of(page)
    shown = page.context["form"]["seen"].value()
    assert shown != seen
    assert owner.post(url, data | {"seen": shown}).status_code == 302


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("each", "20", ["Add a unit"]),
        ("each", "", ["fill"]),
        ("each", "900 kg", ["more than", "tick"]),
        ("packs", "0", ["1"]),
        ("packs", "1e3", ["whole number"]),
        ("packs", "10001", ["10000"]),
        ("price", "1,5", ["point"]),
        ("price", "-3", ["minus"]),
        ("item", "", ["choose"]),
        ("supplier_code", "x" * 61, ["60"]),
    ],
)
def test_a_line_of_an_order_is_refused_at_its_field(filled, owner, field, typed, words):
    with nothing_moves():
        page = owner.post(ADD_ORDER, order(filled, wanted(filled, **{field: typed}), note="Ring first"))

    refused(page, page.context["lines"].forms[0], field, *words)
    assert "Ring first" in text_of(page)


def test_more_than_expected_is_ordered_after_the_tick(filled, owner):
    line = wanted(filled, each="900 kg", price="3000")
    data = order(filled, line)
    assert 'name="lines-0-sure"' in text_of(owner.post(ADD_ORDER, data))

    assert owner.post(ADD_ORDER, data | {"lines-0-sure": "on"}).status_code == 302
    too_much = order(filled, wanted(filled, packs="10000", each="1000000 kg", sure="on"))
    with nothing_moves():
        page = owner.post(ADD_ORDER, too_much)
    refused(page, page.context["lines"].forms[0], "each", "Nobody can deliver")


def test_a_day_that_has_passed_is_not_expected(filled, owner):
    with nothing_moves():
        page = owner.post(ADD_ORDER, order(filled, wanted(filled), expected_on="2026-03-19"))

    refused(page, page.context["form"], "expected_on", "has passed")


def test_order_again_and_order_an_offer_begin_with_what_is_known(filled, owner):
    again = owner.get(f"{ADD_ORDER}?like={filled.order_part.code}")
    assert again.context["form"]["supplier"].value() == filled.books.supplier().pk
    text = text_of(again)
    assert 'value="2.93"' in text  # typed then, and no offer gives one
    assert 'value="100"' in text

    offered = text_of(owner.get(f"{ADD_ORDER}?offer={filled.offer.pk}"))
    assert 'value="20 kg"' in offered
    assert 'value="TW-20"' in offered
    for odd in ("?offer=999999", "?offer=x", "?like=PZZZZZ", "?supplier=" + "9" * 40):
        assert owner.get(ADD_ORDER + odd).status_code == 200, odd


# Sending and ending it


def test_sending_offers_the_day_and_says_where_it_comes_from(filled, maker):
    url = page_of(filled.order_draft.code, "send")
    page = maker.get(url)
    assert page.context["form"]["expected_on"].value() == date(2026, 3, 26)
    assert (
        "Wax takes 4 days, from 3 deliveries of this supplier, whatever came: sent today, 24 Mar 2026."
        in text_of(page)
    )

    data = {"sent_at": "2026-03-19T16:00", "expected_on": "2026-03-27", "submission_key": key()}
    assert maker.post(url, data).status_code == 302

    filled.order_draft.refresh_from_db()
    sent = filled.order_draft
    assert (sent.state, sent.sent_at, sent.sent_by) == ("sent", day(19, 16), filled.people.maker)
    assert sent.expected_on == date(2026, 3, 27)
    assert "marked by Tobin" in text_of(maker.get(sent.get_absolute_url()))


def test_an_order_cannot_be_expected_before_it_was_sent(filled, maker):
    url = page_of(filled.order_draft.code, "send")
    with nothing_moves():
        page = maker.post(url, {"expected_on": "2026-03-19", "submission_key": key()})
        future = maker.post(url, {"sent_at": "2026-03-21T09:00", "submission_key": key()})

    assert "cannot arrive before it was sent" in text_of(page)
    refused(future, future.context["form"], "sent_at", "future")


@pytest.mark.parametrize("act", ["add", "send", "call-off", "close", "open-again", "offer", "arrived"])
def test_every_form_is_accepted_once(filled, owner, act):
    url, data = {
        "add": (ADD_ORDER, order(filled, wanted(filled))),
        "send": (page_of(filled.order_draft.code, "send"), {"submission_key": key()}),
        "call-off": (
            page_of(filled.order_late.code, "call-off"),
            {"reason": "Too late", "submission_key": key()},
        ),
        "close": (
            page_of(filled.order_part.code, "close"),
            {"reason": "Sold out", "submission_key": key()},
        ),
        "open-again": (page_of(filled.order_given_up.code, "reopen"), {"submission_key": key()}),
        "offer": (ADD_OFFER, offer(filled, ("1", "132"))),
        "arrived": (arrival_url(filled.order_part), arrival(filled, filled.order_part, "1")),
    }[act]

    first, second = owner.post(url, data), owner.post(url, data)

    assert (first.status_code, second.status_code) == (302, 302)
    assert first.headers["Location"] == second.headers["Location"]
    assert owner.post(url, data | {"extra": "1"}).status_code == 409


@pytest.mark.parametrize(
    ("name", "which"),
    [
        ("send", "order_late"),
        ("change", "order_late"),
        ("close", "order_late"),
        ("close", "order_whole"),
        ("call-off", "order_part"),
        ("call-off", "order_off"),
        ("reopen", "order_whole"),
        ("reopen", "order_part"),
    ],
)
def test_what_an_order_does_not_allow_is_said_and_changes_nothing(filled, owner, name, which):
    url = page_of(getattr(filled, which).code, name)
    with nothing_moves():
        looked = owner.get(url, follow=True)
        posted = owner.post(url, {"reason": "why not", "submission_key": key()})

    assert looked.redirect_chain
    assert f"Order {getattr(filled, which).spaced_code} is" in text_of(looked)
    assert posted.status_code in {302, 422}


def test_a_reason_is_needed_to_close_or_call_off(filled, owner):
    for name, which in (("close", "order_part"), ("call-off", "order_late")):
        with nothing_moves():
            page = owner.post(
                page_of(getattr(filled, which).code, name), {"reason": "", "submission_key": key()}
            )
        refused(page, page.context["form"], "reason", "fill")


# It arrived


def arrival_url(of):
    return f"/stock/deliveries/add/?order={of.code}"


def arrival(house, of, packs, *others, number=0, **fields):
    """Everything the page of a delivery sends for one line of an order, and others."""
    ordered = of.lines.order_by("pk")[number]
    first = {
        "order_line": str(ordered.pk),
        "item": str(ordered.item_id),
        "packs": packs,
        "each": ordered.typed_pack,
        "price": "",
        **fields,
    }
    return delivery(house, first, *others)


def test_what_is_outstanding_is_filled_in(filled, owner, maker):
    page = owner.get(arrival_url(filled.order_part))

    (line,) = page.context["lines"].forms
    assert (line["packs"].value(), line["each"].value(), line["price"].value()) == (1, "100", "2.93/pack")
    assert page.context["form"]["supplier"].value() == filled.books.supplier().pk
    hidden = maker.get(arrival_url(filled.order_part))
    assert not hidden.context["lines"].forms[0]["price"].value()
    assert "2.93" not in text_of(hidden)


def test_a_maker_receives_at_the_price_it_was_ordered_at(filled, maker):
    answer = maker.post(arrival_url(filled.order_part), arrival(filled, filled.order_part, "1"))

    assert answer.status_code == 302
    lot = Lot.objects.latest("pk")
    assert (lot.on_hand, lot.value) == (100, money("2.93"))
    filled.order_part.refresh_from_db()
    assert (filled.order_part.state, filled.order_part.ended_by) == ("closed", filled.people.maker)
    page = text_of(maker.get(answer.headers["Location"]))
    assert filled.order_part.get_absolute_url() in page
    detail = text_of(maker.get(filled.order_part.get_absolute_url()))
    assert answer.headers["Location"] in detail
    assert "everything arrived" in detail
    assert "2.93" not in detail


def test_what_did_not_come_is_cleared_and_another_item_comes_along(filled, owner):
    two = filled.books.order(("wax", 1, "20 kg"), ("wick", 2, 250, "24.13"), sent=day(18))
    first, second = two.lines.order_by("pk")
    rows = (
        {"order_line": str(first.pk), "item": str(first.item_id), "packs": "", "each": "20 kg", "price": ""},
        {
            "order_line": str(second.pk),
            "item": str(second.item_id),
            "packs": "2",
            "each": "250",
            "price": "50",
        },
        arrived(filled, "dye", each="10 g", price="2"),
    )

    assert owner.post(arrival_url(two), delivery(filled, *rows)).status_code == 302

    lines = DeliveryLine.objects.order_by("-pk")[:2][::-1]
    assert [(line.item.name, line.order_line_id) for line in lines] == [("wick", second.pk), ("dye", None)]
    two.refresh_from_db()
    assert two.state == "sent"
    (rest,) = owner.get(arrival_url(two)).context["lines"].forms
    assert rest["item"].value() == first.item_id


def test_packs_of_another_size_leave_a_loose_rest(filled, owner):
    three = filled.books.order(("wax", 3, "20 kg", "83.17"), sent=day(18))
    data = arrival(filled, three, "1", each="25 kg", price="")
    with nothing_moves():
        page = owner.post(arrival_url(three), data)
    refused(page, page.context["lines"].forms[0], "price", "not those that were ordered")

    data |= {"lines-0-price": "100"}
    assert owner.post(arrival_url(three), data).status_code == 302
    (rest,) = owner.get(arrival_url(three)).context["lines"].forms
    # 35 kg are left: one pack of 20 kg and another fifteen.
    assert (rest["packs"].value(), rest["each"].value(), rest["price"].value()) == (1, "35000 g", None)


def test_more_than_ordered_is_taken_and_said(filled, owner):
    page = owner.post(
        arrival_url(filled.order_part), arrival(filled, filled.order_part, "3", price="9"), follow=True
    )

    assert "More came than was ordered: 500 of Shrink band for 300." in text_of(page)
    detail = text_of(owner.get(filled.order_part.get_absolute_url()))
    assert "200 of Shrink band more came than was ordered." in detail


def test_a_tampered_order_line_is_refused(filled, owner):
    other = filled.order_late.lines.get().pk
    for tampered in (str(other), "999999", "x", "-1", "9" * 19, "1; DROP TABLE"):
        with nothing_moves():
            page = owner.post(
                arrival_url(filled.order_part), arrival(filled, filled.order_part, "1", order_line=tampered)
            )
        assert page.status_code == 422, tampered
        assert "not on the order any more" in text_of(page), tampered
    with nothing_moves():
        without = owner.post("/stock/deliveries/add/", arrival(filled, filled.order_part, "1"))
        wax = str(filled.books.item("wax").pk)
        item = owner.post(arrival_url(filled.order_part), arrival(filled, filled.order_part, "1", item=wax))
        elsewhere = str(Supplier.objects.create(name="Brine Lane Oils").pk)
        supplier = owner.post(
            arrival_url(filled.order_part),
            arrival(filled, filled.order_part, "1") | {"supplier": elsewhere},
        )
    assert (without.status_code, item.status_code, supplier.status_code) == (422, 422, 422)
    assert "went to another supplier" in text_of(supplier)


def test_an_order_called_off_while_the_form_was_open_keeps_what_was_typed(filled, owner):
    data = arrival(filled, filled.order_late, "1", supplier_lot="TW-77", price="80")
    ordering.call_off(filled.order_late.pk, signature=filled.books.sign(reason="Too late"))
    with nothing_moves():
        page = owner.post(arrival_url(filled.order_late), data)

    assert page.status_code == 422
    assert "is called off and expects nothing" in text_of(page)
    assert 'value="TW-77"' in text_of(page)
    assert owner.get(arrival_url(filled.order_late)).status_code == 302


def test_another_line_keeps_the_order(filled, owner):
    data = arrival(filled, filled.order_part, "1") | {"add_line": "1"}

    text = text_of(owner.post(arrival_url(filled.order_part), data))

    assert f"order={filled.order_part.code}" in text
    assert 'name="lines-1-item"' in text
    assert f'value="{filled.order_part.lines.get().pk}"' in text


def test_reversing_the_delivery_makes_it_outstanding_again(filled, owner):
    owner.post(arrival_url(filled.order_part), arrival(filled, filled.order_part, "1"))
    posting = DeliveryLine.objects.latest("pk").delivery.posting
    url = reverse("inventory:posting-reverse", args=[posting.pk])

    assert owner.post(url, {"reason": "not ours", "submission_key": key()}).status_code == 302

    filled.order_part.refresh_from_db()
    assert filled.order_part.state == "sent"
    rows = csv_of(owner, f"{filled.order_part.get_absolute_url()}?format=csv")
    assert (rows[0]["Ordered"], rows[0]["Received"], rows[0]["Outstanding"]) == ("300", "200", "100")


# Seen elsewhere


def test_stock_shows_what_is_on_order_and_when(filled, maker):
    page = text_of(maker.get("/stock/")).replace(NBSP, " ")
    assert "24 Mar 2026" in page
    rows = {row["Item"]: row for row in csv_of(maker, "/stock/?format=csv")}
    assert (rows["wax"]["On order"], rows["Shrink band"]["On order"]) == ("20000", "100")

    late = text_of(maker.get(filled.books.item("wax").get_absolute_url()))
    assert "was expected 18 Mar 2026" in late
    assert filled.order_late.get_absolute_url() in late


def test_the_list_is_narrowed_by_state_and_supplier(filled, owner):
    def codes(**query):
        return [row.order.code for row in owner.get(ORDERS, query).context["table"].rows]

    assert codes(state="part") == [filled.order_part.code]
    assert codes(state="overdue") == [filled.order_late.code]
    assert codes(state="draft") == [filled.order_draft.code]
    assert set(codes(state="open")) == {
        each.code for each in (filled.order_part, filled.order_late, filled.order_draft)
    }
    assert codes(state="called_off") == [filled.order_off.code]
    assert len(codes(state="closed")) == 2
    assert codes(supplier=str(Supplier.objects.create(name="Brine Lane Oils").pk)) == []
    assert len(codes(supplier="' OR 1=1", state="x")) == 6


def test_orders_leave_with_what_is_known_and_what_is_not(filled, owner):
    rows = {row["Order"]: row for row in csv_of(owner, f"{ORDERS}?format=csv")}

    draft = rows[filled.order_draft.code]
    assert (draft["Total known"], draft["Lines without price"], draft["State"]) == (
        "483.180000",
        "1",
        "Draft",
    )
    assert rows[filled.order_late.code]["State"] == "Overdue"


def words_of(answer):
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(answer.content)).pages)


def test_the_sheet_carries_prices_for_those_who_may_see_them(filled, owner, maker):
    url = page_of(filled.order_draft.code, "paper")
    seen, hidden = words_of(owner.get(url)), words_of(maker.get(url))

    for text in (seen, hidden):
        for words in (
            "Ninefold Lane",
            "Tollgate Wax and Wick",
            filled.order_draft.spaced_code,
            "TW-20",
            "6 × 20 kg",
            "Draft, not sent",
        ):
            assert words in text.replace(NBSP, " "), words
    assert "$483.18" in seen
    assert "not known" in seen
    assert "1 line has no price" in seen
    assert "$" not in hidden
    assert "Price" not in hidden
    assert "Total" not in hidden


@pytest.mark.parametrize("page_size", ["A4", "Letter"])
def test_a_long_order_with_odd_words_prints_on_several_pages(filled, owner, page_size):
    Studio.objects.update(page_size=page_size)
    books = filled.books
    names = [f"<b>{'Bänd & ' * 12}</b> {number} \N{CANDLE}" for number in range(30)]
    for name in names:
        books.item(name, kind="packaging")
    long = books.order(*[(name, 3, 100, "0.0333") for name in names])
    Order.objects.filter(pk=long.pk).update(note="Ring first <script>\n" * 20)

    pages = pypdf.PdfReader(io.BytesIO(owner.get(page_of(long.code, "paper")).content)).pages

    assert len(pages) > 1
    assert all(long.spaced_code in page.extract_text() for page in pages)
    # 30 lines of ten cents each.
    assert "$3.00" in pages[-1].extract_text() + pages[-2].extract_text()
    assert "$0.0333" in pages[0].extract_text()
    assert round(float(pages[0].mediabox.height)) == {"A4": 842, "Letter": 792}[page_size]


NASTY = '<script>alert("x")</script>{{ 907*9091 }}\'"&amp;'


def test_what_would_run_is_shown_as_it_was_typed(filled, owner):
    data = offer(filled, ("1", "132"), supplier_code=NASTY[:60], note=NASTY)
    assert owner.post(ADD_OFFER, data).status_code == 302
    made = Offer.objects.latest("pk")
    line = wanted(filled, "fragrance", each="2.5 kg", supplier_code=NASTY[:60])
    owner.post(ADD_ORDER, order(filled, line, note=NASTY))
    written = Order.objects.latest("pk")
    owner.post(page_of(written.code, "send"), {"submission_key": key()})
    owner.post(page_of(written.code, "call-off"), {"reason": NASTY, "submission_key": key()})

    urls = [
        made.get_absolute_url(),
        written.get_absolute_url(),
        f"{ADD_OFFER}?like={made.pk}",
        f"{ADD_ORDER}?like={written.code}",
    ]
    for url in (*urls, OFFERS, ORDERS, made.item.get_absolute_url(), made.supplier.get_absolute_url()):
        text = owner.get(url).content.decode()
        assert "<script>alert" not in text, url
        assert "8245537" not in text, url
    for url in (f"{OFFERS}?format=csv", f"{ORDERS}?format=xlsx", f"{written.get_absolute_url()}?format=csv"):
        assert owner.get(url).status_code == 200
    assert owner.get(page_of(written.code, "paper")).content.startswith(b"%PDF")


@pytest.mark.parametrize("odd", ["\x00", "' OR '1'='1", "9" * 5_000, "-1", "٣", "<script>alert(1)</script>"])
def test_an_odd_question_gets_a_page(filled, owner, odd):
    query = dict.fromkeys(("state", "supplier", "q", "page", "like", "offer", "item", "order"), odd)
    for url in (ORDERS, OFFERS, ADD_ORDER, ADD_OFFER, "/stock/deliveries/add/"):
        page = owner.get(url, query)
        assert page.status_code == 200, url
        assert b"<script>alert" not in page.content


@pytest.mark.parametrize("tampered", ["1000000000", "-5", "many", "", "9" * 5_000])
def test_a_tampered_count_of_lines_does_no_harm(filled, owner, tampered):
    with nothing_moves():
        for url, data in ((ADD_ORDER, order(filled)), (ADD_OFFER, offer(filled))):
            for more in ({}, {"add_line": "1"}):
                page = owner.post(url, data | {"lines-TOTAL_FORMS": tampered} | more)
                assert page.status_code == (200 if more else 422), url
                assert page.content.count(b'<fieldset class="line"') <= 61


def _asked(client, url):
    with CaptureQueriesContext(connection) as captured:
        assert client.get(url).status_code == 200, url
    return len(captured)


def test_an_order_of_many_lines_takes_as_many_queries_as_one_of_few(filled, owner):
    books = filled.books
    few = [("wax", 1, "20 kg")]
    many = [(name, 1, pack) for name, pack in (("wax", "20 kg"), ("fragrance", "1 kg"), ("wick", 10)) * 6]
    owner.get("/")
    for sent in (None, day(18)):
        orders = [books.order(*lines, sent=sent) for lines in (few, many)]
        if sent:
            for each in orders:
                books.bring(each, (0, "1 kg"))
        names = ("detail", "paper") if sent else ("detail", "paper", "change", "send")
        for name in names:
            assert len({_asked(owner, page_of(each.code, name)) for each in orders}) == 1, name
        assert len({_asked(owner, f"{ADD_ORDER}?like={each.code}") for each in orders}) == 1
        if sent:
            assert len({_asked(owner, arrival_url(each)) for each in orders}) == 1
