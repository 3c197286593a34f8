"""What is in a lot, by base item and exact share: through recovered melt, blends, decanting, and what nobody knows."""

from fractions import Fraction

import pytest

from batches.formulas import approving
from batches.formulas.cautions import particular
from batches.formulas.loads import load_words, loads
from batches.formulas.sheet import batch_sheet
from batches.lineage.composition import LotPortion, compositions, in_lines, on_shelf, quantities
from batches.lineage.lineage import Key
from batches.models import Batch, FormulaVersion
from batches.planning.plan_composition import inside_of
from batches.planning.planning import plan_of_batch
from batches.production.finishing import Recovered
from batches.production.off_formula_of import made_of
from inventory.models import Item, Lot
from tests.house import TODAY, day, grams

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]

OIL = ("wax", "wax_share", 1_000_000), ("oil", "of_wax", 80_000)


def names(shares):
    return {item.name: share for item, share in shares.items()}


def of_lot(lot):
    return compositions([lot.pk])[Key("lot", lot.pk)]


def with_lines(version):
    return FormulaVersion.objects.prefetch_related("lines__item").get(pk=version.pk)


@pytest.fixture
def house(books):
    """Ten candles of 108 g melt at 8 % of wax. 1,000 g of wax and 80 g of oil were drawn, and 540 g are recovered."""
    books.item("oil", kind="fragrance")
    books.item("melt", kind="wax", made_here=True)
    books.shelf = {
        "wax": books.receive("wax", "10 kg", cost=50),
        "oil": books.receive("oil", "1 kg", cost=400),
    }
    return books


POURED = day(12)


def pour(house, version, *pairs, at=POURED, good=1, **more):
    """A batch of these lots, and what it made."""
    batch = house.plan(version, 10)
    for lot, quantity in pairs:
        house.draw_into(batch, (lot, quantity), at=at)
    return batch, house.finish(batch, good=good, at=at, release=False, **more)


def first_melt(house, **more):
    version = house.formula("First", OIL, fill="108 g", name="First")
    melt = Item.objects.get(name="melt")
    shelf = house.shelf
    batch, _ = pour(
        house,
        version,
        (shelf["wax"], "1 kg"),
        (shelf["oil"], "80 g"),
        at=day(10),
        good=5,
        recovered=[Recovered(melt, grams(540))],
        **more,
    )
    return Lot.objects.get(item=melt, outcome__batch=batch)


def second(house, name="Second"):
    lines = [("melt", "wax_share", 500_000), ("wax", "wax_share", 500_000), ("oil", "of_wax", 40_000)]
    return house.formula(name, lines, fill="108 g", name=name)


def test_recovered_melt_holds_what_its_pot_drew(house):
    melt = first_melt(house)
    found = of_lot(melt)

    # 1000 of 1080 is 25/27, 80 of 1080 is 2/27.
    assert names(found.parts) == {"wax": Fraction(25, 27), "oil": Fraction(2, 27)}
    assert (found.wax, found.scent, found.unknown, found.whole) == (
        Fraction(25, 27),
        Fraction(2, 27),
        {},
        None,
    )
    # Wax for 5.00 and oil for 32.00: by value it is 5/37 and 32/37.
    assert names(found.worth) == {"wax": Fraction(5, 37), "oil": Fraction(32, 37)}
    # 540 g of it are 500 g of wax and 40 g of oil.
    taken, unknown = quantities([LotPortion(melt.item, melt.pk, grams(540))], {Key("lot", melt.pk): found})
    assert names(taken) == {"wax": grams(500), "oil": grams(40)}
    assert unknown == {}


def drawn_load(batch):
    return made_of(Batch.objects.with_product().get(pk=batch.pk)).whole


def test_the_load_as_weighed_counts_the_fragrance_in_recovered_melt(house):
    melt, shelf = first_melt(house), house.shelf
    batch = house.plan(second(house), 10)
    for lot, quantity in ((melt, "540 g"), (shelf["wax"], "500 g"), (shelf["oil"], "40 g")):
        house.draw_into(batch, (lot, quantity))

    load = drawn_load(batch)

    # 500 + 500 g of wax, 40 + 40 g of oil: 80/1000 and 80/1080. The words would have been 40/1040 = 3.85 %.
    assert (load.of_wax, load.of_melt, load.unknown) == (Fraction(8, 100), Fraction(2, 27), "")


def test_all_of_recovered_melt_and_a_load_on_top_are_added(house):
    first_melt(house)
    lines = [("melt", "wax_share", 1_000_000), ("oil", "of_wax", 80_000)]
    version = with_lines(house.formula("Odd", lines, fill="108 g", name="Odd"))
    own = list(version.lines.all())
    sheet = batch_sheet(version.recipe(), 10)

    found = {load.item.name: load for load in loads(own, sheet, on_shelf(own))}

    # Of 1 g of melt 25/27 is wax and 2/27 oil; 0.08 g more: (2/27 + 2/25) / (25/27) = 104/625 = 16.64 %.
    assert set(found) == {"wax", "oil"}
    assert {load.of_wax for load in found.values()} == {Fraction(104, 625)}
    # Of melt: (2/27 + 2/25) / (27/25) = 104/729.
    assert {load.of_melt for load in found.values()} == {Fraction(104, 729)}
    assert load_words(own, sheet, on_shelf(own)).replace("\N{NO-BREAK SPACE}", " ") == (
        "16.64 % of wax = 14.27 % of melt"
    )


def test_scented_melt_alone_is_never_without_fragrance(house):
    first_melt(house)
    version = with_lines(
        house.formula("Plain", [("melt", "wax_share", 1_000_000)], fill="100 g", name="Plain")
    )
    Item.objects.filter(name="oil").update(maximum_load_ppm=70_000, maximum_load_basis="of_wax")
    Item.objects.filter(name="wax").update(maximum_load_ppm=80_000, maximum_load_basis="of_wax")
    version = with_lines(version)

    said = {each.asked: each for each in approving.conditions(version)[1:]}

    # 2/27 over 25/27 is 8 % of wax: within the wax's 8 %, above the oil's 7 %.
    assert said["A load within what wax holds"].answer == "Met"
    assert said["A load within what oil allows"].answer == "Not met"
    assert not any("no fragrance" in each.found for each in said.values())
    words = " ".join(particular(version, batch_sheet(version.recipe(), 10))).replace(
        "\N{NO-BREAK SPACE}", " "
    )
    assert "The load is 8 % of wax, above the 7 % of wax stated for oil" in words
    assert "melt holds fragrance already: 7.41 % oil, which this formula does not name" in words


def test_melt_of_unknown_make_is_not_known(house):
    house.receive("melt", "1 kg", cost=1)
    version = with_lines(
        house.formula("Plain", [("melt", "wax_share", 1_000_000)], fill="100 g", name="Plain")
    )
    lot = Lot.objects.get(item__name="melt")

    (condition,) = approving.conditions(version)[1:]

    assert (condition.answer, condition.lacking) == ("Not known", "the fragrance load is not known")
    assert lot.spaced_code in condition.found
    assert of_lot(lot).parts == {}
    words = " ".join(particular(version, batch_sheet(version.recipe(), 10)))
    assert "The fragrance load is not known." in words


def test_melt_of_which_there_is_none_is_not_known_either(house):
    version = with_lines(
        house.formula("Plain", [("melt", "wax_share", 1_000_000)], fill="100 g", name="Plain")
    )

    (condition,) = approving.conditions(version)[1:]

    assert condition.answer == "Not known"
    assert "melt (none is on the shelf)" in condition.found


def test_half_known_melt_has_no_load_and_says_of_which_lot(house):
    melt, shelf = first_melt(house), house.shelf
    unknown = house.receive("melt", "1 kg", cost=1)
    batch = house.plan(second(house), 10)
    house.draw_into(batch, (melt, "270 g"), (unknown, "270 g"))
    for name, quantity in (("wax", "500 g"), ("oil", "40 g")):
        house.draw_into(batch, (shelf[name], quantity))

    load = drawn_load(batch)

    assert unknown.spaced_code in load.unknown
    assert melt.spaced_code not in load.unknown
    assert load.words.startswith("not known.")


def test_two_generations_add_up_exactly(house):
    # Half first melt and half wax with 4 %: 500 + 500 wax, 40 + 40 oil. 270 g of that are kept again.
    melt, shelf = first_melt(house), house.shelf
    again = house.item("again", kind="wax", made_here=True)
    pour(
        house,
        second(house),
        (melt, "540 g"),
        (shelf["wax"], "500 g"),
        (shelf["oil"], "40 g"),
        recovered=[Recovered(again, grams(270))],
    )
    kept = Lot.objects.get(item=again)

    found = of_lot(kept)

    assert names(found.parts) == {"wax": Fraction(25, 27), "oil": Fraction(2, 27)}
    assert sum(found.parts.values()) == 1
    # Worth of the pot: melt took half of 37.00 along, 18.50, of which 2.50 is wax and 16.00 oil; wax 2.50, oil 16.00.
    assert names(found.worth) == {"wax": Fraction(5, 37), "oil": Fraction(32, 37)}


def test_another_scent_in_the_second_pour_is_told_apart(house):
    melt, shelf = first_melt(house), house.shelf
    house.item("fig", kind="fragrance")
    fig = house.receive("fig", "1 kg", cost=100)
    lines = [("melt", "wax_share", 500_000), ("wax", "wax_share", 500_000), ("fig", "of_wax", 40_000)]
    version = house.formula("Fig jar", lines, fill="108 g", name="Fig jar")
    batch, _ = pour(house, version, (melt, "540 g"), (shelf["wax"], "460 g"), (fig, "80 g"))

    found = compositions(batch_ids=[batch.pk])[Key("batch", batch.pk)]

    # 540 + 460 + 80 = 1080: 960 wax, 40 oil, 80 fig.
    assert names(found.parts) == {"wax": Fraction(8, 9), "oil": Fraction(1, 27), "fig": Fraction(2, 27)}
    assert [item.name for item in found.scents] == ["fig", "oil"]


def test_a_blend_counts_as_what_it_is_and_its_fragrances_are_judged_too(house):
    rose = house.receive("rose", "1 kg", cost=10)
    Item.objects.filter(name="rose").update(
        kind="fragrance", maximum_load_ppm=30_000, maximum_load_basis="of_wax"
    )
    blend = house.item("bouquet", kind="fragrance", made_here=True)
    lines = [("rose", "of_melt", 500_000), ("oil", "of_melt", 500_000)]
    mixing = house.formula("bouquet", lines, name="bouquet")
    batch = house.plan(mixing, grams(200))
    house.draw_into(batch, (house.shelf["oil"], "100 g"), at=day(11))
    house.draw_into(batch, (rose, "100 g"), at=day(11))
    house.finish(batch, good=grams(200), at=day(11))
    bouquet = Lot.objects.get(item=blend)
    lines = [("wax", "wax_share", 1_000_000), ("bouquet", "of_wax", 80_000)]
    version = house.formula("Rosy", lines, fill="108 g", name="Rosy")
    poured = house.plan(version, 10)
    house.draw_into(poured, (house.shelf["wax"], "1 kg"))
    house.draw_into(poured, (bouquet, "80 g"))

    found, load = of_lot(bouquet), drawn_load(poured)

    assert (found.whole, found.scent, names(found.worth)) == (blend, 1, {"bouquet": 1})
    assert names(found.parts) == {"rose": Fraction(1, 2), "oil": Fraction(1, 2)}
    # The bouquet is 8 % of wax; the rose in it 4 %, above its 3 %.
    assert load.of_wax == Fraction(8, 100)
    assert [(above.item.name, above.of_wax) for above in load.above] == [("rose", Fraction(4, 100))]


def test_a_plan_counts_what_the_lots_it_takes_hold(house):
    melt = first_melt(house)
    batch = house.plan(second(house), 10)
    batch = Batch.objects.prefetch_related("version__lines__item").get(pk=batch.pk)
    plan = plan_of_batch(batch, on=TODAY, drawn={})

    inside = inside_of(plan)

    # 1080 g at 4 % of wax: 1038.46 g of "wax", half melt and half wax, and 41.54 g of oil.
    # Wax: 519.23 × (25/27 + 1) = 1000; oil: 519.23 × 2/27 + 41.54 = 80. So it is 8 % of wax.
    found = loads(batch.version.lines.all(), plan.sheet, inside)
    assert {load.item.name: load.of_wax for load in found} == {"wax": Fraction(2, 25), "oil": Fraction(2, 25)}
    assert melt.on_hand == grams(540)


def test_a_batch_beside_it_is_left_alone(house):
    shelf = house.shelf
    first_melt(house)
    batch = house.plan(house.formula("Beside", OIL, fill="108 g", name="Beside"), 10)
    house.draw_into(batch, (shelf["wax"], "1 kg"))
    house.draw_into(batch, (shelf["oil"], "50 g"))

    assert in_lines(batch.draws.standing().with_lots()) == {}
    assert drawn_load(batch).of_wax == Fraction(5, 100)


def test_decanted_melt_is_what_it_was(house):
    melt = first_melt(house)
    house.decant((melt, "100 g"))
    jar = Lot.objects.filter(item=melt.item).latest("pk")

    assert of_lot(jar).parts == of_lot(melt).parts


def test_many_lots_take_no_more_queries_than_one(house, django_assert_num_queries):
    lots = [first_melt(house)]
    with django_assert_num_queries(30, exact=False) as one:
        compositions([lots[0].pk])
    taken = len(one.captured_queries)
    for _ in range(3):
        version = FormulaVersion.objects.get(formula__name="First")
        melt = Item.objects.get(name="melt")
        pour(
            house,
            version,
            (house.shelf["wax"], "1 kg"),
            (house.shelf["oil"], "80 g"),
            recovered=[Recovered(melt, grams(54))],
        )
    ids = list(Lot.objects.filter(item__name="melt").values_list("pk", flat=True))
    with django_assert_num_queries(taken):
        assert len(compositions(ids)) >= 4


def test_a_scent_that_is_above_its_own_maximum_is_above_it_whatever_else_is_in_the_melt(house):
    """100 g of oil in 1,000 g is 10 % of melt, above 5 %; what is in the 900 g of melt nobody knows."""
    Item.objects.filter(name="oil").update(maximum_load_ppm=50_000, maximum_load_basis="of_melt")
    melt = house.receive("melt", "5 kg")
    lines = ("melt", "wax_share", 1_000_000), ("oil", "of_melt", 100_000)
    version = house.formula("Again", lines, fill="100 g", name="Again")
    batch, (lot,) = pour(house, version, (melt, "900 g"), (house.shelf["oil"], "100 g"), good=10)

    made = made_of(Batch.objects.get(pk=batch.pk))

    assert (
        made.whole.above_what
        == "10\N{NO-BREAK SPACE}% of melt is above the 5\N{NO-BREAK SPACE}% of melt stated for oil"
    )
    assert made.is_load_unknown
    assert Lot.objects.get(pk=lot.pk).held
    version = with_lines(version)
    sheet = batch_sheet(version.recipe(), 10)
    assert [
        load.item.name
        for load in loads(version.lines.all(), sheet, on_shelf(version.lines.all()))
        if load.is_above
    ] == ["oil"]


def test_a_dye_given_per_unit_is_in_recovered_melt_with_its_worth(house):
    """900 g of wax for 4.50 and 100 g of dye for 4.50: half of the worth each."""
    house.item("dye", kind="dye")
    dye = house.receive("dye", "200 g", cost=9)
    lines = ("wax", "wax_share", 1_000_000), ("dye", "per_unit", "10 g")
    version = house.formula("Dyed", lines, fill="100 g", name="Dyed")
    melt = Item.objects.get(name="melt")
    pairs = (house.shelf["wax"], "900 g"), (dye, "100 g")
    pour(house, version, *pairs, good=9, recovered=[Recovered(melt, grams(100))])

    portion = of_lot(Lot.objects.get(item=melt))

    assert names(portion.parts) == {"wax": Fraction(9, 10), "dye": Fraction(1, 10)}
    assert names(portion.worth) == {"wax": Fraction(1, 2), "dye": Fraction(1, 2)}
