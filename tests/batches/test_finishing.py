"""A batch that ends in parts, with melt recovered, samples kept, or not at all: every millionth is somewhere."""

import pytest

from batches import checks
from batches.models import Batch, Outcome
from batches.planning import plans
from batches.planning.plans import BatchError
from batches.production import cost_allocation, finishing
from batches.production.finishing import Recovered
from batches.production.releasing import CannotRelease
from inventory import checks as stock_checks
from inventory.ledger.books import CannotReverse, LotNotUsable
from inventory.lots import holding
from inventory.models import Lot, PeriodCost
from tests.house import NOW, TODAY, day, grams, money, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch(books):
    """Ten candles: 920 g of wax for 9.20, 80 g of fragrance for 8.00, wicks and vessels for 10.00: 27.20 drawn."""
    shelf = {
        "wax": books.receive("wax", "2 kg", cost=20),
        "fragrance": books.receive("fragrance", "200 g", cost=20),
        "wick": books.receive("wick", 40, cost=10),
        "vessel": books.receive("vessel", 20, cost=15),
    }
    batch = books.plan(books.candle(), 10)
    books.fill(shelf, batch, at=day(10))
    return batch


def values(batch):
    lots = Lot.objects.filter(outcome__batch=batch).order_by("pk")
    return [(lot.on_hand, lot.value) for lot in lots]


def all_agree():
    every = (*stock_checks.CHECKS, *checks.CHECKS)
    return [said for check in every if check is not stock_checks.guards_in_place for said in check()] == []


def test_parts_carry_a_share_of_what_is_planned_and_the_last_settles_it(books, batch):
    # 27.20 over ten planned is 2.72 each; eight good in the end make it 3.40 each.
    books.finish(batch, good=4, at=day(11), last=False)
    assert values(batch) == [(4, money("10.88"))]
    assert Batch.objects.get(pk=batch.pk).state == "started"
    assert all_agree()

    books.finish(batch, good=4, scrap={"Frosting": 2}, at=day(12))

    assert values(batch) == [(4, money("13.60")), (4, money("13.60"))]
    assert Batch.objects.get(pk=batch.pk).state == "finished"
    assert cost_allocation.unsettled(batch) == 0
    assert all_agree()


def test_what_left_before_the_last_part_makes_a_cost_of_the_period(books, batch):
    (first,) = books.finish(batch, good=4, at=day(11), last=False)
    books.send(first, 1, at=day(11, 12))

    books.finish(batch, good=4, scrap={"Frosting": 2}, at=day(12))

    # The one that left took 2.72; its 0.68 more is a cost of the period.
    assert values(batch) == [(3, money("10.20")), (4, money("13.60"))]
    assert [cost.value for cost in PeriodCost.objects.all()] == [money("0.68")]
    assert all_agree()


def test_seconds_of_the_first_part_carry_nothing_once_good_ones_came(books, batch):
    books.finish(batch, seconds=3, at=day(11), last=False)
    books.finish(batch, good=7, at=day(12))

    assert values(batch) == [(3, 0), (7, money("27.20"))]


def test_the_last_part_is_taken_back_and_finished_anew(books, batch):
    books.finish(batch, good=4, at=day(11), last=False)
    books.finish(batch, good=6, at=day(12))

    books.undo(batch)
    assert (Batch.objects.get(pk=batch.pk).state, values(batch)[0]) == ("started", (4, money("10.88")))
    books.finish(batch, good=5, scrap={"Frosting": 1}, at=day(12))

    standing = Outcome.objects.filter(batch=batch).standing().exclude(lot=None)
    assert sum(outcome.lot.value for outcome in standing) == money("27.20")
    assert all_agree()


def test_the_first_part_is_taken_back_too(books, batch):
    books.finish(batch, good=4, at=day(11), last=False)

    books.undo(batch)

    assert not Outcome.objects.filter(batch=batch).standing().exists()
    with refused(BatchError, "is not finished"):
        books.undo(batch)


def test_recovered_melt_takes_its_share_by_weight_of_what_was_weighed(books, batch):
    # 17.20 was weighed into the pot, 1,000 g of it: 100 g recovered are worth 1.72; nine good carry 25.48.
    melt = books.item("Cedar melt", kind="wax", made_here=True)

    books.finish(batch, good=9, recovered=[Recovered(melt, grams(100))])

    assert values(batch) == [(9, money("25.48")), (grams(100), money("1.72"))]
    recovered = Lot.objects.get(item=melt)
    assert (recovered.ready_on, recovered.awaits_release, recovered.outcome.result) == (None, False, "melt")
    assert all_agree()


def test_melt_goes_back_only_as_an_item_that_is_made_here_by_weight(books, batch):
    for item in (books.item("wax"), books.item("wick"), batch.item):
        with refused(BatchError, "made here by weight"):
            finishing.finish(
                batch.pk,
                finishing.Result(9, recovered=[Recovered(item, 100)]),
                signature=books.sign(),
            )


def test_samples_kept_leave_at_once_with_their_value(books, batch):
    books.finish(batch, good=10, retained=2, at=day(12))

    assert values(batch) == [(8, money("21.76"))]  # 2.72 each
    with refused(BatchError, "there are not as many"):
        other = books.plan(books.candle("Other"), 2)
        finishing.finish(other.pk, finishing.Result(2, retained=3), signature=books.sign(), without=True)


def test_undoing_puts_the_samples_back_first(books, batch):
    books.finish(batch, good=10, retained=2, at=day(12))

    books.undo(batch)

    assert values(batch) == [(0, 0)]
    assert all_agree()


def test_units_to_be_melted_again_make_no_lot_and_carry_nothing(books, batch):
    books.finish(batch, good=8, rework=2)

    assert values(batch) == [(8, money("27.20"))]
    rework = Outcome.objects.get(batch=batch, result="rework")
    assert (rework.quantity, rework.lot) == (2, None)


def test_a_run_given_up_keeps_what_was_drawn_as_lost_and_says_why(books, batch):
    melt = books.item("Cedar melt", kind="wax", made_here=True)

    given_up = finishing.abandon(
        batch.pk, [Recovered(melt, grams(500))], signature=books.sign(reason="The pot scorched")
    )

    assert (given_up.state, given_up.note) == ("abandoned", "Given up: The pot scorched")
    assert values(batch) == [(grams(500), money("8.60"))]  # half of the 17.20 weighed
    assert all_agree()
    with refused(BatchError, "given up"):
        books.draw_into(batch, (Lot.objects.get(item__name="wax"), "1 g"))


def test_a_run_given_up_is_taken_up_again(books, batch):
    finishing.abandon(batch.pk, signature=books.sign(reason="No power"))
    assert all_agree()

    finishing.undo_finish(batch.pk, signature=books.sign(reason="It came back"))
    books.finish(batch, good=10)

    assert values(batch) == [(10, money("27.20"))]


def test_an_untouched_run_is_called_off_and_one_that_yielded_is_finished(books, batch):
    untouched = books.plan(books.candle("Other"), 2)
    with refused(BatchError, "Call it off instead"):
        finishing.abandon(untouched.pk, signature=books.sign(reason="x"))
    books.finish(batch, good=4, at=day(11), last=False)
    with refused(BatchError, "came out already"):
        finishing.abandon(batch.pk, signature=books.sign(reason="x"))


def test_a_draw_put_right_between_the_parts_is_settled_by_the_last(books, batch):
    books.finish(batch, good=4, at=day(11), last=False)
    draw = batch.draws.get(line__item__name="fragrance")
    books.correct(draw.movement.posting, (draw.movement.lot, "90 g"))  # 1.00 more
    assert all_agree()

    books.finish(batch, good=6, at=day(12))

    assert values(batch) == [(4, money("11.28")), (6, money("16.92"))]
    assert all_agree()


def test_a_later_part_that_was_sold_is_not_taken_back(books, batch):
    books.finish(batch, good=4, at=day(11), last=False)
    (lot,) = books.finish(batch, seconds=1, at=day(11, 11), last=False)
    books.send(lot, 1)
    with refused(CannotReverse, "was used since"):
        books.undo(batch)


def test_finished_goods_wait_for_somebody_to_look_at_them(books, batch):
    books.approve(batch.version)
    (lot,) = books.finish(batch, good=10, at=day(12), release=False)
    with refused(LotNotUsable, "waits to be looked at and released"):
        books.send(lot, 1)

    release = books.release(lot, note="Ten of ten looked at")

    assert (release.by, release.note) == (books.by, "Ten of ten looked at")
    assert books.send(lot, 1)


def test_nothing_is_released_before_its_cure_or_unseen(books):
    version = books.candle(cure_days=7)
    batch = books.plan(version, 10)
    (lot,) = books.finish(batch, good=10, without=True, at=NOW, release=False)
    with refused(CannotRelease, "cures until 27 Mar 2026"):
        books.release(lot)
    Lot.objects.filter(pk=lot.pk).update(ready_on=TODAY)
    with refused(CannotRelease, "tick that both are right"):
        books.release(lot, warning_on=False)
    holding.hold(lot.pk, signature=books.sign(reason="soot"))
    with refused(CannotRelease, "is on hold"):
        books.release(lot)
    holding.release(lot.pk, signature=books.sign(reason="wiped"))
    books.release(lot)
    with refused(holding.AlreadySo, "released already"):
        books.release(lot)


def test_a_run_that_only_made_scrap_is_finished(books, batch):
    books.finish(batch, scrap={"Cracking": 10})

    assert (Batch.objects.get(pk=batch.pk).state, plans.drawn_by_line(batch) != {}) == ("finished", True)
    assert all_agree()
