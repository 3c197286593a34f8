"""Tables worked by hand that the studio's own sums are held to; the bench's are held to the same ones in tests/node."""

from fractions import Fraction

import pytest

from batches.formulas.loads import Weighing, load_of
from batches.formulas.overshoot import overshoot
from batches.lineage.composition import Composition
from batches.models import FormulaLine, FormulaVersion, Reading
from batches.production.pots import PotWeight
from batches.production.readings import against_formula
from inventory.models import Item
from studio.core.codes import is_valid, normalise, spaced
from studio.core.durations import clock
from studio.core.numerals import NBSP
from studio.core.percent import WHOLE, format_percent
from studio.core.quantities import Dimension, QuantityError, entry_text, format_quantity, parse_quantity
from studio.core.temperatures import TemperatureError, format_temperature, parse_temperature
from tests.vectors import CODES, JUDGED, LOADS, NUMBERS, OVERSHOOT, SHOWN

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


@pytest.mark.parametrize(("target", "drawn", "tolerance", "where"), JUDGED["weights"])
def test_a_weight_beside_its_target_is_where_the_table_says(target, drawn, tolerance, where):
    weight = PotWeight(FormulaLine(), target, tolerance, drawn, is_known=True)

    assert (weight.is_under, weight.is_within, weight.is_over) == (
        where == "under",
        where == "within",
        where == "over",
    )


BESIDE = {
    "in": "in the window",
    "above": "above the window",
    "below": "below the window",
    "at": "at its aim",
    "over": "over its aim",
    "under": "under its aim",
    "": "",
}


@pytest.mark.parametrize(("low", "high", "read", "where"), JUDGED["windows"])
def test_a_temperature_beside_its_window_is_where_the_table_says(low, high, read, where):
    version = FormulaVersion(pour_from_mc=low, pour_to_mc=high, heat_to_mc=low, fragrance_at_mc=high)

    said = against_formula(Reading(kind=Reading.Kind.POUR, temperature_mc=read), version)
    assert said.split(",")[0] == BESIDE[where]
    for kind in (Reading.Kind.MELT, Reading.Kind.FRAGRANCE) if low == high else ():
        said = against_formula(Reading(kind=kind, temperature_mc=read), version)
        assert said.split(",")[0] == BESIDE[where]


class Shelf:
    """Items of a table by name, none of them in the database."""

    def __init__(self) -> None:
        self.items: dict[str, Item] = {}

    def item(self, row):
        new = Item(
            pk=len(self.items) + 1,
            name=row["name"],
            kind=row["kind"],
            maximum_load_ppm=row["maximum"],
            maximum_load_basis=row["maximum_basis"],
        )
        return self.items.setdefault(row["name"], new)

    def weighings(self, pot):
        """What was weighed of each line that is in the melt."""
        rows = [
            (FormulaLine(pk=place, item=self.item(row), basis=row["basis"]), row)
            for place, row in enumerate(pot, 1)
        ]
        return [
            Weighing(line, None, row["weight"], 1, self.portion(row.get("inside")))
            for line, row in rows
            if line.in_melt
        ]

    def portion(self, inside):
        """What is in melt that counts by its parts."""
        if inside is None:
            return None
        unknown = Fraction(inside["unknown"])
        return Composition(
            {self.item(part): Fraction(part["share"]) for part in inside["parts"]},
            wax=Fraction(inside["wax"]),
            scent=Fraction(inside["scent"]),
            unknown={"a lot": unknown} if unknown else {},
        )


@pytest.mark.parametrize("case", LOADS["cases"], ids=lambda case: case["says"])
def test_the_load_of_a_pot_is_what_the_table_says(case):
    load = load_of(Shelf().weighings(case["pot"]))

    above = [
        f"{each.item.maximum_load_ppm / 10_000:g} % {each.item.get_maximum_load_basis_display()} for {each.item.name}"
        for each in load.above
    ]
    assert sorted(above) == sorted(case["above"])
    if case["of_wax"] is None:
        assert load.unknown
    else:
        assert (load.of_wax, load.of_melt) == (Fraction(case["of_wax"]), Fraction(case["of_melt"]))


@pytest.mark.parametrize("case", LOADS["none"], ids=lambda case: case["says"])
def test_without_wax_or_fragrance_there_is_no_load(case):
    assert load_of(Shelf().weighings(case["pot"])) is None
