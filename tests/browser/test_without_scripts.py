"""The whole short job in a browser that runs no scripts."""

import re

import pytest
from django.core.management import call_command
from playwright.sync_api import expect

from tests.house import money

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_run_from_delivery_to_shelf(sit_down, studio, owner, books, capsys):
    books.supplier()
    books.candle()
    person = sit_down(java_script_enabled=False)
    person.open("/stock/deliveries/add/")
    person.fill({"Username": "maren", "Password": "nine paper lanterns"})
    person.press("Sign in")
    person.stands_at("A delivery arrived")

    # Four things arrive and the page offers three lines: one press more, and nothing typed is lost.
    person.choose("Supplier", "Tollgate Wax and Wick")
    arrived = (
        ("wax", "10 kg", "100"),
        ("fragrance", "500 g", "50"),
        ("wick", "100", "0.10 each"),
        ("vessel", "100", "0.50 each"),
    )
    for number, (item, each, price) in enumerate(arrived, 1):
        if number == 4:
            expect(person.line("Line 4")).to_have_count(0)
            person.press("Another line")
            expect(person.field("Each holds", person.line("Line 3"))).to_have_value("100")
            expect(person.field("Packs", person.line("Line 4"))).to_have_value("1")
            expect(person.page.get_by_role("region", name="Check this before saving")).to_have_count(0)
        line = person.line(f"Line {number}")
        person.choose("Item", item, line)
        person.fill({"Each holds": each, "Price": price}, line)
    person.press("Put it on the shelf")
    person.sees("The delivery is on the shelf.")

    person.go("Batches", "Plan a run")
    person.choose("Formula", "Cedar & Black Tea, version 1 (trial)")
    person.fill({"How many": "10"})
    person.press("Show what it needs")
    person.press("Plan this run")
    person.follow("Record what went in")
    for item, amount in (("wax", "920"), ("fragrance", "80")):
        person.field("Taken", person.line(re.compile(f"^{item}"))).first.fill(amount)
    # The row for a second lot is folded away and unfolds without help.
    wax = person.line(re.compile("^wax"))
    expect(person.field("Lot", wax).nth(1)).to_be_hidden()
    wax.get_by_text("Another lot").click()
    expect(person.field("Lot", wax).nth(1)).to_be_visible()
    person.counted_as_planned()
    person.press("Record it")
    person.sees("Recorded.")
    person.follow("Finish")
    person.fill({"Good": "9"})
    person.field("Scrap").first.fill("1")
    person.field("because of").filter(visible=True).first.select_option(label="Wick off centre")
    person.press("Put it on the shelf, that was all")
    person.sees("is finished and on the shelf.")

    # Wax 9.20, fragrance 8.00, wicks 1.00, vessels 5.00: 23.20 for nine good ones.
    assert books.item("Cedar & Black Tea").lots.get().value == money("23.20")
    person.go("Stock", "Cedar & Black Tea")
    expect(person.figure("On hand")).to_have_text("9")
    call_command("check_books")
    assert "The books agree." in capsys.readouterr().out
