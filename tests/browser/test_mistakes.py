"""What people do wrong, and what the pages make of it."""

import re
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core.management import call_command
from playwright.sync_api import expect

from batches.models import Batch
from inventory.models import Delivery, Lot
from tests.browser.person import spaced
from tests.house import grams, money, snapshot

pytestmark = pytest.mark.django_db(transaction=True)

CANDLE = "Cedar & Black Tea"


@pytest.fixture
def person(sit_down, studio, owner):
    """The owner, signed in."""
    return sit_down(sign_in=owner)


@pytest.fixture
def shelf(books):
    """Enough for a run of ten, but for fragrance: 120 g."""
    return {
        "wax": books.receive("wax", "10 kg", cost="100.00"),
        "fragrance": books.receive("fragrance", "120 g", cost="12.00"),
        "wick": books.receive("wick", 100, cost="10.00"),
        "vessel": books.receive("vessel", 100, cost="50.00"),
    }


@pytest.fixture
def batch(books, shelf):
    """A run of ten: 920 g of wax, 80 g of fragrance, ten wicks and vessels."""
    return books.plan(books.candle(), 10)


def weigh(person, batch, item, amount, code=""):
    """Record one weighed item; what is counted went in as planned."""
    person.open(f"/batches/{batch.code}/draw/")
    line = person.line(re.compile(f"^{item}"))
    if code:
        person.field("Lot", line).first.fill(code)
    person.field("Taken", line).first.fill(amount)
    person.counted_as_planned()
    person.press("Record it")


def begin_delivery(person, each="25 kg", price="62.50"):
    """Fill a delivery of one line, ready to be sent."""
    person.open("/stock/deliveries/add/")
    person.choose("Supplier", "Tollgate Wax and Wick")
    person.fill({"Invoice or delivery note": "T-310"})
    line = person.line("Line 1")
    person.choose("Item", "wax", line)
    person.fill({"Each holds": each, "Price": price, "Supplier's lot": "77-A"}, line)


def sees_deliveries(person, count):
    """The list shows so many deliveries, below its head."""
    person.go("Stock", "Deliveries")
    rows = person.page.get_by_role("region", name="Deliveries").get_by_role("row")
    expect(rows).to_have_count(count + 1)


def test_a_wrong_draw_is_put_right_a_week_later(person, batch, shelf, capsys):
    with time_machine.travel(datetime.now(UTC) - timedelta(days=7), tick=True):
        person.open(f"/batches/{batch.code}/draw/")
        for item, amount in (("wax", "1920"), ("fragrance", "80")):
            person.field("Taken", person.line(re.compile(f"^{item}"))).first.fill(amount)
        person.counted_as_planned()
        person.press("Record it")
        person.follow("Finish")
        person.fill({"Good": "10"})
        person.press("Put it on the shelf, that was all")
    costs = person.page.get_by_role("region", name="Cost by head")
    # Wax at 10.00 a kilogram: 19.20 for what was keyed, 9.20 for what was poured.
    expect(person.row("Wax", costs).get_by_role("cell").first).to_have_text("$19.20")

    person.follow(f"Put right the draw of wax from {shelf['wax'].code}")
    line = person.line("wax")
    expect(person.field("Taken", line).first).to_have_value("1920")
    person.field("Taken", line).first.fill("920")
    person.fill({"What was wrong": "Keyed a kilogram too much"})
    person.press("Put it right")

    person.sees("Put right. The first entry stays on record beside its reversal.")
    expect(person.row("Wax", costs).get_by_role("cell").first).to_have_text("$9.20")
    draws = person.page.get_by_role("region", name="Draws")
    expect(person.row("1,920", draws)).to_contain_text("Reversed")
    expect(person.row("1,920", draws)).to_contain_text("Maren: Keyed a kilogram too much")
    # What is right stands at the time of the first entry, a week ago.
    week_ago = datetime.now(UTC) - timedelta(days=7)
    expect(person.row("Stands", draws).filter(has_text="wax")).to_contain_text(
        f"{week_ago.day} {week_ago:%b}"
    )
    person.open(f"/stock/lots/{shelf['wax'].code}/")
    expect(person.figure("On hand")).to_have_text(re.compile(r"^9,080\sg$"))
    expect(person.figure("Worth")).to_have_text("$90.80")
    call_command("check_books")
    assert "The books agree." in capsys.readouterr().out


def test_more_than_the_books_held_is_booked_as_found_and_looked_at(person, batch, shelf):
    weigh(person, batch, "fragrance", "128")
    line = person.line(re.compile("^fragrance"))
    expect(line).to_contain_text("tick below to book 8 g as found")
    expect(person.field("Taken", line).first).to_have_value("128")
    person.tick("Book the difference as found", line)
    person.press("Record it")
    person.sees("Recorded.")
    expect(person.row("fragrance", person.page.get_by_role("region", name="Draws"))).to_contain_text("128")

    person.go("Today")
    waiting = (
        person.part("Needs a hand").get_by_role("listitem").filter(has_text="of fragrance booked as found")
    )
    expect(waiting).to_contain_text("Look at")
    expect(waiting).to_contain_text(re.compile(r"8\sg of fragrance"))
    person.follow("Look 8 g of fragrance booked as found", waiting)
    person.press("I looked at it")
    person.sees("Looked at by Maren")
    person.go("Today")
    expect(person.part("Needs a hand")).to_be_visible()
    expect(waiting).to_have_count(0)
    shelf["fragrance"].refresh_from_db()
    assert (shelf["fragrance"].on_hand, shelf["fragrance"].value) == (0, 0)


def test_a_held_lot_is_refused_and_what_was_typed_stays(person, batch, shelf):
    person.open(f"/stock/lots/{shelf['fragrance'].code}/")
    person.follow("Put on hold")
    person.fill({"Why": "Smells sharper than the last bottle"})
    person.press("Put on hold")
    person.sees("Smells sharper than the last bottle")
    before = snapshot()

    weigh(person, batch, "fragrance", "80", code=spaced(shelf["fragrance"].code))

    line = person.line(re.compile("^fragrance"))
    expect(line).to_contain_text("is on hold")
    expect(person.field("Lot", line).first).to_have_value(spaced(shelf["fragrance"].code))
    expect(person.field("Taken", line).first).to_have_value("80")
    assert snapshot() == before
    person.go("Today")
    expect(
        person.part("Needs a hand").get_by_role("listitem").filter(has_text="Smells sharper")
    ).to_be_visible()


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_a_double_click_makes_one_delivery(sit_down, studio, owner, shelf, scripts):
    person = sit_down(sign_in=owner, java_script_enabled=scripts)
    begin_delivery(person)
    person.page.get_by_role("button", name="Put it on the shelf").dblclick()
    # Whichever answer the browser kept: without scripts the second press drops the first one.
    expect(person.page.get_by_role("main")).to_contain_text(
        re.compile("The delivery is on the shelf|This was sent twice and is kept once")
    )
    # Four deliveries stocked the shelf; this is the fifth.
    sees_deliveries(person, 5)
    newest = Delivery.objects.get(reference="T-310").lines.get().lots.get()
    assert (newest.on_hand, newest.value) == (grams(25_000), money("62.50"))


def test_going_back_and_sending_again_makes_one_delivery(person, shelf):
    begin_delivery(person)
    with person.page.expect_request(lambda sent: sent.method == "POST") as sending:
        person.press("Put it on the shelf")
    person.sees("The delivery is on the shelf.")
    received = person.page.url
    sent = sending.value

    # A tablet that lost its network sends the very same form again.
    headers = {"content-type": sent.headers["content-type"], "referer": sent.url}
    again = person.page.request.post(sent.url, data=sent.post_data_buffer, headers=headers)
    assert again.url == received
    person.page.reload()
    person.page.go_back()
    person.stands_at("A delivery arrived")
    person.press("Put it on the shelf")
    expect(person.page.get_by_role("region", name="Check this before saving")).to_be_focused()
    sees_deliveries(person, 5)
    assert Delivery.objects.count() == 5


def test_a_refused_form_keeps_what_was_typed_and_leads_to_the_field(person, shelf):
    begin_delivery(person, price="sixty")
    person.fill({"Each holds": "2 kg"}, person.line("Line 2"))
    before = Lot.objects.count()
    person.press("Put it on the shelf")

    summary = person.page.get_by_role("region", name="Check this before saving")
    expect(summary).to_be_focused()
    line = person.line("Line 1")
    expect(person.field("Supplier").locator("option:checked")).to_have_text("Tollgate Wax and Wick")
    expect(person.field("Invoice or delivery note")).to_have_value("T-310")
    expect(person.field("Each holds", line)).to_have_value("25 kg")
    expect(person.field("Price", line)).to_have_value("sixty")
    expect(person.field("Supplier's lot", line)).to_have_value("77-A")
    expect(person.field("Each holds", person.line("Line 2"))).to_have_value("2 kg")
    for number, label in ((1, "Price"), (2, "Item"), (2, "Price")):
        person.follow(f"Line {number}, {label}", summary)
        field = person.field(label, person.line(f"Line {number}"))
        expect(field).to_be_focused()
        expect(field).to_have_attribute("aria-invalid", "true")
        expect(field).to_have_accessible_description(re.compile(r"\w"))
    assert Lot.objects.count() == before


def test_what_is_typed_while_the_sheet_is_on_its_way_stays(person, books, shelf):
    books.candle()
    person.open("/batches/plan/")
    held = []
    person.page.route("**/batches/plan/?*", lambda route: held.append(route))
    with person.page.expect_request("**/batches/plan/?*"):
        person.choose("Formula", f"{CANDLE}, version 1 (trial)")
    person.field("How many").press_sequentially("10")
    # 120 g of fragrance at 8 g a candle: fifteen.
    with person.page.expect_response("**/batches/plan/?*"):
        held[0].continue_()
    person.sees("The shelf has enough for 15; fragrance is the limit.")
    expect(person.field("How many")).to_have_value("10")
    expect(person.field("How many")).to_be_focused()


def test_a_sheet_that_is_out_of_date_is_not_planned(person, books, shelf):
    books.candle()
    person.open("/batches/plan/")
    person.choose("Formula", f"{CANDLE}, version 1 (trial)")
    person.field("How many").fill("10")
    person.field("How many").press("Tab")
    plan = person.page.get_by_role("button", name="Plan this run")
    expect(plan).to_be_visible()

    # The figure is changed and the button pressed in one go, before the sheet can follow.
    held = []
    person.page.route("**/batches/plan/?*", lambda route: held.append(route))
    person.field("How many").fill("12")
    plan.click(force=True)
    expect(plan).to_have_attribute("aria-disabled", "true")
    assert Batch.objects.count() == 0

    # The sheet is asked for a moment after the figure was typed.
    while not held:
        person.page.wait_for_timeout(50)
    with person.page.expect_response("**/batches/plan/?*"):
        held[-1].continue_()
    person.sees(f"{CANDLE}, 12")
    plan.click()
    person.sees("is planned")
    assert list(Batch.objects.values_list("quantity", flat=True)) == [12]
