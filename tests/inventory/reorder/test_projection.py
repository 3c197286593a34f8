"""The future day by day: plans and the usual rate, never both twice; the level, what goes off, the last day to order."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.replenishment.daily_forecast import Requirement, forecast
from inventory.replenishment.demand import NOTHING
from inventory.replenishment.projection import UsableStock, first_below, last_day_to_order, project, runs_out


def rate(used, days=10, factors=()):
    """A demand of so much in so many days."""
    return replace(NOTHING, days=days, wanted_days=days, used=used, uses=days, factors=tuple(factors))


OVER = 10**9


def use(used, *wanted, last=40, factors=(), days=10, then=None, used_today=OVER):
    """What is to come when today's use is over, unless a test says otherwise."""
    plans = [Requirement(*each) for each in wanted]
    return forecast(rate(used, days, factors), plans, last=last, then=then, used_today=used_today)


def test_in_the_morning_todays_use_is_still_to_come():
    # 20 in 10 days is two a day; of 13 and 6 in 10 days the part of a unit is carried on.
    assert list(use(20, last=3, used_today=0).usual) == [2, 2, 2, 2]
    assert list(use(20, last=3, used_today=1).usual) == [1, 2, 2, 2]
    assert list(use(20, last=3, used_today=5).usual) == [0, 2, 2, 2]
    assert list(use(13, last=4, used_today=0).usual) == [1, 1, 1, 2, 1]
    assert list(use(6, last=4, factors=[Fraction(3)], used_today=1).usual) == [0, 2, 2, 2, 2]


def test_a_plan_of_today_takes_the_place_of_what_is_left_of_today():
    assert list(use(20, (0, 6), last=2, used_today=0).usual) == [0, 2, 2]
    assert use(20, (2, 6), last=3, used_today=0).through(3) == 8


@given(st.integers(0, 60), st.floats(0.5, 12), st.integers(0, 12))
def test_the_last_day_to_order_is_the_same_in_the_morning_and_in_the_evening(there, lead, keep):
    # Two a day: the evening finds two less on the shelf, and today's use over.
    morning = level(there + 2, use(20, used_today=0)).levels
    evening = level(there, use(20)).levels
    assert list(morning) == list(evening)
    assert last_day_to_order(morning, keep, lead) == last_day_to_order(evening, keep, lead)


def test_the_usual_rate_goes_on_from_tomorrow():
    # 5 in 10 days: a half a day, so one every second day; nothing more today.
    found = use(5, last=6)
    assert list(found.usual) == [0, 0, 1, 0, 1, 0, 1]
    assert (found.through(6), found.through(26), found.after) == (3, 13, Fraction(1, 2))


def test_a_plan_takes_the_place_of_the_usual_use_before_it():
    # Two a day. A run of 6 in five days stands for days 5, 4 and 3; 1 and 2 are used as ever.
    found = use(20, (5, 6), last=7)
    assert list(found.usual) == [0, 2, 2, 0, 0, 0, 2, 2]
    assert found.planned[5] == 6
    assert found.through(7) == 14, "what two a day would use: the run is no more than usual"


def test_what_a_plan_wants_beyond_the_usual_is_on_top():
    # Two a day for five days is 10 of the 50 planned.
    assert use(20, (5, 50), last=7).through(7) == 50 + 4


def test_no_plan_stands_for_more_than_four_weeks():
    found = use(20, (40, 100))
    assert found.through(40) == 12 * 2 + 100
    assert found.usual[12] == 2
    assert found.usual[13] == 0


def test_runs_planned_one_after_the_other_are_not_counted_beside_the_rate():
    # 14 a week and a run of 14 planned each week: the plans are the use.
    found = use(20, (7, 14), (14, 14), (21, 14), last=21)
    assert found.through(21) == 42
    assert sum(found.usual) == 0


def test_two_plans_do_not_stand_for_the_same_day_twice():
    assert use(20, (5, 6), (5, 4), last=5).through(5) == 10
    assert use(20, (4, 8), (5, 8), last=5).through(5) == 16


def test_what_is_overdue_or_due_today_is_wanted_today_and_stands_for_no_day_to_come():
    found = use(20, (0, 30), last=5)
    assert found.through(0) == 30
    assert found.through(5) == 40


def test_without_a_past_only_plans_count():
    found = use(0, (3, 8), (90, 5), last=10)
    assert (found.through(2), found.through(10), found.through(1_000)) == (0, 8, 8)
    assert found.day_of(8) == 3
    assert found.day_of(9) is None


def test_a_season_bends_the_rate_four_weeks_at_a_time():
    found = use(20, last=60, factors=[Fraction(3, 2), Fraction(1, 2)])
    assert (found.through(28), found.through(56), found.through(60)) == (84, 112, 120)


def test_another_rate_takes_over_on_its_day():
    found = use(20, last=10, then=(6, Fraction(5)))
    assert (found.through(5), found.through(10), found.after) == (10, 35, 5)


def test_the_day_on_which_so_much_is_used():
    found = use(5, last=20)
    assert (found.day_of(1), found.day_of(10), found.day_of(11), found.day_of(0)) == (2, 20, 22, 0)


@given(
    st.integers(0, 500),
    st.integers(1, 90),
    st.lists(st.tuples(st.integers(0, 50), st.integers(1, 300)), max_size=5),
)
def test_never_less_than_either_alone_and_never_more_than_both(used, days, wanted):
    found = use(used, *wanted, days=days, last=50)
    plans = sum(quantity for _, quantity in wanted)
    usual = used * 50 // days
    assert max(plans, usual) <= found.through(50) <= plans + usual
    assert all(each >= 0 for each in found.usual)


# Levels


def level(there, use, coming=None, **more):
    return project([UsableStock(there)], use, coming or {}, **more)


def test_the_level_falls_by_what_is_used_and_rises_by_what_comes():
    found = level(10, use(20, last=6), {4: 20})
    assert list(found.levels) == [10, 8, 6, 4, 22, 20, 18]
    assert runs_out(found.levels, use(20, last=6)) is None


def test_what_pours_wait_for_is_served_first_when_goods_come():
    assert list(level(3, use(20, last=5), {4: 10}).levels) == [3, 1, -1, -3, 5, 3]


def test_what_expires_first_is_used_first_and_the_rest_goes_off():
    # Two a day: four of the seven that keep until day 2 are used by then, three go off on day 3.
    found = project([UsableStock(10), UsableStock(7, until=2)], use(20, last=5), {})
    assert list(found.levels) == [17, 15, 13, 8, 6, 4]
    assert list(found.expired) == [0, 0, 0, 3, 0, 0]
    assert found.wasted == 3


def test_what_comes_keeps_as_long_as_its_shelf_life():
    found = level(0, use(20, last=6), {1: 10}, keeps_days=2)
    assert list(found.levels) == [0, 8, 6, 4, -2, -4, -6]
    assert found.wasted == 4


@given(
    st.lists(st.tuples(st.integers(1, 90), st.integers(41, 60)), max_size=4),
    st.integers(0, 60),
    st.dictionaries(st.integers(0, 40), st.integers(1, 50), max_size=3),
)
def test_lot_by_lot_and_in_one_sum_give_the_same_where_nothing_goes_off(lots, used, coming):
    shelf = [UsableStock(quantity, until) for quantity, until in lots]
    found = use(used, (9, 11), last=40)
    # One unit that expires before anything happens sends it the long way.
    slow = project([*shelf, UsableStock(1, until=-1)], found, coming)
    assert project(shelf, found, coming).levels == list(slow.levels)


def test_the_last_day_to_order():
    # 20 there, two a day, 4 to be kept: day 9 ends with 2, so goods must be there on day 9: five days before, day 4.
    levels = level(20, use(20)).levels
    assert first_below(levels, 4) == 9
    assert last_day_to_order(levels, 4, 5) == 4
    assert last_day_to_order(levels, 4, 9) == 0
    assert last_day_to_order(levels, 4, 12) == -3, "three days ago"


def test_the_last_day_to_order_is_the_last_on_which_the_reorder_point_is_still_there():
    # d·L + safety = 2 × 5 + 4 = 14: there at the end of day 3, before the use of day 4; at its end 12 are left.
    levels = level(20, use(20)).levels
    day = last_day_to_order(levels, 4, 5)
    assert levels[day - 1] >= 14 > levels[day]


def test_part_of_a_day_of_lead_time_counts_as_part():
    # 20 there, two a day, 4 to be kept. Four days and a half later than day 4 it is 2 × 4.5 less than 12: 3, too little;
    # than day 3 it is 5. By four days it would have been day 5, by five day 4.
    levels = level(20, use(20)).levels
    assert [last_day_to_order(levels, 4, lead) for lead in (4, 4.5, 5)] == [5, 4, 4]
    assert [last_day_to_order(levels, 5, lead) for lead in (4, 4.5, 5)] == [4, 4, 3]


def test_a_run_is_not_left_waiting_for_part_of_a_day():
    # Ten are wanted on day 10 and nothing is there; a delivery takes 9.4 days: of day 0 it comes in time, of day 1 not.
    levels = level(0, use(0, (10, 10))).levels
    assert last_day_to_order(levels, 0, 9.4) == 0


@pytest.mark.parametrize("lead", [0, 1, 4.5, 39, 39.5, 40, 41, 200])
def test_any_lead_time_has_an_answer(lead):
    assert last_day_to_order(level(0, use(20)).levels, 4, lead) in {None, *range(-40, 1)}


def test_a_dip_that_an_order_of_today_comes_too_late_for_is_no_reason_to_order():
    # Down to 1 on day 3, but 60 come on day 4; an order takes 6 days.
    levels = level(7, use(20, last=20), {4: 60}).levels
    assert last_day_to_order(levels, 4, 6) is None


def test_enough_to_the_horizon_needs_no_order():
    assert last_day_to_order(level(200, use(20)).levels, 4, 5) is None


@pytest.mark.parametrize(("there", "day"), [(0, 0), (4, 2), (5, 3)])
def test_the_day_nothing_is_left(there, day):
    found = use(20)
    assert runs_out(level(there, found).levels, found) == day


def test_what_nobody_uses_does_not_run_out():
    found = use(0)
    assert runs_out(level(0, found).levels, found) is None
