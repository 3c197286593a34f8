"""Lots that complaints share: Fisher's exact test against scipy and by hand, and sentences that stay honest."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from batches.complaints.common_lot import LotCount, fisher_greater, in_words, shared_lots

few = st.integers(min_value=0, max_value=30)
many = st.integers(min_value=0, max_value=5_000)


def test_the_lady_who_tasted_tea():
    # Fisher 1935: four cups of eight named right, by chance 1 in 70; three or more 17 in 70 (from memory, by hand:
    # C(4,4) = 1 and C(4,3)·C(4,1) = 16 of C(8,4) = 70 ways).
    assert fisher_greater(4, 0, 0, 4) == Fraction(1, 70)
    assert fisher_greater(3, 1, 1, 3) == Fraction(17, 70)
    assert fisher_greater(0, 4, 4, 0) == 1


@given(few, few, many, many)
def test_the_chance_is_what_scipy_says(with_it, without, others_with, others_without):
    ours = fisher_greater(with_it, without, others_with, others_without)

    table = [[with_it, without], [others_with, others_without]]
    theirs = stats.fisher_exact(table, alternative="greater").pvalue
    assert float(ours) == pytest.approx(theirs, rel=1e-6, abs=1e-12)


def test_it_stays_exact_where_floats_give_up():
    # By hand: one lot of 10 in 1,000,000, all three complaints have it: 10·9·8 / (1,000,000·999,999·999,998).
    assert fisher_greater(3, 0, 7, 999_990) == Fraction(720, 1_000_000 * 999_999 * 999_998)


def test_a_count_below_zero_is_refused():
    with pytest.raises(ValueError, match="below zero"):
        fisher_greater(1, -1, 3, 4)


def test_the_four_counts_the_ratio_and_what_was_to_be_expected():
    # 4 complaints, 1,000 units sent, 100 of them with the lot, 3 of them complained of.
    (row,) = shared_lots([LotCount((7,), 3, 100)], complaints=4, sent=1_000, looked_at=1)

    assert (row.with_it, row.without, row.others_with, row.others_without) == (3, 1, 97, 899)
    # 3/4 of the complaints over 1/10 of the units.
    assert row.ratio == Fraction(15, 2)
    assert row.expected == Fraction(4, 10)
    # C(100,3)·C(900,1) + C(100,4) of C(1000,4), by hand in whole numbers.
    assert row.chance == Fraction(161_700 * 900 + 3_921_225, 41_417_124_750)


def test_every_lot_that_was_looked_at_is_corrected_for():
    counts = [LotCount((1,), 3, 20), LotCount((2,), 3, 900)]
    first, second = shared_lots(counts, complaints=3, sent=1_000, looked_at=50)

    assert first.lots == (1,)
    # Holm: the smallest times 50, the next times 49.
    assert first.corrected == pytest.approx(float(first.chance) * 50)
    assert second.corrected == 1.0


def test_what_was_complained_of_counts_as_sent():
    # A jar nobody booked out: the lot was never sent by the books.
    (row,) = shared_lots([LotCount((1,), 2, 0)], complaints=2, sent=0, looked_at=1)

    assert (row.with_it, row.others_with, row.others_without, row.chance) == (2, 0, 0, 1)


@pytest.mark.parametrize(
    ("complained", "sent_with", "complaints", "says"),
    [
        (0, 0, 0, "nothing to compare"),
        (2, 10, 2, "Two complaints can hardly tell"),
        (3, 500, 3, "Three complaints can hardly tell: no lot stands out"),
        (3, 60, 3, "happens seldom by chance, but it does happen"),
        (3, 20, 3, "All three complaints share a lot that is in few"),
        (12, 20, 14, "12 of the 14 complaints share a lot"),
    ],
)
def test_the_sentence_is_honest_about_small_numbers(complained, sent_with, complaints, says):
    counts = [LotCount((1,), complained, sent_with)] if complaints else []
    rows = shared_lots(counts, complaints=complaints, sent=1_000, looked_at=100)

    assert says in in_words(rows, complaints=complaints, looked_at=100)


def test_a_handful_is_called_a_handful():
    rows = shared_lots([LotCount((1,), 4, 20)], complaints=4, sent=1_000, looked_at=100)

    assert "handful" in in_words(rows, complaints=4, looked_at=100)
