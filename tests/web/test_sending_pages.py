"""Sending, taking back, customers and shops on the pages: picked, scanned, stopped, exported, erased."""

import csv
import io
from datetime import date
from html import escape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse
from pypdf import PdfReader

from inventory.customers import customers, retention
from inventory.customers.customers import Contact
from inventory.models import Customer, CustomerOrder, Dispatch, Lot, Return, ShopProduct
from inventory.shipments import dispatching
from tests.house import NOW, day
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves

pytestmark = pytest.mark.django_db

CEDAR = "Cedar & Black Tea"
SEND = "/stock/shipments/send/"


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def asked(house, *lines, **more):
    """What the sending page sends: pairs of a product and how many."""
    data = {
        "kind": "sale",
        "customer": "Ida Fennimore",
        "reach": "ida@post.example",
        "channel": "Web shop",
        "reference": "W-7",
        "contact": "",
        "happened_at": "",
        "scanned": "",
        "submission_key": key(),
        "lines-TOTAL_FORMS": str(len(lines)),
        "lines-INITIAL_FORMS": "0",
        **more,
    }
    for number, (name, quantity) in enumerate(lines):
        data |= {
            f"lines-{number}-item": str(house.books.item(name).pk),
            f"lines-{number}-quantity": quantity,
        }
    return data


def token():
    return {"submission_key": key()}


def text_of(page):
    return " ".join(page.content.decode().split())


def test_lots_are_suggested_with_their_reason_and_sent_in_one_press(filled, maker):
    """Seven of nine are left: five leave, two stay."""
    lot, field = filled.cured, f"lot-{filled.cured.pk}"
    with nothing_moves():
        page = maker.post(SEND, asked(filled, (CEDAR, "5"), pick="1"))
    assert page.status_code == 200
    assert page.context["picked"][field].value() == "5"
    assert "One lot covers it; a second would widen a recall." in text_of(page)

    data = asked(filled, (CEDAR, "5"), send="1", **{field: "5", "check": f"{lot.code}\n" * 5})
    for _ in range(2):
        done = maker.post(SEND, data)
        assert done.status_code == 302

    sent = Dispatch.objects.get(reference="W-7")
    assert done.url == sent.get_absolute_url()
    assert (sent.customer.name, sent.channel.name, sent.kind) == ("Ida Fennimore", "Web shop", "sale")
    assert filled.books.of(lot)[0] == 2


@pytest.mark.parametrize(
    ("scanned", "words"),
    [
        ("{wax}", "Only finished goods are sent out"),
        ("{fresh}", "cures until"),
        ("{back}", "is on hold. Choose another lot, release it"),
        ("{cured} x 8", "holds 7 by the books and 8 are scanned"),
        ("L000000", "is not a lot code"),
        ("X" * 30_000, "at most 12000"),
    ],
)
def test_what_may_not_leave_is_stopped_with_what_to_do(filled, maker, scanned, words):
    books = filled.books
    (back,) = dispatching.take_back(
        filled.dispatch.pk, [dispatching.Back(filled.cured.pk, 1)], signature=books.sign()
    )
    codes = {
        "wax": filled.shelf["wax"].code,
        "fresh": filled.curing.code,
        "back": back.code,
        "cured": filled.cured.code,
    }
    with nothing_moves():
        page = maker.post(SEND, asked(filled, scanned=scanned.format(**codes), pick="1"))
    assert page.status_code == 422
    assert words in text_of(page)


def test_the_symbol_on_a_jar_means_the_lot_of_its_batch(filled, maker):
    code = filled.finished.code.lower()
    page = maker.post(SEND, asked(filled, scanned=f"{code}\n{code[:3]} {code[3:]}\n", pick="1"))
    assert page.context["picked"][f"lot-{filled.cured.pk}"].value() == "2"


def test_a_batch_code_with_one_wrong_character_is_told_with_what_was_meant(filled, maker):
    code = filled.finished.code
    wrong = code[:-1] + ("7" if code[-1] != "7" else "8")
    page = maker.post(SEND, asked(filled, scanned=wrong, pick="1"))
    assert page.status_code == 422
    assert f"{wrong} is mistyped. Did you mean" in text_of(page)
    assert f"{filled.finished.spaced_code} ({escape(str(filled.cured.item))})" in text_of(page)


@pytest.mark.parametrize(
    ("check", "words"),
    [
        ("{cured}", "1 of 2 of lot"),
        ("{cured} × 3", "3 of lot"),
        ("{cured} × 2\n{other}", "is not among what was picked"),
    ],
)
def test_what_is_scanned_to_check_is_held_against_what_was_picked(filled, maker, check, words):
    codes = {"cured": filled.cured.code, "other": filled.seconds.code}
    data = asked(filled, send="1", **{f"lot-{filled.cured.pk}": "2", "check": check.format(**codes)})
    with nothing_moves():
        page = maker.post(SEND, data)
    assert page.status_code == 422
    assert words in text_of(page)


def test_something_comes_back_on_hold_and_no_more_than_was_sent(filled, maker):
    url = reverse("inventory:dispatch-return", args=[filled.dispatch.pk])
    field = f"lot-{filled.cured.pk}"
    said = {"reason": "Lid was loose", "happened_at": "", f"place-{filled.cured.pk}": "Returns shelf"}
    with nothing_moves():
        page = maker.post(url, {**said, field: "3", **token()})
    assert "2 can come back of this dispatch, and 3 are entered" in text_of(page)
    data = {**said, field: "1", **token()}
    for _ in range(2):
        assert maker.post(url, data).status_code == 302
    line = Return.objects.get().lines.get()
    assert (line.lot.held, line.lot.place, line.lot.on_hand) == (True, "Returns shelf", 1)
    assert "Lid was loose" in text_of(maker.get(reverse("inventory:return-list")))
    assert line.lot.spaced_code[:3] in text_of(maker.get(filled.dispatch.get_absolute_url()))
    # Its own page says what it was, and the page of the lot it was sent of what became of it.
    page = maker.get(line.lot.get_absolute_url())
    assert page.context["relatives"] == [("came back of", filled.cured, 1)]
    assert "Came back" in text_of(page)
    page = maker.get(filled.cured.get_absolute_url())
    assert ("came back as", line.lot, 1) in page.context["relatives"]


def test_the_packing_slip_carries_the_codes_of_the_lots(filled, maker):
    page = maker.get(reverse("inventory:dispatch-slip", args=[filled.dispatch.pk]))
    text = " ".join(PdfReader(io.BytesIO(page.content)).pages[0].extract_text().split())
    assert filled.cured.spaced_code in text
    assert "Harbour Street Market" in text
    assert "2 pieces in all, of 1 lot" in text


def rows_of(browser, url):
    text = browser.get(url).content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_what_left_is_found_by_its_filters_and_leaves_as_a_table(filled, maker):
    shown = reverse("inventory:dispatch-list")
    for query, many in (
        ("q=hs-17", 1),
        ("q=street", 1),
        ("kind=gift", 0),
        (f"product={filled.cured.item_id}", 1),
        ("first=2026-03-21", 0),
        ("last=2026-03-20", 1),
        ("channel=99999&first=soon&product=x", 1),
    ):
        assert len(rows_of(maker, f"{shown}?{query}&format=csv")) == many, query
    (row,) = rows_of(maker, f"{shown}?format=csv")
    assert (row["Customer"], row["Lot"], row["Quantity"]) == ("Harbour Street Market", filled.cured.code, "2")


PRIVATE = ("Ida Fennimore", "ida@post.example", "Mrs Fennimore")


def test_a_bookkeeper_learns_a_number_and_nothing_else_of_a_person(filled):
    """On every page a bookkeeper may open and in every table that can be taken away; a maker finds the name."""
    books = filled.books
    sent = dispatching.send(
        books.take((filled.cured, 1)),
        to=Contact(PRIVATE[0], PRIVATE[2], PRIVATE[1]),
        reference="W-7",
        signature=books.sign(),
    )
    (back,) = dispatching.take_back(
        sent.pk, [dispatching.Back(filled.cured.pk, 1)], signature=books.sign(reason="Loose lid")
    )
    order = books.order_of("Ida Fennimore", (CEDAR, 2), note="Ring at Ida Fennimore's neighbour")
    urls = [
        sent.get_absolute_url(),
        sent.posting.get_absolute_url(),
        reverse("inventory:dispatch-list"),
        f"{reverse('inventory:dispatch-list')}?q=fennimore",
        f"{reverse('inventory:dispatch-list')}?format=csv",
        f"{reverse('inventory:return-list')}?format=csv",
        reverse("inventory:return-list"),
        order.get_absolute_url(),
        f"{reverse('inventory:customer-order-list')}?format=csv",
        reverse("inventory:customer-order-list"),
        reverse("batches:trace-code", args=[filled.cured.code]),
        reverse("batches:trace-code", args=[back.code]),
        reverse("batches:week"),
        filled.cured.get_absolute_url(),
        back.get_absolute_url(),
        filled.cured.item.get_absolute_url(),
        "/find/?q=fennimore",
        "/find/?q=W-7",
        "/",
    ]
    keeper = enter(filled.people.bookkeeper)
    for url in urls:
        page = keeper.get(url)
        assert page.status_code == 200, url
        text = page.content.decode().replace("fennimore&quot;", "").replace('value="fennimore"', "")
        assert not [word for word in PRIVATE if word in text], url
    assert f"Customer {sent.customer_id}" in text_of(keeper.get(urls[0]))
    record = keeper.get(reverse("batches:batch-record", args=[filled.finished.code]))
    pdf = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(record.content)).pages)
    assert "Fennimore" not in pdf
    assert "Ida Fennimore" in text_of(enter(filled.people.maker).get(urls[0]))


def test_one_customer_is_erased_at_their_request_by_the_owner_alone(filled, maker, caplog):
    books = filled.books
    sent = dispatching.send(
        books.take((filled.cured, 1)),
        to=Contact("Ida Fennimore", "", "ida@post.example"),
        signature=books.sign(),
    )
    erase = reverse("inventory:customer-erase", args=[sent.customer_id])
    assert maker.post(erase, token()).status_code == 403
    owner = enter(filled.people.owner)
    assert "1 dispatch " in text_of(owner.get(erase))
    assert owner.post(erase, token()).status_code == 302
    page = text_of(owner.get(sent.customer.get_absolute_url()))
    assert "Fennimore" not in page
    assert f"Erased customer {sent.customer_id}" in page
    assert (
        owner.post(
            reverse("inventory:customer-change", args=[sent.customer_id]),
            {"name": "Ida", "contact": "", "reach": "", **token()},
        ).status_code
        == 422
    )
    assert "Fennimore" not in caplog.text
    assert "ida@post" not in caplog.text


# How long they are kept


@pytest.mark.parametrize(
    ("on", "months", "before"),
    [
        (date(2026, 3, 31), 1, date(2026, 2, 28)),
        (date(2024, 3, 31), 1, date(2024, 2, 29)),
        (date(2026, 3, 20), 24, date(2024, 3, 20)),
        (date(2026, 1, 15), 1, date(2025, 12, 15)),
    ],
)
def test_months_before_a_day(on, months, before):
    assert retention.back(on, months) == before


def test_whose_time_is_over_is_shown_and_erased_by_the_press(filled, capsys):
    """In two months and a day; the one with an open order stays, and of a shop its name."""
    books = filled.books
    ida = customers.customer_named(Contact("Ida Fennimore", reach="555 0100"), at=NOW)
    waits = filled.wanted.customer
    customers.write_customer(
        filled.dispatch.customer_id, Contact("Harbour Street Market", "Ada"), is_person=False
    )
    owner, page = enter(filled.people.owner), reverse("inventory:customer-retention")
    assert owner.post(page, {"months": "two", **token()}).status_code == 422
    assert owner.post(page, {"months": "2", **token()}).status_code == 302
    assert retention.due(2, date(2026, 5, 20)) == []

    over = retention.due(2, date(2026, 5, 21))

    assert {each.customer.pk for each in over} >= {ida.pk, filled.dispatch.customer_id}
    assert waits.pk not in {each.customer.pk for each in over}
    call_command("erase_customers", dry_run=True)
    assert capsys.readouterr().out.strip() == "0 would be erased."
    before = books.of(filled.cured)
    assert retention.erase_due(date(2026, 5, 21), signature=books.sign()) == len(over)
    assert Customer.objects.get(pk=ida.pk).name == ""
    market = Customer.objects.get(pk=filled.dispatch.customer_id)
    assert (market.name, market.contact) == ("Harbour Street Market", "")
    assert books.of(filled.cured) == before


# A shop's orders


def test_a_shop_file_goes_from_columns_to_products_to_orders(filled, maker):
    """A new shop: nothing is known of its columns, then nothing of its products."""
    add = reverse("inventory:shop-add")
    done = maker.post(add, {"name": "Fair stall", "new_channel": "Stall", "becomes": "order", **token()})
    file = SimpleUploadedFile(
        "stall.csv", b"Nr;Who;What;Many\nS-1;Ida Fennimore;Tea candle;2\nS-2;Wilf Harrow;Card;1\n"
    )
    kept = maker.post(done.url, {"file": file, **token()}).url
    page = maker.get(kept)
    assert "Say what the columns hold" in text_of(page)
    columns = {"column-reference": "Nr", "column-customer": "Who", "column-product": "What"}
    assert maker.post(kept, {**columns, "columns": "1"}).status_code == 422
    assert maker.post(kept, {**columns, "column-quantity": "Many", "columns": "1"}).status_code == 302
    assert "Products nobody knows yet" in text_of(maker.get(kept))
    item = filled.books.item(CEDAR)
    products = {
        "item-0": str(item.pk),
        "pieces-0": "1",
        "words-0": "Tea candle",
        "item-1": "none",
        "pieces-1": "1",
        "words-1": "Card",
    }
    assert maker.post(kept, {**products, "products": "1"}).status_code == 302
    page = maker.get(kept)
    shown = page.context["plan"].fingerprint
    with nothing_moves():
        assert maker.post(kept, {"shown": "something else", **token()}).status_code == 422
    data = {"shown": shown, **token()}
    for _ in range(2):
        assert maker.post(kept, data).status_code == 302
    order = CustomerOrder.objects.get(reference="S-1")
    assert (order.customer.name, order.channel.name) == ("Ida Fennimore", "Stall")
    assert ShopProduct.objects.filter(shop__name="Fair stall").count() == 2
    assert not CustomerOrder.objects.filter(reference="S-2").exists()
    assert "S-1" in text_of(maker.get(done.url))


def test_lists_cost_as_many_queries_however_long_they_are(filled, maker, django_assert_max_num_queries):
    def counted():
        found = []
        for name in ("dispatch-list", "return-list", "customer-list"):
            with django_assert_max_num_queries(40) as context:
                maker.get(reverse(f"inventory:{name}"))
            found.append(len(context))
        return found

    def more(times):
        for number in range(times):
            lot = Lot.objects.get(pk=filled.cured.pk)
            to = Contact(f"Somebody {len(Customer.objects.all())}{number}")
            sent = dispatching.send(
                filled.books.take((lot, 1)), to=to, channel="Fair", signature=filled.books.sign(day(18))
            )
            back = [dispatching.Back(lot.pk, 1)]
            dispatching.take_back(sent.pk, back, signature=filled.books.sign())

    more(1)
    few = counted()
    more(4)
    assert counted() == few
