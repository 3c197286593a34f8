"""Yield against theoretical: what the draws would have given with no loss (21 CFR 210.3(b)(17)-(19), read)."""

from fractions import Fraction

import pytest

from batches.output.yields import Yield
from inventory.models import Item
from tests.house import grams

NONE = dict.fromkeys(("good", "second", "scrap", "rework", "melt"), 0)


def test_ninety_nine_of_a_hundred_kilograms():
    # A worked example of percent yield: 100 kg in, 99.0 kg out, 99.0 % (pharmaspecialists.com, 2022, read).
    found = Yield(grams(100_000), NONE | {"good": grams(99_000)}, grams(100_000), None)

    assert found.of_theoretical == Fraction(99, 100)
    assert found.theoretical == grams(100_000)


def test_units_are_held_against_what_the_melt_would_fill():
    # 5,074 g at 100 g: 50.74 units. Forty-six good, two seconds: 48/50.74 = 94.6 %; of 50 planned 96 %.
    came = NONE | {"good": 46, "second": 2, "scrap": 1, "rework": 1, "melt": grams(200)}
    found = Yield(50, came, grams(5_074), grams(100))

    assert found.theoretical == Fraction("50.74")
    assert found.theoretical_words(Item(unit="each")) == "50.7"
    assert round(found.of_theoretical * 1000) == 946
    assert (found.of_planned, found.made, found.actual, found.still_out) == (Fraction(96, 100), 50, 48, 0)


def test_where_nothing_was_weighed_there_is_nothing_to_hold_it_against():
    found = Yield(10, NONE | {"good": 10}, 0, grams(100))

    assert (found.theoretical, found.of_theoretical, found.theoretical_words(Item(unit="each"))) == (
        None,
        None,
        "",
    )


@pytest.mark.parametrize(("good", "left"), [(4, 6), (10, 0), (12, 0)])
def test_what_has_not_come_out_yet_is_never_below_nothing(good, left):
    assert Yield(10, NONE | {"good": good}, grams(1_000), grams(100)).still_out == left
