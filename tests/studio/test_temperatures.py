"""Temperatures in and out: thousandths of a degree Celsius, both scales, slips refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.temperatures import TemperatureError, format_temperature, parse_temperature

NBSP = "\N{NO-BREAK SPACE}"


# Derived from °C = (°F − 32) × 5/9 (from memory); tolerance 0.01 °C.
@pytest.mark.parametrize(
    ("fahrenheit", "milli_c"), [("185 F", 85_000), ("135 F", 57_220), ("200 F", 93_330), ("140 F", 60_000)]
)
def test_fahrenheit_becomes_celsius(fahrenheit, milli_c):
    assert abs(parse_temperature(fahrenheit) - milli_c) <= 10


# Common practice, no source: a soy pour at 130 to 140 °F is 54.4 to 60.0 °C.
def test_a_pouring_window_shows_in_both_scales():
    low, high = parse_temperature("130", "F"), parse_temperature("140", "F")

    assert (format_temperature(low), format_temperature(high)) == (f"54.4{NBSP}°C", f"60{NBSP}°C")
    assert parse_temperature("145 F") > high
    assert parse_temperature("128 F") < low


@pytest.mark.parametrize(
    ("text", "unit", "milli_c"),
    [
        ("85°C", "C", 85_000),
        ("85", "C", 85_000),
        ("85", "F", 29_444),  # 53 × 5/9 = 29.4444…
        ("135 f", "C", 57_222),  # 57.2222…
        ("-5 C", "C", -5_000),
        ("\N{MINUS SIGN}5", "C", -5_000),
        (".5 °C", "C", 500),
        ("85 degrees Celsius", "F", 85_000),
        (f" 85.25{NBSP}°C ", "C", 85_250),
        ("-50", "C", -50_000),
        ("400", "C", 400_000),
    ],
)
def test_what_people_type_is_understood(text, unit, milli_c):
    assert parse_temperature(text, unit) == milli_c


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Enter a value, for example 85 °C"),
        ("warm", "one temperature in °C or °F"),
        ("358 K", "one temperature in °C or °F"),
        ("60-65", "one temperature"),
        ("62,5", "Write decimals with a point: 62.5"),
        ("62.5.1", "only one decimal point"),
        ("62.5125", "at most 3 decimals"),
        ("1e2", "without an exponent"),
        ("1/2", "fractions as decimals"),
        ("-50.1", "between \N{MINUS SIGN}50"),
        ("400.1", "check the number and whether it is in °C or °F"),
        ("\uff18\uff15", "plain figures"),
        ("85\x00", "plain figures"),
        ("8" * 41, "at most 40 characters"),
    ],
)
def test_what_cannot_be_a_temperature_is_refused_with_advice(text, says):
    with pytest.raises(TemperatureError) as refused:
        parse_temperature(text)

    assert says in str(refused.value)


@pytest.mark.parametrize(
    ("milli_c", "unit", "shown"),
    [
        (85_000, "C", f"85{NBSP}°C"),
        (85_000, "F", f"185{NBSP}°F"),
        (57_222, "C", f"57.2{NBSP}°C"),
        (57_250, "C", f"57.2{NBSP}°C"),  # half, to the even tenth
        (-5_000, "C", f"\N{MINUS SIGN}5{NBSP}°C"),
        (-40, "C", f"0{NBSP}°C"),
        (0, "F", f"32{NBSP}°F"),
    ],
)
def test_a_temperature_is_written_for_people(milli_c, unit, shown):
    assert format_temperature(milli_c, unit) == shown


@given(st.integers(-500, 4_000), st.sampled_from("CF"))
def test_what_is_written_reads_back(tenths, unit):
    read = tenths * 100

    assert abs(parse_temperature(format_temperature(read, unit)) - read) <= 28  # half of 0.1 °F is 0.028 °C


@given(st.text(st.characters(), max_size=60) | st.text("0123456789.,-°CFcf ", max_size=12))
def test_no_text_does_anything_but_give_a_temperature_or_a_sentence(text):
    try:
        milli_c = parse_temperature(text)
    except TemperatureError as refused:
        sentence = str(refused)
    else:
        assert -50_000 <= milli_c <= 400_000
        return
    assert sentence.replace(NBSP, " ").isprintable()
