"""What to charge, held against textbooks.

Cost-plus and break-even: OpenStax, Principles of Accounting Vol. 2, 9.4 and 3.2, exact. Markup of 50 % and the realised
margin of 44.83 %: OpenStax, Principles of Marketing, retailing strategy decisions. The pair 13.00 / 14.29 and all
else is worked out by hand from the definitions.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from costing.model.unit_cost import UnitCost
from costing.prices.pricing import (
    BreakEven,
    Goal,
    PriceError,
    PricePoints,
    Tax,
    Terms,
    Way,
    break_even,
    floor_price,
    margin_of_markup,
    markup_of_margin,
    minutes_for_hour,
    outcome,
    price_change,
    price_for,
    price_for_hour,
    profit_at,
)
from tests.house import money

PLAIN = Terms()


def cents(price):
    """A price in whole cents, half up."""
    return int(price / 10_000 + Fraction(1, 2))


@pytest.mark.parametrize(
    ("cost", "markup_ppm", "price"),
    [("10", 300_000, "13.00"), ("12", 300_000, "15.60"), ("8", 200_000, "9.60"), ("9", 200_000, "10.80")],
)
def test_cost_plus_is_a_markup_on_cost(cost, markup_ppm, price):
    assert price_for(Goal.MARKUP, markup_ppm, money(cost), PLAIN) == money(price)


def test_the_same_thirty_percent_is_two_prices():
    as_markup = price_for(Goal.MARKUP, 300_000, money(10), PLAIN)
    as_margin = price_for(Goal.MARGIN, 300_000, money(10), PLAIN)

    assert (cents(as_markup), cents(as_margin)) == (1300, 1429)


def test_bought_at_50_and_sold_at_75_is_a_markup_of_50_and_a_margin_of_a_third():
    sold = outcome(money(75), UnitCost(Fraction(money(50))), PLAIN)

    assert (sold.markup, sold.margin) == (Fraction(1, 2), Fraction(1, 3))


@pytest.mark.parametrize(
    ("markup", "margin"), [(Fraction(1), Fraction(1, 2)), (Fraction(2, 3), Fraction(2, 5))]
)
def test_a_markup_and_a_margin_are_two_words_for_one_price(markup, margin):
    assert margin_of_markup(markup) == margin
    assert markup_of_margin(margin) == markup


def test_the_margin_realised_counts_what_was_sold_at_a_discount():
    # 75 sold at 80 and 25 at 50: a quarter at 37.5 % off. 7,250 less 4,000 is 44.83 % of sales.
    terms = Terms(discount_ppm=375_000, discounted_ppm=250_000)

    sold = outcome(money(80), UnitCost(Fraction(money(40))), terms)

    assert sold.net * 100 == money(7250)
    assert round(sold.margin, 4) == Fraction("0.4483")


def test_break_even():
    assert break_even(money(18_000), money(80), money(100)) == BreakEven(225, Fraction(money(22_500)))
    assert profit_at(175, money(80), money(18_000)) == -money(4_000)
    assert profit_at(300, money(80), money(18_000)) == money(6_000)
    assert break_even(money(18_000), 0, money(100)) is None
    # A part of a unit is not sold.
    assert break_even(money(100), money(30), money(40)).units == 4


def test_fees_are_paid_out_of_the_price():
    # (6.00 + 0.30 + 3.30 shipping for two) / (1 − 0.5 − 0.1) by hand: fixed 1.80 each, 7.80 / 0.4 = 19.50.
    terms = Terms(percent_ppm=100_000, fixed=money("0.30"), shipping=money("3.30"), units=Fraction(2))

    asked = price_for(Goal.MARGIN, 500_000, money(6), terms)
    sold = outcome(asked, UnitCost(Fraction(money(6))), terms)

    assert asked == money("19.50")
    assert sold.fees == money("3.75")
    assert sold.profit == money("9.75")
    assert sold.margin == Fraction(1, 2)


def test_tax_inside_the_price_is_not_the_studios():
    # 24.00 with 20 % inside is 20.00 and 4.00; a fee of 5 % of the 24.00 paid is 1.20.
    terms = Terms(percent_ppm=50_000, tax=Tax.INSIDE, tax_ppm=200_000)

    sold = outcome(money(24), UnitCost(Fraction(money(8))), terms)

    assert (sold.net, sold.tax, sold.paid) == (money(20), money(4), money(24))
    assert sold.fees == money("1.20")
    assert sold.profit == money("10.80")
    assert sold.margin == Fraction("0.54")


def test_tax_on_top_is_paid_by_the_customer_and_does_not_lower_what_is_kept():
    # 20.00 and 8 % on top: 21.60 is paid; 5 % of it is 1.08, of the price alone 1.00.
    added = Terms(percent_ppm=50_000, tax=Tax.ADDED, tax_ppm=80_000)
    before_tax = Terms(percent_ppm=50_000, tax=Tax.ADDED, tax_ppm=80_000, fee_on_tax=False)
    cost = UnitCost(Fraction(money(8)))

    assert outcome(money(20), cost, added).paid == money("21.60")
    assert outcome(money(20), cost, added).fees == money("1.08")
    assert outcome(money(20), cost, before_tax).fees == money(1)


def test_a_rate_of_tax_counts_only_where_there_is_tax():
    assert Terms(tax_ppm=200_000).net(money(12)) == money(12)


@pytest.mark.parametrize(
    ("goal", "ppm", "terms", "said"),
    [
        (Goal.MARGIN, 600_000, Terms(percent_ppm=420_000), "A margin of 60 % and fees of 42 % leave nothing"),
        (Goal.MARGIN, 600_000, Terms(percent_ppm=400_000), "below 100 %"),
        (Goal.MARGIN, 1_000_000, PLAIN, "A margin of 100 %"),
        (Goal.MARKUP, 600_000, Terms(percent_ppm=1_000_000), "Fees of 100 % leave nothing"),
        (Goal.MARGIN, 0, Terms(percent_ppm=900_000, tax=Tax.ADDED, tax_ppm=200_000), "Fees of 108 %"),
        (Goal.MARKUP, 300_000, Terms(discount_ppm=1_000_000), "leaves nothing of any price"),
    ],
)
def test_a_sum_that_cannot_work_out_is_refused_with_a_sentence(goal, ppm, terms, said):
    with pytest.raises(PriceError) as refused:
        price_for(goal, ppm, money(10), terms)

    assert said in str(refused.value).replace("\N{NO-BREAK SPACE}", " ")


def test_a_margin_of_a_hundred_percent_has_no_markup():
    with pytest.raises(PriceError, match="below 100"):
        markup_of_margin(Fraction(1))


def test_contribution_is_told_by_the_hour_and_by_the_kilogram():
    # 20.00 less 5.00 material is 15.00; 6 minutes make 150 an hour, 200 g make 75 a kilogram.
    cost = UnitCost(
        Fraction(money(5)), Fraction(money(2)), Fraction(money(1)), Fraction(6), Fraction(200_000_000)
    )

    sold = outcome(money(20), cost, PLAIN)

    assert (sold.contribution, sold.profit) == (money(15), money(12))
    assert (sold.per_hour, sold.per_kg) == (money(150), money(75))
    # To contribute 200 an hour: 20 for six minutes and 5 material; or four and a half minutes.
    assert price_for_hour(money(200), cost, PLAIN) == money(25)
    assert minutes_for_hour(money(200), sold.contribution) == Fraction(9, 2)
    assert minutes_for_hour(money(200), 0) is None


def test_nothing_is_said_by_the_hour_where_no_minutes_are_known():
    sold = outcome(money(20), UnitCost(Fraction(money(5))), PLAIN)

    assert (sold.per_hour, sold.per_kg) == (None, None)


def test_a_raised_price_may_lose_some_volume():
    # From 10.00 to 12.50 of contribution: four fifths of the volume earn the same.
    change = price_change(money(10), money("12.50"), 101)

    assert (change.may_lose, change.units) == (Fraction(1, 5), 81)
    # A lowered price has to sell more.
    assert price_change(money(10), money(8), 100).units == 125
    assert price_change(money(10), 0, 100).may_lose is None


HALVES = (0, money("0.50"), money("0.95"))


@pytest.mark.parametrize(
    ("way", "price", "point"),
    [
        (Way.UP, "13.20", "13.50"),
        (Way.UP, "13.50", "13.50"),
        (Way.UP, "13.500001", "13.95"),
        (Way.UP, "13.96", "14.00"),
        (Way.NEAREST, "13.20", "13.00"),
        (Way.NEAREST, "13.25", "13.50"),
        (Way.NEAREST, "13.98", "14.00"),
        (Way.NEAREST, "0.10", "0.50"),
        (Way.NONE, "13.201", "13.21"),
        (Way.NONE, "13.20", "13.20"),
    ],
)
def test_prices_are_put_on_price_points(way, price, point):
    assert PricePoints(way, money(1), HALVES).put(Fraction(money(price))) == money(point)


def test_price_points_may_lie_in_tens():
    assert PricePoints(Way.UP, money(10), (money(9),)).put(money("19.50")) == money(29)
    assert PricePoints(places=0).put(money("1204.1")) == money(1205)


terms_of = st.builds(
    Terms,
    percent_ppm=st.integers(0, 400_000),
    fixed=st.integers(0, 10**7),
    shipping=st.integers(0, 10**7),
    units=st.fractions(1, 20, max_denominator=1000),
    tax=st.sampled_from(Tax),
    tax_ppm=st.integers(0, 250_000),
    fee_on_tax=st.booleans(),
    discount_ppm=st.integers(0, 900_000),
    discounted_ppm=st.integers(0, 1_000_000),
)


@given(terms_of, st.integers(1, 10**9), st.integers(0, 490_000))
def test_a_price_gives_back_the_margin_or_markup_that_it_was_asked_for(terms, cost, ppm):
    for goal in Goal:
        sold = outcome(price_for(goal, ppm, cost, terms), UnitCost(Fraction(cost)), terms)

        assert getattr(sold, goal.value) == Fraction(ppm, 10**6)
        assert sold.paid == sold.tax + sold.fees + cost + sold.profit
    assert outcome(floor_price(cost, terms), UnitCost(Fraction(cost)), terms).profit == 0


@given(st.integers(1, 10**10), st.sampled_from([Way.UP, Way.NONE]))
def test_a_price_put_up_is_never_below_what_it_was(price, way):
    assert 0 <= PricePoints(way, money(1), HALVES).put(price) - price <= money("0.50")
