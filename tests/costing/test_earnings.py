"""A finish that is slow is seen for what it is, in figures worked out by hand."""

from fractions import Fraction
from types import SimpleNamespace

import pytest

from costing.contribution.earnings import Earning, slow_finish
from costing.model.unit_cost import UnitCost
from costing.prices.pricing import Terms, outcome
from tests.house import money


def earning(pk, price, minutes, sold):
    """A candle of 5.00 of material, sold in one channel without fees."""
    cost = UnitCost(material=Fraction(money(5)), minutes=Fraction(minutes))
    product = SimpleNamespace(item=SimpleNamespace(pk=pk), cost=cost)
    channel = SimpleNamespace(name="Stall")
    return Earning(product, channel, Terms(), outcome(money(price), cost, Terms()), sold)


# 20.00 over 15 minutes are 80.00 an hour; 15.00 over 3 are 300.00 and 10.00 over 2 are 300.00 too.
QUICK = [earning(1, 20, 3, 50), earning(2, 15, 2, 30)]


@pytest.mark.parametrize(
    ("price", "sold", "looks"),
    [
        (25, 60, "sells most of all and leaves most of all for a piece"),
        (25, 40, "sells well and leaves most of all for a piece"),
        (25, 10, "leaves most of all for a piece"),
        (15, 40, "sells well"),
        (25, None, "leaves most of all for a piece"),
    ],
)
def test_a_slow_finish_is_named_with_what_makes_it_look_good(price, sold, looks):
    slow = slow_finish([*QUICK, earning(3, price, 15, sold)])

    assert slow.looks == looks
    assert slow.earning.outcome.per_hour == Fraction(money(price) - money(5)) * 4


def test_one_that_neither_sells_nor_leaves_much_misleads_nobody():
    assert slow_finish([*QUICK, earning(3, 15, 15, 10)]) is None
    assert slow_finish([earning(3, 25, 15, 10)]) is None
