"""Up to when the books are closed, in words: nothing while they never were, and to the very instant afterwards."""

from datetime import UTC, date, datetime, timedelta

import pytest

from inventory.ledger import books as stock
from inventory.ledger import closing
from inventory.ledger.forms import HappenedField
from tests.house import NOW, day

pytestmark = pytest.mark.django_db

# The books are closed through the tenth: until midnight, on the studio's clock, which here is UTC.
OPENED = datetime(2026, 3, 11, tzinfo=UTC)
INSTANT = timedelta(microseconds=1)


def test_where_the_books_were_never_closed_nothing_is_said_of_it(books):
    assert (closing.latest(), closing.open_from()) == (None, None)
    assert closing.closed_sentence(None) == ""
    assert closing.put_right_when(day(1)) == ""
    assert closing.when_open(day(1)) == day(1)
    assert str(HappenedField().help_text) == "Empty means now."
    for moment in (day(1), NOW):
        stock.check_open(moment)
        stock.check_day_open(moment.date())


def test_the_books_are_open_from_the_first_instant_after_the_day(books):
    before = books.close(date(2026, 3, 4))
    closed = books.close(date(2026, 3, 10))

    assert (closing.latest(), closing.open_from()) == (closed, OPENED)
    assert before.until == datetime(2026, 3, 5, tzinfo=UTC)
    said = "The books are closed up to 10 Mar 2026."
    assert closing.closed_sentence(OPENED) == said
    assert str(HappenedField().help_text) == f"Empty means now. {said}"
    assert closing.put_right_when(OPENED - INSTANT) == (
        f"{said} So this stands at the first moment after, 11 Mar 2026, 00:00; what was closed stays as it was."
    )
    assert closing.put_right_when(OPENED) == ""
    moments = (day(4), OPENED - INSTANT, OPENED, OPENED + INSTANT, NOW)
    assert [closing.when_open(moment) for moment in moments] == [
        OPENED,
        OPENED,
        OPENED,
        OPENED + INSTANT,
        NOW,
    ]


def test_what_is_posted_and_what_is_known_by_its_day_meet_the_same_end(books):
    books.close(date(2026, 3, 10))

    moments = [day(1), OPENED - INSTANT, OPENED, NOW]
    days = [date(2026, 3, 1), date(2026, 3, 10), date(2026, 3, 11), date(2026, 3, 20)]
    for check, closed in ((stock.check_open, moments[:2]), (stock.check_day_open, days[:2])):
        for moment in closed:
            with pytest.raises(stock.BooksClosed, match="closed up to 10 Mar 2026"):
                check(moment)
    for moment, on in zip(moments[2:], days[2:], strict=True):
        stock.check_open(moment)
        stock.check_day_open(on)
