"""What a complaint's page says of its candle: that by the books it had not left, and which lots to look at first."""

from datetime import date

import pytest

from batches.complaints.common_lot_of import common, lots_in, stands_out
from batches.complaints.complaining import Candle
from batches.complaints.departure import day_it_was_bought_by, not_left
from batches.complaints.pointing import POINTS_TO, WHY, place
from batches.models import Complaint
from inventory.models import Kind
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from tests.house import day

pytestmark = pytest.mark.django_db


@pytest.fixture
def poured(books, shelf, version, agreeing):
    """Ten candles of the shelf, five of which left on the 10th; and ten that are all still here."""
    lots = []
    for _ in range(2):
        batch = books.plan(version, 10)
        books.fill(shelf, batch, at=day(4))
        lots += books.finish(batch, 10, at=day(5))
    sale = books.send(lots[0], 5, at=day(10))
    return {"left": lots[0], "here": lots[1], "sale": sale}


def of(lot):
    return Candle(lot=lot, batch=lot.outcome.batch)


def test_a_candle_that_never_left_is_told_apart(poured):
    found = not_left(of(poured["here"]), date(2026, 3, 20))

    assert (found.what, found.spaced_code, found.later) == ("lot", poured["here"].spaced_code, None)
    assert not_left(of(poured["left"]), date(2026, 3, 20)) is None


def test_the_day_it_left_is_still_in_time_and_the_day_before_is_not(poured):
    assert not_left(of(poured["left"]), date(2026, 3, 10)) is None
    early = not_left(of(poured["left"]), date(2026, 3, 9))
    assert (early.by, early.later) == (date(2026, 3, 9), day(10))


def test_a_batch_counts_all_that_came_of_it(books, poured):
    here, left = poured["here"].outcome.batch, poured["left"].outcome.batch

    assert not_left(Candle(batch=left), date(2026, 3, 20)) is None
    assert not_left(Candle(batch=here), date(2026, 3, 20)).what == "batch"


def test_a_shipment_that_was_reversed_never_left(books, poured):
    books.reverse(poured["sale"])

    assert not_left(of(poured["left"]), date(2026, 3, 20)).later is None


def test_what_came_back_had_left_and_what_was_decanted_left_as_its_jar(books, poured, sign):
    (back,) = dispatching.take_back(
        poured["sale"].dispatch.pk, [Back(poured["left"].pk, 1)], signature=sign()
    )
    books.item("Bought candle", kind="finished")
    bought = books.receive("Bought candle", 12)
    (boxed,) = books.decant((bought, 4))

    assert not_left(Candle(lot=back), date(2026, 3, 20)) is None
    assert not_left(Candle(lot=bought), date(2026, 3, 20)) is not None
    books.send(boxed, 1)
    assert not_left(Candle(lot=bought), date(2026, 3, 20)) is None


def test_a_candle_nobody_knows_is_not_judged(poured):
    assert not_left(Candle(), date(2026, 3, 20)) is None


@pytest.mark.parametrize(
    ("known", "by"),
    [
        ({}, date(2026, 3, 20)),
        ({"happened_on": date(2026, 3, 17)}, date(2026, 3, 17)),
        ({"sold_until": date(2026, 3, 14), "happened_on": date(2026, 3, 17)}, date(2026, 3, 14)),
        ({"sold_until": date(2026, 3, 19), "happened_on": date(2026, 3, 17)}, date(2026, 3, 17)),
    ],
)
def test_it_was_bought_before_it_happened_and_before_one_was_told(books, poured, known, by):
    assert day_it_was_bought_by(books.complain(poured["left"], **known)) == by


@pytest.mark.parametrize(
    ("kind", "first"),
    [
        ("glass", ["vessel", "wick"]),
        ("injury", ["vessel", "wick"]),
        ("smoke", ["wick", "wax", "fragrance"]),
        ("burn", ["wick", "wax", "fragrance"]),
        ("scent", ["fragrance", "wax"]),
        ("look", ["wax", "fragrance"]),
    ],
)
def test_the_lots_a_complaint_points_to_come_first(books, shelf, poured, kind, first):
    apart = books.receive("vessel", 5)
    complaint = books.complain(poured["left"], kind=kind)

    lots = lots_in(complaint)

    assert [lot.item.kind for lot in lots][: len(first)] == first
    # All that is in the candle, each once, and nothing else.
    assert {lot.pk for lot in lots} == {lot.pk for lot in shelf.values()}
    assert apart not in lots


@pytest.mark.parametrize(("kind", "first"), [("glass", "vessel"), ("smoke", "wick"), ("scent", "fragrance")])
def test_of_lots_that_always_went_together_the_one_pointed_to_comes_first(books, shelf, poured, kind, first):
    """All four lots of the shelf are in every candle: nothing but what is complained of tells them apart."""
    complaint = books.complain(poured["left"], kind=kind)

    row = stands_out(common([complaint], same_products=False), complaint)

    assert {lot.pk for lot in row.lots} == {lot.pk for lot in shelf.values()}
    assert row.lots[0] == shelf[first]


def test_every_kind_of_complaint_says_where_to_begin():
    assert {*POINTS_TO} == {*WHY} == {*Complaint.Kind.values}
    assert all(set(order) <= set(Kind.values) for order in POINTS_TO.values())
    assert WHY["glass"].startswith("Cracked or broken vessel: the vessel’s lot first")
    assert WHY["smoke"].startswith("Smoke or soot: the wick’s lot first, then those of the melt")
    assert place("glass", "label") > place("glass", "additive")
