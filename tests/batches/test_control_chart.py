"""Control charts against published data: the factors' table, two worked data sets and single figures."""

from decimal import Decimal
from fractions import Fraction

import pytest

from batches.fill_checks.control_chart import FACTORS, capability, in_a_row, of_individuals, of_subgroups
from batches.fill_checks.spread import deviation, mean

# Table A.22, "Factors for Constructing Control Charts", read in two prints; one print gives 0.557 for n = 5 wrongly.
TABLE = """
2 1.880 1.128 0 3.267
3 1.023 1.693 0 2.574
4 0.729 2.059 0 2.282
5 0.577 2.326 0 2.114
6 0.483 2.534 0 2.004
7 0.419 2.704 0.076 1.924
8 0.373 2.847 0.136 1.864
9 0.337 2.970 0.184 1.816
10 0.308 3.078 0.223 1.777
"""

# Montgomery, Introduction to Statistical Quality Control, 2nd ed. 1991, pp. 206-213, as the R package qcc carries it.
PISTON_RINGS = """
74.030 74.002 74.019 73.992 74.008 73.995 73.992 74.001 74.011 74.004 73.988 74.024 74.021 74.005 74.002
74.002 73.996 73.993 74.015 74.009 73.992 74.007 74.015 73.989 74.014 74.009 73.994 73.997 73.985 73.993
73.995 74.006 73.994 74.000 74.005 73.985 74.003 73.993 74.015 73.988 74.008 73.995 74.009 74.005 74.004
73.998 74.000 73.990 74.007 73.995 73.994 73.998 73.994 73.995 73.990 74.004 74.000 74.007 74.000 73.996
73.983 74.002 73.998 73.997 74.012 74.006 73.967 73.994 74.000 73.984 74.012 74.014 73.998 73.999 74.007
74.000 73.984 74.005 73.998 73.996 73.994 74.012 73.986 74.005 74.007 74.006 74.010 74.018 74.003 74.000
73.984 74.002 74.003 74.005 73.997 74.000 74.010 74.013 74.020 74.003 73.988 74.001 74.009 74.005 73.996
74.004 73.999 73.990 74.006 74.009 74.010 73.989 73.990 74.009 74.014 74.015 74.008 73.993 74.000 74.010
73.982 73.984 73.995 74.017 74.013
"""
THREE_BY_FOUR = "10.00 10.02 9.98 10.01 10.03 9.99 10.01 10.00 9.97 10.04 10.02 9.99"


def figures(text):
    return [Fraction(each) for each in text.split()]


def near(found, figure, within="0.001"):
    return abs(Fraction(found) - Fraction(figure)) <= Fraction(within)


def test_the_factors_are_those_of_the_table():
    rows = [line.split() for line in TABLE.split("\n") if line]
    assert {int(n): tuple(map(Fraction, rest)) for n, *rest in rows} == {
        n: (row.a2, row.d2, row.d3, row.d4) for n, row in FACTORS.items()
    }


@pytest.mark.parametrize("n", FACTORS)
def test_the_factors_hang_together(n):
    # Derived: A2 = 3/(d2·√n), to the table's rounding.
    row = FACTORS[n]
    assert abs(Decimal(3) / (Decimal(row.d2.numerator) / row.d2.denominator * Decimal(n).sqrt())) - (
        Decimal(row.a2.numerator) / row.a2.denominator
    ) < Decimal("0.002")


def test_twenty_five_subgroups_of_five():
    # R package qcc, vignette and tests; reproduced with A2 and D4.
    chart = of_subgroups(figures(PISTON_RINGS), 5)

    assert len(chart.points) == 25
    assert near(chart.limits.centre, "74.001176", "0.000001")
    assert near(chart.range_limits.centre, "0.02276", "0.00001")
    assert near(chart.sigma, "0.009785", "0.000001")
    assert near(chart.limits.low, "73.98805", "0.0001")
    assert near(chart.limits.high, "74.0143", "0.0001")
    assert (chart.range_limits.low, near(chart.range_limits.high, "0.04813", "0.0001")) == (0, True)


@pytest.mark.parametrize(
    ("low", "high", "cp", "cpk"),
    [("73.95", "74.05", "1.703", "1.663"), ("73.99", "74.01", "0.341", "0.301")],
)
def test_how_well_the_rings_keep_within_limits(low, high, cp, cpk):
    chart = of_subgroups(figures(PISTON_RINGS), 5)

    found = capability(chart.limits.centre, chart.sigma, Fraction(low), Fraction(high))

    assert near(found.wide, cp)
    assert near(found.near, cpk)


def test_three_subgroups_of_four():
    # R package qcc, tests: Cp 1.3727, Cpk 1.3040 from the ranges; Pp 1.6126, Ppk 1.5320 from all twelve.
    weights = figures(THREE_BY_FOUR)
    chart = of_subgroups(weights, 4)
    limits = Fraction("9.9"), Fraction("10.1")

    assert (chart.limits.centre, chart.range_limits.centre) == (Fraction("10.005"), Fraction("0.05"))
    short = capability(chart.limits.centre, chart.sigma, *limits)
    overall = capability(mean(weights), deviation(weights), *limits)

    assert near(short.wide, "1.3727")
    assert near(short.near, "1.3040")
    assert near(overall.wide, "1.6126")
    assert near(overall.near, "1.5320")


def test_a_bottle_filled_a_little_low():
    # Reid & Sanders, Operations Management: 16 ± 0.2 oz, mean 15.9, σ 0.1: Cpk 0.33. Cp derived.
    found = capability(Fraction("15.9"), Fraction("0.1"), Fraction("15.8"), Fraction("16.2"))

    assert near(found.near, "0.33", "0.005")
    assert near(found.wide, "0.667")


def test_limits_of_eight_and_twenty():
    # NIST/SEMATECH e-Handbook 6.1.6, from memory.
    found = capability(Fraction(16), Fraction(2), Fraction(8), Fraction(20))

    assert (found.wide, found.near) == (1, Fraction(2, 3))


def test_nothing_is_said_of_a_filling_without_spread():
    assert capability(Fraction(16), Fraction(0), Fraction(8), Fraction(20)) is None


def test_eight_in_a_row_on_one_side_flag_the_eighth():
    # Western Electric rule 4, as qcc tests it: eight at +0.5σ.
    half = [Fraction(1, 2)] * 8

    assert in_a_row(half, Fraction(0)) == [7]
    assert in_a_row([-each for each in half], Fraction(0)) == [7]
    assert in_a_row([*half, Fraction(1)], Fraction(0)) == [7, 8]
    assert in_a_row(half[:7], Fraction(0)) == []


@pytest.mark.parametrize("breaks", [0, -1])
def test_a_point_on_the_line_or_beyond_it_breaks_the_row(breaks):
    points = [1] * 7 + [breaks] + [1] * 7

    assert in_a_row(points, Fraction(0)) == []
    assert in_a_row([*points, 1], Fraction(0)) == [15]


def test_single_weights_have_moving_ranges_of_two():
    # By hand: ranges 2, 3, 1, mean 2; 3 × 2/1.128 = 5.3191… either side of 10.25; the ranges' limit 3.267 × 2.
    chart = of_individuals([10, 12, 9, 10])

    assert chart.ranges == (2, 3, 1)
    assert chart.limits.centre == Fraction(41, 4)
    assert chart.limits.high - chart.limits.centre == Fraction(6_000, 1_128)
    assert (chart.range_limits.low, chart.range_limits.high) == (0, Fraction("6.534"))
    assert chart.limits.outside([4, 5, 15, 16]) == [0, 3]


def test_what_makes_no_whole_subgroup_is_left_out_and_told():
    chart = of_subgroups([1, 2, 3, 4, 5, 6, 7], 3)

    assert (chart.points, chart.left_over) == ((2, 5), 1)
    assert of_subgroups([1, 2, 3, 4, 5], 3) is None
    assert of_individuals([1]) is None
