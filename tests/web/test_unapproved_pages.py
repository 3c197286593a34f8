"""Designs that were never approved: left out of price lists or marked there, and marked wherever goods are sold.

The candle of the house is at trial; Rain on Slate was approved on the owner's word and must not change.
"""

import io

import pytest
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader

from costing.prices import channels
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from inventory.shop_files import import_service
from inventory.shop_files.planning import plan_of
from inventory.shop_files.reading import Product
from studio.core.numerals import NBSP
from tests.house import NOW, money
from tests.web.conftest import enter
from tests.web.forms import key
from tests.web.inspection import csv_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(filled):
    """With a price asked for both designs."""
    channels.ask(
        item=filled.rain.formula.item,
        channel=filled.web,
        price_micros=money("17.50"),
        from_on=NOW.date(),
        by=filled.people.owner,
        now=NOW,
    )
    return enter(filled.people.owner)


@pytest.fixture
def names(filled):
    return filled.candle.formula.item.name, filled.rain.formula.item.name


def plain(page):
    return text_of(page).replace(NBSP, " ").replace("&nbsp;", " ").replace("&#x27;", "'")


def words_of(page):
    return " ".join(
        " ".join(part.extract_text() for part in PdfReader(io.BytesIO(page.content)).pages).split()
    )


def test_the_printed_price_list_leaves_out_what_was_never_approved(owner, names):
    trial, approved = names
    paper = words_of(owner.get(reverse("costing:price-paper")))
    assert trial not in paper
    assert "$23.95" not in paper
    assert approved in paper
    assert "$17.50" in paper

    asked_for = words_of(owner.get(reverse("costing:price-paper"), {"unapproved": "yes"}))

    assert f"{trial} Not approved" in asked_for
    assert asked_for.count("Not approved") == asked_for.count(trial)
    assert f"{approved} Not approved" not in asked_for


def test_the_files_leave_it_out_or_say_so(owner, names):
    trial, approved = names
    url = reverse("costing:price-list")
    assert {row["Product"]: row["Design"] for row in csv_of(owner, f"{url}?format=csv")} == {
        approved: "approved"
    }
    both = csv_of(owner, f"{url}?format=csv&unapproved=yes")
    assert {row["Product"]: row["Design"] for row in both} == {trial: "not approved", approved: "approved"}

    def products(query):
        rows = load_workbook(io.BytesIO(owner.get(f"{url}?format=xlsx{query}").content)).active
        return {row[0] for row in rows.iter_rows(min_row=2, values_only=True)}

    assert (products(""), products("&unapproved=yes")) == ({approved}, {trial, approved})


def test_the_page_marks_it_and_offers_the_list_with_it(filled, owner, names):
    page = plain(owner.get(reverse("costing:price-list")))
    assert page.count("Not approved") == 1
    assert "1 design here was never approved" in page
    assert "unapproved=yes" in page
    product = reverse("costing:product-prices", args=[filled.candle.formula.item_id])
    assert "This design was never approved" in plain(owner.get(product))
    other = reverse("costing:product-prices", args=[filled.rain.formula.item_id])
    assert "never approved" not in plain(owner.get(other))

    filled.books.approve(filled.candle)

    page = plain(owner.get(reverse("costing:price-list")))
    assert "pproved" not in page.replace("Design", "")
    assert names[0] in words_of(owner.get(reverse("costing:price-paper")))


def test_the_pages_that_sell_mark_products_and_lots(filled, names):
    maker, (trial, approved) = enter(filled.people.maker), names
    order = filled.books.order_of("Ida Fennimore", (trial, 2), (approved, 1))
    pages = {
        "taking an order": reverse("inventory:customer-order-add"),
        "sending": "/stock/shipments/send/",
    }
    for what, url in pages.items():
        page = plain(maker.get(url)).replace("&amp;", "&")
        assert f"{trial} (not approved)" in page, what
        assert f"{approved} (not approved)" not in page, what
    marked = {
        "order": order.get_absolute_url(),
        "sending an order": reverse("inventory:customer-order-send", args=[order.code]),
        "dispatch": filled.dispatch.get_absolute_url(),
    }
    for what, url in marked.items():
        assert plain(maker.get(url)).count("Design not approved") == 1, what
    lot = reverse("inventory:lot-send", args=[filled.cured.code])
    assert "The design of this lot was never approved" in plain(maker.get(lot))
    picking = maker.post("/stock/shipments/send/", scanned(filled.cured))
    assert plain(picking).count("Design not approved") == 1

    filled.books.approve(filled.candle)

    for what, url in (pages | marked | {"lot": lot}).items():
        assert "ot approved" not in plain(maker.get(url)), what


def test_the_files_of_orders_and_of_what_was_sent_name_designs_never_approved(filled, names):
    maker, (trial, approved) = enter(filled.people.maker), names
    filled.books.order_of("Ida Fennimore", (trial, 2), (approved, 1))
    sent = filled.books.send(filled.cured, 2)
    dispatching.take_back(
        sent.dispatch.pk,
        [Back(filled.cured.pk, 1)],
        signature=filled.books.sign(reason="Not as ordered"),
    )
    orders = f"{reverse('inventory:customer-order-list')}?show=all&format=csv"
    assert {(row["Product"], row["Design"]) for row in csv_of(maker, orders)} >= {
        (trial, "not approved"),
        (approved, ""),
    }
    files = {
        "sent": f"{reverse('inventory:dispatch-list')}?format=csv",
        "came back": f"{reverse('inventory:return-list')}?format=csv",
    }
    for what, url in files.items():
        assert {row["Design"] for row in csv_of(maker, url) if row["Product"] == trial} == {"not approved"}, (
            what
        )

    filled.books.approve(filled.candle)

    for what, url in (files | {"orders": orders}).items():
        assert {row["Design"] for row in csv_of(maker, url) if row["Product"] == trial} == {""}, what


def test_a_shops_file_and_its_products_mark_designs_never_approved(filled, names):
    maker, (trial, approved) = enter(filled.people.maker), names
    shop = plain(maker.get(filled.shop.get_absolute_url()))
    assert shop.count("Design not approved") == 1
    for url in (
        reverse("inventory:shop-product", args=[filled.shop.pk, filled.shop_product.pk]),
        filled.shop_file.get_absolute_url(),
    ):
        page = plain(maker.get(url))
        assert f"{trial} (not approved)" in page, url
        assert f"{approved} (not approved)" not in page, url
    unknown = {words: Product(filled.rain.formula.item_id, 1) for words in unknown_words(filled)}
    import_service.keep_products(filled.shop.pk, unknown)

    page = plain(maker.get(filled.shop_file.get_absolute_url()))

    assert "Designs that were never approved" in page
    assert f"These orders take: {trial}." in page
    assert page.count("Design not approved") >= 1


def unknown_words(filled):
    return plan_of(filled.shop_file, NOW.date()).read.unknown


def scanned(lot):
    return {
        "kind": "sale",
        "customer": "",
        "reach": "",
        "channel": "",
        "reference": "",
        "contact": "",
        "happened_at": "",
        "scanned": lot.code,
        "lines-TOTAL_FORMS": "0",
        "lines-INITIAL_FORMS": "0",
        "pick": "1",
        "submission_key": key(),
    }
