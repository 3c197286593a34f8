"""Fragrance that went over, and the wax that brings the load back."""

from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.formulas.overshoot import overshoot

LB = 453_592_370  # micrograms in a pound, exactly
G = 1_000_000

# Common practice, no source: one run of 74 oz of wax and 9 oz of fragrance. Pounds here, so that the ratio is
# exact in whole micrograms.
FRAGRANCE, WAX = 9 * LB, 74 * LB
EIGHTH = Fraction(1, 8)
TENTH = Fraction(1, 10)


def test_the_load_is_told_both_ways():
    # Derived: 9/74 = 12.162 % of wax, 9/83 = 10.843 % of melt.
    result = overshoot(FRAGRANCE, WAX, EIGHTH, LB, 0, None)

    assert (result.load_of_wax, result.load_of_melt) == (Fraction(9, 74), Fraction(9, 83))
    assert abs(result.load_of_wax * 100 - Fraction("12.162")) < Fraction("0.0005")
    assert abs(result.load_of_melt * 100 - Fraction("10.843")) < Fraction("0.0005")
    assert (result.wax_to_add_ug, result.melt_ug, result.units) == (0, 83 * LB, 83)
    assert not result.above_maximum


@pytest.mark.parametrize(("vessels", "each_g"), [(16, "147.06"), (8, "294.13")])
def test_the_run_fills_its_vessels(vessels, each_g):
    # Derived: 83 oz over 16 vessels is 147.06 g each, over 8 vessels 294.13 g. Ounces to the nearest µg.
    fragrance, wax = 255_145_708, 2_097_864_711
    fill = (fragrance + wax) // vessels
    result = overshoot(fragrance, wax, EIGHTH, fill, 0, None)

    assert result.units == vessels
    assert abs(Fraction(fill, G) - Fraction(each_g)) < Fraction("0.005")


def test_the_wax_to_add_brings_the_load_to_what_is_wanted():
    # 10 % of wax with 9 lb of fragrance takes 90 lb of wax: 16 more, 99 lb of melt. With 10 % loss that is
    # 1.1 lb a vessel.
    result = overshoot(FRAGRANCE, WAX, TENTH, LB, 100_000, None)

    assert (result.wax_to_add_ug, result.melt_ug, result.units) == (16 * LB, 99 * LB, 90)


def test_wax_is_rounded_up_so_that_the_load_never_stays_above():
    # 1 / 0.07 = 14.28…
    result = overshoot(1, 14, Fraction(7, 100), None, 0, None)

    assert (result.wax_to_add_ug, result.melt_ug, result.units) == (1, 16, None)


def test_a_maximum_below_what_is_wanted_decides():
    # 9/74 is above 12 %; 9 / 0.12 = 75.
    result = overshoot(FRAGRANCE, WAX, EIGHTH, LB, 0, Fraction(12, 100))

    assert result.above_maximum
    assert result.wax_to_add_ug == LB


def test_a_maximum_of_the_melt_is_measured_on_the_melt():
    # 9/83 is above 10 % of the melt; 90 lb of melt hold 81 lb of wax, or 80 lb with 1 lb of additives.
    plain = overshoot(FRAGRANCE, WAX, EIGHTH, LB, 0, None, maximum_of_melt=TENTH)
    dyed = overshoot(FRAGRANCE, WAX, EIGHTH, LB, 0, None, maximum_of_melt=TENTH, other_ug=LB)

    assert (plain.above_maximum, plain.wax_to_add_ug, plain.melt_ug) == (True, 7 * LB, 90 * LB)
    assert (dyed.above_maximum, dyed.wax_to_add_ug, dyed.melt_ug) == (True, 6 * LB, 90 * LB)
    assert dyed.load_of_melt == Fraction(9, 84)


def test_a_load_at_the_maximum_is_not_above_it():
    result = overshoot(10 * G, 100 * G, TENTH, None, 0, TENTH, maximum_of_melt=Fraction(1, 11))

    assert (result.above_maximum, result.wax_to_add_ug) == (False, 0)


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ((1, 0, TENTH, None, 0, None), "Weigh the wax first"),
        ((-1, 10, TENTH, None, 0, None), "Weigh the wax first"),
        ((1, 10, Fraction(0), None, 0, None), "Enter a fragrance load above zero"),
        ((1, 10, TENTH, None, 0, Fraction(-1)), "Enter a fragrance load above zero"),
        ((1, 10, TENTH, 0, 0, None), "Enter a fill weight above zero"),
        ((1, 10, TENTH, 5, -1, None), "Enter a fill weight above zero"),
    ],
)
def test_figures_that_cannot_be_are_refused(given, sentence):
    with pytest.raises(ValueError, match=sentence):
        overshoot(*given)


WEIGHT = st.integers(1, 10**12)
LOAD = st.fractions(Fraction(1, 1000), Fraction(1, 2), max_denominator=1000)


@given(WEIGHT, WEIGHT, LOAD, st.none() | LOAD)
def test_the_wax_is_just_enough(fragrance, wax, wanted, maximum):
    result = overshoot(fragrance, wax, wanted, None, 0, maximum)
    limit = min(wanted, maximum or wanted)

    assert Fraction(fragrance, wax + result.wax_to_add_ug) <= limit
    if result.wax_to_add_ug:
        assert wax + result.wax_to_add_ug == ceil(fragrance / limit)
    assert result.melt_ug == fragrance + wax + result.wax_to_add_ug
