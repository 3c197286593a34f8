"""Why a run cost other than it should have; the parts add up to the difference, exactly."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.models import Batch
from batches.production import runs
from costing.actual.batch_cost import COST_READS
from costing.rates.rates import Rates, set_labour_rate, set_overhead_rate
from costing.variances.batch_variances import FORMULA_READS, variances_of
from costing.variances.variance_text import headline
from costing.variances.variances import (
    PARTS,
    MaterialUse,
    RunFigures,
    TimeUse,
    Variances,
    together,
    variances,
)
from tests.costing.test_standard import set_work
from tests.house import NOW, TODAY, day, money

SPRING = date(2026, 1, 1)


def of_material(*uses, **more):
    return RunFigures(
        made=1, good=1, spoilage_ppm=0, materials=uses, work=(), standard_overhead=0, overhead=0, **more
    )


def test_a_published_material_variance():
    # OpenStax, Principles of Accounting Vol. 2, 8.2, read: standard 0.25 lb at $7, actual 0.50 lb at $9: price $1.00,
    # quantity $1.75, total $2.75, all unfavourable. Exact. In hundredths of a pound.
    told = variances(of_material(MaterialUse("x", "lb", 25, Fraction(money(7), 100), 50, money("4.50"))))

    assert (told.parts["price"], told.parts["usage"]) == (money(1), money("1.75"))
    assert (told.standard, told.actual, told.difference) == (money("1.75"), money("4.50"), money("2.75"))


def test_a_published_bargain():
    # The same, read: 20 lb bought at $6 against $7 is $20 favourable. Exact.
    told = variances(of_material(MaterialUse("x", "lb", 20, Fraction(money(7)), 20, money(120))))

    assert told.parts["price"] == -money(20)


def test_labour_is_split_into_rate_and_time():
    # Ours: 60 minutes at 20.00 were 90 minutes at 24.00: 36.00 for 20.00; time 30 min × 20 = 10.00, rate 90 min × 4 = 6.00.
    work = TimeUse("Pouring", Fraction(60), money(20), 90, money(36))

    assert (work.time, work.rate) == (money(10), money(6))


def test_yield_is_what_more_or_fewer_good_units_make_of_it():
    # Ours: 10 made for 10.00 as they should; one in ten was to be lost, three were: 7 good at 10/9 are 7.777778, so
    # 2.222222 is lost beyond the standard.
    run = RunFigures(
        10, 7, 100_000, (MaterialUse("x", "g", 10, Fraction(money(1)), 10, money(10)),), (), 0, 0
    )

    assert variances(run).parts["yield"] == money(10) - 7_777_778
    assert variances(run).standard == 7_777_778


def test_what_recovered_melt_took_is_not_used():
    told = variances(
        of_material(MaterialUse("x", "g", 10, Fraction(money(1)), 12, money(12)), recovered=money("1.5"))
    )

    assert (told.actual, told.parts["usage"]) == (money("10.5"), money("0.5"))


def test_a_run_that_nothing_came_of_is_all_usage():
    run = RunFigures(0, 0, 0, (MaterialUse("x", "g", 0, Fraction(money(1)), 12, money(12)),), (), 0, 0)

    assert (variances(run).standard, variances(run).parts["usage"]) == (0, money(12))


QUANTITY, VALUE = st.integers(0, 10**13), st.integers(0, 10**11)
EACH = st.none() | st.fractions(0, 10**4, max_denominator=10**6)
MATERIAL = st.builds(MaterialUse, st.just("x"), st.just("g"), QUANTITY, EACH, QUANTITY, VALUE)
WORK = st.builds(
    TimeUse,
    st.just("x"),
    st.fractions(0, 10**4, max_denominator=60),
    st.none() | VALUE,
    st.integers(0, 10**4),
    VALUE,
)
RUN = st.builds(
    RunFigures,
    st.integers(0, 10**10),
    st.integers(0, 10**10),
    st.integers(0, 999_999),
    st.lists(MATERIAL, max_size=4).map(tuple),
    st.lists(WORK, max_size=3).map(tuple),
    VALUE,
    VALUE,
    VALUE,
)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(RUN, max_size=3))
def test_the_parts_add_up_to_the_difference_for_one_run_and_for_many(several):
    told = [variances(run) for run in several]
    whole = together(told)

    for each in (*told, whole):
        assert tuple(each.parts) == PARTS
        assert each.standard + sum(each.parts.values()) == each.actual
    assert whole.actual == sum(
        sum(use.actual for use in (*run.materials, *run.work)) + run.overhead - run.recovered
        for run in several
    )


@pytest.mark.django_db
def test_a_run_from_the_books_is_held_against_its_standard(books):
    # Standard of the day: wax 5.00/kg, fragrance 40.00/kg, wick 0.10, vessel 2.00; 36 s each at 20.00 = 0.20; overhead
    # 1.00 a batch; nothing is to be lost. Ten made, nine good.
    version = books.candle()
    shelf = {
        name: books.receive(name, arrives, cost=cost)
        for name, arrives, cost in (("fragrance", "1 kg", 40), ("wick", 100, 10), ("vessel", 50, 100))
    }
    dear = books.receive("wax", "1 kg", cost=6)
    books.receive("wax", "10 kg", cost=50, at=day(2))
    set_work(books, version, [("pour", 0, 36)], loss=0)
    set_labour_rate(from_on=SPRING, person=None, per_hour=money(20), by=books.by, now=NOW)
    set_labour_rate(from_on=SPRING, person=books.by, per_hour=money(30), by=books.by, now=NOW)
    set_overhead_rate(from_on=SPRING, basis="per_batch", amount=money(1), by=books.by, now=NOW)
    batch = books.plan(version, 10)
    # 1 kg of the wax that cost 6.00 instead of 920 g at 5.00; the rest as it should be.
    for lot, quantity in (
        (dear, "1 kg"),
        (shelf["fragrance"], "80 g"),
        (shelf["wick"], 10),
        (shelf["vessel"], 10),
    ):
        books.draw_into(batch, (lot, quantity))
    runs.note_labour(
        batch, person_id=books.by.pk, step="pour", minutes=12, worked_on=TODAY, signature=books.sign()
    )
    books.finish(batch, 9, scrap={"Sinkhole": 1})

    found = Batch.objects.with_product().prefetch_related(*COST_READS, *FORMULA_READS)
    (run,) = variances_of(list(found), Rates.read())

    # Should: 4.60 + 3.20 + 1.00 + 20.00 + 2.00 + 1.00 = 31.80 for ten, 28.62 for nine.
    # Did: 6.00 + 3.20 + 1.00 + 20.00 + 12 min × 30 = 6.00 + 1.00 = 37.20.
    assert (run.told.standard, run.told.actual) == (money("28.62"), money("37.20"))
    assert run.told.actual == run.cost.job.total
    assert run.told.parts == {
        "price": money(1),  # 1 kg at 6.00 instead of 5.00
        "usage": money("0.40"),  # 80 g at 5.00/kg
        "yield": money("3.18"),
        "labour_rate": money(2),  # 12 min at 10.00 more
        "labour_time": money(2),  # 6 min at 20.00
        "overhead": 0,
    }
    assert run.missing == ()


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ((0, 0, 0), "It cost what it should."),
        ((5, -1, 0), "It cost $4.00 more than it should, mostly price ($5.00 more)."),
        # What pulled the other way by more than the difference is named; a cheap run is not cheap for a dear reason.
        (
            (-15, 0, 9),
            "It cost $6.00 less than it should, mostly price ($15.00 less), against yield ($9.00 more).",
        ),
        (
            (-9, -6, 10),
            "It cost $5.00 less than it should, mostly price ($9.00 less), against yield ($10.00 more).",
        ),
    ],
)
def test_the_headline_names_what_made_the_difference_and_what_pulled_against_it(parts, said):
    told = dict.fromkeys(PARTS, 0) | {
        name: money(part) for name, part in zip(("price", "usage", "yield"), parts, strict=True)
    }
    run = Variances(money(100), money(100) + sum(told.values()), told)

    assert headline(run, "USD") == said
