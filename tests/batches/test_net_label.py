"""The net weight on a label, in two unit systems, neither of which overstates what is declared."""

from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from batches.records.net_label import inch_pound_down, least_height_um, metric_down, net_label
from studio.core.quantities import Dimension, parse_quantity
from tests.house import grams

OUNCE = Fraction("28.349523125")  # grams; "Exact Values for Capacity & Mass", read


def words(declared, market):
    return net_label(declared, market).words.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("ounces", "us"),
    [
        # 8 oz are 226.796185 g: 226 g down, and not the nearest 227 g. Uniform Packaging and Labeling Regulation and
        # NIST fact sheet on metric labeling, read; the conversions derived from the exact ounce.
        ("8 oz", "Net wt 8 oz (226 g)"),
        ("9 oz", "Net wt 9 oz (255 g)"),
        ("10 oz", "Net wt 10 oz (283 g)"),
        ("12 oz", "Net wt 12 oz (340 g)"),
        # 16 oz are 453.59237 g: 453 g down, and not the nearest 454 g.
        ("16 oz", "Net wt 1 lb (453 g)"),
        ("18 oz", "Net wt 1 lb 2 oz (510 g)"),
        # The books keep 7.7 oz as up to half a microgram less than it is; it stays 7.7 oz.
        ("7.7 oz", "Net wt 7.7 oz (218 g)"),
        ("48 oz", "Net wt 3 lb (1.36 kg)"),
    ],
)
def test_ounces_declared_stay_as_they_are_and_grams_are_rounded_down(ounces, us):
    assert words(parse_quantity(ounces, Dimension.MASS), "us") == us


@pytest.mark.parametrize(
    ("declared", "eu"),
    [
        # 220 g / 28.3495 = 7.760 oz, 205 g = 7.231, 108 g = 3.8096, 15 g = 0.5291, 410 g = 14.462; worked by hand.
        ("220", "Net 220 g (7.7 oz)"),
        ("205", "Net 205 g (7.2 oz)"),
        ("108.9", "Net 108 g (3.8 oz)"),
        ("99.97", "Net 99.9 g (3.5 oz)"),
        ("15", "Net 15 g (0.52 oz)"),
        ("410", "Net 410 g (14.4 oz)"),
        ("1000", "Net 1 kg (2 lb 3.2 oz)"),  # 35.27 oz
    ],
)
def test_grams_come_first_where_they_are_the_law(declared, eu):
    assert words(grams(declared), "eu") == eu


def test_the_larger_of_the_two_is_what_is_enforced():
    # `8 OZ (226 g)` is enforced at 8 oz; derived from the regulation's rule.
    eight = net_label(parse_quantity("8 oz", Dimension.MASS), "us")
    assert eight.enforced_ug == 8 * OUNCE * 10**6 > eight.metric.says_ug
    # 220 g are more than 7.7 oz.
    assert net_label(grams(220), "eu").enforced_ug == grams(220)


@settings(max_examples=200)
@given(st.integers(10**6, 10**11))
@example(28_349_523)  # an ounce, as the books keep it
@example(453_592_370)
@example(999_999_999)
@example(10**9)
def test_neither_figure_overstates_nor_gives_a_step_away(declared):
    # Beyond the half microgram that the books cannot keep.
    metric, inch_pound = metric_down(declared), inch_pound_down(declared)

    for stated in (metric, inch_pound):
        assert stated.says_ug <= declared + Fraction(1, 2)
    step = grams(10) if declared >= grams(1000) else grams(1) if declared >= grams(100) else grams("0.1")
    assert declared - metric.says_ug < step
    assert declared - inch_pound.says_ug < OUNCE * 10**6 / 10


def test_what_cannot_be_stated_is_refused():
    with pytest.raises(ValueError, match="too small"):
        net_label(1_000, "eu")


@pytest.mark.parametrize(
    ("declared", "least"), [("50", 2_000), ("51", 3_000), ("200", 3_000), ("205", 4_000), ("1001", 6_000)]
)
def test_figures_are_as_tall_as_the_directive_asks(declared, least):
    # Directive 76/211/EEC, Annex I 3.1, from memory: 2, 3, 4, 6 mm.
    assert least_height_um(grams(declared), "eu", 0) == least


def test_figures_are_as_tall_as_the_panel_asks():
    # 16 CFR 500.21, from memory: 1/16 in up to 5 square inches, 1/8 in up to 25.
    inch = 25_400**2
    assert [least_height_um(0, "us", area * inch) for area in (5, 6, 25, 26, 101)] == [
        1_588,
        3_175,
        3_175,
        4_763,
        6_350,
    ]
