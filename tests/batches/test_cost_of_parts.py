"""What a batch drew goes to its parts as they come out, and follows each later change. Ten candles cost 28.80, by hand."""

import pytest

from batches.production import cost_allocation
from inventory.models import Lot, PeriodCost, Posting
from tests.house import day, money

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]


@pytest.fixture
def batch(books, shelf, version):
    """Ten that are filled; five of another batch stand apart, of which two were sent."""
    apart = books.plan(version, 5)
    draws = books.fill(shelf, apart, 5, at=day(8))
    (lot,) = books.finish(apart, 5, at=day(8))
    books.send(lot, 2, at=day(9))
    books.correct(draws["wick"], (shelf["wick"], 10))
    batch = books.plan(version, 10)
    batch.draws_of = books.fill(shelf, batch, at=day(10))
    return batch


def worth(books, *lots):
    return [books.of(lot) for lot in lots]


def test_parts_carry_their_share_of_the_plan_until_the_last_settles_it(books, batch):
    """6 of 10 carry 17.28. With 6 more 12 came out: 2.40 each, so that the first give 2.88 back. Seconds carry nothing."""
    (first, second) = books.finish(batch, 6, 1, at=day(11), last=False)
    assert worth(books, first, second) == [(6, money("17.28")), (1, 0)]

    (last,) = books.finish(batch, 6, at=day(13))

    assert worth(books, first, second, last) == [(6, money("14.40")), (1, 0), (6, money("14.40"))]
    assert cost_allocation.unsettled(batch) == 0


def test_more_than_was_planned_carries_no_more_than_was_drawn(books, batch):
    """12 of 10 carry 28.80, and of the next part of 4 each of the 16 carries 1.80 until the last settles it."""
    (first,) = books.finish(batch, 12, at=day(11), last=False)
    (second,) = books.finish(batch, 4, at=day(12), last=False)

    assert worth(books, first, second) == [(12, money("28.80")), (4, money("7.20"))]


def test_where_none_is_good_the_seconds_carry_it(books, batch):
    (first,) = books.finish(batch, 0, 4, at=day(11), last=False)
    (second,) = books.finish(batch, 0, 6, at=day(12))

    assert worth(books, first, second) == [(4, money("11.52")), (6, money("17.28"))]


def test_each_later_change_is_passed_on_once(books, shelf, batch):
    """4 of 10 are sent. 80 g of wax more are 0.40, 200 g more 1.00, and 280 g fewer 1.40 back: six tenths stay here."""
    (made,) = books.finish(batch, 10, at=day(11))
    books.send(made, 4, at=day(12))
    draw = batch.draws_of["wax"]
    for wax, here, gone in (("1000 g", "17.52", "0.16"), ("1200 g", "18.12", "0.56"), ("920 g", "17.28", 0)):
        draw = books.correct(draw, (shelf["wax"], wax))
        assert worth(books, made) == [(6, money(here))]
        assert sum(PeriodCost.objects.filter(lot=made).values_list("value", flat=True)) == money(gone)
        assert cost_allocation.unsettled(batch) == 0
    # Apart: 5 wicks more were 0.50, of which three of five are here.
    apart = PeriodCost.objects.exclude(lot=made)
    assert list(apart.values_list("value", flat=True)) == [money("0.20")]


def test_a_change_counts_from_the_last_part_on(books, shelf, batch):
    books.finish(batch, 6, at=day(11), last=False)
    books.finish(batch, 4, at=day(13))
    before = set(Posting.objects.values_list("pk", flat=True))

    books.correct(batch.draws_of["wax"], (shelf["wax"], "1000 g"))

    (passed_on,) = Posting.objects.filter(kind="revaluation").exclude(pk__in=before)
    assert passed_on.happened_at == day(13)


def test_goods_that_were_moved_stay_in_their_place_when_their_result_is_entered_again(books, batch):
    """Two lots of good and seconds; the good ones were moved. A second that is new is put where its item stands."""
    product = batch.version.formula.item
    product.place = "Rack 2"
    product.save(update_fields=["place"])
    (good,) = books.finish(batch, 10, at=day(11))
    assert good.place == "Rack 2"
    Lot.objects.filter(pk=good.pk).update(place="Shop window")
    books.undo(batch)

    (again, seconds) = books.finish(batch, 8, 2, at=day(11))

    assert (again.pk, Lot.objects.get(pk=again.pk).place) == (good.pk, "Shop window")
    assert (seconds.pk != good.pk, Lot.objects.get(pk=seconds.pk).place) == (True, "Rack 2")
    assert worth(books, again, seconds) == [(8, money("28.80")), (2, 0)]
