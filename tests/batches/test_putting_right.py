"""A draw or a finish entered wrongly is put right, and every cost follows. Figures worked by hand."""

import pytest

from batches.planning.plans import BatchError
from batches.production import cost_allocation
from inventory.ledger.books import CannotReverse, LotNotUsable, LotShort
from inventory.models import Commitment, Lot, PeriodCost, Posting
from tests.house import NOW, day, grams, money, refused

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]


def committed(batch):
    return dict(Commitment.objects.filter(source=batch.code).values_list("item__name", "quantity"))


def state(batch):
    batch.refresh_from_db()
    return batch.state


def period():
    return sum(PeriodCost.objects.values_list("value", flat=True))


def test_a_corrected_draw_before_the_finish_is_what_counts(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))

    corrected = books.correct(draws["wax"], (shelf["wax"], "1000 g"))

    assert (corrected.happened_at, corrected.recorded_at, corrected.reason) == (day(10), NOW, "mis-keyed")
    assert books.of(shelf["wax"]) == (grams(9_000), money(45))
    assert sum(draw.value for draw in batch.draws.standing()) == money("29.20")
    (made,) = books.finish(batch, 10)
    assert books.of(made) == (10, money("29.20"))


def test_a_draw_taken_back_whole_is_committed_again(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch)

    assert books.correct(draws["wax"]) is None

    assert committed(batch) == {"wax": grams(920)}
    assert books.of(shelf["wax"]) == (grams(10_000), money(50))


def test_a_draw_corrected_after_the_finish_passes_its_difference_on(books, shelf, version):
    # 1,000 g instead of 920 g of wax: 0.40 more.
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))

    books.correct(draws["wax"], (shelf["wax"], "1000 g"))

    assert books.of(made) == (10, money("29.20"))
    assert (cost_allocation.unsettled(batch), period()) == (0, 0)


@pytest.mark.parametrize(
    ("wax", "here", "gone"),
    [
        # 0.40 more: 6 of 10 are here and take 0.24, the period 0.16.
        ("1000 g", "17.52", "0.16"),
        # 2.10 less (500 g for 920 g): 1.26 less here, 0.84 less for the period.
        ("500 g", "16.02", "-0.84"),
    ],
)
def test_the_share_of_what_was_sent_is_a_cost_of_the_period(books, shelf, version, wax, here, gone):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    sent = books.send(made, 4, at=day(12))
    assert books.of(made) == (6, money("17.28"))

    books.correct(draws["wax"], (shelf["wax"], wax))

    assert books.of(made) == (6, money(here))
    assert period() == money(gone)
    # All that was drawn is here, was sent, or is a cost of the period.
    drawn = sum(draw.value for draw in batch.draws.standing())
    assert drawn == made.value - sum(move.value for move in sent.movements.all()) + period()


def test_two_corrections_pass_on_what_each_changed(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))

    again = books.correct(draws["wax"], (shelf["wax"], "1000 g"))
    books.correct(draws["wick"], (shelf["wick"], 12))
    books.correct(again, (shelf["wax"], "920 g"))

    # 28.80 and two wicks more.
    assert books.of(made) == (10, money(29))
    assert Posting.objects.filter(kind="revaluation").count() == 3


def test_a_correction_to_a_dearer_lot_passes_its_price_on(books, shelf, version):
    dear = books.receive("wax", "1 kg", cost=8)
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))

    books.correct(draws["wax"], (dear, "920 g"))  # 7.36 for 4.60

    assert books.of(made) == (10, money("31.56"))
    assert books.of(shelf["wax"]) == (grams(10_000), money(50))


def test_a_correction_of_a_blend_stays_with_the_blend(books, shelf):
    # 1 kg of blend from 1 kg of wax at 5.00; half of it was used before it was put right to 1.2 kg.
    blend = books.formula("blend", [("wax", "wax_share", 1_000_000)])
    first = books.plan(blend, grams(1_000))
    wrong = books.draw_into(first, (shelf["wax"], "1 kg"), at=day(10))
    (half,) = books.finish(first, grams(1_000), at=day(10))
    second = books.plan(books.formula("tealight", [("blend", "wax_share", 1_000_000)], fill="50 g"), 10)
    books.draw_into(second, (half, "500 g"), at=day(11))
    (made,) = books.finish(second, 10, at=day(11))

    books.correct(wrong, (shelf["wax"], "1.2 kg"))

    # 1.00 more: half to what is left of the blend, half to the period.
    assert (books.of(half), books.of(made)) == ((grams(500), money(3)), (10, money("2.50")))
    assert period() == money("0.50")


def test_a_correction_that_fails_leaves_the_wrong_draw_standing(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch)

    with refused(LotShort, "asked"):
        books.correct(draws["wick"], (shelf["wick"], 101))
    with refused(LotNotUsable, "is wax, not wick"):
        books.correct(draws["wick"], (shelf["wax"], "1 g"))

    assert batch.draws.standing().count() == 4


def test_a_batch_never_draws_what_came_out_of_it(books, shelf):
    # A blend reworked into itself: everything at one instant, so that the times alone would allow it.
    books.receive("blend", "1 kg", cost=7, at=day(1))
    lines = [("wax", "wax_share", 500_000), ("blend", "wax_share", 500_000)]
    batch = books.plan(books.formula("blend", lines), grams(100))
    wrong = books.draw_into(batch, (Lot.objects.get(item__name="blend"), "50 g"), at=day(10))
    books.draw_into(batch, (shelf["wax"], "50 g"), at=day(10))
    (made,) = books.finish(batch, grams(100), at=day(10))

    with refused(LotNotUsable, rf"Lot {made.spaced_code} came out of this batch"):
        books.correct(wrong, (made, "10 g"))

    books.undo(batch)
    with refused(LotNotUsable, "came out of this batch"):
        books.draw_into(batch, (made, "10 g"), found=True)


def test_a_draw_is_corrected_once_and_only_a_draw_is(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch)
    books.correct(draws["wick"], (shelf["wick"], 12))

    with refused(CannotReverse, "reversed before"):
        books.correct(draws["wick"], (shelf["wick"], 13))
    with refused(BatchError, "not a draw of a batch"):
        books.correct(Posting.objects.filter(kind="receipt").first(), (shelf["wick"], 1))


def test_a_finish_entered_wrongly_is_undone_and_entered_again(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)
    wrong_good, wrong_seconds = books.finish(batch, 8, 2)

    books.undo(batch)

    assert (books.of(wrong_good), books.of(wrong_seconds)) == ((0, 0), (0, 0))
    assert (state(batch), batch.finished_at) == ("started", None)
    (made,) = books.finish(batch, 9, scrap={"Underfilled": 1})
    assert books.of(made) == (9, money("28.80"))
    assert [outcome.quantity for outcome in batch.outcomes.standing()] == [9, 1]


def test_undoing_a_finish_takes_its_cost_corrections_back_first(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    again = books.correct(draws["wax"], (shelf["wax"], "1000 g"))
    books.correct(again, (shelf["wax"], "500 g"))

    books.undo(batch)

    assert (books.of(made), period()) == ((0, 0), 0)
    (right,) = books.finish(batch, 10)
    assert books.of(right) == (10, money("26.70"))  # 28.80 less 420 g of wax at 5.00


def test_a_finish_of_which_something_left_is_not_undone(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    sent = books.send(made, 4)
    books.correct(draws["wax"], (shelf["wax"], "1000 g"))

    with refused(CannotReverse, rf"Of lot {made.spaced_code}, 4 was used since"):
        books.undo(batch)

    books.reverse(sent)
    books.undo(batch)
    assert (books.of(made), period()) == ((0, 0), 0)


def test_a_finish_is_not_undone_where_what_left_took_a_correction_along(books, shelf, version):
    # 28.80, then 4.60 more for 1,840 g of wax; nine of ten leave with 30.06. The 3.34 left is less than 4.60.
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    books.correct(draws["wax"], (shelf["wax"], "1840 g"))
    books.send(made, 9)
    assert books.of(made) == (1, money("3.34"))

    with refused(CannotReverse, rf"Of lot {made.spaced_code}, 9 was used since"):
        books.undo(batch)


def test_only_a_finished_batch_is_undone(books, version):
    batch = books.plan(version, 10)

    with refused(BatchError, "not finished"):
        books.undo(batch)
