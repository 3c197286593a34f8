"""The arithmetic against published worked examples, each with its source and tolerance, and against SciPy.

Sources: Stevenson, Operations Management (STEV); Taylor, Introduction to Management Science (TAYLOR); Snyder and Shen,
Fundamentals of Supply Chain Theory, 2nd ed. (FoSCT); Heizer and Render, Operations Management (HR). Where an answer was
worked out from the formula on given inputs it says "derived".
"""

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import gamma, norm

from inventory.counting.rules import Cut, classify
from inventory.replenishment import arithmetic
from inventory.replenishment.arithmetic import (
    economic_quantity,
    order_up_to,
    reorder_point,
    up,
    yearly_cost,
    z_of,
)

# Normal quantiles, from the tables in every such book, to four decimals.
QUANTILES = {
    800_000: 0.8416,
    850_000: 1.0364,
    900_000: 1.2816,
    950_000: 1.6449,
    960_000: 1.7507,
    970_000: 1.8808,
    975_000: 1.9600,
    980_000: 2.0537,
    990_000: 2.3263,
    999_000: 3.0902,
}


@pytest.mark.parametrize(("service_ppm", "z"), QUANTILES.items())
def test_quantiles_agree_with_the_tables(service_ppm, z):
    assert z_of(service_ppm) == pytest.approx(z, abs=0.000_05)


@pytest.mark.parametrize("service_ppm", [800_000, 900_000, 950_000, 990_000, 999_000])
@pytest.mark.parametrize("wide", [0.05, 0.3, 0.6, 1.0, 1.4])
def test_a_skew_quantile_agrees_with_the_gamma_distribution_of_scipy(service_ppm, wide):
    shape = wide**-2
    exact = gamma.ppf(service_ppm / 1e6, shape, scale=600 / shape)

    assert arithmetic.skewed(z_of(service_ppm), 600, wide * 600) == pytest.approx(exact, rel=0.032)


def test_where_use_comes_in_lumps_the_reorder_point_holds_what_one_of_them_takes_it_below():
    """900 g every tenth day and a lead time of ten: 90 ± 271.5 a day, 450 ± 259.8 below the point. Together 1,350 ± 897:
    a ninth of (897 ÷ 1,350)² is 0.04906, its root 0.22149, and 1,350 × (1 − 0.04906 + 1.6449 × 0.22149)³ = 3,072.
    Derived; the plain point would be 900 + 1.6449 × 858.6 = 2,312."""
    point = arithmetic.lumpy_reorder_point(
        z_of(950_000), demand=90, demand_sd=271.51, lead=10, below=450, below_sd=259.81
    )
    assert point == pytest.approx(3_072, abs=1)
    assert arithmetic.skewed(1.6449, 0, 0) == 0
    assert arithmetic.skewed(1.6449, 90, 0) == 90


@given(st.integers(500_000, 999_900))
def test_quantiles_agree_with_scipy(service_ppm):
    assert z_of(service_ppm) == pytest.approx(norm.ppf(service_ppm / 1_000_000), rel=1e-9, abs=1e-9)


def test_lead_time_demand_given():
    # STEV example 8: mean 50 t, spread 5 t, a risk of 3 %: safety 9.40, reorder point 59.40.
    safety = arithmetic.safety_stock(z_of(970_000), 5)
    assert safety == pytest.approx(9.40, abs=0.02)
    assert 50 + safety == pytest.approx(59.40, abs=0.02)


@pytest.mark.parametrize(
    ("service_ppm", "given", "point", "within"),
    [
        # Inputs STEV, answer derived: 50 jars a week, spread 3, two weeks, a risk of 10 %.
        (900_000, {"demand": 50, "demand_sd": 3, "lead": 2}, 105.43, 0.02),
        # Inputs TAYLOR, answer derived: 30 yards a day, spread 5, ten days, 95 %.
        (950_000, {"demand": 30, "demand_sd": 5, "lead": 10}, 326.1, 0.1),
        # STEV exercise, as answered on wizedu.com 1622061: 21 gallons a week, spread 3.5, a lead of two days.
        (900_000, {"demand": 21, "demand_sd": 3.5, "lead": 2 / 7}, 8.39, 0.01),
        # Inputs brainmass 468949, answer derived: five a day without spread, a lead of 3 ± 2 days, 95 %.
        (950_000, {"demand": 5, "lead": 3, "lead_sd": 2}, 31.5, 0.1),
    ],
)
def test_reorder_points(service_ppm, given, point, within):
    assert reorder_point(z_of(service_ppm), **given) == pytest.approx(point, abs=within)


def test_lead_time_varying_with_the_spread_of_lead_time_demand_given():
    # expertsmind.com 30131349: 500 in 250 days, lead 12, spread 20 (of two a day: 10 days × 2), z 1.64: 24 + 32.8.
    assert reorder_point(1.64, demand=2, lead=12, lead_sd=10) == pytest.approx(56.8, abs=0.15)


@pytest.mark.parametrize(("service_ppm", "safety", "point"), [(500_000, 0, 200), (850_000, 156, 356)])
def test_service_level_and_safety_stock(service_ppm, safety, point):
    # coursehero 29765482: spread 150, 200 used while one waits.
    found = arithmetic.safety_stock(z_of(service_ppm), 150)
    assert found == pytest.approx(safety, abs=1)
    assert 200 + found == pytest.approx(point, abs=1)


def test_fixed_interval():
    # smartsolve.ai: 160 lb a week, spread 26, looked at every 6 weeks, lead 5 weeks, 98 % (2.06), 500 on hand.
    target = order_up_to(2.06, demand=160, demand_sd=26, review=6, lead=5)
    assert target == pytest.approx(1937.6, abs=1)
    assert target - 500 == pytest.approx(1438, abs=1)


def test_economic_quantity():
    # STEV, after scribd 445782764: 9,600 a year, 75 an order, 16 a unit and year, 288 working days.
    quantity = economic_quantity(9_600, 75, 16)
    assert quantity == pytest.approx(300)
    assert 9_600 / quantity == pytest.approx(32)
    assert 288 * quantity / 9_600 == pytest.approx(9)
    assert yearly_cost(quantity, yearly=9_600, order_cost=75, holding=16) == pytest.approx(4_800)


def test_economic_quantity_with_decimals():
    # FoSCT example 3.1.
    quantity = economic_quantity(1_300, 8, 0.225)
    assert quantity == pytest.approx(304.0468, abs=1e-4)
    cost = {"yearly": 1_300, "order_cost": 8, "holding": 0.225}
    assert yearly_cost(quantity, **cost) == pytest.approx(68.4105, abs=1e-4)
    assert yearly_cost(250, **cost) == pytest.approx(69.725, abs=1e-4)


def test_economic_production_lot():
    # FoSCT, companion: the same, made at 1,700 a year.
    made = {"yearly": 1_300, "order_cost": 8, "holding": 0.225, "made_at": 1_700}
    quantity = economic_quantity(**made)
    assert quantity == pytest.approx(626.808, abs=1e-3)
    assert yearly_cost(quantity, **made) == pytest.approx(33.1840, abs=1e-3)


def test_nothing_is_made_faster_than_it_can_be_and_what_costs_nothing_to_keep_has_no_economic_quantity():
    with pytest.raises(ValueError, match="More is used"):
        economic_quantity(1_300, 8, 0.225, made_at=1_300)
    assert economic_quantity(1_300, 8, 0) is None


def test_classes_by_yearly_value():
    # HR: two items in A, three in B, the rest in C; the shares are 64.37, 25.52 and 10.11 % (derived).
    values = {
        "G2": 450_000,
        "F3": 250_000,
        "A2": 150_000,
        "C7": 67_500,
        "D1": 60_000,
        "B8": 48_000,
        "E9": 20_000,
        "I5": 17_500,
        "J8": 12_500,
        "H2": 12_000,
    }
    names = dict(enumerate(values))
    cuts = (Cut("A", 700_000), Cut("B", 900_000), Cut("C", 1_000_000))

    found = classify([(number, values[name]) for number, name in names.items()], cuts)

    letters = {names[number]: letter for number, letter in found.items()}
    assert [name for name, letter in letters.items() if letter == "A"] == ["G2", "F3"]
    assert [name for name, letter in letters.items() if letter == "B"] == ["A2", "C7", "D1"]
    assert sum(letter == "C" for letter in letters.values()) == 5


@given(st.floats(0, 1e6), st.floats(0, 1e5), st.floats(0.1, 60), st.floats(0, 20))
def test_both_varying_is_never_less_than_either_alone(demand, demand_sd, lead, lead_sd):
    both = arithmetic.spread_over(demand_sd, demand, lead, lead_sd)
    assert both >= arithmetic.spread_over(demand_sd, demand, lead) * (1 - 1e-12)
    assert both >= arithmetic.spread_over(0, demand, lead, lead_sd) * (1 - 1e-12)
    assert arithmetic.spread_over(demand_sd, demand, lead) == pytest.approx(demand_sd * sqrt(lead))


@pytest.mark.parametrize(
    ("figure", "whole"),
    [(2.0, 2), (2.1, 3), (2.000_000_000_1, 2), (0.0, 0), (-1.5, -1), (1e15 + 0.5, 10**15)],
)
def test_a_quantity_is_rounded_up_once(figure, whole):
    assert up(figure) == whole


def test_what_is_no_number_is_no_quantity():
    with pytest.raises(ValueError, match="no quantity"):
        up(float("nan"))
