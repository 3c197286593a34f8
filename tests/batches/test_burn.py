"""The arithmetic of burn tests, with figures worked out by hand.

Burn rate = grams lost / hours burned, read in cycles of four hours: common practice, no source.
"""

from dataclasses import replace
from fractions import Fraction

import pytest

from batches.burn_tests.burn import (
    Burned,
    Cycle,
    Limits,
    Struck,
    breaches,
    burned,
    hours_left,
    judge,
    life,
    together,
)

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


SEEN = {
    "flame_um": 40_000,
    "vessel_mc": 45_000,
    "full_pool_after": 150,
    "soot": "none",
    "mushrooming": "none",
    "weight_ug": 300 * G,
    "photo": True,
}
AT_THE_END = {
    "flame_um": 50_000,
    "vessel_mc": 70_000,
    "soot": "slight",
    "wax_left_um": 12_000,
    "went_out": "put_out",
    "weight_ug": 280 * G,
    "photo": True,
}
WHOLE = replace(
    STRICT, weight_asked=True, photo_asked=True, wax_left_um=12_000, end_flame_um=60_000, end_vessel_mc=80_000
)


def whole_life(cycles=2, **end):
    """So many cycles and the end of a life, every reading taken."""
    seen = [Cycle(number, 240, **SEEN) for number in range(1, cycles + 1)]
    return [*seen, Cycle(cycles + 1, 60, kind="end", **{**AT_THE_END, **end})]


def plain(sentences):
    return tuple(each.replace("\N{NO-BREAK SPACE}", " ") for each in sentences)


def test_the_readings_speak_for_a_pass_a_fail_or_for_going_on():
    two = [Cycle(1, 240, **SEEN), Cycle(2, 240, **SEEN)]

    assert judge([(1, two), (2, two)], STRICT).suggests == "pass"
    early = judge([(1, two[:1]), (2, two[:1])], STRICT)
    assert (early.suggests, early.missing) == ("go on", ())
    assert early.wanting == ("Jar 1: 1 of 2 cycles burned.", "Jar 2: 1 of 2 cycles burned.")
    sooty = judge([(1, two), (2, [*two[:1], Cycle(2, 240, **{**SEEN, "soot": "heavy"})])], STRICT)
    assert (sooty.suggests, sooty.beyond) == ("fail", ("Jar 2, cycle 2: Soot heavy, more than slight.",))


@pytest.mark.parametrize(
    ("field", "words"),
    [
        ("flame_um", "flame height"),
        ("vessel_mc", "vessel temperature"),
        ("full_pool_after", "full pool"),
        ("soot", "soot"),
        ("mushrooming", "mushrooming"),
        ("weight_ug", "weight"),
        ("photo", "photo"),
    ],
)
def test_each_reading_left_out_of_one_cycle_of_one_jar_is_named(field, words):
    first, second, end = whole_life()
    without = Cycle(2, 240, **{name: value for name, value in SEEN.items() if name != field})

    said = judge([(1, whole_life()), (2, [first, without, end]), (3, whole_life())], WHOLE)

    assert (said.suggests, said.missing) == ("not judged", (f"Jar 2, cycle 2: {words} not observed.",))
    assert said.unjudged == {2}
    assert (said.beyond, said.wanting) == ((), ())
    # What the studio does not limit nobody has to observe.
    lenient = Limits(wax_left_um=12_000)
    assert judge([(1, whole_life()), (2, [first, without, end])], lenient).suggests == "pass"
    assert second.number == 2


@pytest.mark.parametrize(
    ("field", "words"),
    [
        ("flame_um", "flame at the bottom"),
        ("vessel_mc", "vessel temperature"),
        ("soot", "soot"),
        ("wax_left_um", "depth of wax left"),
        ("went_out", "how it went out"),
        ("weight_ug", "weight"),
        ("photo", "photo"),
    ],
)
def test_each_reading_left_out_at_the_end_of_a_life_is_named(field, words):
    seen = {name: value for name, value in AT_THE_END.items() if name != field}
    without = [*whole_life()[:2], Cycle(3, 60, kind="end", **seen)]

    said = judge([(1, without), (2, whole_life())], WHOLE)

    assert (said.suggests, said.missing) == ("not judged", (f"Jar 1, cycle 3: {words} not observed.",))


def test_the_end_of_a_life_is_held_against_its_own_limits():
    # 75 mm are the most before the end and 60 mm at it; 60 and 80 °C of the vessel.
    at_its_limit = whole_life(flame_um=60_000, vessel_mc=80_000)
    beyond = whole_life(flame_um=60_001, vessel_mc=80_500)

    assert judge([(1, at_its_limit)], WHOLE).suggests == "pass"
    assert plain(judge([(1, beyond)], WHOLE).beyond) == (
        "Jar 1, cycle 3: Flame at the bottom 60 mm, above 60 mm.",
        "Jar 1, cycle 3: Vessel at 80.5 °C, above 80 °C.",
    )
    # Before the end the limits of a cycle hold: 61 mm is within 75 mm, 61 °C is above 60 °C.
    hot = [Cycle(1, 240, **{**SEEN, "flame_um": 61_000, "vessel_mc": 61_000}), *whole_life()[1:]]
    assert plain(judge([(1, hot)], WHOLE).beyond) == ("Jar 1, cycle 1: Vessel at 61 °C, above 60 °C.",)


@pytest.mark.parametrize(
    ("start_g", "melt_g", "wanting"),
    [
        # It weighs 280 g at its end: 20 g of 108 g are gone, 54 g are the half, and a tenth of a gram less is not.
        (300, 108, ("Jar 1: by weight 20 g of 108 g of melt burned, so its life was not over.",)),
        (334, 108, ()),
        (333.9, 108, ("Jar 1: by weight 53.9 g of 108 g of melt burned, so its life was not over.",)),
        # Nobody said what melt was in it.
        (300, 0, ()),
    ],
)
def test_an_end_of_life_that_the_weights_contradict_is_no_pass(start_g, melt_g, wanting):
    filled = {1: (round(start_g * G), melt_g * G), 2: (500 * G, 200 * G)}

    said = judge([(1, whole_life()), (2, whole_life())], WHOLE, filled=filled)

    assert plain(said.wanting) == wanting
    assert said.suggests == ("go on" if wanting else "pass")


@pytest.mark.parametrize(
    ("melt_g", "left_um", "until_um", "words"),
    [
        # It lost 54 g to its end: nine tenths of 60 g, and less of a tenth of a gram more.
        (60, 0, 12_000, ""),
        (60.1, 0, 12_000, "54 g of 60.1 g"),
        (108, 0, 0, "54 g of 108 g"),
        # Nobody asks for an end of life: it is wrong all the same.
        (108, 0, None, "54 g of 108 g"),
        # With a depth stated half of it is enough.
        (108, 1_000, 12_000, ""),
        (0, 0, 0, ""),
    ],
)
def test_used_up_with_melt_left_by_weight_is_a_contradiction(melt_g, left_um, until_um, words):
    limits, filled = replace(WHOLE, wax_left_um=until_um), {1: (334 * G, round(melt_g * G))}

    said = judge([(1, whole_life(wax_left_um=left_um))], limits, filled=filled)

    sentence = (
        f"Jar 1: read as used up, with no wax left, but by weight {words} of melt had burned after cycle 3. "
    )
    assert plain(said.wanting) == ((f"{sentence}One of the two is wrong.",) if words else ())
    assert said.suggests == ("go on" if words else "pass")


def test_a_life_that_nobody_weighed_is_not_known_to_be_whole():
    """Four minutes of burning and "no wax left" speak for nothing, even where the studio does not ask for weights."""
    limits = replace(WHOLE, weight_asked=False)
    never = [replace(cycle, minutes=1, weight_ug=None) for cycle in whole_life(wax_left_um=0)]

    said = judge([(1, never)], limits, filled={1: (334 * G, 108 * G)})

    assert said.wanting == (
        "Jar 1: it was never weighed after burning, so whether its whole life was seen is not known.",
    )
    assert said.suggests == "go on"


def test_a_reading_beyond_a_limit_that_was_struck_out_is_named_and_is_no_pass():
    slip = Cycle(1, 240, **{**SEEN, "flame_um": 150_000, "soot": "heavy"})
    calm = Cycle(2, 240, **SEEN)
    struck = [Struck(1, slip, "Tobin", "slip"), Struck(1, calm, "Tobin", "another jar.")]

    said = judge([(1, whole_life())], WHOLE, struck=struck)

    assert plain(said.struck) == (
        "Jar 1, cycle 1, struck out by Tobin: Flame 150 mm, above 75 mm. Why: slip.",
        "Jar 1, cycle 1, struck out by Tobin: Soot heavy, more than slight. Why: slip.",
    )
    assert said.suggests == "struck"
    assert said.against == said.struck


@pytest.mark.parametrize(("how", "words"), [("flared", "flared up"), ("cracked", "cracked")])
def test_a_candle_that_flares_up_or_cracks_at_its_end_speaks_for_a_fail_whatever_the_limits(how, words):
    said = judge([(1, whole_life(went_out=how))], Limits())

    assert said.suggests == "fail"
    assert words in said.beyond[0]


def test_a_test_runs_until_every_jar_came_to_the_stated_end():
    short = judge([(1, whole_life()), (2, whole_life()[:2])], WHOLE)
    assert plain(short.wanting) == ("Jar 2: no end of life; a test runs until 12 mm of wax is left.",)
    # Jar 2 has no reading of the third cycle, in which jar 1 ended.
    assert short.missing == ("Jar 2, cycle 3: not read.",)

    early = judge([(1, whole_life(wax_left_um=12_001))], WHOLE)
    assert early.suggests == "go on"
    assert plain(early.wanting) == (
        "Jar 1: stopped with 12 mm of wax left; a test runs until 12 mm of wax is left.",
    )
    used_up = replace(WHOLE, wax_left_um=0)
    assert "until it is used up" in judge([(1, whole_life())], used_up).wanting[0]
    assert judge([(1, whole_life(wax_left_um=0))], used_up).suggests == "pass"
    # One jar may end a cycle before another; nothing of it is asked for afterwards.
    assert judge([(1, whole_life()), (2, whole_life(cycles=3))], WHOLE).suggests == "pass"


def test_a_cycle_nobody_read_is_named():
    first, _, end = whole_life()

    said = judge([(1, [first, end]), (2, whole_life())], WHOLE)

    assert (said.suggests, said.missing) == ("not judged", ("Jar 1, cycle 2: not read.",))


def test_hours_of_hours_expected():
    # 200 g at 5 g an hour last 40 h; after 4 h 180 g are left, 36 h.
    first = Cycle(1, 240, weight_ug=480 * G)
    measured = together(burned(500 * G, [first]))

    assert measured.rate == 5 * G
    assert life(200 * G, measured) == 40
    assert hours_left(200 * G, 500 * G, [first], measured) == 36
    assert hours_left(200 * G, 500 * G, [Cycle(1, 240)], None) is None
    # A cycle is missing: what burned in it is gone all the same. 500 − 430 = 70 g of 200 g; 130 g last 26 h at 5 g/h.
    later = [first, Cycle(3, 240, weight_ug=450 * G), Cycle(4, 240, weight_ug=430 * G)]
    assert hours_left(200 * G, 500 * G, later, together(burned(500 * G, later))) == 26
