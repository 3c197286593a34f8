"""Fill weights against published figures, and the two readings of a load against theirs."""

from fractions import Fraction

import pytest

from batches.formulas.fill_weight import (
    ML_IN,
    Filled,
    fill_of_volume,
    melt_density,
    volume_of_water,
    water_density,
)
from batches.formulas.sheet import batch_sheet
from batches.recipe import Basis, Recipe, RecipeLine

G = 1_000_000
OZ = Fraction("28.349523125") * G


@pytest.mark.parametrize(
    ("celsius", "grams_per_ml"),
    [(0, "0.99984"), (4, "0.99997"), (15, "0.99910"), (20, "0.99821"), (25, "0.99705")],
)
def test_the_density_of_water_to_five_figures(celsius, grams_per_ml):
    # CIPM recommended table, M. Tanaka et al., Metrologia 38 (2001) 301: 999.8428, 999.9749, 999.1026, 998.2067 and
    # 997.0470 kg/m³; from memory.
    assert round(water_density(celsius * 1000) / G, 5) == Fraction(grams_per_ml)


@pytest.mark.parametrize("milli_c", [-1, 40_001])
def test_water_beyond_the_table_is_refused(milli_c):
    with pytest.raises(ValueError, match="between 0 °C and 40 °C"):
        water_density(milli_c)


@pytest.mark.parametrize("celsius", [4, 20, 25])
def test_water_weight_times_specific_gravity_is_the_fill(celsius):
    # 12.85 oz of water × 0.89 = 11.4365 oz: a maker's page, "Estimating Wax Fill", read. A specific gravity is relative
    # to water as warm as that which was weighed, so the temperature cancels.
    water = water_density(celsius * 1000)

    fill = fill_of_volume(volume_of_water(Fraction("12.85") * OZ, water), water * Fraction("0.89"))

    assert fill / OZ == Fraction("11.4365")


def test_warmer_water_is_a_larger_vessel():
    # 200 g of water at 25 °C fill 200 / 0.997047 = 200.592 mL, at 4 °C 200.005 mL; derived.
    assert round(volume_of_water(200 * G, water_density(25_000)), 3) == Fraction("200.592")
    assert round(volume_of_water(200 * G, water_density(4_000)), 3) == Fraction("200.005")


@pytest.mark.parametrize(
    ("volume", "unit", "density", "grams", "ounces"),
    [
        # The fluid ounce shortcut gives 13.76 "oz", 4.1 % low: trade pages; done properly, derived.
        (16, "fl oz", "0.86", "406.93", "14.354"),
        (200, "mL", "0.90", "180", "6.349"),
        (8, "fl oz", "0.90", "212.93", "7.511"),
    ],
)
def test_a_volume_and_a_density_give_the_fill(volume, unit, density, grams, ounces):
    fill = fill_of_volume(volume * ML_IN[unit], Fraction(density) * G)

    assert round(fill / G, 2) == Fraction(grams)
    assert round(fill / OZ, 3) == Fraction(ounces)


def test_a_us_fluid_ounce_is_exact_and_not_an_ounce_of_weight():
    # UNITS: 29.573 529 562 5 mL, 28.349 523 125 g. An ounce of volume at 1 g/mL weighs 1.0431756 oz; derived.
    assert ML_IN["fl oz"] == Fraction("29.5735295625")
    assert round(fill_of_volume(ML_IN["fl oz"], Fraction(G)) / OZ, 7) == Fraction("1.0431756")


def test_the_melt_s_density_is_of_its_parts_by_volume():
    # 90 g at 0.90 and 10 g at 1.00 g/mL fill 100 + 10 mL: 100/110 = 0.90909 g/mL, not 0.91; derived.
    assert melt_density([(Fraction(90), 900_000), (Fraction(10), 1_000_000)]) == Fraction(10 * G, 11)


def test_headspace_takes_its_share():
    # 250 mL × 0.9 × 85 % = 191.25 g; 431 g full less 226 g empty, filled whole.
    assert fill_of_volume(Fraction(250), Fraction(900_000), 850_000) == Fraction("191.25") * G
    assert Filled(431 * G, 226 * G).fill() == 205 * G
    assert Filled(431 * G, 226 * G).fill(500_000) == Fraction("102.5") * G


def loads(basis, ppm):
    lines = (
        RecipeLine(1, 1, "wax", Basis.WAX_SHARE, 1_000_000),
        RecipeLine(2, 2, "oil", basis, ppm, is_fragrance=True),
    )
    sheet = batch_sheet(Recipe(lines, 100 * G, 0, None, 1), 1)
    return sheet.load_of_wax, sheet.load_of_melt


def test_a_load_of_wax_and_of_melt_convert_exactly():
    # c = L/(1 + L) and L = c/(1 − c): "What Does Fragrance Load Mean?", 19 Aug 2016, read. 10 % of wax is 9.0909 % of
    # the whole, 10 % of the whole 11.1111 % of wax.
    assert loads(Basis.OF_WAX, 100_000) == (Fraction(1, 10), Fraction(1, 11))
    assert loads(Basis.OF_MELT, 100_000) == (Fraction(1, 9), Fraction(1, 10))


def test_the_same_card_read_both_ways_falls_on_two_sides_of_a_label_s_threshold():
    # Oil with 1.30 % of a Skin Sens. 1B substance at 8 %: of wax 0.0963 % of the candle, of the whole 0.1040 %; EUH208
    # is due at 0.1 % (CLP Annex II 2.10, read). Derived.
    sensitiser = Fraction("1.30") / 100

    of_wax, of_whole = (sensitiser * loads(basis, 80_000)[1] * 100 for basis in (Basis.OF_WAX, Basis.OF_MELT))

    assert (round(of_wax, 4), round(of_whole, 4)) == (Fraction("0.0963"), Fraction("0.1040"))
    assert of_wax < Fraction("0.1") <= of_whole
