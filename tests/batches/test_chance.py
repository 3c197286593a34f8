"""How far apart chance alone would set things: against an independent implementation, and worked out by hand."""

import random
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from batches import chance
from batches.chance import chi_square_tail, crowding, group_test, midranks, rank_test, together, wilson

ONE = "the only stratum"


def of_one(values):
    return [ONE] * len(values)


def noise(seed, count, steps=1_000):
    rng = random.Random(seed)  # noqa: S311
    return [rng.randrange(steps) for _ in range(count)]


def test_figures_that_are_alike_share_the_mean_of_their_ranks():
    assert midranks([3, 1, 4, 1, 5]) == [3, 1.5, 4, 1.5, 5]


@given(st.lists(st.integers(0, 5), min_size=1, max_size=12))
def test_ranks_are_those_of_another_implementation(values):
    assert midranks(values) == list(stats.rankdata(values))


def test_a_rank_correlation_worked_by_hand():
    # The textbook table of IQ and hours of television, from memory: Σd² = 194, so 1 − 6·194/(10·99) = −29/165.
    iq = [86, 97, 99, 100, 101, 103, 106, 110, 112, 113]
    hours = [2, 20, 28, 27, 50, 29, 7, 17, 6, 12]

    assert rank_test(iq, hours, of_one(iq)).apart == pytest.approx(-29 / 165)


@pytest.mark.parametrize(("seed", "steps"), [(1, 1_000), (2, 4), (3, 2)])
def test_rank_correlations_are_those_of_another_implementation(seed, steps):
    first, second = noise(seed, 40, steps), noise(seed + 10, 40, steps)

    assert rank_test(first, second, of_one(first)).apart == pytest.approx(
        stats.spearmanr(first, second).statistic
    )


def test_few_arrangements_are_counted_out():
    # Of 5! = 120 orders of 1 to 5, those with |ρ| ≥ 0.9 are 1 + 4 at either end: 10/120.
    found = rank_test([1, 2, 3, 4, 5], [1, 2, 3, 5, 4], of_one(range(5)))

    assert (found.apart, found.p) == (pytest.approx(0.9), pytest.approx(10 / 120))
    orders = [stats.spearmanr(range(5), order).statistic for order in permutations(range(5))]
    assert sum(abs(each) >= 0.9 - 1e-9 for each in orders) == 10


def test_two_groups_of_yes_and_no_are_fishers_exact_test():
    # Fisher, The Design of Experiments (1935), the lady tasting tea, from memory: 8 cups, 3 of 4 right, 34/70.
    groups = ["milk"] * 4 + ["tea"] * 4
    said = [1, 1, 1, 0, 0, 0, 0, 1]

    found = group_test(groups, said, of_one(said))

    assert found.p == pytest.approx(34 / 70)
    assert found.p == pytest.approx(stats.fisher_exact([[3, 1], [1, 3]]).pvalue)


def test_sampled_shuffles_come_near_the_count_of_all_of_them(monkeypatch):
    # 8 figures have 40,320 orders, more than are counted out; as many draws lie within three deviations of the count.
    first, second = [1, 2, 3, 4, 5, 6, 7, 8], [2, 1, 7, 3, 8, 5, 4, 6]
    reference = stats.permutation_test(
        (np.array(second),),
        lambda order, axis: abs((order - 4.5) @ (np.array(first) - 4.5)),
        permutation_type="pairings",
        alternative="greater",
        n_resamples=50_000,
    ).pvalue

    sampled = rank_test(first, second, of_one(first)).p
    monkeypatch.setattr(chance, "ARRANGEMENTS_AT_MOST", 40_320)
    counted = rank_test(first, second, of_one(first)).p

    assert counted == pytest.approx(reference)
    assert sampled == pytest.approx(counted, rel=3 / chance.HITS_ENOUGH**0.5)


@pytest.mark.parametrize("seed", [4, 5])
def test_shuffling_agrees_with_the_tests_for_many(seed):
    first, second = noise(seed, 60), noise(seed + 50, 60)
    groups = [each % 3 for each in first]
    parts = [
        [other for group, other in zip(groups, second, strict=True) if group == each] for each in range(3)
    ]

    # Sampled to 50 hits, so within a fifth or so; asymptotic at sixty runs.
    assert rank_test(first, second, of_one(first)).p == pytest.approx(
        stats.spearmanr(first, second).pvalue, rel=0.35, abs=0.02
    )
    assert group_test(groups, second, of_one(first)).p == pytest.approx(
        stats.kruskal(*parts).pvalue, rel=0.35, abs=0.02
    )


def test_beyond_some_runs_the_limit_is_used():
    first, second = noise(6, 800, 30), noise(7, 800, 30)
    groups = [each % 4 for each in first]
    parts = [
        [other for group, other in zip(groups, second, strict=True) if group == each] for each in range(4)
    ]

    assert rank_test(first, second, of_one(first)).p == pytest.approx(
        stats.spearmanr(first, second).pvalue, abs=2e-3
    )
    assert group_test(groups, second, of_one(first)).p == pytest.approx(
        stats.kruskal(*parts).pvalue, rel=1e-9
    )


def test_what_sets_strata_apart_is_no_effect():
    # Tins are poured hotter and scrapped more; within either, nothing is known of the heat.
    heat = [60, 61, 62, 63, 64, 65, 80, 81, 82, 83, 84, 85]
    scrap = [1, 3, 2, 3, 1, 2, 11, 13, 12, 13, 11, 12]
    product = ["jar"] * 6 + ["tin"] * 6

    assert rank_test(heat, scrap, of_one(heat)).p < 0.01
    within = rank_test(heat, scrap, product)
    assert within.p > 0.5
    assert abs(within.apart) < 0.2


def test_a_limit_within_strata_agrees_with_shuffling(monkeypatch):
    rng = random.Random(8)  # noqa: S311
    product = [rng.randrange(5) for _ in range(300)]
    heat = [each * 10 + rng.randrange(20) for each in product]
    scrap = [each * 3 + rng.randrange(40) + now / 10 for each, now in zip(product, heat, strict=True)]
    groups = [each % 4 for each in heat]
    shuffled = rank_test(heat, scrap, product).p, group_test(groups, scrap, product).p
    monkeypatch.setattr(chance, "SHUFFLED_AT_MOST", 0)

    limits = rank_test(heat, scrap, product).p, group_test(groups, scrap, product).p

    assert limits == pytest.approx(shuffled, rel=0.3, abs=0.02)


def test_outcomes_are_shuffled_within_their_stratum(monkeypatch):
    # Jars vary in heat and hardly in scrap, tins the other way about: what one has of the other never happens within.
    heat = [1, 2, 3, 10, 11, 12, 6.4, 6.4, 6.4, 6.6, 6.6, 6.6]
    scrap = [6.4, 6.4, 6.4, 6.6, 6.6, 6.6, 1, 2, 3, 10, 11, 12]
    product = ["jar"] * 6 + ["tin"] * 6

    sampled = rank_test(heat, scrap, product).p
    monkeypatch.setattr(chance, "ARRANGEMENTS_AT_MOST", 14_400)
    counted = rank_test(heat, scrap, product).p

    # Of the 20 ways to deal out the jars' scrap and the 20 to part the tins' one lies at either end of both: 2/400.
    assert counted == pytest.approx(2 / 400)
    assert sampled == pytest.approx(counted, abs=0.006)


def test_strata_in_which_the_cause_is_the_same_for_all_say_nothing():
    found = rank_test([1, 2, 3, 7, 7, 7], [1, 2, 3, 9, 8, 7], ["a"] * 3 + ["b"] * 3)

    assert (found.runs, found.apart, found.p) == (3, pytest.approx(1), pytest.approx(2 / 6))
    assert rank_test([7, 7], [1, 2], of_one([7, 7])) == chance.Tested(None, 0.0, 0)
    assert group_test(["x", "y"], [3, 3], of_one([3, 3])).p is None


def test_noise_is_called_a_difference_about_once_in_twenty():
    # Of 200 tests of pure noise at 0.05 ten are expected; more than 22 would happen once in ten thousand.
    found = 0
    for seed in range(200):
        found += rank_test(noise(seed, 20), noise(seed + 999, 20, 4), of_one(range(20))).p < 0.05

    assert 1 <= found <= 22


@pytest.mark.parametrize("freedom", [1, 2, 3, 6, 11])
@pytest.mark.parametrize("figure", [0, 0.3, 4.2, 31.0])
def test_tails_of_chi_square_are_those_of_another_implementation(figure, freedom):
    assert chi_square_tail(figure, freedom) == pytest.approx(stats.chi2.sf(figure, freedom), rel=1e-9)


def test_holm_worked_by_hand():
    # Sorted 0.005, 0.01, 0.03, 0.04: times 4, 3, 2, 1 are 0.02, 0.03, 0.06 and 0.04, which is not below the one before.
    assert together([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert together([0.9, 0.8]) == [1.0, 1.0]
    assert together([]) == []


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_intervals_about_shares(hits, of, low, high):
    # Newcombe 1998, Two-sided confidence intervals for the single proportion, table I, method 3; from memory.
    assert wilson(hits, of) == pytest.approx((low, high), abs=5e-5)
    interval = stats.binomtest(hits, of).proportion_ci(method="wilson")
    assert wilson(hits, of) == pytest.approx((interval.low, interval.high))


def test_units_of_one_run_that_share_their_fate_count_as_one():
    # Ten units each, all or none: the variance of a share is ten times that of units alone, times 4/3 for four runs.
    assert crowding([(10, 10), (0, 10), (10, 10), (0, 10)]) == pytest.approx(10 * 4 / 3)
    # As even as can be: never below one.
    assert crowding([(5, 10), (5, 10), (5, 10)]) == 1
    assert crowding([(3, 10)]) == crowding([(0, 10), (0, 10)]) == crowding([]) == 1
