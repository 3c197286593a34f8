"""The arithmetic of burn tests, with figures worked out by hand.

Burn rate = grams lost / hours burned, read in cycles of four hours: common practice, no source.
"""

from fractions import Fraction

import pytest

from batches.burn_tests.burn import Burned, Cycle, Limits, breaches, burned, judge, life, together

G = 1_000_000
CYCLES = [Cycle(1, 240, weight_ug=331 * G), Cycle(2, 240, weight_ug=309 * G)]


def test_what_burned_in_each_cycle_and_how_fast():
    # 351 − 331 = 20 g and 331 − 309 = 22 g, each in four hours: 5 and 5.5 g an hour; 42 g in 8 h are 5.25.
    first, second = burned(351 * G, CYCLES)

    assert (first.burned_ug, first.rate) == (20 * G, 5 * G)
    assert (second.burned_ug, second.rate) == (22 * G, Fraction(11, 2) * G)
    whole = together([first, second])
    assert (whole.burned_ug, whole.hours, whole.rate) == (42 * G, 8, Fraction(21, 4) * G)


def test_a_cycle_after_which_nobody_weighed_counts_towards_the_next_weighing():
    # 351 − 309 = 42 g over both cycles, eight hours.
    assert burned(351 * G, [Cycle(1, 240), CYCLES[1]]) == [Burned(2, 42 * G, 480)]


def test_of_a_cycle_that_is_missing_nothing_is_said():
    # The weight lost in cycle 2 would otherwise be taken for cycle 3's: twice the rate.
    cycles = [CYCLES[0], Cycle(3, 240, weight_ug=289 * G), Cycle(4, 120, weight_ug=280 * G)]

    assert burned(351 * G, cycles) == [Burned(1, 20 * G, 240), Burned(4, 9 * G, 120)]


def test_nothing_weighed_is_no_rate():
    assert burned(351 * G, [Cycle(1, 240)]) == []
    assert together([]) is None


def test_how_long_the_melt_should_last():
    # 205 g at 5.25 g an hour: 39.05 h.
    whole = together(burned(351 * G, CYCLES))

    assert life(205 * G, whole) == Fraction(820, 21)
    assert life(None, whole) is None
    assert life(205 * G, None) is None
    assert life(205 * G, Burned(1, 0, 240)) is None


STRICT = Limits(
    flame_um=75_000, vessel_mc=60_000, soot="slight", mushrooming="none", full_pool_within=180, cycles=2
)


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        ({"flame_um": 75_000}, []),
        ({"flame_um": 75_001}, ["Flame 75 mm, above 75 mm."]),
        ({"flame_um": 82_000}, ["Flame 82 mm, above 75 mm."]),
        ({"vessel_mc": 60_000}, []),
        ({"vessel_mc": 60_500}, ["Vessel at 60.5 °C, above 60 °C."]),
        ({"soot": "slight"}, []),
        ({"soot": "heavy"}, ["Soot heavy, more than slight."]),
        ({"mushrooming": "slight"}, ["Mushrooming slight, more than none."]),
        ({"full_pool_after": 180}, []),
        ({"full_pool_after": 181}, ["Full pool after 181 min, later than 180 min."]),
        (
            {"flame_um": 80_000, "soot": "heavy"},
            ["Flame 80 mm, above 75 mm.", "Soot heavy, more than slight."],
        ),
    ],
)
def test_what_went_beyond_the_limits_is_said_and_exactly_at_one_is_within(shown, said):
    assert [
        each.replace("\N{NO-BREAK SPACE}", " ") for each in breaches(Cycle(1, 240, **shown), STRICT)
    ] == said


def test_no_limit_is_not_judged():
    worst = Cycle(
        1, 240, flame_um=200_000, full_pool_after=240, mushrooming="heavy", soot="heavy", vessel_mc=120_000
    )

    assert breaches(worst, Limits()) == []


def test_the_readings_speak_for_a_pass_a_fail_or_for_going_on():
    good = {"flame_um": 40_000, "vessel_mc": 45_000, "full_pool_after": 150}
    two = [Cycle(1, 240, **good), Cycle(2, 240, **good)]

    assert judge([(1, two), (2, two)], STRICT).suggests == "pass"
    early = judge([(1, two), (2, two[:1])], STRICT)
    assert (early.suggests, early.wanting) == ("go on", ("Jar 2: 1 of 2 cycles burned.",))
    unread = judge([(1, [Cycle(1, 240), Cycle(2, 240)])], STRICT)
    assert unread.suggests == "go on"
    assert unread.wanting == (
        "Jar 1: no flame height was noted.",
        "Jar 1: no vessel temperature was noted.",
        "Jar 1: no full pool was noted.",
    )
    sooty = judge([(1, two), (2, [*two, Cycle(3, 240, soot="heavy")])], STRICT)
    assert (sooty.suggests, sooty.beyond) == ("fail", ("Jar 2, cycle 3: Soot heavy, more than slight.",))
