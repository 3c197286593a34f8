"""Two people at one count at the same instant: real threads and real transactions."""

import pytest

from inventory.counting import counting
from inventory.counting.counting import CannotCount, CountedMeanwhile, CountEnded, Look
from inventory.models import Count, Movement, Posting
from tests.house import day, grams
from tests.inventory.test_concurrency import at_once, books_agree

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def wax(books):
    return books.receive("wax", "10 kg", cost="50.00")


def kinds(results):
    return sorted(type(result).__name__ for result in results)


def test_a_count_is_posted_once(books, wax):
    count = books.start_count()
    books.look(count, (wax, "9.9 kg"))

    results = at_once(*[lambda: books.post_count(count)] * 3)

    assert kinds(results) == ["Count", "CountEnded", "CountEnded"]
    assert isinstance(next(each for each in results if isinstance(each, CannotCount)), CountEnded)
    assert Posting.objects.filter(kind="count").count() == 1
    assert Movement.objects.filter(kind="counted").count() == 1
    assert books.of(wax)[0] == grams(9_900)
    assert books_agree()


def test_a_lot_comes_on_one_sheet_only(books, wax):
    results = at_once(*[lambda: books.start_count()] * 3)

    assert kinds(results) == ["CannotCount", "CannotCount", "Count"]
    assert Count.objects.count() == 1


def test_of_two_looks_at_one_lot_the_second_is_told_of_the_first(books, wax):
    count = books.start_count()

    def look(counted):
        return counting.count_lots(count.pk, [Look(wax.pk, grams(counted))], signature=books.sign())

    results = at_once(lambda: look(9_900), lambda: look(9_950))

    assert sum(isinstance(result, CountedMeanwhile) for result in results) == 1
    line = count.lines.get()
    assert line.first_counted is None
    assert line.counted in {grams(9_900), grams(9_950)}


def test_a_draw_while_the_count_is_posted_leaves_both_right(books, wax):
    # 100 g were missing on the 15th; 1 kg is drawn now: 8,900 g are left, whoever comes first.
    count = books.start_count()
    books.look(count, (wax, "9.9 kg"), at=day(15))

    results = at_once(lambda: books.post_count(count), lambda: books.draw(wax, "1 kg"))

    assert kinds(results) == ["Count", "Posting"]
    assert books.of(wax)[0] == grams(8_900)
    assert books_agree()
