"""The loads of a formula do not depend on the order of its lines; at a maximum is not above it. Worked by hand."""

from fractions import Fraction

import pytest

from batches.formulas.loads import contents_of, load_words, loads, worst_of_pours
from batches.formulas.sheet import Basis, Recipe, RecipeLine, batch_sheet, check_recipe
from batches.lineage.composition import Composition, alone
from batches.models import FormulaLine
from inventory.models import Item, Kind, LoadBasis

G = 1_000_000  # micrograms in a gram


def item(key, name, kind, maximum=None):
    return Item(pk=key, name=name, kind=kind, maximum_load_ppm=maximum, maximum_load_basis=LoadBasis.OF_MELT)


WAX = item(1, "Soft soy", Kind.WAX)
CEDAR = item(2, "Cedar", Kind.FRAGRANCE)
DYE = item(3, "Slate dye", Kind.DYE)
WICK = item(4, "Wick", Kind.WICK)
VESSEL = item(5, "Amber jar", Kind.VESSEL)
MELT = item(6, "Recovered melt", Kind.WAX)
# Of 1 g of it nine tenths are wax and one tenth is cedar.
RECOVERED = Composition(
    {WAX: Fraction(9, 10), CEDAR: Fraction(1, 10)}, wax=Fraction(9, 10), scent=Fraction(1, 10)
)


def recipe_of(*rows, fill_ug=100 * G):
    """The lines and the recipe of (item, basis, amount), keyed by their place."""
    lines = [FormulaLine(pk=key, item=part, basis=basis) for key, (part, basis, _) in enumerate(rows, 1)]
    own = tuple(
        RecipeLine(
            key,
            part.pk,
            part.name,
            basis,
            amount,
            is_fragrance=part.kind == Kind.FRAGRANCE,
            is_wax=part.kind == Kind.WAX,
        )
        for key, (part, basis, amount) in enumerate(rows, 1)
    )
    return lines, Recipe(own, fill_ug, 0, None, G)


ROWS = {
    "vessel": (VESSEL, Basis.PER_UNIT, 1),
    "wick": (WICK, Basis.PER_UNIT, 1),
    "melt": (MELT, Basis.WAX_SHARE, 500_000),
    "cedar": (CEDAR, Basis.OF_MELT, 50_000),
    "wax": (WAX, Basis.WAX_SHARE, 500_000),
    "cedar again": (CEDAR, Basis.OF_MELT, 50_000),
    "dye": (DYE, Basis.OF_MELT, 100_000),
}


@pytest.mark.parametrize(
    "order",
    [
        ("vessel", "wick", "melt", "cedar", "wax", "cedar again", "dye"),
        ("melt", "vessel", "cedar", "cedar again", "wick", "dye", "wax"),
        ("cedar", "dye", "wax", "wick", "cedar again", "melt", "vessel"),
    ],
)
def test_what_stands_after_a_wick_a_vessel_or_a_repeated_item_counts(order):
    """Ten of 100 g: 100 g of cedar in two lines, 100 g of dye, 400 g of wax, 400 g of melt, of which 40 g are cedar.

    Cedar: 140 g of 760 g of wax and of 1,000 g of melt; dye: 100 g.
    """
    lines, recipe = recipe_of(*(ROWS[name] for name in order))
    inside = {key: RECOVERED for key, line in enumerate(lines, 1) if line.item == MELT}
    sheet = batch_sheet(recipe, 10)

    expected = {
        "Soft soy": (Fraction(140, 760), Fraction(140, 1_000)),
        "Cedar": (Fraction(140, 760), Fraction(140, 1_000)),
        "Slate dye": (Fraction(100, 760), Fraction(100, 1_000)),
    }
    for found in (loads(lines, sheet, inside), worst_of_pours(lines, sheet, inside)):
        assert len(found) == 3
        assert {load.item.name: (load.of_wax, load.of_melt) for load in found} == expected
    assert load_words(lines, sheet, inside).replace("\N{NO-BREAK SPACE}", " ") == (
        "18.42 % of wax = 14 % of melt"
    )


@pytest.mark.parametrize(
    ("basis", "maximum", "above"),
    [
        # 10 g of cedar in 90 g of wax: 10 % of melt, 11.1111… % of wax.
        (LoadBasis.OF_MELT, 100_001, False),
        (LoadBasis.OF_MELT, 100_000, False),
        (LoadBasis.OF_MELT, 99_999, True),
        (LoadBasis.OF_WAX, 111_112, False),
        (LoadBasis.OF_WAX, 111_111, True),
    ],
)
def test_a_load_exactly_at_its_maximum_is_not_above_it(basis, maximum, above):
    cedar = Item(pk=2, name="Cedar", kind=Kind.FRAGRANCE, maximum_load_ppm=maximum, maximum_load_basis=basis)
    lines, recipe = recipe_of(
        (VESSEL, Basis.PER_UNIT, 1), (cedar, Basis.OF_MELT, 100_000), (WAX, Basis.WAX_SHARE, 1_000_000)
    )

    found = loads(lines, batch_sheet(recipe, 10))

    assert [(load.item.name, load.is_above) for load in found] == [("Cedar", above), ("Soft soy", False)]


def test_a_load_of_wax_exactly_at_its_maximum_is_not_above_it():
    # 8 g to 100 g of wax: 8 % of it.
    cedar = Item(
        pk=2, name="Cedar", kind=Kind.FRAGRANCE, maximum_load_ppm=80_000, maximum_load_basis=LoadBasis.OF_WAX
    )
    lines, recipe = recipe_of((cedar, Basis.OF_WAX, 80_000), (WAX, Basis.WAX_SHARE, 1_000_000))

    (first, second) = loads(lines, batch_sheet(recipe, 10))

    assert (first.of_wax, first.is_above, second.is_above) == (Fraction(8, 100), False, False)


def test_a_blend_before_the_rest_is_judged_whole_and_its_parts_where_they_state_a_maximum():
    """100 g of a blend, half lime and half cedar, 20 g of cedar, 880 g of wax. Lime states no maximum."""
    blend = item(7, "Orchard blend", Kind.FRAGRANCE)
    lime = item(8, "Lime", Kind.FRAGRANCE)
    moss = item(9, "Moss", Kind.FRAGRANCE, maximum=30_000)
    half, quarter = Fraction(1, 2), Fraction(1, 4)
    inside = Composition(
        {lime: half, CEDAR: quarter, moss: quarter},
        scent=Fraction(1),
        worth={blend: Fraction(1)},
        whole=blend,
    )
    weighed = [(blend, Basis.OF_MELT, 100, inside), (CEDAR, Basis.OF_MELT, 20, None)]
    weighed.append((WAX, Basis.WAX_SHARE, 880, alone(WAX)))

    pot = contents_of(
        (FormulaLine(pk=key, item=part, basis=basis), Fraction(amount), portion)
        for key, (part, basis, amount, portion) in enumerate(weighed, 1)
    )

    assert (pot.wax, pot.scent, pot.melt) == (880, 120, 1_000)
    assert pot.of_item == {blend: 100, CEDAR: 20, WAX: 880}
    assert pot.inner == {lime: 50, CEDAR: 25, moss: 25}
    assert (pot.carried, pot.unknown) == ({}, {})
    judged = {load.item.name: (load.of_wax, load.of_melt) for load in pot.judged()}
    assert judged == {
        "Orchard blend": (Fraction(100, 880), Fraction(100, 1_000)),
        "Cedar": (Fraction(45, 880), Fraction(45, 1_000)),
        "Soft soy": (Fraction(120, 880), Fraction(120, 1_000)),
        "Moss": (Fraction(25, 880), Fraction(25, 1_000)),
    }


@pytest.mark.parametrize(
    ("fill_ug", "amounts", "problems"),
    [
        (None, (600_000, 400_000), []),
        (None, (1_000_000,), []),
        (
            None,
            (600_000, 300_000),
            ["The shares of the melt come to 90 %. Without wax, change them so that they come to 100 %."],
        ),
        (
            100 * G,
            (600_000, 400_000),
            ["There is no wax. Add a wax line; a single wax is 100 % of the wax."],
        ),
        (100 * G, (1_000_000,), ["Cedar: 100 % is too much. Enter a rate below 100 %."]),
    ],
)
def test_a_formula_of_lines_on_the_melt_alone_is_a_blend_and_no_candle(fill_ug, amounts, problems):
    parts = (CEDAR, item(8, "Lime", Kind.FRAGRANCE))
    _, recipe = recipe_of(*zip(parts, [Basis.OF_MELT] * 2, amounts, strict=False), fill_ug=fill_ug)

    said = [sentence.replace("\N{NO-BREAK SPACE}", " ") for _, sentence in check_recipe(recipe)]

    assert said == problems
    assert recipe.is_waxless is (fill_ug is None)
    assert recipe.wax_of_melt == 0


def test_a_blend_of_lines_on_the_melt_alone_has_no_wax_to_be_loaded():
    lime = item(8, "Lime", Kind.FRAGRANCE)
    lines, recipe = recipe_of((CEDAR, Basis.OF_MELT, 600_000), (lime, Basis.OF_MELT, 400_000), fill_ug=None)
    sheet = batch_sheet(recipe, 500 * G)

    assert {target.line.name: target.total for target in sheet.targets} == {"Cedar": 300 * G, "Lime": 200 * G}
    assert (sheet.wax, sheet.load_of_wax, sheet.load_of_melt) == (0, None, 1)
    assert loads(lines, sheet) == worst_of_pours(lines, sheet) == []
    assert load_words(lines, sheet, {}).replace("\N{NO-BREAK SPACE}", " ") == "100 % of melt"
