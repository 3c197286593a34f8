"""What was paid and what was quoted, in time order."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.items.prices import price_points
from inventory.purchasing.offers import Break, enter_offer, withdraw
from tests.house import ARRIVED, day, grams, money

pytestmark = pytest.mark.django_db


def offer(books, on=date(2026, 3, 5), *breaks, **more):
    """An offer of 2.5 kg packs of fragrance."""
    return enter_offer(
        supplier=books.supplier(),
        item=books.item("fragrance"),
        pack_quantity=grams(2_500),
        typed_pack="2.5 kg",
        breaks=breaks or (Break(1, money(132)), Break(4, money(124))),
        quoted_on=on,
        signature=books.sign(),
        **more,
    )


def test_what_was_paid_and_what_was_quoted_stand_in_time_order(books):
    # 2 × 2.5 kg for 250.00 with 10.00 freight: 260.00 landed.
    books.receive("fragrance", "2.5 kg", packs=2, cost=250, freight=10, at=day(7))
    quoted = offer(books)
    books.receive("fragrance", "1 kg", cost=60, at=ARRIVED)

    points = price_points(books.item("fragrance"))

    assert [(point.on, point.paid, point.value, point.quantity, point.landed) for point in points] == [
        (date(2026, 3, 1), True, money(60), grams(1_000), money(60)),
        (date(2026, 3, 5), False, money(132), grams(2_500), None),
        (date(2026, 3, 5), False, money(124), grams(2_500), None),
        (date(2026, 3, 7), True, money(250), grams(5_000), money(260)),
    ]
    assert [point.packs for point in points] == [1, 1, 4, 2]
    assert {point.supplier for point in points} == {"Tollgate Wax and Wick"}
    assert points[1].url == f"/stock/supplier-prices/{quoted.pk}/"
    assert points[3].document == "T-204"


def test_what_was_reversed_or_withdrawn_is_no_price(books):
    lot = books.receive("fragrance", "1 kg", cost=60)
    books.reverse(lot.delivery_line.delivery.posting)
    withdraw(offer(books).pk)

    assert price_points(books.item("fragrance")) == []


def test_other_items_are_left_out(books):
    books.receive("wax", "1 kg", cost=6)
    offer(books)

    assert price_points(books.item("wax"))[0].value == money(6)
    assert len(price_points(books.item("wax"))) == 1


def test_any_number_of_prices_takes_two_queries(books):
    for _ in range(3):
        books.receive("fragrance", "1 kg", cost=60)
        offer(books)
    item = books.item("fragrance")

    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert len(price_points(item)) == 9
    assert len(asked) == 2
