"""Which inputs move the margin; every figure worked out by hand from the definitions."""

from dataclasses import replace
from fractions import Fraction

import pytest

from batches.recipe import Basis, Recipe, RecipeError, RecipeLine
from costing.contribution.sensitivity import Case, at_load, load_of, price_against_load, tornado
from costing.model.job_cost import OverheadBasis, OverheadRule
from costing.prices.pricing import Terms
from costing.standard.cost_sheet import CostLine, RunPlan, UnitPrice, WorkLine
from tests.house import grams, money

TEN_PERCENT = 100_000


def priced(per_kg):
    return UnitPrice(Fraction(money(per_kg), grams(1000)), "by hand")


@pytest.fixture
def case():
    """Ten candles of 100 g: 80 % of melt wax at 5.00 a kilogram, 20 % fragrance at 50.00, a jar at 1.00.

    Wax 4.00, fragrance 10.00, jars 10.00: 24.00. An hour at 24.00 and overhead 12.00 the hour: 60.00, 6.00 each.
    Asked 15.00 with a fee of 10 %: 7.50 of 15.00 is left, a margin of a half.
    """
    recipe = Recipe(
        (
            RecipeLine(1, 11, "Wax", Basis.WAX_SHARE, 1_000_000),
            RecipeLine(2, 12, "Scent", Basis.OF_MELT, 200_000, is_fragrance=True),
            RecipeLine(3, 13, "Jar", Basis.PER_UNIT, 1),
        ),
        fill_ug=grams(100),
        loss_ppm=0,
        pot_ug=None,
        division_ug=1,
    )
    lines = (
        CostLine(1, 11, "Wax", "g", "wax", grams(800), priced(5)),
        CostLine(2, 12, "Scent", "g", "fragrance", grams(200), priced(50)),
        CostLine(3, 13, "Jar", "each", "vessel_lid", 10, UnitPrice(Fraction(money(1)), ""), is_weighed=False),
    )
    plan = RunPlan(
        units=10,
        lines=lines,
        work=(WorkLine("pour", "Pouring", Fraction(60), money(24)),),
        overhead=(OverheadRule(OverheadBasis.PER_LABOUR_HOUR, money(12)),),
        melt_ug=Fraction(grams(1000)),
    )
    return Case(plan, recipe, money(15), Terms(percent_ppm=100_000))


def test_the_margin_is_a_half(case):
    assert case.cost.total == money(6)
    assert case.margin == Fraction(1, 2)


def by_name(swings):
    return {swing.name: (swing.lower, swing.higher) for swing in swings}


def test_each_input_moves_it_as_worked_out_by_hand(case):
    moved = by_name(tornado(case, TEN_PERCENT))

    # 13.50 keeps 12.15, less 6.00: 6.15 of 13.50; 16.50 keeps 14.85, less 6.00: 8.85 of 16.50.
    assert moved["Price asked"] == (Fraction(615, 1350), Fraction(885, 1650))
    # A tenth of the fragrance is 0.10 a candle of 15.00, of the jars 0.10, of the wax 0.04.
    assert moved["Price of fragrance"] == (Fraction(760, 1500), Fraction(740, 1500))
    assert moved["Price of vessels and lids"] == (Fraction(760, 1500), Fraction(740, 1500))
    assert moved["Price of wax"] == (Fraction(754, 1500), Fraction(746, 1500))
    # A tenth of the time is 0.24 labour and 0.12 overhead; of the rate 0.24; of the overhead 0.12.
    assert moved["Hands-on time"] == (Fraction(786, 1500), Fraction(714, 1500))
    assert moved["Labour rate"] == (Fraction(774, 1500), Fraction(726, 1500))
    assert moved["Overhead rates"] == (Fraction(762, 1500), Fraction(738, 1500))
    # A tenth of a fee of a tenth is a hundredth of the price.
    assert moved["Percentage fees"] == (Fraction(51, 100), Fraction(49, 100))
    # 22 % of melt: 220 g scent and 780 g wax, 11.00 and 3.90 for 14.00: 0.09 more a candle.
    assert moved["Fragrance load"] == (Fraction(759, 1500), Fraction(741, 1500))
    # No fixed fee and nothing lost: these move nothing and are left out.
    assert not moved.keys() & {"Fixed fees and shipping", "Share lost", "Pieces in an order"}


def test_the_widest_stands_first(case):
    widths = [swing.width for swing in tornado(case, TEN_PERCENT)]

    assert tornado(case, TEN_PERCENT)[0].name == "Price asked"
    assert widths == sorted(widths, reverse=True)


def test_fixed_fees_shipping_and_losses_move_it_where_there_are_any(case):
    terms = Terms(fixed=money(1), shipping=money(2), units=Fraction(2))
    lossy = replace(case, terms=terms, plan=replace(case.plan, spoilage_ppm=200_000))

    moved = by_name(tornado(lossy, TEN_PERCENT))

    # 60.00 over 8 good is 7.50; 1.50 fees each: 6.00 of 15.00. A tenth of the fees is 0.15.
    assert lossy.margin == Fraction(6, 15)
    assert moved["Fixed fees and shipping"] == (Fraction(615, 1500), Fraction(585, 1500))
    # 22 % lost: 60.00 over 7.8.
    assert moved["Share lost"][1] == (Fraction("13.5") - Fraction(600, 78)) / 15


def test_nothing_is_moved_where_nothing_is_asked(case):
    assert tornado(replace(case, asked=0), TEN_PERCENT) == []


def test_fragrance_price_against_load(case):
    grid = price_against_load(case, [Fraction(1), Fraction(2)], [Fraction(1, 2), Fraction(1)])

    # Half the load: 100 g at 50.00 and 900 g at 5.00: 5.00 and 4.50 for 14.00, 0.45 less a candle.
    assert [[cell.cost for cell in row] for row in grid] == [
        [money("5.55"), money("6.00")],
        [money("6.05"), money("7.00")],
    ]
    assert grid[1][1].margin == Fraction(65, 150)


def test_a_load_that_leaves_no_wax_has_no_figure(case):
    (row,) = price_against_load(case, [Fraction(1)], [Fraction(5)])

    assert (row[0].cost, row[0].margin) == (None, None)
    with pytest.raises(RecipeError):
        at_load(case, Fraction(5))


def test_a_load_is_said_both_ways(case):
    # 20 % of melt is 200 on 800: 25 % of wax.
    assert load_of(case.recipe) == (Fraction(1, 4), Fraction(1, 5))
    of_wax = replace(
        case.recipe,
        lines=(
            case.recipe.lines[0],
            replace(case.recipe.lines[1], basis=Basis.OF_WAX, amount=100_000),
            RecipeLine(4, 14, "Dye", Basis.OF_WAX, 10_000),
        ),
    )
    # Of wax 10 %, doubled 20 %; with dye the melt is 1.11 and 1.21 of the wax.
    assert load_of(of_wax) == (Fraction(1, 10), Fraction(10, 111))
    assert load_of(of_wax, Fraction(2)) == (Fraction(1, 5), Fraction(20, 121))
    assert load_of(replace(case.recipe, lines=case.recipe.lines[:1])) is None
