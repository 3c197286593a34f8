"""What a batch cost, by head."""

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from costing.model.job_cost import HEADS, JobCost, Labour, Material, OverheadBasis, OverheadRule, job_cost

UNIT = 1_000_000  # micros in one unit of currency


def money(text):
    return int(Fraction(text) * UNIT)


def materials(*values, head="wax"):
    return [Material(head, money(value)) for value in values]


PER_LABOUR = OverheadRule(OverheadBasis.OF_LABOUR, 2_500_000)  # 2.50 for each 1.00 of labour


def test_a_published_job_sheet_comes_to_its_total():
    # OpenStax, Principles of Accounting Vol. 2, 4.5, read: materials 300 + 2×50 + 60 + 60 + 12×10 + 40×1.50
    # = 700, labour 66, overhead 2.50 per labour dollar = 165, total 931; sold for 2,000, margin 1,069
    # (derived).
    # The hours behind the 66 are ours. Exact.
    drawn = [
        Material("wax", money(300)),
        Material("wick", money(2 * 50)),
        Material("vessel_lid", money(60)),
        Material("fragrance", money(60)),
        Material("vessel_lid", money(12 * 10)),
        Material("label_packaging", money(60)),
    ]
    cost = job_cost(drawn, [Labour(180, money(22))], [PER_LABOUR], good=1, seconds=0, scrap=0)

    assert cost.heads == {
        "wax": money(300),
        "fragrance": money(60),
        "colour_additives": 0,
        "wick": money(100),
        "vessel_lid": money(180),
        "label_packaging": money(60),
        "labour": money(66),
        "overhead": money(165),
    }
    assert (cost.total, cost.per_good_unit) == (money(931), money(931))
    assert money(2_000) - cost.total == money(1_069)


@pytest.mark.parametrize(
    ("material", "labour", "total"), [(200, 150, 725), (700, 66, 931), (500, 150, 1_025)]
)
def test_three_published_jobs_come_to_their_totals(material, labour, total):
    # OpenStax, Principles of Accounting Vol. 2, 4.5, read: overhead 375 / 165 / 375. Exact.
    cost = job_cost(materials(material), [Labour(60, money(labour))], [PER_LABOUR], 1, 0, 0)

    assert cost.total == money(total)


@pytest.mark.parametrize(
    ("minutes", "rate", "rule", "overhead"),
    [
        # OpenStax, Principles of Accounting Vol. 2, 4.4, read: 250,000 over 100,000 labour dollars is 2.50.
        (6_000_000, 1, PER_LABOUR, 250_000),
        # 4.4, inputs read, answers derived: 750,000 over 60,000 hours is 12.50, over 1,500,000 dollars 0.50.
        (3_600_000, 25, OverheadRule(OverheadBasis.PER_LABOUR_HOUR, 12_500_000), 750_000),
        (3_600_000, 25, OverheadRule(OverheadBasis.OF_LABOUR, 500_000), 750_000),
        # Ours.
        (90, 20, OverheadRule(OverheadBasis.PER_BATCH, 4_250_000), "4.25"),
        (90, 20, OverheadRule(OverheadBasis.PER_UNIT, 150_000), "8.25"),
    ],
)
def test_overhead_follows_its_rule(minutes, rate, rule, overhead):
    cost = job_cost([], [Labour(minutes, money(rate))], [rule], good=50, seconds=2, scrap=3)

    assert cost.heads["overhead"] == money(overhead)


def test_labour_is_minutes_at_the_rate():
    # OpenStax, Principles of Accounting Vol. 2, 7.2, read: 7,050 units at 0.75 h are 5,287.5 h, $105,750.
    cost = job_cost([], [Labour(Fraction(7_050 * 45), money(20))], [], good=7_050, seconds=0, scrap=0)

    assert (cost.heads["labour"], cost.per_good_unit) == (money(105_750), money(15))


def test_lost_units_are_shown_apart_and_the_good_ones_carry_the_whole():
    # Published spoilage case (gaodun.com q/306i75, read): 550 made for 2,200 are 4.00 each, 500 of them good.
    # The 50 lost took 200 (derived). Which part of a loss is normal is for the reader: all of it is shown.
    cost = job_cost(materials(2_200), [], [], good=500, seconds=30, scrap=20)

    assert (cost.total, cost.lost_units_cost) == (money(2_200), money(200))
    assert cost.per_good_unit == money("4.40")
    assert (cost.total - cost.lost_units_cost) / Fraction(500) == money("4.00")


def test_a_batch_with_no_good_unit_has_no_unit_cost_and_is_lost_whole():
    cost = job_cost(materials(12), [], [], good=0, seconds=1, scrap=5)

    assert (cost.per_good_unit, cost.lost_units_cost) == (None, money(12))


def test_a_batch_that_has_yielded_nothing_yet_has_lost_nothing_yet():
    cost = job_cost(materials(12), [], [], good=0, seconds=0, scrap=0)

    assert cost == JobCost(dict.fromkeys(HEADS, 0) | {"wax": money(12)}, money(12), None, 0)


@pytest.mark.parametrize(
    ("minutes", "rate_micros", "cost_micros"),
    [(7, 20_000_000, 2_333_333), (1, 30, 0), (3, 30, 2), (Fraction(1, 2), 60_000_000, 500_000)],
)
def test_labour_is_rounded_once_half_to_even(minutes, rate_micros, cost_micros):
    # 7/60 × 20 = 2.333…; 0.5 and 1.5 micros go to 0 and 2.
    assert job_cost([], [Labour(minutes, rate_micros)], [], 1, 0, 0).total == cost_micros


def test_a_blend_passes_its_labour_on_beside_the_batch_s_own():
    cost = job_cost([Material("labour", money(3))], [Labour(60, money(20))], [PER_LABOUR], 10, 0, 0)

    # Overhead on labour follows the batch's own labour only: the blend brings its own overhead along.
    assert (cost.heads["labour"], cost.heads["overhead"]) == (money(23), money(50))


@pytest.mark.parametrize(
    ("attempt", "sentence"),
    [
        (lambda: job_cost([Material("glue", 1)], [], [], 1, 0, 0), "“glue” is not a cost head"),
        (lambda: job_cost([], [Labour(-1, 1)], [], 1, 0, 0), "Minutes worked"),
        (lambda: job_cost([], [Labour(1, -1)], [], 1, 0, 0), "hourly rate"),
        (lambda: job_cost([], [], [OverheadRule(OverheadBasis.PER_BATCH, -1)], 1, 0, 0), "overhead rate"),
        (lambda: job_cost([], [], [], 1, -1, 0), "cannot be below zero"),
    ],
)
def test_what_cannot_be_is_refused(attempt, sentence):
    with pytest.raises(ValueError, match=sentence):
        attempt()


VALUE = st.integers(0, 10**12)
COUNT = st.integers(0, 500)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.builds(Material, st.sampled_from(HEADS), VALUE), max_size=8),
    st.lists(st.builds(Labour, st.fractions(0, 600, max_denominator=60), VALUE), max_size=5),
    st.lists(st.builds(OverheadRule, st.sampled_from(OverheadBasis), VALUE), max_size=4),
    COUNT, COUNT, COUNT,
)  # fmt: skip
def test_heads_add_up_to_the_total_and_losses_are_within_it(drawn, labour, rules, good, seconds, scrap):
    cost = job_cost(drawn, labour, rules, good, seconds, scrap)

    assert sum(cost.heads.values()) == cost.total
    assert tuple(cost.heads) == HEADS
    assert 0 <= cost.lost_units_cost <= cost.total
    if good:
        assert cost.per_good_unit * good == cost.total
