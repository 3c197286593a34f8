"""Round figures, days and places of a plot; every expected value is worked out by hand."""

from datetime import date
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.web.plots import (
    BOTTOM,
    LEFT,
    PERIODS_AT_MOST,
    RIGHT,
    TOP,
    Scale,
    across,
    day_ticks,
    period_days,
    steps,
    straight,
    ticks,
    upwards,
)


def figures(low, high, **how):
    return [str(figure) for figure in ticks(Fraction(str(low)), Fraction(str(high)), **how)]


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0, 10, ["0", "2", "4", "6", "8", "10"]),
        (0, 11, ["0", "5", "10", "15"]),
        (0, 12.4, ["0", "5", "10", "15"]),
        (0, 4, ["0", "1", "2", "3", "4"]),
        (0, 97, ["0", "20", "40", "60", "80", "100"]),
        (0, 10_160, ["0", "5000", "10000", "15000"]),
        (0, "0.07", ["0", "1/50", "1/25", "3/50", "2/25"]),
        # From 41.9 to 48.3 a step of 2 would need four, from 40 to 50 five.
        ("41.9", "48.3", ["40", "42", "44", "46", "48", "50"]),
        # 18 to 23 are five steps of 1; 17.9 to 23.1 would need seven, so the step is 2.
        (18, 23, ["18", "19", "20", "21", "22", "23"]),
        ("17.9", "23.1", ["16", "18", "20", "22", "24"]),
    ],
)
def test_an_axis_is_named_in_round_figures(low, high, expected):
    assert figures(low, high) == expected


def test_pieces_are_never_named_in_fractions():
    assert figures(0, 3, whole=True) == ["0", "1", "2", "3"]
    assert figures(0, 1, whole=True) == ["0", "1"]
    assert figures(0, 1) == ["0", "1/5", "2/5", "3/5", "4/5", "1"]


def test_where_nothing_moves_an_axis_is_shown_all_the_same():
    assert figures(0, 0) == ["0", "1/5", "2/5", "3/5", "4/5", "1"]
    assert figures(0, 0, whole=True) == ["0", "1"]
    # 20 and a tenth of it: 20 to 22 in steps of 0.5.
    assert figures(20, 20) == ["20", "41/2", "21", "43/2", "22"]


@given(low=st.fractions(min_value=0, max_value=10**9), span=st.fractions(min_value=0, max_value=10**9))
def test_the_figures_enclose_what_is_plotted_in_few_equal_steps(low, span):
    found = ticks(low, low + span)

    assert found[0] <= low <= low + span <= found[-1]
    assert 2 <= len(found) <= 6
    assert len({after - before for before, after in pairwise(found)}) == 1


def named(first, last, **how):
    return [(day.isoformat(), words) for day, words in day_ticks(first, last, **how)]


def test_a_week_is_named_by_its_days():
    assert [words for _, words in named(date(2026, 3, 2), date(2026, 3, 6))] == [
        "2 Mar",
        "3 Mar",
        "4 Mar",
        "5 Mar",
        "6 Mar",
    ]


def test_a_month_is_named_by_its_mondays():
    # 2 March 2026 is a Monday.
    assert named(date(2026, 3, 3), date(2026, 4, 1)) == [
        ("2026-03-09", "9 Mar"),
        ("2026-03-16", "16 Mar"),
        ("2026-03-23", "23 Mar"),
        ("2026-03-30", "30 Mar"),
    ]


def test_a_quarter_is_named_by_months_or_fortnights_and_a_january_carries_its_year():
    # 90 days from 22 December 2025 hold thirteen Mondays, seven of them every second one: too many for six.
    assert named(date(2025, 12, 22), date(2026, 3, 21)) == [
        ("2026-01-01", "2026"),
        ("2026-02-01", "Feb"),
        ("2026-03-01", "Mar"),
    ]


def test_longer_times_are_named_more_coarsely():
    assert [words for _, words in named(date(2025, 3, 21), date(2026, 3, 20))] == [
        # Every second month of the calendar, from January.
        "May",
        "Jul",
        "Sep",
        "Nov",
        "2026",
        "Mar",
    ]
    assert [words for _, words in named(date(2016, 5, 1), date(2026, 3, 20))] == [
        "2018",
        "2020",
        "2022",
        "2024",
        "2026",
    ]
    assert named(date(2026, 3, 20), date(2026, 3, 20)) == [("2026-03-20", "20 Mar")]


@given(
    first=st.dates(min_value=date(1, 1, 1), max_value=date(9990, 1, 1)),
    span=st.integers(min_value=0, max_value=3000),
)
def test_few_days_are_named_and_all_lie_within(first, span):
    last = date.fromordinal(first.toordinal() + span)

    found = [day for day, _ in day_ticks(first, last)]

    assert len(found) <= 6
    assert all(first <= day <= last for day in found)
    assert found == sorted(set(found))


def test_figures_find_their_places():
    # 300 at the bottom for 0, 24 at the top for 10: 2.5 is a quarter of the way, 300 - 69.
    up = upwards([Fraction(0), Fraction(10)])
    assert [up.at(figure) for figure in (0, 10, Fraction(5, 2))] == [BOTTOM, TOP, 231]
    # 600 units for ten days.
    along = across(date(2026, 3, 1), date(2026, 3, 11))
    assert [along.at(date(2026, 3, day).toordinal()) for day in (1, 2, 11)] == [LEFT, LEFT + 60, RIGHT]
    assert Scale(Fraction(3), Fraction(3), 10, 20).at(3) == 10


def test_a_level_stays_until_it_changes():
    assert steps([(104, 300), (200, 300), (200, 100), (704, 100)]) == "M104 300H200V100H704"
    assert steps([(104, 300), (200, 100)]) == "M104 300H200V100"
    assert steps([]) == ""
    assert straight([(1, 2), (3, 4)]) == "M1 2L3 4"


def test_days_are_told_together_when_there_are_many():
    first = date(2026, 1, 1)

    def together(days):
        return period_days(first, date.fromordinal(first.toordinal() + days - 1))

    assert [together(days) for days in (1, PERIODS_AT_MOST, PERIODS_AT_MOST + 1, 365, 644, 645)] == [
        1,
        1,
        7,
        7,
        7,
        28,
    ]
