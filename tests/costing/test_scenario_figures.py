"""What a new scent would cost, in figures worked out by hand."""

from dataclasses import replace
from fractions import Fraction

import pytest

from batches.recipe import Basis, Recipe, RecipeLine
from costing.model.job_cost import OverheadBasis, OverheadRule
from costing.new_products.figures import (
    Bought,
    NewProduct,
    Pack,
    RecipePart,
    cheapest,
    first_run_needs,
    packs_for,
    payback,
    steady_pack,
    steps,
)
from costing.prices.pricing import Terms
from costing.standard.cost_sheet import UnitPrice
from tests.house import grams, money

WAX, SCENT, JAR = 11, 12, 13
HALF = Pack(SCENT, grams(500), money(40), 1, "0.5 kg")
LARGE = Pack(SCENT, grams(2500), money(150), 1, "2.5 kg")
TEN = Pack(SCENT, grams(10_000), money(500), 1, "10 kg")


@pytest.fixture
def thought():
    """Candles of 100 g, a tenth of the melt scent: 10 g each. First 24, then runs of 50, 300 a year.

    Wax at 5.00 a kilogram, jars at 1.00 in boxes of 12 for 12.00; 30 minutes a run and 3 a candle at 20.00 an hour,
    overhead half of labour. On the shelf 1 kg of wax and 20 jars.
    """
    recipe = Recipe(
        (
            RecipeLine(1, WAX, "Wax", Basis.WAX_SHARE, 1_000_000),
            RecipeLine(2, SCENT, "Scent", Basis.OF_MELT, 100_000, is_fragrance=True),
            RecipeLine(3, JAR, "Jar", Basis.PER_UNIT, 1),
        ),
        fill_ug=grams(100),
        loss_ppm=0,
        pot_ug=None,
        division_ug=1,
    )
    return NewProduct(
        recipe=recipe,
        parts=(
            RecipePart(1, WAX, "Wax", "kg", "wax", True),
            RecipePart(2, SCENT, "Scent", "g", "fragrance", True),
            RecipePart(3, JAR, "Jar", "each", "vessel_lid", False),
        ),
        fragrance_id=SCENT,
        prices={
            WAX: UnitPrice(Fraction(money(5), grams(1000)), ""),
            JAR: UnitPrice(Fraction(money(1)), ""),
        },
        packs={
            SCENT: (HALF, LARGE, TEN),
            JAR: (Pack(JAR, 12, money(12), 1, "12"),),
            WAX: (Pack(WAX, grams(20_000), money(90), 1, "20 kg"),),
        },
        shelf={WAX: grams(1000), JAR: 20},
        run_minutes=Fraction(30),
        unit_minutes=Fraction(3),
        rate=money(20),
        overhead=(OverheadRule(OverheadBasis.OF_LABOUR, 500_000),),
        spoilage_ppm=0,
        first_units=24,
        run_units=50,
        year_units=300,
        expenses=money(150),
    )


def test_packs_are_whole_and_no_fewer_than_the_price_asks_for():
    assert packs_for(HALF, grams(501)) == Bought(HALF, 2)
    assert packs_for(replace(HALF, from_packs=4), grams(1)).packs == 4
    # Four halves cost 160.00, one large pack 150.00.
    assert cheapest([HALF, LARGE], grams(2000)) == Bought(LARGE, 1)
    assert cheapest([HALF, LARGE], grams(1500)) == Bought(HALF, 3)
    assert cheapest([], grams(1)) is None


def test_the_first_run_the_steady_one_and_every_pack(thought):
    told = {step.name: step for step in steps(thought)}

    # First: 240 g of scent, the small pack, 0.80 each; wax 0.45, jar 1.00. 30 + 72 minutes: 34.00 over 24.
    first = told["First run"]
    assert (first.bought, first.cost.material) == (Bought(HALF, 1), money("2.25"))
    assert first.cost.labour == Fraction(money(34), 24)
    assert first.cost.overhead == Fraction(money(17), 24)
    # A year takes 3 kg: the large pack, 0.60 each. 30 + 150 minutes: 60.00 over 50.
    steady = told["Steady"]
    assert (steady.bought, steady.cost.material) == (Bought(LARGE, 1), money("2.05"))
    assert (steady.cost.labour, steady.cost.overhead) == (money("1.20"), money("0.60"))
    # Each pack in usual runs: 0.80, 0.60 and 0.50 of scent, for 50, 250 and 1,000 candles.
    packs = [(name, told[name].cost.total, told[name].lasts_units) for name in ("0.5 kg", "2.5 kg", "10 kg")]
    assert packs == [
        ("0.5 kg", money("4.05"), 50),
        ("2.5 kg", money("3.85"), 250),
        ("10 kg", money("3.75"), 1000),
    ]


def test_where_every_pack_is_more_than_a_year_takes_the_least_money_is_laid_out(thought):
    assert steady_pack(replace(thought, year_units=10)) == Bought(HALF, 1)
    assert steady_pack(replace(thought, packs={})) is None


def test_cash_for_the_first_run_is_whole_packs_of_what_is_short(thought):
    wax, scent, jar = first_run_needs(thought)

    # Wax 2.16 kg of which 1 kg is there: one sack. Scent 240 g: one pack. Four jars short: one box.
    assert (wax.needed, wax.short, wax.bought.cash) == (grams(2160), grams(1160), money(90))
    assert (scent.needed, scent.bought.cash) == (grams(240), money(40))
    assert (jar.needed, jar.there, jar.bought.packs) == (24, 20, 1)
    assert not any(need.is_unknown for need in (wax, scent, jar))


def test_what_is_short_and_has_no_price_is_said(thought):
    wax, *_ = first_run_needs(replace(thought, packs={}))
    enough, *_ = first_run_needs(replace(thought, packs={}, shelf={WAX: grams(5000)}))

    assert wax.is_unknown
    assert not enough.is_unknown


def test_development_is_repaid_by_what_each_contributes(thought):
    # Asked 8.05, material 2.05: 6.00 each. 150.00 are 25 candles, a month of 300 a year.
    back = payback(thought, first_run_needs(thought), money("8.05"), Terms())

    assert (back.contribution, back.units, back.months) == (money(6), 25, 1)
    assert (back.packs, back.cash) == (money(142), money(292))
    assert payback(thought, [], money(2), Terms()).units is None
