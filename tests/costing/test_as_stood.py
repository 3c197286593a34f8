"""The ledger as of an instant: lots that were there, when batches ended, work that was known; and the methods beside it.

Figures worked by hand; the methods are those of OpenStax, Principles of Accounting Vol. 1, 10.2 and 10.3.
"""

from datetime import date
from fractions import Fraction

import pytest

from batches.production import runs
from costing.models import GoodsRule
from costing.rates.rates import set_labour_rate, set_overhead_rate
from costing.valuation import ledger_as_of
from costing.valuation.compared import compare
from costing.valuation.goods import goods_at
from costing.valuation.ledger_as_of import Instant
from inventory.lots import moving
from studio.core.days import begin, first_instant_after
from tests.house import FIRST_DAY, NOW, day, grams, money

pytestmark = pytest.mark.django_db

START, LAST = date(2026, 3, 10), date(2026, 3, 14)


@pytest.fixture
def lots(books):
    """Wax of two deliveries, the older one entered last; dye used up in the period, wicks that lie there, a vessel that
    costs more later, fragrance that comes in the period, an additive used up before it."""
    newer = books.receive("wax", "100 g", cost=100, at=day(2))
    older = books.receive("wax", "50 g", cost=100, at=day(1))
    dye = books.receive("dye", "10 g", cost=30)
    wick = books.receive("wick", 10, cost=20)
    vessel = books.receive("vessel", 5, cost=10)
    gone = books.receive("additive", "5 g", cost=5)
    books.draw(gone, "5 g", at=day(9))
    books.draw(newer, "30 g", at=day(5))
    # The first instant of the period counts to it.
    books.draw(newer, "20 g", at=begin(START))
    books.draw(dye, "10 g", at=day(12))
    moving.revalue([(vessel, 5, money(5))], signature=books.sign(day(12)))
    fragrance = books.receive("fragrance", "10 g", cost=40, at=day(12))
    books.draw(fragrance, "5 g", at=day(13))
    # After it.
    books.draw(older, "50 g", at=first_instant_after(LAST))
    return {"older": older, "newer": newer, "dye": dye, "wick": wick, "vessel": vessel}


def test_each_lot_that_was_there_at_the_beginning_the_oldest_first(books, lots):
    found = ledger_as_of.lots_before(Instant(begin(START)))

    assert found == [
        (lots["older"].item_id, grams(50), money(100)),
        (lots["dye"].item_id, grams(10), money(30)),
        (lots["wick"].item_id, 10, money(20)),
        (lots["vessel"].item_id, 5, money(10)),
        (lots["newer"].item_id, grams(70), money(70)),
    ]


def test_every_method_begins_with_what_was_there(books, lots):
    # Wax: 50 g at 2.00 and 70 g at 1.00, 20 g leave: 20.00 by the lot, 40.00 by the first in, 20/120 of 170.00 by both
    # averages. Of 10 g of fragrance for 40.00 half leaves.
    told = {
        row.item.name: [(each.cost, each.left) for each in row.told.values()] for row in compare(START, LAST)
    }

    average = Fraction(money(170) * 20, 120)
    assert told == {
        "dye": [(money(30), 0)] * 4,
        "fragrance": [(money(20), money(20))] * 4,
        "vessel": [(0, money(15))] * 4,
        "wax": [
            (money(20), money(150)),
            (money(40), money(130)),
            (average, money(170) - average),
            (average, money(170) - average),
        ],
        "wick": [(0, money(20))] * 4,
    }


def test_the_day_a_batch_ended_is_the_last_on_which_it_did(books, shelf, version):
    # Overhead of 1.00 a unit until the ninth and of 5.00 since; books closed through the eighth, so that what is opened
    # again then counts from the ninth.
    set_overhead_rate(from_on=FIRST_DAY, basis="per_unit", amount=money(1), by=books.by, now=NOW)
    set_overhead_rate(from_on=date(2026, 3, 10), basis="per_unit", amount=money(5), by=books.by, now=NOW)
    again, once, open_again = (books.plan(version, 2) for _ in range(3))
    for batch, ended in ((again, 6), (once, 8), (open_again, 7)):
        books.draw_into(batch, (shelf["wax"], "184 g"), at=day(5))
        books.finish(batch, 2, at=day(ended), without=True, release=False)
    books.close(date(2026, 3, 8))
    books.undo(again)
    books.undo(open_again)
    books.finish(again, 2, at=day(12), without=True, release=False)

    def ended_on(until):
        return ledger_as_of.ended_on(Instant(first_instant_after(date(2026, 3, until))))

    sixth, seventh, eighth, twelfth = (date(2026, 3, each) for each in (6, 7, 8, 12))
    assert ended_on(5) == {}
    assert ended_on(7) == {again.pk: sixth, open_again.pk: seventh}
    assert ended_on(20) == {again.pk: twelfth, once.pk: eighth, open_again.pk: seventh}
    assert ledger_as_of.over(Instant(NOW)) == {again.pk, once.pk}
    added = goods_at(Instant(NOW), GoodsRule()).in_lots
    assert sorted(each.overhead for each in added.values()) == [money(2), money(10)]


def test_work_that_was_noted_late_is_not_in_an_audit_of_before(books, shelf, version):
    # 30 minutes noted at once, 60 noted a day later for the same day, 15 of the day after: at 60.00 an hour.
    set_labour_rate(from_on=FIRST_DAY, person=None, per_hour=money(60), by=books.by, now=NOW)
    batch, other = books.plan(version, 2), books.plan(version, 2)
    noted = (
        (batch, 30, date(2026, 3, 9), NOW),
        (batch, 60, date(2026, 3, 9), day(21)),
        (other, 15, date(2026, 3, 10), NOW),
    )
    for of, minutes, worked_on, at in noted:
        runs.note_labour(
            of,
            person_id=books.by.pk,
            step="pour",
            minutes=minutes,
            worked_on=worked_on,
            signature=books.sign(at),
        )

    def worked(until, known=None):
        rows = ledger_as_of.labour(Instant(first_instant_after(date(2026, 3, until)), known))
        return sorted((of, minutes) for of, *_, minutes in rows)

    assert worked(8) == []
    assert worked(9) == [(batch.pk, 90)]
    assert worked(10) == [(batch.pk, 90), (other.pk, 15)]
    assert worked(10, known=NOW) == []
    assert worked(10, known=day(21)) == [(batch.pk, 30), (other.pk, 15)]
    assert worked(9, known=day(22)) == [(batch.pk, 90)]
