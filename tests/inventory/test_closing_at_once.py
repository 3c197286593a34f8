"""A closing while others post, and two closings, at the same instant: real threads and real transactions."""

from threading import Event
from time import sleep

import pytest
from django.db import transaction

from inventory.ledger.books import BooksClosed
from inventory.ledger.closing import CannotClose
from inventory.lots import moving
from inventory.lots.moving import Taking
from inventory.models import Closing, Posting
from studio.core.days import first_instant_after
from tests.house import day, money
from tests.inventory.test_concurrency import at_once, books_agree

pytestmark = pytest.mark.django_db(transaction=True)


def test_nobody_posts_into_a_day_that_somebody_closes_at_that_moment(books, sign):
    # Draws of 1 March and a closing through that day: what was there first is in the closing, the rest is refused.
    wick, then = books.receive("wick", 500, cost=500, at=day(1)), sign(at=day(1))

    def bench():
        done = 0
        for _ in range(12):
            try:
                moving.draw([Taking(wick.pk, 1)], signature=then)
            except BooksClosed:
                break
            done += 1
        return done

    def close():
        sleep(0.05)
        return books.close(day(1).date())

    *drawn, closed = at_once(*[bench] * 5, close)

    (kept,) = closed.stock.all()
    assert (kept.quantity, kept.value) == (500 - sum(drawn), money(500 - sum(drawn)))
    assert (Posting.objects.filter(kind="draw").count(), books.of(wick)[0]) == (sum(drawn), kept.quantity)
    assert books_agree()


def test_a_closing_waits_for_what_is_being_posted_and_keeps_out_what_comes_after(books, sign):
    wick, then = books.receive("wick", 500, cost=500, at=day(1)), sign(at=day(1))
    drawn = Event()

    def draw_slowly():
        with transaction.atomic():
            moving.draw([Taking(wick.pk, 100)], signature=then)
            drawn.set()
            sleep(0.5)  # by now the closing waits

    def close():
        drawn.wait(timeout=20)
        return books.close(day(1).date())

    def draw_late():
        drawn.wait(timeout=20)
        sleep(0.2)  # after the closing began to wait
        return moving.draw([Taking(wick.pk, 1)], signature=then)

    _, closed, late = at_once(draw_slowly, close, draw_late)

    left = books.of(wick)[0]
    assert isinstance(late, BooksClosed) or left == 399
    assert [(kept.quantity, kept.value) for kept in closed.stock.all()] == [(left, money(left))]
    assert books_agree()


@pytest.mark.parametrize("through", [(1, 1), (1, 2)])
def test_the_books_are_closed_further_by_one_of_two(books, through):
    books.receive("wick", 500, cost=500, at=day(1))

    results = at_once(*[lambda each=each: books.close(day(each).date()) for each in through])

    # Through the same day one of them comes too late; through two days the earlier one may.
    closed = [result for result in results if isinstance(result, Closing)]
    late = [result for result in results if isinstance(result, CannotClose)]
    assert len(closed) + len(late) == 2
    assert len({each.until for each in closed}) == len(closed) > 0
    assert max(each.until for each in closed) == max(
        first_instant_after(day(each).date()) for each in through
    )
    assert books_agree()
