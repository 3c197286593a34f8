"""Amounts in and out: exact factors, the typed grammar, rounding once, and text that reads back."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.quantities import (
    QUANTITY_LIMIT,
    Dimension,
    PackQuestion,
    QuantityError,
    entry_text,
    format_quantity,
    from_unit,
    parse_quantity,
    read_packed,
    read_unit,
    round_to_division,
    split_quantity,
    to_unit,
    units_for,
)

MASS, COUNT, LENGTH = Dimension.MASS, Dimension.COUNT, Dimension.LENGTH
NBSP = "\N{NO-BREAK SPACE}"
EVERY_UNIT = [(dimension, unit) for dimension in Dimension for unit in units_for(dimension)]


def refusal(text: str, dimension: Dimension = MASS, **options) -> str:
    with pytest.raises(QuantityError) as refused:
        parse_quantity(text, dimension, **options)
    return str(refused.value)


# Exact factors: "Exact Values for Capacity & Mass" (which names NIST Weights and Measures), read; the inch is
# from memory; metric prefixes need no source.
@pytest.mark.parametrize(
    ("unit", "base_units"),
    [
        ("mg", "1000"),
        ("g", "1000000"),
        ("kg", "1000000000"),
        ("oz", "28349523.125"),
        ("lb", "453592370"),
        ("each", "1"),
        ("mm", "1000"),
        ("cm", "10000"),
        ("m", "1000000"),
        ("in", "25400"),
        ("ft", "304800"),
        ("yd", "914400"),
    ],
)
def test_a_unit_has_its_exact_size(unit, base_units):
    assert 1 / to_unit(1, unit) == Fraction(base_units)


# Derived from the exact factors; rounded once, half to even, to the microgram.
@pytest.mark.parametrize(
    ("text", "micrograms"),
    [
        ("1 lb", 453_592_370),
        ("45 lb", 20_411_656_650),
        ("50 lb", 22_679_618_500),
        ("22 lb 3 oz", 10_064_080_709),  # 10 064.080 709 375 g
        ("10 lb 12.5 oz", 4_890_292_739),  # 4 890.292 739 062 5 g
        ("8 oz", 226_796_185),
        ("9 oz", 255_145_708),  # 255.145 708 125 g
        ("10 oz", 283_495_231),  # 283.495 231 25 g
        ("12 oz", 340_194_278),  # 340.194 277 5 g: half, to the even microgram
        ("16 oz", 453_592_370),
        ("0.1 oz", 2_834_952),  # 2.834 952 312 5 g
        ("25 lb", 11_339_809_250),  # the fragrance pail of common practice, no source
    ],
)
def test_pounds_and_ounces_are_kept_in_micrograms(text, micrograms):
    assert parse_quantity(text, MASS) == micrograms


# Derived from the exact factors, to the tolerance the digits carry.
@pytest.mark.parametrize(
    ("text", "unit", "expected", "tolerance"),
    [
        ("10 kg", "lb", "22.046226218", "1e-9"),
        ("250 g", "oz", "8.818490", "1e-6"),
        ("3406.8706056 g", "lb", "7.510864", "1e-6"),  # 1 US gal of wax at 0.90 g/mL
    ],
)
def test_metric_amounts_show_in_inch_pound_units(text, unit, expected, tolerance):
    shown = to_unit(parse_quantity(text, MASS), unit)

    assert abs(shown - Fraction(expected)) <= Fraction(tolerance)


# Nearest gram of whole ounces, derived; half to even as NIST SP 811 B.7, from memory.
@pytest.mark.parametrize(
    ("ounces", "shown"),
    [("8 oz", "227"), ("9 oz", "255"), ("10 oz", "283"), ("12 oz", "340"), ("16 oz", "454")],
)
def test_ounces_show_to_the_nearest_gram(ounces, shown):
    assert split_quantity(parse_quantity(ounces, MASS), "g", places=0) == (shown, "g")


# "Rounding errors and buying an extra decimal" (summitmeasurement.net, ID 284), read: 174.937678540283 lb.
@pytest.mark.parametrize(
    ("division", "reading"),
    [
        ("2", "174"),
        ("1", "175"),
        ("0.1", "174.9"),
        ("0.05", "174.95"),
        ("0.02", "174.94"),
        ("0.001", "174.938"),
    ],
)
def test_a_reading_lands_on_the_scales_division(division, reading):
    thousandths = Fraction("174.937678540283") * 1000

    assert round_to_division(thousandths, int(Fraction(division) * 1000)) == Fraction(reading) * 1000


# Derived: 37.037 g of fragrance in 500 g of melt at 8 % of wax.
@pytest.mark.parametrize(
    ("division", "target"),
    [
        (1_000_000, 37_000_000),
        (100_000, 37_000_000),
        (50_000, 37_050_000),
        (10_000, 37_040_000),
        (2_000_000, 38_000_000),
        (5_000_000, 35_000_000),
    ],
)
def test_a_fragrance_target_lands_on_the_scales_division(division, target):
    assert round_to_division(37_037_000, division) == target


# NIST SP 811 B.7, from memory: exactly one half goes to the even multiple.
@pytest.mark.parametrize(
    ("amount", "division", "rounded"),
    [(5, 10, 0), (15, 10, 20), (25, 10, 20), (Fraction(5, 2), 1, 2), (-15, 10, -20)],
)
def test_half_a_division_goes_to_the_even_multiple(amount, division, rounded):
    assert round_to_division(amount, division) == rounded


@pytest.mark.parametrize("division", [0, -1])
def test_a_division_must_be_above_zero(division):
    with pytest.raises(ValueError, match="above zero"):
        round_to_division(5, division)


@pytest.mark.parametrize(
    ("text", "dimension", "unit", "amount"),
    [
        ("74oz", MASS, None, 2_097_864_711),
        ("1.25 kg", MASS, None, 1_250_000_000),
        ("1,250 g", MASS, None, 1_250_000_000),
        ("1,250,000.5 mg", MASS, None, 1_250_000_500),
        (".5 lb", MASS, None, 226_796_185),
        ("007 g", MASS, None, 7_000_000),
        ("12", MASS, "g", 12_000_000),
        ("8 oz", MASS, "g", 226_796_185),
        ("2lb3oz", MASS, None, 992_233_309),  # 35 × 28 349 523.125 = 992 233 309.375
        ("2 LB. 3 Ounces", MASS, None, 992_233_309),
        ("3 KG", MASS, None, 3_000_000_000),
        (f" 1,250{NBSP}g ", MASS, None, 1_250_000_000),
        ("12\N{THIN SPACE}kilos", MASS, None, 12_000_000_000),
        ("12", COUNT, None, 12),
        ("1,200 pcs", COUNT, None, 1200),
        ("1 piece", COUNT, None, 1),
        ("2.5 dozen", COUNT, None, 30),
        ("12.0 ea", COUNT, None, 12),
        ("150 mm", LENGTH, None, 150_000),
        ('6"', LENGTH, None, 152_400),
        ("5' 6\"", LENGTH, None, 1_676_400),
        ("5\N{RIGHT SINGLE QUOTATION MARK}6\N{DOUBLE PRIME}", LENGTH, None, 1_676_400),
        ("1 yd 2 ft 3 in", LENGTH, None, 1_600_200),
        ("2", LENGTH, "m", 2_000_000),
    ],
)
def test_what_people_type_is_understood(text, dimension, unit, amount):
    assert parse_quantity(text, dimension, unit=unit) == amount


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Enter a value, for example 12 g"),
        ("  ", "Enter a value"),
        ("12", "Add a unit, for example 12 g or 12 oz."),
        ("1,5 g", "Write decimals with a point: 1.5"),
        ("1,25 kg", "Write decimals with a point: 1.25"),
        ("0,125 kg", "Write decimals with a point: 0.125"),
        (",5 kg", "Write decimals with a point: 0.5"),
        ("1.250,5 g", "commas only between thousands"),
        ("1,250,00 g", "groups of three"),
        ("1.250.000 g", "only one decimal point"),
        ("12. g", "or leave it out: 12"),
        ("1 250 g", "no space inside a number"),
        ("2 lb 3", "Give each number its unit"),
        ("3 oz 2 lb", "larger unit first"),
        ("2 lb 3 lb", "larger unit first"),
        ("3 lb.5 oz", "only a number and its unit"),
        ("1 lb and 2 oz", "is not a unit of weight"),
        ("2 lb 3 in", "is a length; weigh it"),
        ("12 ml", "is a volume; weigh it"),
        ("12 fl oz", "is a volume; weigh it"),
        ("12 Fl. Oz.", "is a volume; weigh it"),
        ("500 gr", "grams or grains"),
        ("3 troy oz", "Troy ounces"),
        ("3 oz t", "Troy ounces"),
        ("3 blobs", "use one of: mg, g, kg, oz, lb"),
        ("3 Mg", "write mg in small letters"),
        ("3 each", "is a count; weigh it"),
        ("-3 g", "cannot be below zero"),
        ("\N{MINUS SIGN}3 g", "cannot be below zero"),
        ("12-14 g", "not a range"),
        ("0 g", "above zero"),
        ("1/2 lb", "fractions as decimals"),
        ("½ lb", "fractions as decimals"),
        ("1e3 g", "without an exponent"),
        ("9**9**9 g", "only a number and its unit"),
        ("NaN", "only a number and its unit"),
        ("inf g", "only a number and its unit"),
        ("3 g\x00", "plain figures"),
        ("\uff11\uff12 g", "plain figures"),  # full-width figures
        ("\u0661\u0662 g", "plain figures"),  # Arabic-Indic figures
        ("3 \u0433", "plain figures"),  # Cyrillic
        ("<0.1 g", "only a number and its unit"),
        ("1" * 39 + " g", "at most 40 characters"),
        ("0.1234567890123 g", "at most 12 decimals"),
        ("0.0000001 g", "at least 0.001 mg"),
        ("0.0000005 g", "at least 0.001 mg"),  # half a microgram would round to zero
        ("1,000,001 kg", "more than 1,000,000 kg"),
    ],
)
def test_what_cannot_be_a_weight_is_refused_with_advice(text, says):
    assert says in refusal(text)


@pytest.mark.parametrize(
    ("text", "dimension", "says"),
    [
        ("3 g", COUNT, "is a weight; this is counted in pieces"),
        ("2.5", COUNT, "counted whole"),
        ("0.1 dozen", COUNT, "counted whole"),
        ("1 crate", COUNT, "does not say how many pieces there are"),
        ("2 dozen gross", COUNT, "write them all as one number, for example 144"),
        ("12 ml", COUNT, "is a volume; this is counted in pieces"),
        ("0", COUNT, "above zero"),
        ("3 g", LENGTH, "is a weight; measure it"),
        ("12", LENGTH, "Add a unit, for example 12 mm or 12 in."),
        ("6\" 5'", LENGTH, "larger unit first"),
        ("3 Mm", LENGTH, "write mm in small letters"),
        ("0.0001 mm", LENGTH, "at least 0.001 mm"),
        ("2,000,000,000 m", LENGTH, "more than 1,000,000 km"),
    ],
)
def test_a_unit_of_another_kind_is_refused_with_advice(text, dimension, says):
    assert says in refusal(text, dimension)


def test_zero_is_taken_only_where_it_is_allowed():
    assert parse_quantity("0 g", MASS, allow_zero=True) == 0
    assert parse_quantity("0", COUNT, allow_zero=True) == 0
    assert "at least 0.001 mg" in refusal("0.0000001 g", allow_zero=True)


def test_the_largest_amount_is_taken_and_one_more_is_not():
    assert parse_quantity("1,000,000 kg", MASS) == QUANTITY_LIMIT == 10**15
    assert parse_quantity(str(10**15), COUNT) == 10**15
    assert "check the unit" in refusal(str(10**15 + 1), COUNT)
    assert parse_quantity(entry_text(10**15, "lb"), MASS, unit="lb") == 10**15


def test_the_units_offered_are_those_of_the_dimension():
    assert units_for(MASS) == ("mg", "g", "kg", "oz", "lb")
    assert units_for(COUNT) == ("each",)
    assert units_for(LENGTH) == ("mm", "cm", "m", "in", "ft", "yd")


def test_a_spelled_out_unit_is_read_as_its_symbol():
    assert read_unit("Pounds", MASS) == "lb"
    assert read_unit("lbs.", MASS) == "lb"


def test_a_number_of_a_unit_becomes_base_units_half_to_even():
    assert from_unit(Decimal("2.5"), "kg") == 2_500_000_000
    assert from_unit(12, "oz") == 340_194_278
    assert from_unit(Fraction(1, 3), "m") == 333_333
    assert from_unit(Decimal("0.0000005"), "g") == 0
    assert from_unit(Decimal("0.0000015"), "g") == 2


def test_a_float_is_never_taken_for_an_amount():
    with pytest.raises(TypeError):
        from_unit(2.5, "kg")


def test_an_unknown_unit_symbol_is_named():
    with pytest.raises(QuantityError, match='"stone" is not a unit'):
        format_quantity(1, "stone")


@pytest.mark.parametrize(
    ("amount", "unit", "options", "shown"),
    [
        (1_250_000_000, "g", {}, f"1,250{NBSP}g"),
        (1_250_000_000, "kg", {}, f"1.25{NBSP}kg"),
        (1_250_000_000, "kg", {"fixed": True}, f"1.250{NBSP}kg"),
        (37_037_000, "g", {}, f"37{NBSP}g"),
        (37_050_000, "g", {}, f"37{NBSP}g"),  # 37.05: half, to the even tenth
        (37_150_000, "g", {}, f"37.2{NBSP}g"),
        (37_000_000, "g", {"fixed": True}, f"37.0{NBSP}g"),
        (37_037_000, "g", {"places": 3}, f"37.037{NBSP}g"),
        (453_592_370, "lb", {}, f"1{NBSP}lb"),
        (453_592_370, "oz", {"fixed": True}, f"16.00{NBSP}oz"),
        (-8_000_000, "g", {}, f"\N{MINUS SIGN}8{NBSP}g"),
        (40_000, "g", {}, f"<0.1{NBSP}g"),
        (50_000, "g", {}, f"<0.1{NBSP}g"),  # half a tenth would round to zero
        (-40_000, "g", {}, f"> \N{MINUS SIGN}0.1{NBSP}g"),
        (400, "mg", {}, f"<1{NBSP}mg"),
        (0, "g", {}, f"0{NBSP}g"),
        (0, "kg", {"fixed": True}, f"0.000{NBSP}kg"),
        (12, "each", {}, "12"),
        (-1200, "each", {}, "\N{MINUS SIGN}1,200"),
        (1_676_400, "ft", {}, f"5.5{NBSP}ft"),
    ],
)
def test_an_amount_is_written_for_people(amount, unit, options, shown):
    assert format_quantity(amount, unit, **options) == shown


def test_a_number_and_its_unit_come_apart_for_the_page():
    assert split_quantity(1_250_000_000, "g") == ("1,250", "g")
    assert split_quantity(12, "each") == ("12", "")


@pytest.mark.parametrize(
    ("amount", "unit", "text"),
    [
        (1_250_000_000, "g", "1250"),
        (1_250_000_001, "kg", "1.250000001"),
        (1, "g", "0.000001"),
        (354_369_039, "oz", "12.5"),  # 12.5 oz is 354 369 039.0625 µg
        (453_592_370, "lb", "1"),
        (100_000_000, "oz", "3.5273962"),  # reads back as 100 000 000.14 µg; "3.527396" as 99 999 994.5
        (0, "g", "0"),
        (12, "each", "12"),
    ],
)
def test_a_field_is_filled_with_the_shortest_text_that_reads_back(amount, unit, text):
    assert entry_text(amount, unit) == text


@given(st.sampled_from(EVERY_UNIT), st.integers(1, QUANTITY_LIMIT))
def test_a_filled_field_reads_back_to_the_same_base_units(kind, amount):
    dimension, unit = kind

    assert parse_quantity(entry_text(amount, unit), dimension, unit=unit) == amount


@given(st.sampled_from(EVERY_UNIT), st.integers(0, 10**6), st.integers(0, 6), st.booleans())
def test_what_is_written_reads_back_to_what_was_shown(kind, steps, places, fixed):
    dimension, unit = kind
    amount = from_unit(Fraction(steps, 1 if dimension is COUNT else 10**places), unit)

    text = format_quantity(amount, unit, places=places, fixed=fixed)

    if not text.startswith("<"):
        read = parse_quantity(text, dimension, allow_zero=True)
        assert abs(to_unit(read - amount, unit)) * 2 * 10**places <= 1


# The round trip asked of units that meet on one scale: g → oz → g at a 0.1 g division.
@given(st.integers(1, 10**7))
def test_grams_survive_the_way_through_ounces(tenths):
    amount = tenths * 100_000

    assert from_unit(to_unit(amount, "oz"), "oz") == amount
    assert round_to_division(parse_quantity(entry_text(amount, "oz"), MASS, unit="oz"), 100_000) == amount


@given(st.integers(-(10**12), 10**12), st.integers(1, 10**6))
def test_a_rounded_target_is_within_half_a_division(amount, division):
    rounded = round_to_division(amount, division)

    assert rounded % division == 0
    assert abs(rounded - amount) * 2 <= division


@given(
    st.one_of(
        st.text(st.characters(), max_size=60),
        st.text("0123456789.,-−/ eE'\"", max_size=20),
        st.lists(
            st.sampled_from(["1", "2.5", "1,250", " ", "lb", "oz", "g", "ml", ".", "in", "ea", "-"])
        ).map("".join),
    ),
    st.sampled_from(Dimension),
    st.booleans(),
)
def test_no_text_does_anything_but_give_an_amount_or_a_sentence(text, dimension, allow_zero):
    try:
        amount = parse_quantity(text, dimension, allow_zero=allow_zero)
    except QuantityError as refused:
        sentence = str(refused)
    else:
        assert type(amount) is int
        assert (0 if allow_zero else 1) <= amount <= QUANTITY_LIMIT
        return
    assert sentence.isprintable()
    assert sentence[0].isupper() or sentence[0] == '"'


@pytest.mark.parametrize(
    ("text", "dimension", "amount"),
    [
        # Twelve to a dozen and twelve dozen to a gross: common usage, no source.
        ("1 gross", COUNT, 144),
        ("2 Gross", COUNT, 288),
        ("0.5 gross", COUNT, 72),
        ("1 gross 2 dozen", COUNT, 168),
        ("1.5 dozen", COUNT, 18),
        ("4 cases of 24", COUNT, 96),
        ("1 box of 1 gross", COUNT, 144),
        ("case of 12", COUNT, 12),
        ("2 reams of 500", COUNT, 1_000),
        ("3 packs of 2 dozen", COUNT, 72),
        ("2 Cases of 1,250 g", MASS, 2_500_000_000),
        ("6 rolls of 50 m", LENGTH, 300_000_000),
    ],
)
def test_counting_words_multiply_exactly(text, dimension, amount):
    assert parse_quantity(text, dimension) == amount


@pytest.mark.parametrize(
    ("text", "dimension", "word", "asks"),
    [
        ("4 cases", COUNT, "case", "How many are in one case? Write it as well: 4 cases of 24."),
        ("1 ream", COUNT, "ream", "How many are in one ream? Write it as well: 1 ream of 24."),
        ("6 rolls", LENGTH, "roll", "How long is what one roll holds? Write it as well: 6 rolls of 50 m."),
        ("4 boxes", MASS, "box", "What does one box weigh? Write it as well: 4 boxes of 25 lb."),
        ("4 cs", COUNT, "case", "How many are in one case? Write it as well: 4 cases of 24."),
        ("1 skid", COUNT, "pallet", "How many are in one pallet? Write it as well: 1 pallet of 24."),
        ("2 pk", COUNT, "pack", "How many are in one pack? Write it as well: 2 packs of 24."),
    ],
)
def test_packs_ask_what_is_in_one_and_are_never_taken_for_pieces(text, dimension, word, asks):
    with pytest.raises(PackQuestion) as asked:
        parse_quantity(text, dimension)

    assert (asked.value.word, str(asked.value)) == (word, asks)
    assert read_packed(text, dimension).each is None


@pytest.mark.parametrize(
    ("text", "dimension", "says"),
    [
        ("0.3 gross", COUNT, "counted whole"),
        ("1.5 cases of 24", COUNT, "whole cases"),
        ("0 cases of 24", COUNT, "whole cases"),
        ("4 cases of 2 boxes", COUNT, "one amount"),
        ("4 cases of 24", MASS, "Add a unit"),
        ("1 gross", MASS, "is a count"),
        ("4 cases of 25 lb", COUNT, "is a weight"),
        ("4 cases of 999999999999999", COUNT, "more than"),
    ],
)
def test_packs_that_make_no_whole_amount_are_refused(text, dimension, says):
    with pytest.raises(QuantityError, match=says):
        parse_quantity(text, dimension)
