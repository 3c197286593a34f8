"""The batch sheet: targets, loads, pours, and how many a shelf allows."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batches.formulas.sheet import Basis, Recipe, RecipeError, RecipeLine, batch_sheet, check_recipe, how_many
from tests.examples import costly

G = 1_000_000  # micrograms in a gram
LB = 453_592_370  # micrograms in a pound, exactly
OZ = Fraction(LB, 16)

WAX = RecipeLine(1, 11, "Soft soy", Basis.WAX_SHARE, 1_000_000)
SCENT = RecipeLine(2, 12, "Cedar & Black Tea", Basis.OF_WAX, 100_000, is_fragrance=True)
JAR = RecipeLine(3, 13, "Amber jar", Basis.PER_UNIT, 1)


def recipe(*lines, fill_ug=200 * G, loss_ppm=0, pot_ug=None, division_ug=G):
    return Recipe(tuple(lines), fill_ug, loss_ppm, pot_ug, division_ug)


def scent(basis, ppm):
    return replace(SCENT, basis=basis, amount=ppm)


def totals(sheet):
    return {target.line.name: target.total for target in sheet.targets}


# Wax and fragrance of one fill, for both readings of a load.
# Derived, from the two definitions on a trade page, "What Does Fragrance Load Mean?" (19 Aug 2016), read.
# Tolerance: half of the last printed digit.
@pytest.mark.parametrize(
    ("basis", "fill_g", "load_ppm", "wax_g", "oil_g"),
    [
        (Basis.OF_WAX, 240, 120_000, "214.286", "25.714"),
        (Basis.OF_MELT, 240, 120_000, "211.2", "28.8"),
        (Basis.OF_WAX, 500, 80_000, "462.963", "37.037"),
        (Basis.OF_MELT, 500, 80_000, "460", "40"),
        (Basis.OF_WAX, 1000, 60_000, "943.396", "56.604"),
        (Basis.OF_MELT, 1000, 60_000, "940", "60"),
        (Basis.OF_WAX, 1000, 100_000, "909.091", "90.909"),
        (Basis.OF_MELT, 1000, 100_000, "900", "100"),
    ],
)
def test_a_load_of_wax_and_a_load_of_melt_give_the_published_weights(basis, fill_g, load_ppm, wax_g, oil_g):
    sheet = batch_sheet(recipe(WAX, scent(basis, load_ppm), fill_ug=fill_g * G), 1)

    assert abs(sheet.wax / G - Fraction(wax_g)) <= Fraction("0.0005")
    assert abs(sheet.fragrance / G - Fraction(oil_g)) <= Fraction("0.0005")


def test_ten_percent_on_sixteen_ounces_reads_two_ways():
    # Trade page "What Does Fragrance Load Mean?" (19 Aug 2016), read: 16 oz + 1.6 oz, or 14.4 oz + 1.6 oz.
    on_wax = batch_sheet(recipe(WAX, scent(Basis.OF_WAX, 100_000), fill_ug=498_951_607), 1)  # 17.6 oz
    on_melt = batch_sheet(recipe(WAX, scent(Basis.OF_MELT, 100_000), fill_ug=LB), 1)
    # The same load of wax in a 16 oz fill: 14.5455 + 1.4545 oz (derived), tolerance 0.0001 oz.
    in_fill = batch_sheet(recipe(WAX, scent(Basis.OF_WAX, 100_000), fill_ug=LB), 1)

    assert (on_wax.wax / OZ, on_wax.fragrance / OZ) == (16, Fraction("1.6"))
    assert (on_melt.wax / OZ, on_melt.fragrance / OZ) == (Fraction("14.4"), Fraction("1.6"))
    assert abs(in_fill.wax / OZ - Fraction("14.5455")) <= Fraction("0.0001")
    assert abs(in_fill.fragrance / OZ - Fraction("1.4545")) <= Fraction("0.0001")


def test_both_loads_are_shown_whichever_was_given():
    # Derived: 10 % of wax is 1/11 of the melt; 10 % of the melt is 1/9 of the wax.
    on_wax = batch_sheet(recipe(WAX, scent(Basis.OF_WAX, 100_000)), 7)
    on_melt = batch_sheet(recipe(WAX, scent(Basis.OF_MELT, 100_000)), 7)

    assert (on_wax.load_of_wax, on_wax.load_of_melt) == (Fraction(1, 10), Fraction(1, 11))
    assert (on_melt.load_of_wax, on_melt.load_of_melt) == (Fraction(1, 9), Fraction(1, 10))


# Derived from rounding to the nearest multiple (NIST SP 811 B.7, from memory): 37.037 g on several scales.
@pytest.mark.parametrize(
    ("division_ug", "shown_ug"),
    [
        (G, 37 * G),
        (G // 10, 37 * G),
        (G // 20, 37_050_000),
        (G // 100, 37_040_000),
        (2 * G, 38 * G),
        (5 * G, 35 * G),
    ],
)
def test_a_target_is_what_the_scale_can_show(division_ug, shown_ug):
    sheet = batch_sheet(recipe(WAX, scent(Basis.OF_WAX, 80_000), fill_ug=500 * G, division_ug=division_ug), 1)

    assert totals(sheet)["Cedar & Black Tea"] == shown_ug


AMBER_220 = recipe(
    RecipeLine(1, 11, "Soft soy", Basis.WAX_SHARE, 700_000),
    RecipeLine(2, 12, "Firm soy", Basis.WAX_SHARE, 300_000),
    RecipeLine(3, 13, "Rain on Slate", Basis.OF_WAX, 80_000, is_fragrance=True),
    RecipeLine(4, 14, "Slate dye", Basis.OF_MELT, 1_000),
    RecipeLine(5, 15, "Amber jar", Basis.PER_UNIT, 1),
    RecipeLine(6, 16, "Wick", Basis.PER_UNIT, 1, spare_ppm=40_000),
    RecipeLine(7, 17, "Ribbon", Basis.PER_UNIT, 80_000, spare_ppm=25_000),
    fill_ug=220 * G,
    loss_ppm=20_000,
    pot_ug=4_000 * G,
)


def test_a_whole_run_worked_by_hand():
    # 50 × 220 g × 1.02 = 11 220 g; wax 11 220 × 0.999 / 1.08 = 10 378.5 g. Derived, every figure by hand.
    sheet = batch_sheet(AMBER_220, 50)

    assert (sheet.melt, sheet.wax, sheet.fragrance) == (11_220 * G, 10_378_500_000, 830_280_000)
    assert (sheet.load_of_wax, sheet.load_of_melt) == (Fraction(2, 25), Fraction(37, 500))
    assert [t.exact for t in sheet.targets] == [
        7_264_950_000, 3_113_550_000, 830_280_000, 11_220_000, 50, 52, 4_100_000
    ]  # fmt: skip
    assert [t.pours for t in sheet.targets] == [
        (2_470 * G, 2_470 * G, 2_325 * G),
        (1_059 * G, 1_059 * G, 996 * G),
        (282 * G, 282 * G, 266 * G),
        (4 * G, 4 * G, 4 * G),
        (50,),
        (52,),
        (4_100_000,),
    ]
    assert [(p.number, p.melt_ug, p.units) for p in sheet.pours] == [
        (1, 3_815 * G, 17),
        (2, 3_815 * G, 17),
        (3, 3_591 * G, 16),
    ]
    assert sheet.weighed_load_of_wax == Fraction(830, 10_379)
    assert sheet.weighed_load_of_melt == Fraction(830, 11_221)


def test_a_pot_that_just_takes_the_run_needs_one_pour_and_a_microgram_less_needs_two():
    snug = recipe(WAX, SCENT, fill_ug=220 * G, pot_ug=2_200 * G)

    assert [p.units for p in batch_sheet(snug, 10).pours] == [10]
    assert [p.units for p in batch_sheet(replace(snug, pot_ug=2_200 * G - 1), 10).pours] == [5, 5]


def test_each_pour_holds_enough_for_its_own_vessels():
    # 50 vessels of 220 g are 11 kg: three pots of 3.7 kg would hold it, but not the 17 vessels of the first.
    sheet = batch_sheet(recipe(WAX, fill_ug=220 * G, pot_ug=3_700 * G), 50)

    assert [(p.units, p.melt_ug) for p in sheet.pours] == [
        (13, 2_860 * G), (13, 2_860 * G), (12, 2_640 * G), (12, 2_640 * G)
    ]  # fmt: skip


def test_spare_parts_are_rounded_up_to_a_whole_one():
    # 33 × 1.04 = 34.32
    sheet = batch_sheet(recipe(WAX, replace(JAR, spare_ppm=40_000)), 33)

    assert totals(sheet)["Amber jar"] == 35


def test_a_blend_is_planned_by_weight_in_equal_pours():
    # 10 kg and 2 % loss are 10 200 g in three pots of 4 kg: 3 400 g each; 3 400 / 1.1 = 3 090.909 g of wax.
    sheet = batch_sheet(recipe(WAX, SCENT, fill_ug=None, loss_ppm=20_000, pot_ug=4_000 * G), 10_000 * G)

    assert sheet.melt == 10_200 * G
    assert [(p.melt_ug, p.units) for p in sheet.pours] == [(3_400 * G, None)] * 3
    assert sheet.targets[0].pours == (3_091 * G,) * 3


def test_a_blend_of_fragrances_needs_no_wax():
    blend = recipe(
        RecipeLine(1, 21, "Quince", Basis.OF_MELT, 750_000, is_fragrance=True),
        RecipeLine(2, 22, "Honey", Basis.OF_MELT, 250_000, is_fragrance=True),
        fill_ug=None,
    )
    sheet = batch_sheet(blend, 2_000 * G)

    assert totals(sheet) == {"Quince": 1_500 * G, "Honey": 500 * G}
    assert (sheet.wax, sheet.load_of_wax, sheet.load_of_melt) == (0, None, 1)


def test_a_run_without_fragrance_has_no_load():
    sheet = batch_sheet(recipe(WAX), 3)

    assert (sheet.fragrance, sheet.load_of_wax, sheet.load_of_melt) == (0, None, None)
    assert (sheet.weighed_load_of_wax, sheet.weighed_load_of_melt) == (None, None)


def test_a_scale_too_coarse_for_the_dye_is_told():
    dye = RecipeLine(4, 14, "Slate dye", Basis.OF_MELT, 1_000)  # 0.2 g in 200 g
    sheet = batch_sheet(recipe(WAX, dye), 1)

    assert [target.rounds_away for target in sheet.targets] == [False, True]


WRONG = [
    (recipe(), (None, "There is no wax. Add a wax line; a single wax is 100 % of the wax.")),
    (recipe(SCENT), (None, "There is no wax. Add a wax line; a single wax is 100 % of the wax.")),
    (
        recipe(replace(WAX, amount=955_000)),
        (None, "The wax shares come to 95.5 %. Change them so that they come to 100 %."),
    ),
    (
        recipe(replace(WAX, amount=1_000_001)),
        (None, "The wax shares come to 100.0001 %. Change them so that they come to 100 %."),
    ),
    (
        recipe(
            WAX, scent(Basis.OF_MELT, 600_000), replace(SCENT, key=4, basis=Basis.OF_MELT, amount=400_000)
        ),
        (None, "The rates on the melt come to 100 %, which leaves no room for wax. Lower them."),
    ),
    (
        recipe(WAX, scent(Basis.OF_WAX, 1_000_000)),
        (2, "Cedar & Black Tea: 100 % is too much. Enter a rate below 100 %."),
    ),
    (
        recipe(WAX, scent(Basis.OF_WAX, -1)),
        (2, "Cedar & Black Tea: enter an amount above zero, or take the line out."),
    ),
    (
        recipe(WAX, replace(JAR, amount=0)),
        (3, "Amber jar: enter an amount above zero, or take the line out."),
    ),
    (
        recipe(WAX, replace(JAR, spare_ppm=-1)),
        (3, "Amber jar: the spare allowance cannot be below zero."),
    ),
    (
        recipe(replace(WAX, spare_ppm=5)),
        (1, "Soft soy: a spare allowance is for what is set out per unit. Leave it empty here."),
    ),
    (
        recipe(replace(WAX, is_fragrance=True)),
        (1, "Soft soy is a fragrance. Give it as a rate on the wax or on the melt."),
    ),
    (
        recipe(WAX, JAR, fill_ug=None),
        (3, "Amber jar: a blend is made by weight, so nothing goes with each unit. Take it out."),
    ),
    (
        recipe(SCENT, fill_ug=None),
        (2, "Cedar & Black Tea is a rate on the wax, but there is no wax line. Make it a share of the melt."),
    ),
    (
        recipe(scent(Basis.OF_MELT, 970_000), fill_ug=None),
        (None, "The shares of the melt come to 97 %. Without wax, change them so that they come to 100 %."),
    ),
    (recipe(WAX, fill_ug=0), (None, "Enter a fill weight above zero.")),
    (recipe(WAX, loss_ppm=-1), (None, "Enter a loss allowance from 0 % to below 100 %.")),
    (recipe(WAX, loss_ppm=1_000_000), (None, "Enter a loss allowance from 0 % to below 100 %.")),
    (
        recipe(WAX, division_ug=0),
        (None, "Enter the scale's division, the smallest step it shows, above zero."),
    ),
    (recipe(WAX, pot_ug=0), (None, "Enter what the pot takes, above zero, or leave it empty.")),
    (
        recipe(WAX, loss_ppm=10_000, pot_ug=201 * G),
        (None, "The pot takes less melt than one vessel needs. Choose a larger pot."),
    ),
]


@pytest.mark.parametrize(("wrong", "problem"), WRONG)
def test_a_wrong_recipe_is_refused_with_what_to_do(wrong, problem):
    found = [(key, sentence.replace("\N{NO-BREAK SPACE}", " ")) for key, sentence in check_recipe(wrong)]

    assert found == [problem]
    for attempt in (lambda: batch_sheet(wrong, 1), lambda: how_many(wrong, {})):
        with pytest.raises(RecipeError) as refusal:
            attempt()
        assert refusal.value.problems == check_recipe(wrong)


def test_every_problem_is_told_at_once():
    wrong = recipe(replace(WAX, amount=0), replace(JAR, amount=0), fill_ug=0, division_ug=0)

    assert [key for key, _ in check_recipe(wrong)] == [1, 3, None, None]


def test_a_pot_that_just_takes_one_vessel_is_enough():
    assert check_recipe(recipe(WAX, loss_ppm=10_000, pot_ug=202 * G)) == []


@pytest.mark.parametrize(
    ("which", "quantity", "sentence"),
    [
        (recipe(WAX), 0, "Enter how many units to make, above zero."),
        (recipe(WAX), -3, "Enter how many units to make, above zero."),
        (recipe(WAX, fill_ug=None), 0, "Enter how much of the blend to make, above zero."),
        (recipe(WAX), 10**15, "That is more than the books can hold. Enter a smaller quantity."),
        (
            recipe(WAX, replace(JAR, amount=10**14)),
            11,
            "That is more than the books can hold. Enter a smaller quantity.",
        ),
        (
            recipe(WAX, pot_ug=200 * G),
            1_001,
            "That would take 1,001 pours. Make less at a time, or choose a larger pot.",
        ),
    ],
)
def test_a_wrong_quantity_is_refused_with_what_to_do(which, quantity, sentence):
    with pytest.raises(RecipeError, match=sentence) as refusal:
        batch_sheet(which, quantity)

    assert refusal.value.problems == [(None, sentence)]


# 180 g of wax and 20 g of fragrance in each vessel, on a 1 g scale.
PLAIN = recipe(WAX, scent(Basis.OF_MELT, 100_000), JAR)


@pytest.mark.parametrize(
    ("wax_g", "oil_g", "jars", "quantity", "limit"),
    [
        (1_000, 500, 99, 5, (11, "Soft soy")),
        (1_000, 99, 99, 4, (12, "Cedar & Black Tea")),
        # A sixth would be short of both: 80 g in 1,080 g, and 20 g in 120 g.
        (1_000, 100, 99, 5, (12, "Cedar & Black Tea")),
        (1_000, 500, 3, 3, (13, "Amber jar")),
        (1_080, 120, 6, 6, (11, "Soft soy")),
        (0, 0, 0, 0, (11, "Soft soy")),
    ],
)
def test_how_many_names_what_runs_out_first(wax_g, oil_g, jars, quantity, limit):
    answer = how_many(PLAIN, {11: wax_g * G, 12: oil_g * G, 13: jars})

    assert (answer.quantity, (answer.limit_item_id, answer.limit_name)) == (quantity, limit)


def test_what_is_not_on_the_shelf_at_all_is_the_limit():
    answer = how_many(PLAIN, {11: 1_000 * G, 13: 12})

    assert (answer.quantity, answer.limit_name) == (0, "Cedar & Black Tea")


def test_lines_of_the_same_item_share_what_is_there():
    # A fragrance at 10 % of the melt in two equal lines: 10 g + 10 g a vessel.
    half = scent(Basis.OF_MELT, 50_000)
    answer = how_many(recipe(WAX, half, replace(half, key=9)), {11: 10_000 * G, 12: 59 * G})

    assert (answer.quantity, answer.limit_item_id) == (2, 12)


@pytest.mark.parametrize(("wax_g", "dye_g", "most_ug"), [(310, 1, 311_746_987), (480, 2, 483_935_742)])
def test_how_many_looks_past_a_dip_that_one_more_pour_makes(wax_g, dye_g, most_ug):
    # 0.4 % dye: 300 g in two pours of 150 g want 0.6 g each, 2 g on the scale. A microgram more makes three
    # pours of about 100 g, which want 0.4 g each, nothing on the scale. So 1 g of dye does not stop it: the
    # wax does, at three weighings below 103.5 g, q × 0.996 / 3 < 103.5 g.
    # In the same way 450 g want 3 g of dye, and four pours of up to 125 g nothing; there the wax allows
    # q × 0.996 / 4 ≤ 120.5 g, a half that goes to the even 120.
    dye = RecipeLine(4, 14, "Slate dye", Basis.OF_MELT, 4_000)
    answer = how_many(recipe(WAX, dye, fill_ug=None, pot_ug=150 * G), {11: wax_g * G, 14: dye_g * G})

    assert (answer.quantity, answer.limit_name) == (most_ug, "Soft soy")


def test_a_shelf_without_end_stops_at_a_thousand_pours():
    answer = how_many(recipe(WAX, pot_ug=400 * G), {11: 10**15})

    assert (answer.quantity, answer.limit_item_id, answer.limit_name) == (2_000, None, None)


@st.composite
def recipes(draw, *, fills=(G, 1_000 * G), blend=False):
    cut = draw(st.integers(1, 999_999))
    lines = [
        RecipeLine(1, 11, "Wax one", Basis.WAX_SHARE, cut),
        RecipeLine(2, draw(st.sampled_from([11, 12])), "Wax two", Basis.WAX_SHARE, 1_000_000 - cut),
    ]
    for key, (basis, ppm) in enumerate(
        draw(
            st.lists(
                st.tuples(st.sampled_from([Basis.OF_WAX, Basis.OF_MELT]), st.integers(1, 200_000)), max_size=4
            )
        ),
        start=3,
    ):
        lines.append(RecipeLine(key, 10 + key, f"Rate {key}", basis, ppm, is_fragrance=key == 3))
    if not blend:
        spare = draw(st.integers(0, 100_000))
        lines.append(RecipeLine(9, 19, "Wick", Basis.PER_UNIT, draw(st.integers(1, 3)), spare))
    fill_ug = None if blend else draw(st.integers(*fills))
    loss = draw(st.integers(0, 100_000))
    largest = (fill_ug or 500 * G) * 11 // 10 + 1
    pot = draw(st.none() | st.integers(largest, 12 * largest))
    return Recipe(
        tuple(lines), fill_ug, loss, pot, draw(st.sampled_from([1, 10_000, G // 10, G, 2 * G, 5 * G]))
    )


@given(recipes(), st.integers(1, 400))
def test_everything_weighed_adds_up_to_the_melt_exactly(recipe, quantity):
    sheet = batch_sheet(recipe, quantity)
    exact = [(target.line.basis, target.exact) for target in sheet.targets]

    assert sum(amount for basis, amount in exact if basis is not Basis.PER_UNIT) == sheet.melt
    assert sum(amount for basis, amount in exact if basis is Basis.WAX_SHARE) == sheet.wax


@given(recipes(), st.integers(1, 200), st.integers(2, 5))
def test_scaling_keeps_every_proportion_exactly(recipe, quantity, times):
    small, large = batch_sheet(recipe, quantity), batch_sheet(recipe, quantity * times)

    assert [target.exact * times for target in small.targets] == [target.exact for target in large.targets]
    assert (small.load_of_wax, small.load_of_melt) == (large.load_of_wax, large.load_of_melt)


@given(recipes(), st.integers(1, 400))
def test_each_pour_fits_the_pot_and_rounds_by_half_a_division_at_most(recipe, quantity):
    sheet = batch_sheet(recipe, quantity)
    units = [pour.units for pour in sheet.pours]

    assert sum(units) == quantity
    assert max(units) - min(units) <= 1
    unit_melt = sheet.melt / quantity
    assert recipe.pot_ug is None or max(units) * unit_melt <= recipe.pot_ug
    if len(units) > 1:  # one pour fewer would overfill the pot
        assert -(-quantity // (len(units) - 1)) * unit_melt > recipe.pot_ug
    for target in sheet.targets:
        assert sum(target.pours) == target.total
        if target.line.basis is Basis.PER_UNIT:
            assert target.exact <= target.total < target.exact + 1
        else:
            each = target.exact / quantity
            off = [abs(shown - each * n) for shown, n in zip(target.pours, units, strict=True)]
            assert max(off) * 2 <= recipe.division_ug
            assert all(shown % recipe.division_ug == 0 for shown in target.pours)
    weighed = sum(t.total for t in sheet.targets if t.line.basis is not Basis.PER_UNIT)
    assert sum(pour.melt_ug for pour in sheet.pours) == weighed


def covered(sheet, available):
    needs = {}
    for target in sheet.targets:
        needs[target.line.item_id] = needs.get(target.line.item_id, 0) + target.total
    return all(need <= available.get(item, 0) for item, need in needs.items())


SMALL = recipes(fills=(8 * G, 20 * G))
SHELVES = st.fixed_dictionaries(
    {item: st.integers(0, 200 * G) for item in (11, 12)}
    | {item: st.integers(0, 20 * G) for item in (13, 14, 15, 16)}
    | {19: st.integers(0, 60)}
)


@settings(max_examples=costly(60))
@given(SMALL, SHELVES)
def test_how_many_is_what_trying_every_number_finds(recipe, available):
    # At most 60 wicks, one or more to a vessel, so no number above 60 can be right.
    fitting = [n for n in range(1, 61) if covered(batch_sheet(recipe, n), available)]
    answer = how_many(recipe, available)

    assert answer.quantity == max(fitting, default=0)
    assert answer.limit_item_id is not None


@given(recipes(blend=True), SHELVES)
def test_how_many_of_a_blend_fits_and_a_microgram_more_does_not(recipe, available):
    answer = how_many(recipe, available)

    assert answer.quantity == 0 or covered(batch_sheet(recipe, answer.quantity), available)
    assert not covered(batch_sheet(recipe, answer.quantity + 1), available)
