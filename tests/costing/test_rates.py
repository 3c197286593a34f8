"""Rates by person, task and rule, each from a day on; none of them rewrites what was."""

from datetime import date, timedelta
from fractions import Fraction

import pytest

from batches.models import Batch
from batches.production import runs
from costing.actual.batch_cost import cost_of
from costing.model.job_cost import rate_at_capacity, split_spoilage, under_applied
from costing.models import LabourRate, OverheadRate, WorkStandard
from costing.rates.rates import RateError, Rates, set_labour_rate, set_overhead_rate
from costing.rates.work_standards import set_work_standard
from tests.house import NOW, TODAY, day, grams, money

JANUARY, MARCH = date(2026, 1, 1), date(2026, 3, 1)
YESTERDAY = NOW - timedelta(days=1)


# Arithmetic


def test_published_overhead_is_under_and_over_applied():
    # OpenStax, Principles of Accounting Vol. 2, 4.6, read: actual 256,500, applied 250,000: 6,500 under; actual
    # 248,000: 2,000 over. Exact.
    assert under_applied(money(256_500), money(250_000)) == money(6_500)
    assert under_applied(money(248_000), money(250_000)) == -money(2_000)


@pytest.mark.parametrize(
    ("capacity", "rate"),
    [
        # The same, 4.4, inputs read, answers derived: 750,000 over 60,000 labour hours, 100,000 machine hours.
        (60_000, "12.50"),
        (100_000, "7.50"),
    ],
)
def test_a_published_overhead_rate(capacity, rate):
    assert rate_at_capacity(money(750_000), capacity) == money(rate)


def test_published_spoilage_is_split_into_normal_and_abnormal():
    # gaodun.com q/306i75, read: 550 made for 2,200 are 4.00 each; 500 good, 30 normal, 20 abnormal. The good carry
    # 530 × 4 = 2,120, abnormal is 80 (derived). Exact.
    split = split_spoilage(money(2_200), good=500, lost=50, normal=30)

    assert (split.carried, split.normal, split.abnormal) == (money(2_120), money(120), money(80))
    assert Fraction(split.carried, 500) == money("4.24")


@pytest.mark.parametrize(("good", "lost", "normal", "abnormal"), [(10, 1, 3, 0), (0, 5, 3, 12), (0, 0, 0, 0)])
def test_no_more_is_normal_than_was_lost_and_nothing_where_all_was(good, lost, normal, abnormal):
    assert split_spoilage(money(12), good=good, lost=lost, normal=normal).abnormal == money(abnormal)


def test_capacity_is_above_nothing():
    with pytest.raises(ValueError, match="above zero"):
        rate_at_capacity(1, 0)


# Rates


@pytest.fixture
def rate(books):
    def set_rate(per_hour, on=JANUARY, **more):
        signed = {"by": books.by, "now": NOW} | more
        return set_labour_rate(
            from_on=on, person=signed.pop("person", None), per_hour=money(per_hour), **signed
        )

    return set_rate


@pytest.fixture
def rule(books):
    def set_rule(name, basis, amount, on=JANUARY, now=NOW):
        return set_overhead_rate(from_on=on, name=name, basis=basis, amount=amount, by=books.by, now=now)

    return set_rule


@pytest.mark.django_db
def test_the_closest_rate_counts(books, maker, rate):
    rate(20)
    rate(18, task="label")
    rate(25, person=maker)
    rate(30, person=maker, task="finish")
    told = Rates.read()

    assert [told.per_hour(who, TODAY, task) for who, task in (
        (books.by.pk, "pour"), (books.by.pk, "label"), (maker.pk, "label"), (maker.pk, "finish"), (None, "label")
    )] == [money(20), money(18), money(25), money(30), money(18)]  # fmt: skip
    assert told.per_hour(maker.pk, date(2025, 12, 31), "finish") is None


@pytest.mark.django_db
def test_several_rules_hold_and_one_of_a_name_takes_the_place_of_the_other(books, rule):
    # 60 g of melt from one pot, ten units: rent 5.00 for the hour, energy 0.95 a pot and 2.00 a kilogram.
    rule("Rent", "per_batch", money(9))
    rule("rent", "per_labour_hour", money(5), on=MARCH)
    rule("Energy", "per_melt", money("0.95"))
    rule("Gas", "per_kg", money(2))
    rule("Old", "per_unit", money(1))
    rule("Old", "per_unit", 0, on=MARCH)
    batch = books.plan(books.candle(pot_ug=grams(500)), 10)
    books.draw_into(batch, (books.receive("wax", "1 kg", cost=1), "60 g"))
    note(books, batch, 60)

    # Ten of 100 g need two pots of 500 g: 1.90; 0.06 kg: 0.12.
    assert cost_of(Batch.objects.get(), Rates.read()).job.heads["overhead"] == money("7.02")
    assert [rule.name for rule in Rates.read().rules_on(date(2026, 2, 1))] == ["Rent", "Energy", "Gas", "Old"]


@pytest.mark.django_db
def test_a_quiet_month_does_not_make_candles_dearer(books, rule, rate):
    """At normal capacity the rate is what it is; one run in the month is charged as each of twenty would be."""
    rule("Rent", "per_labour_hour", rate_at_capacity(money(306), 45))
    batch = books.plan(books.candle(), 10)
    note(books, batch, 60)

    assert cost_of(Batch.objects.get(), Rates.read()).job.heads["overhead"] == money("6.80")


def note(books, batch, minutes, on=TODAY):
    runs.note_labour(
        batch, person_id=books.by.pk, step="pour", minutes=minutes, worked_on=on, signature=books.sign()
    )


@pytest.mark.django_db
def test_a_blend_bears_no_overhead_by_the_unit(books, rule):
    rule("", "per_unit", money(1))
    batch = books.plan(books.formula("blend", [("wax", "wax_share", 1_000_000)]), grams(500))
    books.draw_into(batch, (books.receive("wax", "1 kg", cost=1), "500 g"))
    books.finish(batch, grams(500))

    assert cost_of(Batch.objects.get(), Rates.read()).job.heads["overhead"] == 0


# The past


@pytest.mark.django_db
def test_a_new_rate_may_not_change_what_was_worked_before(books, rate, maker):
    rate(20, now=YESTERDAY)
    note(books, books.plan(books.candle(), 10), 60, MARCH)

    with pytest.raises(RateError, match="since 01 Mar 2026 would cost otherwise than they did"):
        rate(30, on=MARCH)
    with pytest.raises(RateError):
        rate(30, on=JANUARY, task="pour")
    rate(30, on=date(2026, 3, 2))  # nothing was worked since
    rate(30, on=JANUARY, person=maker)  # who noted nothing
    rate(30, on=TODAY)
    assert LabourRate.objects.count() == 4


@pytest.mark.django_db
def test_the_first_rate_reaches_back_and_a_slip_of_today_can_be_put_right(books, rate):
    note(books, books.plan(books.candle(), 10), 60, MARCH)
    rate(2_050)

    rate("20.50")

    assert Rates.read().per_hour(books.by.pk, MARCH) == money("20.50")


@pytest.mark.django_db
def test_a_new_overhead_rule_may_not_change_what_finished_runs_cost(books, rule):
    batch = books.plan(books.candle(), 10)
    books.draw_into(batch, (books.receive("wick", 10, cost=1), 10), at=day(10, 8))
    books.finish(batch, 10, without=True, at=day(10))
    rule("Rent", "per_batch", money(5), now=YESTERDAY)

    for name in ("Rent", "Energy"):
        with pytest.raises(RateError, match="Runs finished since 01 Mar 2026"):
            rule(name, "per_batch", money(9), on=MARCH)
    rule("Energy", "per_batch", money(9), on=date(2026, 3, 11))
    assert OverheadRate.objects.count() == 2


@pytest.mark.django_db
def test_a_new_standard_may_not_change_what_runs_were_held_against(books):
    version = books.candle()
    books.plan(version, 10, on=date(2026, 3, 10))

    def set_it(on, now=NOW):
        steps = {"pour": (5, 0)}
        return set_work_standard(
            formula=version.formula, from_on=on, steps=steps, spoilage_ppm=None, by=books.by, now=now
        )

    set_it(JANUARY, YESTERDAY)
    with pytest.raises(RateError, match="held against another standard"):
        set_it(MARCH)
    set_it(TODAY)
    assert WorkStandard.objects.count() == 2
