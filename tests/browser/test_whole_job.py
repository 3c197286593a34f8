"""A whole job from the first visit to the trace, against a published example.

OpenStax, Principles of Accounting 1, section 10.3, specific identification: 150 units bought at 21, 225 at 27 and
210 at 33; one sale of 120 units of the first purchase, one of 20 of the first and 160 of the second. The book's
figures: 7,260 for both (2,520 and 420 + 4,320) and 8,895 left (10 at 21, 65 at 27, 210 at 33).
"""

import io
import re
from datetime import UTC, datetime, timedelta

import pypdf
import pypdfium2
import pytest
import zxingcpp
from django.core.management import call_command
from playwright.sync_api import expect

from tests.browser.person import spaced

pytestmark = pytest.mark.django_db(transaction=True)

BOWL, WAX, CANDLE = "Stoneware bowl 450 g", "Soy wax, flake", "Rain on Slate, three-wick bowl"
SUPPLIER = "Tollgate Wax and Wick"
VESSELS = "Vessel and lid"
PURCHASES = ((150, 21, 30), (225, 27, 20), (210, 33, 10))  # bowls, price of one, days ago


def open_the_studio(person):
    """The first visit: it ends on the Today page, signed in as the owner."""
    person.open("/")
    person.fill(
        {
            "Your name": "Maren",
            "You sign in as": "maren",
            "Password": "nine paper lanterns",
            "The studio's name": "Ninefold Lane",
        }
    )
    person.press("Open the studio")
    person.sees("Where to begin")
    expect(person.page.get_by_role("banner")).to_contain_text("Owner")


def furnish(person):
    """Items, a supplier."""
    for name, kind, unit in (
        (BOWL, "Vessel", "each (counted)"),
        (WAX, "Wax", "grams (g)"),
        (CANDLE, "Finished good", "each (counted)"),
    ):
        person.go("Stock", "Add an item")
        person.fill({"Name": name})
        person.choose("Kind", kind)
        person.choose("Shown in", unit)
        person.press("Add the item")
        person.stands_at(name)
    person.go("Stock", "Suppliers", "Add a supplier")
    person.fill({"Name": SUPPLIER})
    person.press("Add the supplier")
    person.stands_at(SUPPLIER)


def receive(person, item, amount, price, days_ago):
    """One delivery of one line; gives back the code of its lot."""
    person.go("Stock", "Deliveries", "A delivery arrived")
    arrived = datetime.now(UTC) - timedelta(days=days_ago)
    person.choose("Supplier", SUPPLIER)
    person.fill({"Arrived": arrived.strftime("%Y-%m-%dT%H:%M")})
    line = person.line("Line 1")
    person.choose("Item", item, line)
    person.fill({"Each holds": amount, "Price": price}, line)
    person.press("Put it on the shelf")
    person.sees("The delivery is on the shelf.")
    return person.code(person.row(item))


def write_formula(person):
    """450 g of wax in a bowl, nothing lost."""
    person.go("Batches", "Formulas", "Write a formula")
    person.fill({"Name": CANDLE})
    person.choose("Makes", CANDLE)
    person.press("Go on to what goes into it")
    for number, (item, basis, amount) in enumerate(
        ((WAX, "share of the wax", "100"), (BOWL, "per unit", "1")), 1
    ):
        line = person.line(f"Line {number}")
        person.choose("Item", item, line)
        person.choose("Measured as", basis, line)
        person.fill({"Amount": amount}, line)
    person.fill({"Fill weight": "450", "Loss allowance": "0", "Scale shows steps of": "1"})
    person.press("Keep this version")
    person.sees("Written by Maren")


def plan(person, units):
    """Plan a run for today; gives back its code."""
    person.go("Batches", "Plan a run")
    person.choose("Formula", f"{CANDLE}, version 1 (trial)")
    person.fill({"How many": str(units)})
    person.press("Show what it needs")
    person.press("Plan this run")
    person.sees("is planned and its materials are promised to it.")
    return person.code(person.page.get_by_role("heading", level=1))


def draw(person, batch, takings):
    """Record what went in: lots and amounts of each item. A second lot of an item has its own rows."""
    person.open(f"/batches/{batch}/")
    person.follow("Record what went in")
    for item, lots in takings.items():
        line = person.line(re.compile(f"^{re.escape(item)}"))
        if len(lots) > 1:
            line.get_by_text("Another lot").click()
        for number, (code, amount) in enumerate(lots):
            person.field("Lot", line).nth(number).fill(code)
            person.field("Taken", line).nth(number).fill(amount)
    person.counted_as_planned()
    person.press("Record it")
    person.sees("Recorded.")


def finish(person, units):
    """Every unit came out good."""
    person.follow("Finish")
    person.fill({"Good": str(units)})
    person.press("Put it on the shelf, that was all")
    person.sees("is finished and on the shelf.")


def cost_of(person, batch, head):
    """What a run cost under one head, as the page has it."""
    person.open(f"/batches/{batch}/")
    table = person.page.get_by_role("region", name="Cost by head")
    return person.row(head, table).get_by_role("cell").first.inner_text()


def codes_in(part):
    """Every code in a part of the page."""
    expect(part).to_be_visible()
    return {text.replace(" ", "") for text in part.locator("data").all_inner_texts()}


def check_ticket(person, batch):
    """The sheet for the bench: it names the run and its code scans."""
    person.open(f"/batches/{batch}/")
    address = person.page.get_by_role("link", name="Print the ticket").get_attribute("href")
    answer = person.page.request.get(address)
    assert answer.headers["content-type"] == "application/pdf"
    first = pypdf.PdfReader(io.BytesIO(answer.body())).pages[0].extract_text()
    assert CANDLE in first
    assert "Ninefold Lane" in first
    picture = pypdfium2.PdfDocument(answer.body())[0].render(scale=300 / 72).to_pil()
    assert batch in {barcode.text for barcode in zxingcpp.read_barcodes(picture)}


def trace(person, code):
    """Type a code into the Trace page."""
    person.go("Trace")
    person.fill({"Code, supplier’s lot, order or delivery note": code})
    person.press("Trace")


def test_a_job_from_the_first_visit_to_the_trace(sit_down, capsys):
    person = sit_down()
    open_the_studio(person)
    furnish(person)
    # 300 bowls take 135 kg of wax; at 2.00 a kilogram it costs 108.00 and 162.00.
    wax = receive(person, WAX, "150 kg", "2.00/kg", 40)
    first, second, third = (
        receive(person, BOWL, str(count), f"{price} each", days) for count, price, days in PURCHASES
    )
    write_formula(person)
    one, two = plan(person, 120), plan(person, 180)
    check_ticket(person, one)

    draw(person, one, {WAX: [(wax, "54000")], BOWL: [(first, "120")]})
    finish(person, 120)
    draw(person, two, {WAX: [(wax, "81000")], BOWL: [(first, "20"), (second, "160")]})
    finish(person, 180)

    assert cost_of(person, one, VESSELS) == "$2,520.00"
    assert cost_of(person, two, VESSELS) == "$4,740.00"
    assert cost_of(person, one, "Wax") == "$108.00"
    assert cost_of(person, two, "Wax") == "$162.00"
    assert cost_of(person, two, "In all") == "$4,902.00"

    left = {first: ("10", "$210.00"), second: ("65", "$1,755.00"), third: ("210", "$6,930.00")}
    for code, (on_hand, worth) in left.items():
        trace(person, code)
        balance = person.part("Balance")
        expect(person.row("On the shelf", balance)).to_contain_text(on_hand)
        expect(balance).to_contain_text("Adds up")
        person.follow("Open lot")
        expect(person.figure("Worth")).to_have_text(worth)
    person.go("Stock", BOWL)
    expect(person.figure("On hand")).to_have_text("285")
    expect(person.figure("Worth")).to_contain_text("$8,895.00")

    trace(person, first)
    assert {one, two} <= codes_in(person.part("Where it went"))
    expect(person.row("Received", person.part("Balance"))).to_contain_text("150")
    expect(person.row("Drawn into batches", person.part("Balance"))).to_contain_text("140")
    trace(person, spaced(two).lower())
    assert codes_in(person.part("What went in")) == {two, wax, first, second}
    trace(person, third)
    assert not person.part("Where it went").count()

    call_command("check_books")
    assert "The books agree." in capsys.readouterr().out
