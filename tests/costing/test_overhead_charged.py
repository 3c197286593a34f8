"""Overhead charged to batches in a month is one figure: beside what it came to, and in the cost of goods.

10.00 for each batch and 1.00 for each unit. Applied overhead as in OpenStax, Principles of Accounting Vol. 2, 4.6: what is
charged to work in process counts too. Figures worked by hand.
"""

from datetime import UTC, date, datetime

import pytest
from django.test import Client

from batches.production import finishing
from costing.models import GoodsRule
from costing.rates.rates import set_overhead_paid, set_overhead_rate
from costing.valuation.cost_of_goods import cost_of_goods
from tests.house import NOW, TODAY, day, money

pytestmark = pytest.mark.django_db

JANUARY, FEBRUARY, MARCH = (date(2026, month, 1) for month in (1, 2, 3))


@pytest.fixture
def batches(books, studio):
    """One ended in February and was opened again after that month was closed; in March another ends, one goes on, one
    comes to nothing and one is only planned."""
    for name, basis, amount in (("Rent", "per_batch", 10), ("Jars", "per_unit", 1)):
        set_overhead_rate(name=name, from_on=JANUARY, basis=basis, amount=money(amount), by=books.by, now=NOW)
    wax = books.receive("wax", "1000 g", cost=10, at=datetime(2026, 1, 15, 9, tzinfo=UTC))
    version = books.candle()
    reopened, ended, going_on, lost, _ = (books.plan(version, 4) for _ in range(5))
    in_february = datetime(2026, 2, 20, 9, tzinfo=UTC)
    books.draw_into(reopened, (wax, "100 g"), at=in_february)
    books.finish(reopened, 2, at=in_february, without=True, release=False)
    books.close(date(2026, 2, 28))
    books.undo(reopened)
    books.finish(reopened, 3, at=day(10), without=True, release=False)
    for batch in (ended, lost):
        books.draw_into(batch, (wax, "100 g"), at=day(11))
    books.draw_into(going_on, (wax, "100 g"), at=NOW)
    books.finish(ended, 4, at=day(12), without=True, release=False)
    finishing.abandon(lost.pk, signature=books.sign(day(13), "Too cold"))


def test_both_pages_say_the_same_of_every_month(books, batches):
    # February 10 + 2. March: 10 + 4 of what ended, 10 of what goes on, 10 of what came to nothing, 1 unit more of what
    # was opened again: 35. 30.00 were paid in March, 5.00 too few; nothing was charged in January, for which 7.00 were.
    for month, amount in ((MARCH, 30), (JANUARY, 7)):
        set_overhead_paid(month=month, amount=money(amount), note="", by=books.by, now=NOW)
    browser = Client()
    browser.force_login(books.by, backend="django.contrib.auth.backends.ModelBackend")

    page = browser.get("/costing/variances/?first=2026-01-01&last=2026-03-20")

    assert page.status_code == 200
    assert [(month.first, month.charged, month.paid, month.under) for month in page.context["months"]] == [
        (MARCH, money(35), money(30), -money(5)),
        (FEBRUARY, money(12), None, None),
        (JANUARY, 0, money(7), money(7)),
    ]
    # The one that goes on began on the last of these days; without January's first day January is left out.
    page = browser.get("/costing/variances/?first=2026-01-02&last=2026-03-19")
    assert [(month.first, month.charged) for month in page.context["months"]] == [
        (MARCH, money(25)),
        (FEBRUARY, money(12)),
    ]
    ends = {JANUARY: date(2026, 1, 31), FEBRUARY: date(2026, 2, 28), MARCH: TODAY}
    in_goods = {
        month: cost_of_goods(month, last, GoodsRule(normal_loss_ppm=0)).added.overhead
        for month, last in ends.items()
    }
    assert in_goods == {JANUARY: 0, FEBRUARY: money(12), MARCH: money(35)}
