"""The average system where every unit of a lot was weighed: nothing is left to a sample, however many units there are.

Directive 76/211/EEC, Annex I (legislation.gov.uk/eudr/1976/211/annexes), read: the mean is at least what is declared. The
2.5 % that may be short: common practice after its guidance, from memory. Declared 200 g, so the tolerance is 9 g.
"""

from fractions import Fraction

import pytest

from batches.fill_checks.net_contents import judge_eu, needed_eu
from batches.fill_checks.spread import mean
from tests.house import grams

DECLARED = grams(200)
FULL, SHORT = grams("200.2"), grams(190)


def judged(short, full, lot_size, full_ug=FULL):
    """Of a lot, so many that are short by 10 g and so many of the rest."""
    found = judge_eu([SHORT] * short + [full_ug] * full, DECLARED, lot_size)
    return [finding.met for finding in found.findings], [
        finding.asks.replace("\N{NO-BREAK SPACE}", " ") for finding in found.findings
    ]


WHOLE = "The mean is at least what is declared, 200 g"
SAMPLE = "The mean is at least 200 g less 0.379 of the standard deviation"


@pytest.mark.parametrize(
    ("lot_size", "asks", "met"),
    [
        # 2 of 190 g and 98 of 200.2 g: 19,999.6 g, so the mean is 199.996 g. Their deviation is 1.43 g, of which a sample
        # may fall short by 0.54 g.
        (100, WHOLE, False),
        (101, SAMPLE, True),
    ],
)
def test_of_a_hundred_that_were_all_weighed_the_mean_is_what_it_is(lot_size, asks, met):
    assert mean([SHORT] * 2 + [FULL] * 98) == Fraction(grams("199.996"))
    found, words = judged(2, 98, lot_size)

    assert (words[0], found) == (asks, [met, True, True])


@pytest.mark.parametrize(
    ("short", "full", "lot_size", "asks", "met"),
    [
        # 2.5 % of 100 are 2.5: two may be short, not three; of 120 three, not four; of 80 two.
        (2, 98, 100, "At most 2 of 100 short by more than 9 g (2.5 %)", True),
        (3, 97, 100, "At most 2 of 100 short by more than 9 g (2.5 %)", False),
        (3, 117, 120, "At most 3 of 120 short by more than 9 g (2.5 %)", True),
        (4, 116, 120, "At most 3 of 120 short by more than 9 g (2.5 %)", False),
        (2, 78, 80, "At most 2 of 80 short by more than 9 g (2.5 %)", True),
        (3, 77, 80, "At most 2 of 80 short by more than 9 g (2.5 %)", False),
        # One was not weighed: the double sampling plan speaks, from memory: four of both samples' 60.
        (3, 97, 101, "At most 4 of 60 short by more than 9 g", True),
        (4, 116, 121, "At most 4 of 60 short by more than 9 g", True),
    ],
)
def test_of_all_that_were_weighed_so_many_may_be_short(short, full, lot_size, asks, met):
    # Full ones of 201 g, so that the mean is right: 4 × 190 + 116 × 201 = 24,076 g of 120, 200.63 g each.
    found, words = judged(short, full, lot_size, grams(201))

    assert (words[1], found) == (asks, [True, met, True])


def test_a_lot_of_a_hundred_of_which_fifty_were_weighed_is_a_sample():
    found, words = judged(0, 50, 100)

    assert (words[0], words[1].partition(";")[0]) == (SAMPLE, "At most 1 of 30 short by more than 9 g")
    assert found == [True, True, True]
    assert [needed_eu(size) for size in (99, 100, 500, 501)] == [99, 30, 30, 50]
