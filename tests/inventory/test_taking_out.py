"""Stock that leaves or appears outside a batch, each with a reason."""

import pytest

from batches.tracing import trace
from inventory import checks
from inventory.ledger.books import BookError, LotShort
from inventory.lots import holding, write_offs
from inventory.models import Posting
from tests.house import grams, money, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def wax(books):
    return books.receive("wax", "10 kg", cost="50.00")


@pytest.mark.parametrize(
    ("kind", "movement", "word"),
    [
        ("scrap", "scrapped", "Scrapped"),
        ("sample", "sampled", "Sampled"),
        ("sent_back", "sent_back", "Back to the supplier"),
    ],
)
def test_what_is_taken_out_takes_its_cost_along(books, wax, kind, movement, word):
    posting = books.take_out(wax, "2 kg", kind)

    assert books.of(wax) == (grams(8000), money("40.00"))
    assert [(line.kind, line.value) for line in posting.movements.all()] == [(movement, -money("10.00"))]
    assert (posting.kind, posting.reason) == (kind, "Spilled")
    balance = trace.balance_of_lot(wax, at_most_ppm=0)
    assert (dict(balance.went), balance.remainder) == ({word: grams(2000)}, 0)
    books.reverse(posting)
    assert books.of(wax) == (grams(10_000), money("50.00"))


def test_a_lot_on_hold_can_still_be_thrown_away(books, wax):
    holding.hold(wax.pk, signature=books.sign(reason="Wrong melt point"))

    books.take_out(wax, "10 kg", "sent_back")

    assert books.of(wax) == (0, 0)


def test_more_than_there_is_is_refused(books, wax):
    with refused(LotShort, "holds 10,000.g"):
        books.take_out(wax, "11 kg")
    with refused(BookError, "above zero"):
        books.take_out(wax, 0)


def test_what_is_found_was_not_paid_for(books, wax):
    posting = write_offs.find(wax.pk, grams(10_500), signature=books.sign())

    assert books.of(wax) == (grams(10_500), money("50.00"))
    assert posting.movements.get().quantity == grams(500)
    assert trace.balance_of_lot(wax, at_most_ppm=0).explained == (("Found", -grams(500)),)
    # It was said on purpose and with a reason, so nobody needs to look at it.
    assert not Posting.objects.to_review().exists()


def test_found_is_more_than_the_books_hold(books, wax):
    with refused(BookError, "less than the books hold"):
        write_offs.find(wax.pk, grams(9000), signature=books.sign())
    with refused(BookError, "exactly this"):
        write_offs.find(wax.pk, grams(10_000), signature=books.sign())


def test_pounds_keyed_as_kilograms_are_put_right_without_touching_what_was_paid(books):
    # 25 lb entered as 25 kg: 25 lb is 11,339.80925 g (exact: 1 lb = 453.59237 g).
    wax = books.receive("wax", "25 kg", cost="62.25")

    posting = write_offs.put_right(wax.pk, 11_339_809_250, signature=books.sign())

    assert books.of(wax) == (11_339_809_250, money("62.25"))
    balance = trace.balance_of_lot(wax, at_most_ppm=0)
    assert dict(balance.came)["Put right"] == 11_339_809_250 - grams(25_000)
    assert (balance.whole, balance.remainder) == (11_339_809_250, 0)
    books.reverse(posting)
    assert books.of(wax) == (grams(25_000), money("62.25"))
    assert [said for check in checks.CHECKS for said in check()] == []


def test_a_quantity_is_not_put_right_to_nothing(books, wax):
    with refused(BookError, "carry what was paid"):
        write_offs.put_right(wax.pk, 0, signature=books.sign())
    with refused(BookError, "exactly this"):
        write_offs.put_right(wax.pk, grams(10_000), signature=books.sign())
