"""First in first out and averages beside specific lots, against a textbook that tells them side by side.

OpenStax, Principles of Accounting Vol. 1, 10.1 to 10.3 and 10.5 (read). Where the book rounds an average before it goes on,
the figure not rounded stands beside it (our own arithmetic on its inputs).
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from costing.valuation.methods import (
    Inflow,
    Outflow,
    days_of_stock,
    first_in_first_out,
    moving_average,
    periodic_average,
    specific,
    turnover,
)


def came(quantity, price):
    return Inflow(quantity, quantity * price)


# 1 July 150 at 21; sold 120; bought 225 at 27; sold 180; bought 210 at 33. The lots that were taken: 120 of the first;
# then 20 of the first and 160 of the second.
JULY = [
    came(150, 21),
    Outflow(120, 120 * 21),
    came(225, 27),
    Outflow(180, 20 * 21 + 160 * 27),
    came(210, 33),
]


def test_specific_lots_are_the_method_and_come_out_exactly():
    told = specific(JULY)

    assert (told.cost, told.left) == (7_260, 8_895)
    assert 10 * 21 + 65 * 27 + 210 * 33 == 8_895


def test_first_in_first_out_at_each_sale_and_at_the_end():
    perpetual = first_in_first_out(JULY)
    periodic = first_in_first_out(sorted(JULY, key=lambda event: isinstance(event, Outflow)))

    assert (perpetual.cost, perpetual.left) == (periodic.cost, periodic.left) == (7_200, 8_955)
    assert first_in_first_out(JULY[:2]).cost == 2_520
    assert 2_520 + 630 + 4_050 == 7_200


def test_the_periodic_average():
    told = periodic_average(JULY)

    assert float(told.cost) == pytest.approx(8_284.62, abs=0.01)
    assert float(told.left) == pytest.approx(7_870.38, abs=0.01)
    assert float(told.cost) == pytest.approx(8_283, abs=2)
    assert float(told.left) == pytest.approx(7_872, abs=2)


def test_the_moving_average():
    told = moving_average(JULY)

    assert float(told.cost) == pytest.approx(7_252.94, abs=0.01)
    assert float(told.left) == pytest.approx(8_902.06, abs=0.01)
    assert float(told.cost) == pytest.approx(7_253, abs=2)
    assert float(told.left) == pytest.approx(8_902, abs=2)
    assert float(moving_average(JULY[:3]).left) / 255 == pytest.approx(26.294118, abs=1e-6)
    assert float(moving_average(JULY).left) / 285 == pytest.approx(31.235294, abs=1e-6)


@pytest.mark.parametrize("method", [specific, first_in_first_out, periodic_average, moving_average])
def test_what_left_and_what_is_left_come_to_the_goods_available(method):
    told = method(JULY)

    assert told.cost + told.left == 16_155


def test_smaller_exercises():
    # Inputs read in 10.3; the book prints no answers, so these are our own arithmetic on them.
    first = [came(800, 50), came(600, 52), Outflow(400, 0), Outflow(350, 0)]
    assert (first_in_first_out(first).cost, first_in_first_out(first).left) == (37_500, 33_700)
    assert float(periodic_average(first).cost) == pytest.approx(38_142.857, abs=0.001)
    assert float(periodic_average(first).left) == pytest.approx(33_057.143, abs=0.001)
    second = [
        came(240, 100),
        Outflow(160, 0),
        came(520, 103),
        Outflow(400, 0),
        came(400, 110),
        Outflow(370, 0),
    ]
    assert (first_in_first_out(second).cost, first_in_first_out(second).left) == (96_260, 25_300)
    assert float(moving_average(second).cost) == pytest.approx(96_827.33, abs=0.01)
    assert float(moving_average(second).left) == pytest.approx(24_732.67, abs=0.01)


def test_goods_available_less_what_is_left_is_what_sales_cost():
    told = first_in_first_out([came(50, 7), came(20, 7), Outflow(52, 0)])

    assert (told.cost, told.left) == (364, 126)


def test_stock_counted_too_low_makes_goods_dearer_by_as_much():
    # 10.4: 8,955 counted as 7,455 takes the cost of sales from 7,200 to 8,700 and the margin from 4,140 to 2,640.
    available, sales, told = 16_155, 11_340, first_in_first_out(JULY)

    wrong = available - (told.left - 1_500)

    assert (wrong, sales - wrong) == (8_700, 2_640)


def test_turnover_and_days():
    turns = turnover(7_200, 3_150, 8_955)

    assert float(turns) == pytest.approx(1.19, abs=0.005)
    # The book rounds the average to 6,053 and the daily cost to 19.73, and so prints 306.79.
    assert float(days_of_stock(turns, 365)) == pytest.approx(306.79, abs=0.1)
    assert turnover(5, 0, 0) is None
    assert days_of_stock(turnover(0, 10, 10), 30) is None


def test_a_cost_added_later_is_in_every_method():
    events = [came(10, 2), Inflow(0, 5), Outflow(4, 10)]

    for method in (specific, first_in_first_out, periodic_average, moving_average):
        assert (method(events).cost, method(events).left) == (10, 15)


@given(
    st.lists(
        st.tuples(st.booleans(), st.integers(0, 50), st.integers(0, 10**6)),
        max_size=30,
    )
)
def test_nothing_is_lost_by_any_method(steps):
    events, there = [], 0
    for comes, quantity, value in steps:
        if comes:
            events.append(Inflow(quantity, value if quantity or there else 0))
            there += quantity
        elif 0 < quantity <= there:
            events.append(Outflow(quantity, 0))
            there -= quantity
    paid = sum(event.value for event in events if isinstance(event, Inflow))
    for method in (first_in_first_out, periodic_average, moving_average):
        told = method(events)
        assert told.cost + told.left == paid
        assert told.left >= 0
        if there == 0 and method is not periodic_average:
            assert told.left == Fraction(0)
