"""Blends cost what their own batches cost, labour and overhead included, to any depth."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.models import Batch
from batches.production import runs
from costing.actual.batch_cost import COST_READS, cost_of, costs_of
from costing.rates.rates import Rates, set_labour_rate, set_overhead_rate
from inventory.lots import decanting
from inventory.lots.decanting import Jar
from inventory.models import Lot
from tests.house import NOW, TODAY, grams, money

pytestmark = pytest.mark.django_db
SPRING = date(2026, 1, 1)


@pytest.fixture(autouse=True)
def rates(books):
    """20.00 an hour, and half of it again as overhead."""
    set_labour_rate(from_on=SPRING, person=None, per_hour=money(20), by=books.by, now=NOW)
    set_overhead_rate(from_on=SPRING, basis="of_labour", amount=500_000, by=books.by, now=NOW)


def made(books, name, lines, quantity, minutes, lots):
    """A blend of `lots`, worked on for so long; its lot."""
    version = books.formula(name, lines)
    batch = books.plan(version, grams(quantity))
    for lot, amount in lots:
        books.draw_into(batch, (lot, amount))
    work(books, batch, minutes)
    return books.finish(batch, grams(quantity))[0]


def work(books, batch, minutes):
    runs.note_labour(
        batch, person_id=books.by.pk, step="weigh", minutes=minutes, worked_on=TODAY, signature=books.sign()
    )


def cost(batch):
    return cost_of(Batch.objects.get(pk=batch.pk), Rates.read())


def one_of(books, blend):
    """A run of one candle that is nothing but the blend, 100 g of it."""
    name = blend.item.name
    return books.plan(books.formula(f"Candle of {name}", [(name, "wax_share", 1_000_000)], fill="100 g"), 1)


def parts(told):
    return told.job.heads["wax"], told.job.heads["labour"], told.job.heads["overhead"]


def test_labour_and_overhead_pass_through_two_blends_and_a_jar(books):
    # 1 kg of first blend: wax 5.00, 60 minutes = 20.00, overhead 10.00.
    wax = books.receive("wax", "10 kg", cost=50)
    first = made(books, "first", [("wax", "wax_share", 1_000_000)], 1_000, 60, [(wax, "1 kg")])
    # Half of it is decanted, and 400 g of the jar go into 1 kg of second blend with 600 g of wax: 2.00 + 3.00 of material;
    # 8.00 + 4.00 come along; 30 minutes more are 10.00 and 5.00.
    jar = decanting.decant(books.take((first, "500 g")), [Jar(grams(500), "jar 1")], signature=books.sign())[
        0
    ]
    second = made(
        books,
        "second",
        [("wax", "of_melt", 600_000), ("first", "of_melt", 400_000)],
        1_000,
        30,
        [(wax, "600 g"), (jar, "400 g")],
    )
    # 100 g of that: 0.50, (8 + 10) / 10 = 1.80, (4 + 5) / 10 = 0.90.
    batch = one_of(books, second)
    books.draw_into(batch, (second, "100 g"))

    assert parts(cost(batch)) == (money("0.50"), money("1.80"), money("0.90"))
    # A tenth of 30 minutes and of two fifths of 60.
    assert cost(batch).hands_on == 5_400
    assert parts(cost(second.outcome.batch)) == (money(5), money(18), money(9))


def test_a_blend_used_up_passes_on_exactly_what_it_carried(books):
    # 7 minutes at 20.00 are 2.333333; three sevenths and four sevenths of 700 g by draws that divide nothing evenly.
    wax = books.receive("wax", "10 kg", cost=50)
    blend = made(books, "blend", [("wax", "wax_share", 1_000_000)], 700, 7, [(wax, "700 g")])
    batch = one_of(books, blend)
    for amount in ("233 g", "100 g", "67 g", "299 g", "1 g"):
        books.draw_into(batch, (Lot.objects.get(pk=blend.pk), amount))

    own = cost(blend.outcome.batch).job.heads
    assert (own["labour"], own["overhead"]) == (2_333_333, 1_166_666)
    assert parts(cost(batch))[1:] == (2_333_333, 1_166_666)


def test_a_draw_put_right_passes_on_what_was_really_drawn(books):
    wax = books.receive("wax", "10 kg", cost=50)
    blend = made(books, "blend", [("wax", "wax_share", 1_000_000)], 1_000, 60, [(wax, "1 kg")])
    batch = one_of(books, blend)
    wrong = books.draw_into(batch, (blend, "500 g"))
    books.correct(wrong, (blend, "100 g"))

    assert parts(cost(batch))[1:] == (money(2), money(1))


def test_many_runs_of_one_blend_cost_as_many_queries_as_one(books, django_assert_num_queries):
    wax = books.receive("wax", "10 kg", cost=50)
    blend = made(books, "blend", [("wax", "wax_share", 1_000_000)], 1_000, 60, [(wax, "1 kg")])
    version = one_of(books, blend).version

    def read():
        found = list(Batch.objects.filter(version=version).with_product().prefetch_related(*COST_READS))
        return [told.job.heads["labour"] for told in costs_of(found, Rates.read())]

    books.draw_into(Batch.objects.get(version=version), (blend, "100 g"))
    with CaptureQueriesContext(connection) as alone:
        assert read() == [money(2)]
    for _ in range(3):
        books.draw_into(books.plan(version, 1), (Lot.objects.get(pk=blend.pk), "100 g"))
    with django_assert_num_queries(len(alone)):
        assert read() == [money(2)] * 4
