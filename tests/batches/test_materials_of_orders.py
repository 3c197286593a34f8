"""What orders will take of materials that no run is planned for yet: never beside the run that is, and in time to cure."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.planning.sales_order_demand import materials_of_orders
from inventory.models import Supplier
from inventory.replenishment import facts, forecast_text
from inventory.replenishment.outlooks import outlooks
from inventory.replenishment.rules import in_force
from tests.house import NOW, TODAY, grams

pytestmark = pytest.mark.django_db

IN_THREE_WEEKS = TODAY + timedelta(days=21)


@pytest.fixture
def candle(books):
    """92 g of wax, 8 g of fragrance, a wick and a vessel; it cures for a week."""
    return books.candle(cure_days=7)


def taken(books):
    """What orders take, by the item's name: the day and how much."""
    names = {books.item(name).pk: name for name in ("wax", "fragrance", "wick", "vessel")}
    return sorted((names[item], day, quantity) for item, day, quantity in materials_of_orders(TODAY))


def test_an_order_takes_its_materials_on_the_day_it_has_to_be_poured(books, candle):
    books.order_of("The Harbour Inn", (candle.formula.item.name, 50), on=IN_THREE_WEEKS)
    poured_by = TODAY + timedelta(days=14)
    assert taken(books) == [
        ("fragrance", poured_by, grams(400)),
        ("vessel", poured_by, 50),
        ("wax", poured_by, grams(4_600)),
        ("wick", poured_by, 50),
    ]


def test_a_run_planned_for_it_or_for_the_shelf_is_taken_off(books, candle):
    order = books.order_of("The Harbour Inn", (candle.formula.item.name, 50), on=IN_THREE_WEEKS)
    books.plan(candle, 20)
    assert ("vessel", TODAY + timedelta(days=14), 30) in taken(books)
    books.plan(candle, 30, order=order)
    assert taken(books) == []


def test_a_run_for_the_shelf_counts_once_and_towards_the_order_that_is_wanted_first(books, candle):
    for customer, days in (("Late", 40), ("Soon", 20)):
        books.order_of(customer, (candle.formula.item.name, 10), on=TODAY + timedelta(days=days), at=NOW)
    books.plan(candle, 15)
    assert [row for row in taken(books) if row[0] == "vessel"] == [("vessel", TODAY + timedelta(days=33), 5)]


def test_an_order_without_a_formula_takes_nothing(books):
    books.order_of("The Harbour Inn", ("Candle nobody makes", 5), on=IN_THREE_WEEKS)
    assert list(materials_of_orders(TODAY)) == []


def test_it_is_bought_for_and_never_counted_beside_the_run(books, candle):
    """2 kg of wax, none ever used. Fifty candles take 4,600 g on day 14; a delivery takes five days: order by day 9."""
    books.receive("wax", "2 kg", at=NOW)
    Supplier.objects.update(lead_days=5)
    order = books.order_of("The Harbour Inn", (candle.formula.item.name, 50), on=IN_THREE_WEEKS)

    def wax():
        found = outlooks(facts.read(TODAY, window=90), in_force())
        return next(each for each in found.values() if each.item.name == "wax")

    before = wax()
    assert (before.known.unplanned, before.known.committed) == (grams(4_600), grams(4_600))
    assert (before.order_in, before.limits.least) == (9, grams(2_600))
    assert forecast_text.group_of(before) == "later"

    books.plan(candle, 50, on=TODAY + timedelta(days=14), order=order)
    after = wax()
    assert (after.known.unplanned, after.known.committed) == (0, grams(4_600))
    assert list(after.forecast.total) == list(before.forecast.total)


def test_more_orders_take_no_more_queries(books, candle):
    counts = []
    for orders in (1, 6):
        for number in range(orders):
            books.order_of(f"{orders} {number}", (candle.formula.item.name, 5), on=IN_THREE_WEEKS)
        with CaptureQueriesContext(connection) as captured:
            list(materials_of_orders(TODAY))
        counts.append(len(captured.captured_queries))
    assert counts[0] == counts[1]
