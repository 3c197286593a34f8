"""Tables worked by hand that the studio's own reading is held to; the bench's is held to the same ones in a browser."""

from fractions import Fraction

import pytest

from batches.formulas.overshoot import overshoot
from studio.core.quantities import Dimension, QuantityError, parse_quantity
from studio.core.temperatures import TemperatureError, parse_temperature
from tests.vectors import NUMBERS, OVERSHOOT

DIMENSION = {"each": Dimension.COUNT, "m": Dimension.LENGTH, "in": Dimension.LENGTH, "mm": Dimension.LENGTH}


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


@pytest.mark.parametrize("case", OVERSHOOT["cases"], ids=lambda case: case["says"])
def test_wax_to_restore_a_load_is_what_the_table_says(case):
    def share(text):
        return None if text is None else Fraction(text)

    result = overshoot(
        case["fragrance"],
        case["wax"],
        Fraction(case["wanted"]),
        case["fill"],
        case["loss"],
        share(case["maximum"]),
        maximum_of_melt=share(case["maximum_of_melt"]),
        other_ug=case["other"],
    )

    assert (result.load_of_wax, result.load_of_melt) == (
        Fraction(case["load_of_wax"]),
        Fraction(case["load_of_melt"]),
    )
    assert (result.wax_to_add_ug, result.melt_ug) == (case["wax_to_add"], case["melt"])
    assert (result.units, result.above_maximum) == (case["units"], case["above_maximum"])
