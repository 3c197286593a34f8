"""From any code to a trace: what leads where, what is offered, what the pages say, and what leaves as a file."""

import io
from decimal import Decimal

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inventory.customers import customers
from inventory.models import Customer, Lot
from studio.models import Studio
from tests.web.conftest import enter
from tests.web.inspection import csv_of, text_of


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def asked(maker, code):
    return maker.get("/trace/", {"code": code})


def led(answer):
    """The code a question led to at once."""
    return answer.headers["Location"].strip("/").split("/")[-1] if answer.status_code == 302 else ""


def offered(answer, what="hits"):
    return {hit.thing.code for hit in answer.context[what]}


def test_whatever_is_written_on_a_jar_or_a_paper_leads_to_what_it_stands_for(filled, maker):
    wax = filled.shelf["wax"]
    assert led(asked(maker, filled.finished.spaced_code.lower())) == filled.finished.code
    assert led(asked(maker, wax.code)) == wax.code
    # A supplier's lot, and an order reference, whichever way they are typed.
    assert led(asked(maker, "tw-88")) == wax.code
    assert led(asked(maker, "hs-17")) == filled.cured.code
    # Everything that came with one delivery note.
    page = asked(maker, "T-204")
    assert wax.code in offered(page)
    assert f"stands for {len(offered(page))} lots" in text_of(page)


def test_a_purchase_order_leads_to_what_came_for_it(filled, maker):
    order = filled.order_whole
    came = set(Lot.objects.filter(delivery_line__order_line__order=order).values_list("code", flat=True))
    page = asked(maker, order.code)

    assert came
    assert ({led(page)} if page.status_code == 302 else offered(page)) == came


def test_a_supplier_s_lot_of_two_deliveries_is_a_choice(filled, maker):
    again = filled.books.receive("wax", "1 kg", supplier_lot="TW-88")
    page = asked(maker, "TW-88")

    assert offered(page) == {filled.shelf["wax"].code, again.code}
    assert "Which one?" in text_of(page)


@pytest.mark.parametrize("typed", ["TW-89", "TW88", "WT-88", "TW-888"])
def test_a_slip_in_a_supplier_s_lot_offers_what_was_meant(filled, maker, typed):
    filled.books.receive("wax", "1 kg", supplier_lot="ZZ-12345")
    page = asked(maker, typed)

    assert filled.shelf["wax"].code in offered(page, "misses")
    assert len(offered(page, "misses")) < 5
    assert "Did you mean one of these?" in text_of(page)


def test_an_order_of_which_nothing_went_or_came_yet_is_named_as_that(filled, maker):
    wanted = filled.books.order_of("Moor & Mill", (filled.cured.item.name, 2), reference="MM-4711")
    for typed in ("mm-4711", wanted.spaced_code):
        page = asked(maker, typed)
        assert [hit.code for hit in page.context["papers"]] == [wanted.code]
        assert "customer's order, open: nothing was sent for it yet" in text_of(page).replace("’", "'")
    draft = filled.order_draft
    assert [hit.url for hit in asked(maker, draft.code).context["papers"]] == [draft.get_absolute_url()]


def test_complaints_and_recalls_are_named_to_those_who_may_see_them(filled, maker):
    for paper in (filled.complaint, filled.drill):
        assert [hit.url for hit in asked(maker, paper.code).context["papers"]] == [paper.get_absolute_url()]
        page = asked(enter(filled.people.bookkeeper), paper.code)
        assert paper.get_absolute_url() not in page.content.decode()
        assert "Nothing carries" in text_of(page)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("MM-4771", "MM-4711"), ("mm4711", "MM-4711"), ("T-240", "T-204"), ("order", "order")],
)
def test_a_slip_in_an_order_or_a_delivery_note_offers_what_was_meant(filled, maker, typed, meant):
    order = filled.order_whole
    filled.books.order_of("Moor & Mill", (filled.cured.item.name, 2), reference="MM-4711")
    swapped = order.code[:-2] + order.code[-1] + order.code[-2]
    page = asked(maker, swapped if typed == "order" else typed)

    offers = {each.text for each in page.context["instead"]}
    assert (order.spaced_code if meant == "order" else meant) in offers
    assert len(offers) < 5
    # What is offered leads on by itself.
    for text in offers:
        answer = asked(maker, text)
        assert answer.status_code == 302 or answer.context.get("hits") or answer.context.get("papers")


def test_what_was_reversed_is_not_found_by_its_reference(filled, maker):
    filled.books.reverse(filled.dispatch.posting)

    page = asked(maker, "HS-17")
    assert page.status_code == 200
    assert "Nothing carries HS-17" in text_of(page)


@pytest.mark.parametrize("typed", ["", "   ", "\x00", "%", "_", "'--", "x" * 500, "L00\u202e01"])
def test_odd_questions_are_answered(filled, maker, typed):
    assert asked(maker, typed).status_code == 200


def test_the_page_of_a_candle_says_what_is_in_it_and_who_has_it(filled, maker):
    text = text_of(maker.get(reverse("batches:trace-code", args=[filled.cured.code])))

    for words in ("What it is made of", "Who has it", "Where it is", "Harbour Street Market", "TW-88"):
        assert words in text
    page = maker.get(reverse("batches:trace-code", args=[filled.cured.code])).content.decode()
    assert page.count('<svg class="graph"') == 1
    assert "style=" not in page


def test_the_list_to_call_says_how_to_reach_them_to_whom_may_know(filled, maker):
    market = filled.dispatch.customer
    Customer.objects.filter(pk=market.pk).update(
        is_person=True, contact="Ida", reach="555 0100\nida@post.example"
    )
    for name in ("trace-code", "trace-rows"):
        url = reverse(f"batches:{name}", args=[filled.cured.code])
        export = "?format=csv" if name == "trace-rows" else ""
        assert "Ida, 555 0100, ida@post.example" in maker.get(url + export).content.decode()
        told = enter(filled.people.bookkeeper).get(url + export).content.decode()
        assert "555 0100" not in told
        assert market.name not in told
        assert str(Customer.objects.get(pk=market.pk)) in told


def test_an_erased_customer_is_looked_for_by_their_orders(filled, maker):
    customers.erase(filled.dispatch.customer_id, signature=filled.books.sign())
    text = text_of(maker.get(reverse("batches:trace-code", args=[filled.cured.code])))
    assert "erased; the shop’s own records may know HS-17" in text


def test_a_malformed_code_and_a_stranger_are_turned_away(filled, client):
    maker = enter(filled.people.maker)
    for name in ("trace-code", "trace-rows", "trace-sheet"):
        assert maker.get(reverse(f"batches:{name}", args=["NOPE"])).status_code == 404
        url = reverse(f"batches:{name}", args=[filled.cured.code])
        assert client.get(url).headers["Location"].startswith("/sign-in/")


def test_the_table_leaves_with_exact_quantities_and_shares(filled, maker):
    url = reverse("batches:trace-rows", args=[filled.shelf["fragrance"].code])
    rows = csv_of(maker, f"{url}?format=csv")

    drawn = next(row for row in rows if row["What"] == "Drawn" and row["To"] == filled.finished.code)
    assert (drawn["Way"], drawn["Step"], drawn["Unit"], drawn["Share's unit"]) == ("Out", "1", "g", "g")
    # 8 g in each of the candle's units, wherever they are.
    assert Decimal(drawn["Quantity"]) == Decimal(drawn["By share"])
    places = [row for row in rows if row["What"] == "Sent out"]
    assert {row["Order reference"] for row in places} == {"HS-17"}
    shares = sum(Decimal(row["By share"]) for row in rows if not row["To item"])
    assert shares == Decimal(1000)


def test_the_printed_trace_says_the_same(filled, maker):
    answer = maker.get(reverse("batches:trace-sheet", args=[filled.cured.code]))
    assert answer.headers["Content-Type"] == "application/pdf"
    said = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)

    for words in (
        "What it is made of",
        "Who has it",
        "Harbour Street Market",
        "TW-88",
        filled.finished.spaced_code,
    ):
        assert words in said
    again = maker.get(reverse("batches:trace-sheet", args=[filled.cured.code]))
    assert len(again.content) == len(answer.content)


def test_the_printed_trace_ends_with_its_drawing_on_one_page(filled, maker):
    answer = maker.get(reverse("batches:trace-sheet", args=[filled.cured.code]))
    *_, last = PdfReader(io.BytesIO(answer.content)).pages

    assert last.mediabox.width > last.mediabox.height
    said = last.extract_text()
    assert "Drawn" in said
    assert filled.finished.spaced_code in said
    # A lot nothing hangs on is not drawn.
    alone = filled.books.receive("wax", "1 kg")
    pages = PdfReader(io.BytesIO(maker.get(reverse("batches:trace-sheet", args=[alone.code])).content)).pages
    assert all(page.mediabox.width < page.mediabox.height for page in pages)


def test_the_studio_says_how_much_may_go_unexplained(filled, maker):
    owner = enter(filled.people.owner)
    url = reverse("batches:trace-code", args=[filled.finished.code])
    Studio.objects.update(unexplained_ppm=0)
    strict = text_of(maker.get(url))
    Studio.objects.update(unexplained_ppm=1_000_000)
    assert "Look" in strict or "Adds up" in strict
    assert "Look" not in text_of(maker.get(url))

    page = owner.get("/settings/")
    form = page.context["form"]
    sent = {name: form[name].value() or "" for name in form.fields}
    assert owner.post("/settings/", sent | {"unexplained_ppm": "1.5"}).status_code == 302
    assert Studio.objects.get().unexplained_ppm == 15_000
    refused = owner.post("/settings/", sent | {"unexplained_ppm": "101"})
    assert refused.status_code == 422
    assert "Not more than 100 %." in text_of(refused)
