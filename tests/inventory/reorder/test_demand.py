"""Use in the past: days without use counted, mean and spread, trend and season; and how long deliveries take.

Figures are worked out by hand; the spread is held against the standard library's.
"""

from fractions import Fraction
from statistics import mean, stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.purchasing.lead_time import lead_time
from inventory.replenishment.demand import Trend, season, summary, trend

TODAY = 1_000


def past(used, *, window=10, since=0):
    return summary(used, today=TODAY, window=window, known_since=since)


def test_days_on_which_nothing_was_used_count():
    # 30 and 10 on two of ten days: 4 a day; squares 900 + 100, less 10 × 16, over 9: √(840 ÷ 9) = 9.66.
    found = past({991: 30, 999: 10})

    assert (found.rate, found.uses, found.days) == (4, 2, 10)
    assert found.sd == pytest.approx(9.6609, abs=1e-4)


def test_today_and_what_lies_before_the_window_are_left_out():
    assert past({989: 7, 990: 30, 1_000: 50}).used == 30


def test_an_item_counts_from_its_first_day():
    found = past({998: 8}, since=996)
    assert (found.days, found.rate, found.wanted_days) == (4, 2, 10)
    assert past({}, since=TODAY).days == 0
    assert past({}, since=None).rate == 0


def test_little_history_says_so():
    assert past({998: 8, 999: 8}, window=90).is_little
    assert not past(dict.fromkeys(range(950, 1000, 10), 8), window=90).is_little


def test_use_in_lumps_goes_below_a_mark_by_half_a_lump_on_average():
    # One size: anything from nothing to all of it, so half, spread over its root of a twelfth.
    found = past(dict.fromkeys(range(910, 1000, 10), 900), window=90)
    assert found.is_lumpy
    assert (found.below, found.below_sd) == (pytest.approx(450), pytest.approx(900 / 12**0.5))
    # Two sizes: the larger is met more often. (4 × 100² + 4 × 300²) ÷ 2 × 1,600 = 125.
    both = past({day: 100 if day % 20 else 300 for day in range(920, 1000, 10)}, window=90)
    assert both.below == pytest.approx(125)


def test_even_use_and_too_little_history_are_not_taken_for_lumps():
    assert not past(dict.fromkeys(range(910, 1000), 10), window=90).is_lumpy
    assert not past({950: 900, 970: 900, 990: 900}, window=90).is_lumpy
    assert not past({}, window=90).is_lumpy


@given(st.lists(st.integers(0, 10**12), min_size=2, max_size=60))
def test_mean_and_spread_agree_with_the_standard_library(daily):
    used = {TODAY - 1 - back: amount for back, amount in enumerate(daily)}
    found = past(used, window=len(daily))

    assert found.rate == mean(map(Fraction, daily))
    assert found.sd == pytest.approx(stdev(daily), rel=1e-9, abs=1e-6)


def weekly(sums):
    """One use in the middle of each week up to yesterday."""
    return {TODAY - 7 * (len(sums) - place) + 3: amount for place, amount in enumerate(sums)}


@pytest.mark.parametrize(
    ("sums", "word"),
    [
        ([10, 11, 12, 13, 14, 15, 16, 17], "rising"),
        ([17, 16, 15, 14, 13, 12, 11, 10], "falling"),
        ([10, 10, 10, 10, 10, 10, 10, 10], "steady"),
        ([40, 0, 35, 5, 0, 45, 0, 42], "steady"),
        ([10, 20, 30, 40, 50], "unknown"),
        ([0, 0, 0, 0, 0, 30, 0, 30], "unknown"),
    ],
)
def test_a_trend_is_told_where_it_stands_out(sums, word):
    assert trend(weekly(sums), TODAY - 7 * len(sums), TODAY).word == word


def test_a_trend_in_words():
    # One more each week on a mean of 13.5: 4 ÷ 13.5 = 30 % in four weeks.
    found = trend(weekly([10, 11, 12, 13, 14, 15, 16, 17]), TODAY - 56, TODAY)
    assert found.sentence == "rising, by about 30\N{NO-BREAK SPACE}% in four weeks"
    assert Trend("steady").sentence.startswith("no trend")


def last_year(same, before=10, *, window=56):
    """`before` on each of the days before the same weeks of last year, `same` on each of the four weeks after."""
    then = TODAY - 364
    used = {then - back: before for back in range(1, window + 1)}
    return used | {then + day: same for day in range(1, 29)}


def factors(used, **given):
    return season(used, **{"today": TODAY, "window": 56, "stretches": 2, "known_since": 0, **given})


def test_a_peak_in_the_same_weeks_of_last_year_is_expected_again():
    assert factors(last_year(18))[0] == Fraction(18, 10)
    assert factors(last_year(60))[0] == 3, "and no more than threefold"
    assert factors(last_year(6))[0] == Fraction(6, 10)


def test_a_season_is_not_read_into_ups_and_downs():
    # 12 to 10 is below a quarter more; 280 at once every four weeks is the same use, only lumpier.
    assert factors(last_year(12), stretches=1) == ()
    lumps = {TODAY - 364 - back: 560 for back in (1, 20, 40, 55)}
    assert factors(lumps | {TODAY - 364 + 5: 560, TODAY - 364 + 6: 560}, stretches=1) == ()


def test_what_four_weeks_are_too_few_to_tell_of_lumps_all_the_coming_ones_may_tell():
    """Four uses of 600 in ninety days and none in the twenty weeks after: by four weeks it is chance, by all together it is
    not. Means of 26.7 and 0, the spread of all 230 days 78.8: 26.7 ÷ (78.8 × √(1/90 + 1/140)) = 2.5."""
    uses = {TODAY - 364 - back: 600 for back in (5, 30, 55, 80)}
    told = {"today": TODAY, "window": 90, "known_since": 0}
    assert season(uses, **told, stretches=1) == ()
    assert season(uses, **told, stretches=5) == (Fraction(1, 4),) * 5
    # The same use going on is no season.
    assert season(uses | {TODAY - 364 + day: 600 for day in range(20, 140, 22)}, **told, stretches=5) == ()


def test_without_a_year_behind_it_an_item_has_no_season():
    assert factors(last_year(30), known_since=TODAY - 365) == ()
    assert factors({TODAY - 364 + day: 30 for day in range(1, 29)}) == ()


def taking(of_item=(), of_supplier=(), offer=None, supplier=None):
    return lead_time(of_item=of_item, of_supplier=of_supplier, offer_says=offer, supplier_says=supplier)


def test_lead_time_of_real_deliveries():
    # 6, 9 and 12 days: 9 on average, a spread of 3.
    found = taking(of_item=[6, 9, 12], of_supplier=[1, 1, 1], offer=20)
    assert (found.mean, found.sd, found.days, found.is_thin) == (9, 3, 9, False)
    assert found.said == "3 deliveries of it"


def test_lead_time_of_the_suppliers_other_orders_where_the_item_has_too_few():
    found = taking(of_item=[30], of_supplier=[6, 7, 9, 30])
    assert (found.mean, found.count) == (13, 4)
    assert "whatever came" in found.said


def test_lead_time_as_stated_where_too_little_was_delivered_and_it_says_so():
    found = taking(of_item=[6, 8], offer=14, supplier=9)
    assert (found.mean, found.sd, found.is_thin, found.is_measured) == (14, 0, True, False)
    assert found.said == "what the offer states; two deliveries, of 6 and 8 days"
    assert taking(supplier=9).said == "what the supplier states"


def test_lead_time_of_one_delivery_says_that_it_is_one():
    found = taking(of_item=[7])
    assert (found.days, found.is_thin) == (7, True)
    assert found.said == "one delivery, which took 7 days only; nothing is stated"
    assert taking() is None


def test_part_of_a_day_is_allowed_for():
    assert taking(of_item=[9, 9, 10]).days == 10
