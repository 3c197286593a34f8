"""What one candle costs is the same wherever it is shown: cost sheet, prices, and the scent that changes nothing."""

from datetime import date
from fractions import Fraction

import pytest

from costing.new_products.keeping import with_lines
from costing.new_products.reading import work_out
from costing.prices.price_rows import Wish
from costing.prices.pricing import Goal, PricePoints
from costing.standard.product_costs import product_costs
from costing.standard.standard import standard_cost
from inventory.purchasing import offers
from inventory.purchasing.offers import Break
from tests.costing.thoughts import think
from tests.house import TODAY, grams, money

pytestmark = pytest.mark.django_db
WISH = Wish(Goal.MARGIN, 500_000)


@pytest.fixture
def candle(books):
    """92 g of wax at 5.00/kg, 8 g of fragrance at 40.00/kg, a wick at 0.10, a vessel at 2.00: 2.88 for one.

    The fragrance is offered at 30.00 a kilogram, without the freight that was paid for what is on the shelf.
    """
    version = books.candle()
    for name, arrives, cost in (
        ("wax", "10 kg", 50),
        ("fragrance", "1 kg", 40),
        ("wick", 100, 10),
        ("vessel", 50, 100),
    ):
        books.receive(name, arrives, cost=cost)
    offers.enter_offer(
        supplier=books.supplier(),
        item=books.item("fragrance"),
        pack_quantity=grams(1000),
        typed_pack="1 kg",
        breaks=[Break(1, money(30))],
        quoted_on=date(2026, 1, 1),
        valid_until=None,
        signature=books.sign(),
    )
    return version


def worked(scenario):
    return work_out([with_lines().get(pk=scenario.pk)], on=TODAY, points=PricePoints(), wish=WISH)[0]


def totals(steps):
    return [step.cost.total for step in steps]


def test_a_scent_that_changes_nothing_costs_what_the_cost_sheet_says(books, candle):
    one = Fraction(money("2.88"))
    sheet = standard_cost(candle, units=50, on=TODAY)
    assert sheet.total / sheet.good == one
    assert [each.cost.total for each in product_costs(TODAY)] == [one]
    as_it_is = think(
        books, "As it is", candle, scent="fragrance", fragrance=None, first_units=50, run_units=50
    )
    row = worked(as_it_is)
    assert totals(row.steps[:2]) == [one, one]
    assert row.steps[0].bought is None
    # What it would be at the offer stands apart: 8 g at 30.00 a kilogram are 0.08 less.
    assert totals(row.steps[2:]) == [Fraction(money("2.80"))]


def test_the_formulas_own_scent_chosen_by_name_changes_nothing_either(books, candle):
    chosen = think(books, "The same", candle, scent="fragrance", first_units=50, run_units=50)
    assert totals(worked(chosen).steps[:2]) == [Fraction(money("2.88"))] * 2
