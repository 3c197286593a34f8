"""The books against published figures."""

from fractions import Fraction

import pytest

from inventory.models import Lot
from tests.house import ARRIVED, day, grams, money

pytestmark = pytest.mark.django_db


def values_of(delivery):
    return [lot.value for lot in Lot.objects.filter(delivery_line__delivery=delivery).order_by("pk")]


def test_goods_drawn_from_named_lots_cost_what_the_textbook_says(books):
    # OpenStax, Principles of Accounting Vol. 1, 10.3, specific identification, read. Exact.
    # 150 at 21, 225 at 27, 210 at 33; sold 120 of the first; then 20 of the first and 160 of the second.
    first = books.receive("vessel", 150, cost=150 * 21, at=day(1))
    second = books.receive("vessel", 225, cost=225 * 27, at=day(10))
    sale = books.draw(first, 120, at=day(5))
    sale_of_two = [books.draw(first, 20, at=day(15)), books.draw(second, 160, at=day(15))]
    third = books.receive("vessel", 210, cost=210 * 33, at=day(18))

    assert cost_of(sale) == money(2_520)
    assert [cost_of(each) for each in sale_of_two] == [money(420), money(4_320)]  # 4,740 together
    assert [books.of(lot) for lot in (first, second, third)] == [
        (10, money(210)),
        (65, money(1_755)),
        (210, money(6_930)),
    ]
    on_hand = sum(lot.value for lot in (first, second, third))
    assert on_hand == money(8_895)
    assert on_hand + money(2_520) + money(4_740) == money(16_155)  # goods available for sale


def cost_of(posting):
    return -sum(movement.value for movement in posting.movements.all())


def test_the_same_sales_from_the_oldest_lot_cost_what_the_textbook_says(books):
    # OpenStax, Principles of Accounting Vol. 1, 10.3, perpetual first-in first-out, read. Exact.
    first = books.receive("vessel", 150, cost=150 * 21, at=day(1))
    second = books.receive("vessel", 225, cost=225 * 27, at=day(10))

    draws = [books.draw(first, 120), books.draw(first, 30), books.draw(second, 150)]

    assert [cost_of(each) for each in draws] == [money(2_520), money(630), money(4_050)]
    assert (books.of(first), books.of(second)) == ((0, 0), (75, money(2_025)))


def test_goods_available_are_what_is_left_and_what_was_used(books):
    # OpenStax, Principles of Accounting Vol. 1, 10.1, read: 50 at 7 and 20 at 7 are 490; 18 left are 126; the
    # 364 used too.
    first, second = books.receive("wick", 50, cost=350), books.receive("wick", 20, cost=140)

    used = cost_of(books.draw(first, 50)) + cost_of(books.draw(second, 2))

    assert (used, books.of(second)) == (money(364), (18, money(126)))


def test_freight_in_joins_the_cost_of_the_goods(books):
    # OpenStax, Principles of Accounting Vol. 1, 6.5, read: 30 at 80 and 1,000 freight are 3,400.
    # 113.3333 each is derived, to 0.005 as published; the total is exact.
    lot = books.receive("vessel", 30, cost=30 * 80, freight=1_000, at=ARRIVED)

    assert lot.value == money(3_400)
    assert abs(Fraction(lot.value, 30) - money("113.3333")) < 5_000


def test_carriage_over_three_lines_by_value_comes_to_the_published_units(books):
    # AAT (accounting technicians) forum 444273: inputs read, answers derived. 20 at 50, 30 at 75, 40 at 100,
    # carriage 750. Units to 0.0001; the total exact.
    delivery = books.deliver(
        books.arrival("wick", 20, 1_000),
        books.arrival("label", 30, 2_250),
        books.arrival("vessel", 40, 4_000),
        freight=750,
    )

    values = values_of(delivery)
    assert sum(values) == money(8_000)
    assert values == [1_103_448_276, 2_482_758_621, 4_413_793_103]
    for value, count, unit in zip(values, (20, 30, 40), ("55.1724", "82.7586", "110.3448"), strict=True):
        assert abs(Fraction(value, count) - money(unit)) <= 100


def test_costs_of_landing_are_shared_by_value(books):
    # allinterview.com 112970, read: 20 of X at 20 and 20 of Y at 5, landed for 2,300: 92 for each X, 23 for
    # each Y. Exact. The 1,800 above the goods' own 500 stand for conversion and duty together.
    delivery = books.deliver(books.arrival("vessel", 20, 400), books.arrival("lid", 20, 100), freight=1_800)

    assert values_of(delivery) == [20 * money(92), 20 * money(23)]


def test_charges_are_shared_by_weight(books):
    # 4,000 over 25,000 and 15,000: 2,500 and 1,500. Derived.
    delivery = books.deliver(
        books.arrival("wax", "25000 kg", 0),
        books.arrival("fragrance", "15000 kg", 0),
        freight=4_000,
        spread="weight",
    )

    assert values_of(delivery) == [money(2_500), money(1_500)]


def test_what_came_in_and_what_came_out_balance_as_in_a_process(books):
    # Mass balance from a published process case (ifsqn.com 12938, read): 80 + 20 + 1 + 9 = 110 kg in, 100 kg
    # out; recovery 90.91 %, loss 9.09 % (derived, to 0.01).
    mix = books.formula(
        "base blend",
        [
            ("wax", "of_melt", 727_273),
            ("fragrance", "of_melt", 181_818),
            ("dye", "of_melt", 9_091),
            ("additive", "of_melt", 81_818),
        ],
    )
    batch = books.plan(mix, grams(110_000))
    for name, quantity in (("wax", "80 kg"), ("fragrance", "20 kg"), ("dye", "1 kg"), ("additive", "9 kg")):
        books.draw_into(batch, (books.receive(name, quantity, cost=11), quantity))
    (made,) = books.finish(batch, grams(100_000))

    drawn = sum(draw.quantity for draw in batch.draws.all())
    assert (drawn, books.of(made)) == (grams(110_000), (grams(100_000), money(44)))
    assert round(Fraction(made.on_hand * 100, drawn), 2) == Fraction("90.91")
