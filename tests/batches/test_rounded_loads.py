"""Targets that the scale can show never carry a load above a maximum, and a dye is part of the melt however it is given."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.formulas.sheet import Basis, Recipe, RecipeLine, batch_sheet, check_recipe

G = 1_000_000  # micrograms in a gram

WAX = RecipeLine(1, 11, "Soft soy", Basis.WAX_SHARE, 1_000_000, is_wax=True)
SCENT = RecipeLine(2, 12, "Cedar & Black Tea", Basis.OF_WAX, 100_000, is_fragrance=True)
DYE = RecipeLine(4, 14, "Slate dye", Basis.PER_UNIT, 2 * G, is_melted=True)
JAR = RecipeLine(3, 13, "Amber jar", Basis.PER_UNIT, 1)


def recipe(*lines, fill_ug=200 * G, loss_ppm=0, pot_ug=None, division_ug=G):
    return Recipe(tuple(lines), fill_ug, loss_ppm, pot_ug, division_ug)


def limited(line, ppm, of_melt=False):
    return replace(line, maximum_ppm=ppm, maximum_is_of_melt=of_melt)


def pours(sheet):
    return {target.line.name: target.pours for target in sheet.targets}


@pytest.mark.parametrize("held_by", ["wax", "fragrance"])
def test_a_fragrance_at_its_maximum_is_rounded_down_where_the_nearest_would_pass_it(held_by):
    """1,440 g of melt at 10 % of wax: 1,309.09 g and 130.91 g. 131/1309 = 10.008 %, 130/1309 = 9.931 %. By hand."""
    wax = limited(WAX, 100_000) if held_by == "wax" else WAX
    scent = limited(SCENT, 100_000) if held_by == "fragrance" else SCENT

    free = pours(batch_sheet(recipe(WAX, SCENT, fill_ug=1_440 * G), 1))
    held = pours(batch_sheet(recipe(wax, scent, fill_ug=1_440 * G), 1))

    assert free == {"Soft soy": (1_309 * G,), "Cedar & Black Tea": (131 * G,)}
    assert held == {"Soft soy": (1_309 * G,), "Cedar & Black Tea": (130 * G,)}


def test_every_pot_of_a_split_is_rounded_by_itself():
    """Three of 130 g in pots of two: 260 g are 236.36 + 23.64, 24/236 = 10.17 %, so 23; 130 g are 118.18 + 11.82,
    12/118 = 10.17 %, so 11. By hand."""
    sheet = batch_sheet(recipe(WAX, limited(SCENT, 100_000), fill_ug=130 * G, pot_ug=260 * G), 3)

    assert pours(sheet) == {"Soft soy": (236 * G, 118 * G), "Cedar & Black Tea": (23 * G, 11 * G)}
    assert sheet.weighed_load_of_wax == Fraction(34, 354)


def test_a_maximum_of_the_melt_is_held_on_the_melt():
    """9.1 % of melt: of 106 g 9.646 and 96.354 g, 10/106 = 9.43 % is above, so 9; of 1,440 g 131.04 and 1,308.96 g,
    131/1,440 = 9.097 %. By hand."""
    scent = limited(replace(SCENT, basis=Basis.OF_MELT, amount=91_000), 91_000, of_melt=True)

    assert pours(batch_sheet(recipe(WAX, scent, fill_ug=106 * G), 1))["Cedar & Black Tea"] == (9 * G,)
    assert pours(batch_sheet(recipe(WAX, scent, fill_ug=1_440 * G), 1))["Cedar & Black Tea"] == (131 * G,)


def test_a_formula_above_its_maximum_is_not_made_right_by_rounding():
    """11 % of wax where 10 % is the most: 1,297.30 and 142.70 g stay what they are; the page says it is above."""
    scent = limited(replace(SCENT, amount=110_000), 100_000)

    assert pours(batch_sheet(recipe(WAX, scent, fill_ug=1_440 * G), 1))["Cedar & Black Tea"] == (143 * G,)


@given(
    load=st.integers(1_000, 300_000),
    fill=st.integers(20, 3_000),
    units=st.integers(1, 40),
    pot=st.integers(1, 12),
    division=st.sampled_from([G // 10, G, 2 * G, 5 * G]),
    of_melt=st.booleans(),
    spared=st.integers(0, 20_000),
)
def test_no_pot_is_ever_rounded_above_a_maximum_that_the_formula_keeps(
    load, fill, units, pot, division, of_melt, spared
):
    basis = Basis.OF_MELT if of_melt else Basis.OF_WAX
    scent = limited(replace(SCENT, basis=basis, amount=load), load + spared, of_melt=of_melt)
    sheet = batch_sheet(
        recipe(WAX, scent, fill_ug=fill * G, pot_ug=pot * fill * G, division_ug=division), units
    )

    for wax_ug, scent_ug in zip(
        *(pours(sheet)[name] for name in ("Soft soy", "Cedar & Black Tea")), strict=True
    ):
        whole = wax_ug + scent_ug if of_melt else wax_ug
        assert not wax_ug or Fraction(scent_ug, whole) <= Fraction(load + spared, 1_000_000)


# ---- A dye per unit ----------------------------------------------------------------------------------------------------


def test_a_dye_per_unit_is_weighed_into_the_melt_with_its_loss():
    """Ten of 200 g with 2 g of dye each and 5 % of loss: the melt is 2,100 g, the dye 21 g; at 10 % of wax the rest,
    2,079 g, is 1,890 g of wax and 189 g of fragrance. A jar takes 200/2,100 of the dye: 2 g. By hand."""
    sheet = batch_sheet(recipe(WAX, SCENT, DYE, JAR, loss_ppm=50_000), 10)

    assert pours(sheet) == {
        "Soft soy": (1_890 * G,),
        "Cedar & Black Tea": (189 * G,),
        "Slate dye": (21 * G,),
        "Amber jar": (10,),
    }
    assert sheet.melt == 2_100 * G
    assert [pour.melt_ug for pour in sheet.pours] == [2_100 * G]
    assert sheet.load_of_melt == Fraction(189, 2_100)


def test_a_dye_per_unit_is_split_over_the_pots():
    sheet = batch_sheet(recipe(WAX, DYE, pot_ug=1_400 * G), 10)  # two pots of five

    assert pours(sheet) == {"Soft soy": (990 * G, 990 * G), "Slate dye": (10 * G, 10 * G)}


@given(
    fill=st.integers(30, 500),
    dye_mg=st.integers(1, 20_000),
    loss=st.integers(0, 200_000),
    scent=st.integers(0, 150_000),
    units=st.integers(1, 200),
)
def test_the_melt_stays_the_fill_weight_and_every_jar_gets_its_dye(fill, dye_mg, loss, scent, units):
    lines = [WAX, replace(DYE, amount=dye_mg * 1_000)]
    if scent:
        lines.append(replace(SCENT, amount=scent))
    made = recipe(*lines, fill_ug=fill * G, loss_ppm=loss)
    sheet = batch_sheet(made, units)
    exact = {target.line.name: target.exact for target in sheet.targets}

    assert sum(exact.values()) == sheet.melt == units * fill * G * Fraction(1_000_000 + loss, 1_000_000)
    assert exact["Slate dye"] * fill * G / sheet.melt == dye_mg * 1_000


def test_more_dye_than_the_jar_holds_leaves_no_room_for_wax():
    (problem,) = check_recipe(recipe(WAX, replace(DYE, amount=200 * G)))

    assert problem == (
        None,
        "The rates on the melt come to 100\N{NO-BREAK SPACE}%, which leaves no room for wax. Lower them.",
    )
