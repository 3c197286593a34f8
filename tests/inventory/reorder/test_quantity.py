"""How much of whom: published price breaks, limits, freight, and every choice against trying all numbers of packs."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.replenishment.quantity import Limits, PackOffer, options
from tests.house import money


def quoted(*breaks, pack=1, least=1, freight=0, free_from=None, key=1):
    """An offer: breaks of (from packs, price in the currency)."""
    prices = tuple((packs, money(price)) for packs, price in breaks)
    return PackOffer(
        key, pack, least, prices, money(freight), None if free_from is None else money(free_from)
    )


def best(offers, **given):
    return options(offers, **given)[0]


def test_all_units_price_breaks():
    # Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd ed., examples 3.5 and 3.6; the candidates are derived.
    offer = quoted((1, "0.75"), (400, "0.72"), (800, "0.68"))
    found = options([offer], yearly=Fraction(1_300), order_cost=money(8), carrying_ppm=300_000)

    assert [each.packs for each in found] == [800, 400, 304]
    assert [float(each.yearly) / 1e6 for each in found] == pytest.approx(
        [978.60, 1_005.20, 1_043.41], abs=0.005
    )
    assert found[0].why_so_many == "the price from 800 packs on"


def test_all_units_price_breaks_of_dear_goods():
    # The same book's companion: 200 an order, 20 %, 1,000 a year; 500, 475 from 200, 450 from 500.
    offer = quoted((1, 500), (200, 475), (500, 450))
    found = best([offer], yearly=Fraction(1_000), order_cost=money(200), carrying_ppm=200_000)

    assert found.packs == 500
    assert float(found.yearly) / 1e6 == pytest.approx(472_900, abs=0.5)


def test_price_breaks_where_the_economic_quantity_lies_within_one():
    # Heizer and Render, Operations Management, inputs and first step; the rest derived.
    offer = quoted((1, 20), (500, 18), (1_000, 17))
    found = options([offer], yearly=Fraction(20_000), order_cost=money(40), carrying_ppm=200_000)

    assert [each.packs for each in found] == [1_000, 667, 499]
    assert float(found[0].yearly) / 1e6 == pytest.approx(342_500, abs=1)
    assert float(found[1].yearly) / 1e6 == pytest.approx(362_400, abs=1)


WAX = {"yearly": Fraction(1_000), "order_cost": money(10), "carrying_ppm": 200_000}


def test_a_year_is_goods_orders_freight_and_half_an_order_on_the_shelf():
    # 1,000 a year in packs of 10 at 50.00: 5,000 of goods. √(2 × 1,000 × (10 + 15) ÷ (0.2 × 5)) = 223.6, so 22 packs:
    # 1,000 ÷ 220 × 25 = 113.64 for orders, half of 22 × 50 × 20 % = 110.00 for keeping.
    found = best([quoted((1, 50), pack=10, freight=15)], **WAX)

    assert found.packs == 22
    assert found.ordering == Fraction(25_000_000_000, 220)
    assert found.holding == money(110)
    assert found.yearly == money(5_000) + found.ordering + found.holding
    assert found.tied_up == money(550)


def test_free_freight_is_bought_up_to_where_it_pays():
    # At 22 packs a year costs 5,223.64; from 24 packs (1,200.00) freight is free: 1,000 ÷ 240 × 10 = 41.67 and 120.00.
    found = best([quoted((1, 50), pack=10, freight=15, free_from=1_200)], **WAX)

    assert (found.packs, found.freight) == (24, 0)
    assert found.why_so_many == "freight is free from so many on"
    assert found.yearly == money(5_000) + Fraction(10_000_000_000, 240) + money(120)


def test_no_more_than_the_limit_and_it_is_said_why():
    limits = Limits(0, 55, "as much as will be used before it expires")
    found = best([quoted((1, 50), pack=10)], limits=limits, **WAX)

    assert (found.packs, found.why_so_many) == (5, "as much as will be used before it expires")


def test_at_least_what_brings_the_stock_back():
    found = best([quoted((1, 50), pack=10)], limits=Limits(401), **WAX)

    assert (found.packs, found.why_so_many) == (41, "the least that brings the stock back, in whole packs")


def test_what_may_be_bought_at_most_comes_before_what_should_be_at_least():
    found = best([quoted((1, 50), pack=10)], limits=Limits(95, 60, "room"), **WAX)

    assert (found.packs, found.too_little, found.too_much) == (6, 35, 0)


def test_a_pack_that_is_too_large_comes_last_and_says_by_how_much():
    small, large = quoted((1, 9), pack=1), quoted((1, 50), pack=100, key=2)
    found = options([large, small], limits=Limits(0, 60, "expiry"), **WAX)

    assert [each.key for each in found] == [1, 2]
    assert found[1].too_much == 40
    assert [each.too_much for each in options([large], limits=Limits(0, 60, "expiry"), **WAX)] == [40]


def test_the_least_packs_of_an_offer_are_kept():
    assert best([quoted((6, 50), pack=10, least=6)], limits=Limits(0, 500), **WAX).packs >= 6
    assert best([quoted((30, 50), pack=10, least=30)], **WAX).packs == 30


def test_without_the_cost_of_an_order_it_covers_so_much_and_a_year_is_told_without_ordering():
    # Packs of one: 14 × 10.00, 1,000 × 10.00 and 20 % of 70.00 a year. Packs of ten: 2 × 90.00, 9,000 and 18.00.
    small, large = quoted((1, 10), pack=1), quoted((1, 90), pack=10, key=2)
    given = {"yearly": Fraction(1_000), "order_cost": None, "carrying_ppm": 200_000, "cover": 14}
    found = options([small, large], **given)

    assert [(each.key, each.packs, each.yearly) for each in found] == [
        (2, 2, money(9_018)),
        (1, 14, money(10_014)),
    ]
    assert {each.why_so_many for each in found} == {"what four weeks use, in whole packs"}
    assert [each.ordering for each in found] == [0, 0]


def test_where_nothing_tells_a_years_use_the_order_that_covers_it_for_the_least_money_is_the_best():
    small, large = quoted((1, 10), (100, 5), pack=1), quoted((1, 90), pack=10, key=2)
    given = {"yearly": Fraction(0), "order_cost": money(8), "carrying_ppm": 200_000, "cover": 14}
    found = options([small, large], **given)

    assert [(each.key, each.packs, each.goods) for each in found] == [
        (1, 14, money(140)),
        (2, 2, money(180)),
        (1, 100, money(500)),
    ]
    assert {each.yearly for each in found} == {None}


def test_what_costs_nothing_to_keep_is_bought_for_a_year():
    assert (
        best([quoted((1, 50), pack=10)], yearly=Fraction(995), order_cost=money(10), carrying_ppm=0).packs
        >= 100
    )


PACKS_TRIED = 120


def cost_of(offer, packs, yearly, order_cost, carrying_ppm):
    """A year's cost, worked out naively."""
    price = [price for begins, price in offer.breaks if begins <= packs][-1]
    free = offer.free_from is not None and packs * price >= offer.free_from
    orders = yearly / (packs * offer.pack)
    goods = yearly * Fraction(price, offer.pack)
    kept = Fraction(packs * price, 2) * Fraction(carrying_ppm, 1_000_000)
    return goods + orders * (order_cost + (0 if free else offer.freight)) + kept


@st.composite
def offers(draw):
    breaks, packs, price = [], draw(st.integers(1, 5)), draw(st.integers(1_000, 90_000_000))
    least = packs
    for _ in range(draw(st.integers(1, 3))):
        breaks.append((packs, price))
        packs += draw(st.integers(1, 30))
        price = max(price - draw(st.integers(0, price // 4)), 1)
    freight = draw(st.sampled_from([0, 1_450_000, 39_000_000]))
    free_from = draw(st.none() | st.integers(1_000_000, 900_000_000))
    return PackOffer(
        draw(st.integers(1, 9)), draw(st.integers(1, 40)), least, tuple(breaks), freight, free_from
    )


@settings(max_examples=150, deadline=None)
@given(
    st.lists(offers(), min_size=1, max_size=3, unique_by=lambda offer: offer.key),
    st.integers(1, 5_000),
    st.integers(0, 50_000_000),
    st.integers(1, 600_000),
    st.integers(0, 200),
    st.integers(1, PACKS_TRIED),
)
def test_no_number_of_packs_is_cheaper(found, yearly, order_cost, carrying_ppm, least, most):
    limits = Limits(min(least, most), most, "limit")
    given = {"yearly": Fraction(yearly), "order_cost": order_cost, "carrying_ppm": carrying_ppm}
    chosen = best(found, limits=limits, **given)
    possible = {
        (offer.key, packs): cost_of(offer, packs, Fraction(yearly), order_cost, carrying_ppm)
        for offer in found
        for packs in range(offer.least_packs, most // offer.pack + 1)
        if limits.least <= packs * offer.pack <= most
    }

    if possible:
        assert chosen.yearly == min(possible.values())
        assert possible[chosen.key, chosen.packs] == chosen.yearly
        assert chosen.too_much == chosen.too_little == 0
    else:
        assert chosen.too_much or chosen.too_little
