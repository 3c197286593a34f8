"""Recovered melt at the bench: its fragrance counts into the load of the pot. Figures by hand."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from batches.production.finishing import Recovered
from inventory.models import Item, Lot
from tests.browser.at_the_bench import TABLET, AtTheBench
from tests.house import grams

pytestmark = pytest.mark.django_db(transaction=True)

PERCENT = "\N{NO-BREAK SPACE}%"


@pytest.fixture
def melt(books, studio, shelf) -> Lot:
    """540 g of 1,080 g that held 1,000 g of wax and 80 g of fragrance: 25/27 of it is wax, 2/27 fragrance."""
    then = timezone.now() - timedelta(days=8)
    item = books.item("melt", kind="wax", made_here=True)
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_wax", 80_000)]
    first = books.plan(books.formula("First", lines, fill="108 g", name="First"), 10)
    for lot, quantity in ((shelf["more"], "1 kg"), (shelf["fragrance"], "80 g")):
        books.draw_into(first, (lot, quantity), at=then)
    books.finish(first, good=5, at=then, release=False, recovered=[Recovered(item, grams(540))])
    return Lot.objects.get(item=item)


def begin(books, sit_down, owner, lines, units=10, fill="108 g"):
    """So many for today, at the bench."""
    version = books.formula("Second", lines, fill=fill, name="Second", pour_from_mc=57_000, pour_to_mc=62_000)
    batch = books.plan(version, units, on=timezone.localdate())
    return batch, AtTheBench(sit_down(sign_in=owner, **TABLET), batch)


def test_the_fragrance_in_recovered_melt_stops_the_pour(sit_down, owner, books, shelf, melt):
    """500 g of melt, 500 g of wax and 80 g of fragrance read as 8 %; they hold 962.963 g of wax and 117.037 g of it."""
    _, bench = begin(
        books,
        sit_down,
        owner,
        [("melt", "wax_share", 500_000), ("wax", "wax_share", 500_000), ("fragrance", "of_wax", 80_000)],
    )
    for name, lot, weight in (
        ("melt", melt, "500"),
        ("wax", shelf["wax"], "500"),
        ("fragrance", shelf["fragrance"], "80"),
    ):
        bench.to(name)
        bench.take(lot)
        bench.type(weight)
        if name == "fragrance":
            # 117.037/962.963 and 117.037/1080; the least wax for 10 % is 207.4 g more: only fresh wax brings it back.
            over = bench.page.locator("#bench-over")
            expect(over).to_contain_text(f"12.15{PERCENT} of wax = 10.84{PERCENT} of melt")
            expect(over).to_contain_text("Add 208\N{NO-BREAK SPACE}g of wax to bring it back")
        bench.record()
        bench.still()
    bench.to("Pour")
    stop = bench.page.locator("#bench-cautions")
    expect(stop).to_contain_text(f"Stop: the load is 12.15{PERCENT} of wax = 10.84{PERCENT} of melt")
    stop.get_by_role("button", name="Add the wax now").tap()
    bench.at("wax")
    bench.scan(shelf["more"].code)
    bench.page.get_by_role("button", name=re.compile("^Use .* all the same")).tap()
    bench.weigh("208")
    bench.arrived(4)
    bench.to("Pour")
    expect(stop).not_to_contain_text("Stop")


def test_a_formula_without_fresh_wax_cannot_bring_its_load_back(sit_down, owner, books, shelf, melt):
    """500 g of melt hold 462.963 g of wax and 37.037 g of fragrance; 15 g more make 11.24 %."""
    batch, bench = begin(
        books,
        sit_down,
        owner,
        [("melt", "wax_share", 1_000_000), ("fragrance", "of_wax", 30_000)],
        5,
        "103 g",
    )
    for lot, weight in ((melt, "500"), (shelf["fragrance"], "15")):
        books.draw_into(batch, (lot, f"{weight} g"), at=timezone.now())
    Item.objects.filter(name="melt").update(maximum_load_ppm=None)
    bench.page.reload()
    bench.to("Pour")
    stop = bench.page.locator("#bench-cautions")
    expect(stop).to_contain_text(f"Stop: the load is 11.24{PERCENT} of wax")
    expect(stop.get_by_role("button", name="Add the wax now")).to_have_count(0)
    bench.to("fragrance")
    bench.scan(shelf["fragrance"].code)
    bench.type("40")
    expect(bench.page.locator("#bench-over")).to_contain_text("no wax without fragrance to bring it back")
    bench.to("Pour")
    bench.weigh("60")
    bench.answer("Yes, it was poured")
    bench.arrived(1)
    bench.to("Pour")
    # What is done is no longer warned of; what follows from it is said.
    expect(stop).to_contain_text(f"This pot was poured with a load of 11.24{PERCENT} of wax")
    expect(stop).not_to_contain_text("Do not pour")


def test_a_load_with_melt_that_nobody_knows_is_at_least_what_is_known(sit_down, owner, books, studio, shelf):
    """500 g of melt entered as opening stock: counted as wax it makes 8 %, and it may be more."""
    books.item("melt", kind="wax", made_here=True)
    loose = books.receive("melt", "600 g", cost=3, at=timezone.now() - timedelta(days=8))
    _, bench = begin(
        books,
        sit_down,
        owner,
        [("melt", "wax_share", 500_000), ("wax", "wax_share", 500_000), ("fragrance", "of_wax", 80_000)],
    )
    for name, lot, weight in (("melt", loose, "500"), ("wax", shelf["wax"], "500")):
        bench.to(name)
        bench.take(lot)
        bench.weigh(weight)
        bench.still()
    bench.to("fragrance")
    bench.take(shelf["fragrance"])
    bench.type("80")
    expect(bench.page.locator("#bench-load")).to_contain_text(f"Load at least 8{PERCENT} of wax")
    expect(bench.page.locator("#bench-load")).to_contain_text("is not known")
