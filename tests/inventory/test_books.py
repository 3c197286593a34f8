"""What may happen to a lot, and what it is worth afterwards. Figures worked by hand."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.ledger import books as stock
from inventory.ledger.books import CannotReverse, Line, LotNotUsable, LotShort, WrongTime
from inventory.lots import holding, moving
from inventory.lots.moving import Taking
from inventory.models import HoldRecord, Lot, Movement, PeriodCost, Posting
from tests.house import NOW, day, grams, money, refused

pytestmark = pytest.mark.django_db


def lines_of(posting):
    return [(move.kind, move.quantity, move.value) for move in posting.movements.all()]


def test_a_draw_takes_its_share_of_the_cost_along(books):
    pail = books.receive("fragrance", "10 kg", cost="300.00")

    posting = books.draw(pail, "2.5 kg")

    assert books.of(pail) == (grams(7_500), money("225.00"))
    assert lines_of(posting) == [("drawn", -grams(2_500), -money("75.00"))]


def test_a_lot_drawn_to_nothing_leaves_no_value_behind(books):
    # 10.00 over three thirds: 3.333333, then half of 6.666667 half to even is 3.333334, and what is left.
    lot = books.receive("wick", 3, cost=10)

    values = [lines_of(books.draw(lot, 1))[0][2] for _ in range(3)]

    assert values == [-3_333_333, -3_333_334, -3_333_333]
    assert books.of(lot) == (0, 0)


def test_a_half_millionth_goes_to_the_even_one(books, sign):
    # A lot of 2 worth 0.000005: half is 2.5 millionths, which goes to 2, and the last takes 3.
    lot = books.receive("wick", 2, cost="0.000005")

    assert [lines_of(books.draw(lot, 1))[0][2] for _ in range(2)] == [-2, -3]


def test_one_posting_may_take_from_a_lot_twice(books, sign):
    lot = books.receive("wick", 10, cost=10)

    posting = moving.draw([Taking(lot.pk, 4), Taking(lot.pk, 6)], signature=sign())

    assert lines_of(posting) == [("drawn", -4, -money(4)), ("drawn", -6, -money(6))]
    assert books.of(lot) == (0, 0)


def test_a_lot_never_goes_below_nothing(books):
    lot = books.receive("fragrance", "120 g", cost=6)

    with refused(
        LotShort, rf"Lot {lot.spaced_code} holds 120\sg by the books; 128\sg was asked of it"
    ) as caught:
        books.draw(lot, "128 g")

    assert (caught.value.short, caught.value.asked, caught.value.lot_id) == (grams(8), grams(128), lot.pk)


def test_a_posting_of_several_lots_is_whole_or_not_at_all(books, sign):
    full, short = books.receive("wick", 100, cost=10), books.receive("wick", 5, cost=1)

    with refused(LotShort, short.spaced_code):
        moving.draw([Taking(full.pk, 50), Taking(short.pk, 6)], signature=sign())


def test_together_two_lines_of_one_lot_cannot_take_more_than_it_holds(books, sign):
    lot = books.receive("wick", 10, cost=1)

    with refused(LotShort, "holds 4 by the books; 5 was asked"):
        moving.draw([Taking(lot.pk, 6), Taking(lot.pk, 5)], signature=sign())


def test_what_the_scale_found_beyond_the_books_is_booked_and_flagged(books):
    jar = books.receive("fragrance", "120 g", cost=6)

    posting = books.draw(jar, "128 g", found=True)

    assert lines_of(posting) == [("found", grams(8), 0), ("drawn", -grams(128), -money(6))]
    assert books.of(jar) == (0, 0)
    assert list(Posting.objects.to_review()) == [posting]


def test_an_empty_lot_may_be_found_to_hold_something(books):
    jar = books.receive("fragrance", "120 g", cost=6)
    books.draw(jar, "120 g")

    assert lines_of(books.draw(jar, "3 g", found=True)) == [("found", grams(3), 0), ("drawn", -grams(3), 0)]


def test_nothing_is_found_where_the_lot_holds_enough(books):
    jar = books.receive("fragrance", "120 g", cost=6)

    assert lines_of(books.draw(jar, "120 g", found=True)) == [("drawn", -grams(120), -money(6))]
    assert not Posting.objects.to_review().exists()


@pytest.mark.parametrize("quantity", [0, -5])
def test_a_draw_or_a_dispatch_is_of_something(books, quantity):
    lot = books.receive("wick", 10, cost=10)

    with refused(stock.BookError, "above zero"):
        books.draw(lot, quantity)
    with refused(stock.BookError, "above zero"):
        books.send(lot, quantity)


def test_a_held_lot_is_not_used_until_it_is_released(books, sign):
    lot = books.receive("fragrance", "1 kg", cost=30)
    holding.hold(lot.pk, signature=sign(reason="smells of solvent"))

    with refused(LotNotUsable, "is on hold. Choose another lot, release it"):
        books.draw(lot, "10 g")
    with refused(LotNotUsable, "is on hold"):
        books.send(lot, "10 g")

    holding.release(lot.pk, signature=sign(reason="supplier's test is good"))
    books.draw(lot, "10 g")
    told = [(record.held, record.reason, record.by) for record in HoldRecord.objects.order_by("pk")]
    assert told == [(True, "smells of solvent", books.by), (False, "supplier's test is good", books.by)]


def test_a_lot_is_held_once_and_released_once(books, sign):
    lot = books.receive("fragrance", "1 kg")

    with refused(holding.AlreadySo, "released already"):
        holding.release(lot.pk, signature=sign(reason="again"))
    holding.hold(lot.pk, signature=sign(reason="recall notice"))
    with refused(holding.AlreadySo, "on hold already"):
        holding.hold(lot.pk, signature=sign(reason="again"))


def test_a_lot_is_good_on_the_day_it_expires_and_not_after(books):
    last_day = books.receive("fragrance", "1 kg", expires_on=NOW.date())
    over = books.receive("fragrance", "1 kg", expires_on=date(2026, 3, 19))

    books.draw(last_day, "10 g")
    with refused(LotNotUsable, "expired on 19 Mar 2026"):
        books.draw(over, "10 g")
    # The day that counts is the day it was used.
    books.draw(over, "10 g", at=day(19))


def test_the_day_of_use_is_the_day_on_the_studio_s_clock(books, settings):
    settings.TIME_ZONE = "America/New_York"
    lot = books.receive("fragrance", "1 kg", expires_on=date(2026, 3, 18))

    books.draw(lot, "1 g", at=datetime(2026, 3, 19, 3, 59, tzinfo=UTC))  # 23:59 on the 18th
    with refused(LotNotUsable, "expired"):
        books.draw(lot, "1 g", at=datetime(2026, 3, 19, 4, 0, tzinfo=UTC))


def test_a_lot_that_cures_waits(books):
    lot = books.receive("vessel", 10)
    Lot.objects.filter(pk=lot.pk).update(ready_on=date(2026, 3, 21))

    with refused(LotNotUsable, "cures until 21 Mar 2026"):
        books.send(lot, 1)
    Lot.objects.filter(pk=lot.pk).update(ready_on=NOW.date())
    books.send(lot, 1)


def test_nothing_happens_to_a_lot_before_it_arrived(books):
    lot = books.receive("wax", "1 kg", at=day(5))

    with refused(WrongTime, "arrived on 05 Mar 2026, 09:00"):
        books.draw(lot, "1 g", at=day(5) - timedelta(microseconds=1))
    books.draw(lot, "1 g", at=day(5))


def test_nothing_happens_after_now(books, sign):
    lot = books.receive("wax", "1 kg")

    with refused(WrongTime, "lies in the future"):
        moving.draw([Taking(lot.pk, 1)], signature=sign(at=NOW + timedelta(seconds=1)))


def test_a_back_dated_draw_may_not_take_what_came_only_later(books, sign):
    lot = books.receive("wick", 10, cost=10, at=day(1))
    books.draw(lot, 8, at=day(3))
    stock.post(Posting.Kind.RECEIPT, sign(at=day(10)), [Line(lot.pk, Movement.Kind.FOUND, 5, 0)])

    with refused(WrongTime, "below nothing on 04 Mar 2026, 09:00"):
        books.draw(lot, 3, at=day(4))
    books.draw(lot, 2, at=day(4))
    books.draw(lot, 5, at=day(10))


def test_a_draw_may_be_written_up_late(books):
    lot = books.receive("wick", 10, cost=10, at=day(1))
    books.draw(lot, 4, at=day(9))

    posting = books.draw(lot, 6, at=day(3))

    assert (posting.happened_at, posting.recorded_at) == (day(3), NOW)
    assert books.of(lot) == (0, 0)


def test_a_lot_that_is_not_there_is_said_so(books, sign):
    with refused(stock.BookError, "no longer there"):
        moving.draw([Taking(987_654, 1)], signature=sign())


def test_a_reversal_is_the_mirror_at_the_time_of_the_event(books):
    lot = books.receive("wick", 3, cost=10)
    posting = books.draw(lot, 2, at=day(9))

    reversal = books.reverse(posting)

    assert lines_of(reversal) == [("drawn", 2, 6_666_667)]
    assert (reversal.happened_at, reversal.recorded_at, reversal.reason) == (day(9), NOW, "mis-keyed")
    assert reversal.reverses == posting
    assert books.of(lot) == (3, money(10))


def test_a_reversed_draw_that_had_found_something_takes_that_back_too(books):
    jar = books.receive("fragrance", "120 g", cost=6)
    posting = books.draw(jar, "128 g", found=True)

    reversal = books.reverse(posting)

    assert lines_of(reversal) == [("drawn", grams(128), money(6)), ("found", -grams(8), 0)]
    assert books.of(jar) == (grams(120), money(6))
    assert not Posting.objects.to_review().exists()


def test_draws_reversed_in_any_order_give_back_what_they_took(books):
    lot = books.receive("wick", 7, cost=10)
    postings = [books.draw(lot, 3), books.draw(lot, 3), books.draw(lot, 1)]

    for posting in (postings[1], postings[2], postings[0]):
        books.reverse(posting)

    assert books.of(lot) == (7, money(10))


def test_a_posting_is_reversed_once(books):
    lot = books.receive("wick", 10, cost=10)
    posting = books.draw(lot, 4)
    reversal = books.reverse(posting)

    with refused(CannotReverse, "reversed before"):
        books.reverse(posting)
    with refused(CannotReverse, "A reversal is not reversed"):
        books.reverse(reversal)


def test_a_receipt_of_which_something_was_used_is_kept_and_says_why(books):
    lot = books.receive("wick", 10, cost=10)
    receipt = lot.movements.get().posting
    draw = books.draw(lot, 4)

    with refused(CannotReverse, rf"Of lot {lot.spaced_code}, 4 was used since. Reverse what used it first"):
        books.reverse(receipt)

    books.reverse(draw)
    books.reverse(receipt)
    assert books.of(lot) == (0, 0)


def test_a_receipt_whose_cost_was_corrected_is_kept_and_says_why(books, sign):
    lot = books.receive("vessel", 10, cost=10)
    correction = moving.revalue([(lot, 10, money(2))], signature=sign())

    with refused(CannotReverse, "reverse that correction first"):
        books.reverse(lot.movements.first().posting)

    books.reverse(correction)
    books.reverse(lot.movements.first().posting)
    assert books.of(lot) == (0, 0)


def test_a_reversed_dispatch_comes_back(books):
    lot = books.receive("vessel", 10, cost=10)

    books.reverse(books.send(lot, 4))

    assert books.of(lot) == (10, money(10))


def test_a_correction_of_cost_goes_to_what_is_here_and_the_rest_to_the_period(books, sign):
    # 3.00 more on a lot that came with 10, of which 4 are left: 1.20 to the lot, 1.80 to the period.
    lot = books.receive("vessel", 10, cost=20)
    books.draw(lot, 6)

    posting = moving.revalue([(lot, 10, money(3))], signature=sign())

    assert books.of(lot) == (4, money("9.20"))
    assert lines_of(posting) == [("revalued", 0, money("1.20"))]
    assert [(cost.lot, cost.value) for cost in PeriodCost.objects.all()] == [(lot, money("1.80"))]


def test_a_correction_never_takes_a_lot_below_worthless(books, sign):
    # 4 of 10 left, worth 8.00; 25.00 less would take 10.00 of it: 8.00 here, 17.00 from the period.
    lot = books.receive("vessel", 10, cost=20)
    books.draw(lot, 6)

    moving.revalue([(lot, 10, -money(25))], signature=sign())

    assert books.of(lot) == (4, 0)
    assert PeriodCost.objects.get().value == -money(17)


def test_a_correction_of_a_lot_that_has_gone_is_a_cost_of_the_period(books, sign):
    lot = books.receive("vessel", 10, cost=20)
    books.draw(lot, 10)

    posting = moving.revalue([(lot, 10, money(3))], signature=sign())

    assert (books.of(lot), lines_of(posting)) == ((0, 0), [])
    assert PeriodCost.objects.get().value == money(3)


def test_a_reversed_correction_takes_back_both_of_its_parts(books, sign):
    lot = books.receive("vessel", 10, cost=20)
    books.draw(lot, 6)

    books.reverse(moving.revalue([(lot, 10, money(3))], signature=sign()))

    assert books.of(lot) == (4, money(8))
    assert sum(PeriodCost.objects.values_list("value", flat=True)) == 0


@given(st.lists(st.integers(1, 10**9), min_size=1, max_size=8), st.integers(0, 10**12), st.integers(0, 10**9))
def test_parts_of_a_lot_are_worth_what_it_was_to_the_last_millionth(parts, value, rest):
    # No database: the same steps on a lot in memory.
    lot = Lot(pk=1, code="L00014", on_hand=sum(parts) + rest, value=value)

    moves = stock._apply({1: lot}, [Line(1, Movement.Kind.DRAWN, -part) for part in parts], book_found=False)

    assert lot.value - sum(move.value for move in moves) == value
    assert lot.value >= 0
    assert lot.on_hand == rest
    assert rest or lot.value == 0
