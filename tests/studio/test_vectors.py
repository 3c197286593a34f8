"""Tables worked by hand that the studio's own sums are held to; the bench's are held to the same ones in tests/node."""

from fractions import Fraction

import pytest

from batches.bench.overshoot import overshoot
from studio.codes import is_valid, normalise, spaced
from studio.numerals import NBSP
from studio.percent import WHOLE, format_percent
from studio.quantities import Dimension, QuantityError, entry_text, format_quantity, parse_quantity
from studio.temperatures import TemperatureError, format_temperature, parse_temperature
from studio.templatetags.show import clock
from tests.vectors import CODES, NUMBERS, OVERSHOOT, SHOWN

DIMENSION = {"each": Dimension.COUNT} | dict.fromkeys(("mm", "cm", "m", "in", "ft"), Dimension.LENGTH)


@pytest.mark.parametrize(("text", "unit", "amount"), NUMBERS["amounts"])
def test_amounts_are_read_as_the_table_says(text, unit, amount):
    dimension = DIMENSION.get(unit, Dimension.MASS)
    if amount is None:
        with pytest.raises(QuantityError):
            parse_quantity(text, dimension, unit=unit, allow_zero=True)
    else:
        assert parse_quantity(text, dimension, unit=unit, allow_zero=True) == amount


@pytest.mark.parametrize(("text", "scale", "milli"), NUMBERS["temperatures"])
def test_temperatures_are_read_as_the_table_says(text, scale, milli):
    if milli is None:
        with pytest.raises(TemperatureError):
            parse_temperature(text, scale)
    else:
        assert parse_temperature(text, scale) == milli


@pytest.mark.parametrize(("text", "sentence"), NUMBERS["refused"])
def test_a_number_that_cannot_be_read_is_told_in_the_same_words(text, sentence):
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, Dimension.MASS, unit="g")
    assert str(caught.value) == sentence


@pytest.mark.parametrize(("text", "unit", "sentence"), NUMBERS["beyond"])
def test_an_amount_beyond_what_is_kept_is_told_in_the_same_words(text, unit, sentence):
    assert _said(parse_quantity, text, DIMENSION.get(unit, Dimension.MASS), unit=unit) == sentence


@pytest.mark.parametrize(("text", "scale", "sentence"), NUMBERS["beyond_heat"])
def test_a_temperature_beyond_sense_is_told_in_the_same_words(text, scale, sentence):
    assert _said(parse_temperature, text, scale) == sentence


def _said(parse, *given, **more):
    """The sentence of a refusal; "" where it is taken."""
    try:
        parse(*given, **more)
    except (QuantityError, TemperatureError) as error:
        return str(error)
    return ""


@pytest.mark.parametrize(("amount", "unit", "text"), SHOWN["amounts"])
def test_amounts_are_written_as_the_table_says(amount, unit, text):
    assert format_quantity(amount, unit) == text


@pytest.mark.parametrize(("amount", "unit", "text"), SHOWN["entries"])
def test_a_field_is_filled_as_the_table_says(amount, unit, text):
    assert entry_text(amount, unit) == text


@pytest.mark.parametrize(("milli", "scale", "text"), SHOWN["temperatures"])
def test_temperatures_are_written_as_the_table_says(milli, scale, text):
    assert format_temperature(milli, scale) == text


@pytest.mark.parametrize(("over", "under", "text"), SHOWN["percents"])
def test_percentages_are_written_as_the_table_says(over, under, text):
    assert format_percent(Fraction(over * WHOLE, under)) == text


@pytest.mark.parametrize(("seconds", "text"), SHOWN["clocks"])
def test_times_are_written_as_the_table_says(seconds, text):
    assert clock(seconds).split(NBSP)[0] == text


@pytest.mark.parametrize(("code", "valid"), CODES["valid"])
def test_codes_are_judged_as_the_table_says(code, valid):
    assert is_valid(code) is valid


@pytest.mark.parametrize(("text", "code"), CODES["stored"])
def test_codes_are_read_as_the_table_says(text, code):
    assert normalise(text) == code


@pytest.mark.parametrize(("code", "text"), CODES["spaced"])
def test_codes_are_spaced_as_the_table_says(code, text):
    assert spaced(code) == text


def _share(text):
    return None if text is None else Fraction(text)


def _worked_out(case):
    return overshoot(
        case["fragrance"],
        case["wax"],
        Fraction(case["wanted"]),
        case["fill"],
        case["loss"],
        _share(case["maximum"]),
        maximum_of_melt=_share(case["maximum_of_melt"]),
        other_ug=case["other"],
    )


@pytest.mark.parametrize("case", OVERSHOOT["cases"], ids=lambda case: case["says"])
def test_wax_to_restore_a_load_is_what_the_table_says(case):
    result = _worked_out(case)

    assert (result.load_of_wax, result.load_of_melt) == (
        Fraction(case["load_of_wax"]),
        Fraction(case["load_of_melt"]),
    )
    assert (result.wax_to_add_ug, result.melt_ug) == (case["wax_to_add"], case["melt"])
    assert (result.units, result.above_maximum) == (case["units"], case["above_maximum"])


@pytest.mark.parametrize("case", OVERSHOOT["refused"], ids=lambda case: case["says"])
def test_weights_that_cannot_be_have_no_load(case):
    with pytest.raises(ValueError, match="Weigh the wax first"):
        _worked_out(case)
