"""Where two parts of the record meet, it says no more than it knows."""

from dataclasses import replace

import pytest

from batches.burn_tests import burning
from batches.formulas.covering import coverage
from batches.models import Batch
from batches.production import runs
from batches.production.finishing import Recovered
from batches.production.off_formula import off_formula
from batches.production.off_formula_of import made_of
from inventory.ledger import books as stock
from inventory.lots import holding
from inventory.models import HoldRecord, Item, Lot, StoppedUse
from studio.models import Role, User
from tests.batches.test_pots import LINES, weigh
from tests.house import day, grams, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch(books, shelf):
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    version = books.formula("Fig", LINES, fill="100 g", pot_ug=grams(500))
    return books.plan(version, 10, on=day(10).date())


def held():
    """The keys of all lots on hold."""
    return set(Lot.objects.filter(held=True).values_list("pk", flat=True))


def bystander(books, shelf, version):
    """Five candles of the same formula at 35/465, 7.53 % of the wax, in a batch of their own."""
    batch = books.plan(version, 5)
    books.draw_into(batch, (shelf["wax"], "465 g"))
    books.draw_into(batch, (shelf["fragrance"], "35 g"))
    for name in ("wick", "vessel"):
        books.draw_into(batch, (shelf[name], 5))
    (lot,) = books.finish(batch, 5)
    return lot


def test_cover_by_pot(books, shelf, batch):
    weigh(books, batch, shelf, "51.6", "18.1")
    books.finish(batch, 10, release=False)
    test = books.light(batch.version, "350 g", batch_id=batch.pk)
    calm = {"flame_um": 40_000, "soot": "none"}
    for cycle, weight in enumerate(("330 g", "310 g", "290 g"), 1):
        books.read(test, cycle, {"weight": weight, "mushrooming": "none", **calm})
    end = {"weight": "265 g", "minutes": 300, "wax_left_um": 12_000, "went_out": "put_out"}
    books.read(test, 4, {**end, **calm}, kind="end")
    burning.decide(test.pk, "passed", accepted_because="", signature=books.sign(reason="Burned evenly"))
    found = coverage(batch.version)
    assert not found.is_covered


def test_cover_of_recovered(books, shelf):
    item = books.item("old melt", kind="wax", made_here=True)
    first = books.formula("Old one", LINES, fill="100 g")
    b = books.plan(first, 10)
    books.draw_into(b, (shelf["wax"], "930 g"))
    books.draw_into(b, (shelf["fragrance"], "70 g"))
    for n in ("wick", "vessel"):
        books.draw_into(b, (shelf[n], 10))
    made = books.finish(b, 9, recovered=[Recovered(item, grams(100))])
    melt = made[-1]
    lines = [("old melt", "wax_share", 1_000_000), ("wick", "per_unit", 1), ("vessel", "per_unit", 1)]
    version = books.formula("Rem", lines, fill="100 g")
    books.burn(version)
    assert coverage(version).is_covered
    books.item("rose", kind="fragrance")
    roselot = books.receive("rose", "1 kg", cost=40)
    second = books.formula(
        "New one", [("wax", "wax_share", 1_000_000), ("rose", "of_wax", 100_000)], fill="100 g"
    )
    c = books.plan(second, 10)
    books.draw_into(c, (shelf["wax"], "900 g"))
    books.draw_into(c, (roselot, "90 g"))
    books.finish(c, 8, recovered=[Recovered(item, grams(190))])
    books.take_out(melt, "100 g")
    assert not coverage(version).is_covered


def test_part_out_then_above_is_held(books, shelf):
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    v = books.formula("Fig", LINES, fill="100 g")
    other = bystander(books, shelf, v)
    b = books.plan(v, 10)
    books.draw_into(b, (shelf["wax"], "930 g"))
    books.draw_into(b, (shelf["fragrance"], "70 g"))
    for n in ("wick", "vessel"):
        books.draw_into(b, (shelf[n], 10))
    (lot,) = books.finish(b, 5, last=False)
    # A gram more is 71/930, 7.63 % of the wax: the part stays free.
    books.draw_into(b, (shelf["fragrance"], "1 g"))
    assert held() == set()

    books.draw_into(b, (shelf["fragrance"], "69 g"))

    # 140/930 is 15.05 %. What the batch of the same wax beside it made stays free.
    assert held() == {lot.pk}
    (why,) = HoldRecord.objects.filter(lot=lot)
    assert why.owner_decides
    assert "the load of" in why.reason
    assert not HoldRecord.objects.exclude(lot=lot).exists()
    assert books.of(other)[0] == 5


def test_draws_of_one_moment_are_judged_together(books, shelf):
    """Fragrance before the wax that belongs to it: for a moment 140 g on 930 g, then on 1860 g."""
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    b = books.plan(books.formula("Fig", LINES, fill="100 g"), 10)
    books.draw_into(b, (shelf["wax"], "930 g"))
    books.draw_into(b, (shelf["fragrance"], "70 g"))
    books.finish(b, 5, last=False)
    signature = books.sign()
    with runs.drawing_into(b.pk, {shelf["wax"].pk, shelf["fragrance"].pk}, signature=signature) as batch:
        for name, weight in (("fragrance", "70 g"), ("wax", "930 g")):
            takings = books.take((shelf[name], weight))
            runs.draw(batch, books.line(batch, name), takings, signature=signature)
    assert held() == set()


def test_recovered_melt_of_above_already_drawn(books, shelf):
    """500 g of the melt went into one tin alone, 200 g with 800 g of wax into another: at 140/930, 15.05 % of the wax,
    the first reads above 10 % and the second, 200 g of melt holding 26.17 g of scent and 173.83 g of wax, 2.69 %."""
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    item = books.item("old melt", kind="wax", made_here=True)
    v = books.formula("Fig", LINES, fill="100 g")
    other = bystander(books, shelf, v)
    b = books.plan(v, 10)
    books.draw_into(b, (shelf["wax"], "930 g"))
    d = books.draw_into(b, (shelf["fragrance"], "70 g"))
    for n in ("wick", "vessel"):
        books.draw_into(b, (shelf[n], 10))
    good, melt = books.finish(b, 3, recovered=[Recovered(item, grams(700))])
    tin = books.formula("Tin", [("old melt", "wax_share", 1_000_000)], fill="100 g")
    c = books.plan(tin, 5)
    books.draw_into(c, (melt, "500 g"))
    (lot,) = books.finish(c, 5)
    lines = [("old melt", "wax_share", 200_000), ("wax", "wax_share", 800_000)]
    thin = books.plan(books.formula("Thin", lines, fill="100 g"), 10)
    books.draw_into(thin, (melt, "200 g"))
    books.draw_into(thin, (shelf["wax"], "800 g"))
    books.finish(thin, 10)
    assert held() == set()

    books.correct(d, (shelf["fragrance"], "140 g"))

    assert held() == {good.pk, melt.pk, lot.pk}
    maker = User.objects.create(username="tobin", role=Role.MAKER)
    with refused(holding.OwnerDecides, "Only the owner may release this lot"):
        holding.release(lot.pk, signature=replace(books.sign(), by=maker))
    assert books.of(other)[0] == 5


def test_the_scent_inside_recovered_melt_is_held_against_its_flash_point(books, shelf):
    """Melt at 7.53 % of its wax, poured alone: no line of the tin names the fragrance, whose flash point is 71 °C."""
    Item.objects.filter(name="fragrance").update(flash_point_mc=71_000)
    item = books.item("old melt", kind="wax", made_here=True)
    b = books.plan(books.formula("Fig", LINES, fill="100 g"), 10)
    books.draw_into(b, (shelf["wax"], "930 g"), at=day(10))
    books.draw_into(b, (shelf["fragrance"], "70 g"), at=day(10))
    _, melt = books.finish(b, 5, recovered=[Recovered(item, grams(500))], without=True, at=day(10))
    lines = [("old melt", "wax_share", 500_000), ("wax", "wax_share", 500_000)]
    tin = books.plan(books.formula("Tin", lines, fill="100 g"), 5)
    read = {"melt": [(day(11, 8), 90_000), (day(11, 10), 71_000)], "fragrance": [(day(11, 11), 70_999)]}
    read |= {"pour": [(day(11, 12), 72_000)], "room": [(day(11, 12), 80_000)]}
    for kind, values in read.items():
        for at, value in values:
            runs.take_reading(tin.pk, kind, value, note="", signature=books.sign(at))
    books.draw_into(tin, (shelf["wax"], "250 g"), at=day(11, 7))
    assert flash(tin) == []

    # At 9: the wax was alone when it was read at 90 °C.
    books.draw_into(tin, (melt, "250 g"), at=day(11, 9))

    assert flash(tin) == [
        "fragrance was in the melt at its hottest, 71 °C, at or above its flash point of 71 °C.",
        "fragrance was in the melt when it was poured at 72 °C, at or above its flash point of 71 °C.",
    ]


def test_melt_of_one_pot_says_nothing_of_another(books, shelf):
    """500 g of melt in the first of two pots, and 100 g of which nobody said the pot."""
    Item.objects.filter(name="fragrance").update(flash_point_mc=71_000)
    item = books.item("old melt", kind="wax", made_here=True)
    b = books.plan(books.formula("Fig", LINES, fill="100 g"), 10)
    books.draw_into(b, (shelf["wax"], "930 g"), at=day(10))
    books.draw_into(b, (shelf["fragrance"], "70 g"), at=day(10))
    _, melt = books.finish(b, 3, recovered=[Recovered(item, grams(700))], without=True, at=day(10))
    lines = [("old melt", "wax_share", 1_000_000)]
    tins = books.plan(books.formula("Tin", lines, fill="100 g", pot_ug=grams(500)), 10)
    books.bench(tins, "draw", lot=melt, quantity="500 g", pour=1, at=day(11))
    for pot in (1, 2):
        runs.take_reading(tins.pk, "pour", 72_000, note="", signature=books.sign(day(11, 13)), pot=pot)
    was = "in the melt when it was poured at 72 °C, at or above its flash point of 71 °C."
    assert flash(tins) == [f"Pot 1: fragrance was {was}"]

    books.draw_into(tins, (melt, "100 g"), at=day(11))

    assert flash(tins) == [f"Pot 1: fragrance was {was}", f"Pot 2: fragrance may have been {was}"]


def flash(batch):
    """What stands of flash points where the batch went off its formula."""
    made = made_of(Batch.objects.with_product().get(pk=batch.pk))
    found = [each for each in off_formula(made) if each.kind == "flash"]
    return [each.words.replace("\N{NO-BREAK SPACE}", " ") for each in found]


def test_a_jar_the_melt_was_poured_into_is_held_with_it(books, shelf):
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    item = books.item("old melt", kind="wax", made_here=True)
    b = books.plan(books.formula("Fig", LINES, fill="100 g"), 10)
    books.draw_into(b, (shelf["wax"], "930 g"))
    d = books.draw_into(b, (shelf["fragrance"], "70 g"))
    good, melt = books.finish(b, 5, recovered=[Recovered(item, grams(500))], without=True)
    (jar,) = books.decant((melt, "200 g"))

    books.correct(d, (shelf["fragrance"], "140 g"))

    assert held() == {good.pk, melt.pk, jar.pk}


def test_correct_draw_more_of_a_held_lot(books, shelf):
    """More of it than was recorded asks for a reason; as much or less of it does not."""
    v = books.formula("Fig", LINES, fill="100 g")
    b = books.plan(v, 10)
    d = books.draw_into(b, (shelf["wax"], "1 g"))
    holding.hold(shelf["wax"].pk, signature=books.sign(reason="specks"))
    with refused(stock.LotStopped, "is on hold"):
        books.correct(d, (shelf["wax"], "930 g"))
    assert books.of(shelf["wax"])[0] == grams(9_999)
    less = books.correct(d, (shelf["wax"], "0.5 g"))
    assert not StoppedUse.objects.exists()

    more = books.correct(less, (shelf["wax"], "930 g"), despite="It went in before the specks were seen")

    (use,) = StoppedUse.objects.all()
    assert (use.posting, use.lot, use.stop) == (more, shelf["wax"], "held")
    # The reason stays when the weight is put right once more.
    again = books.correct(more, (shelf["wax"], "931 g"))
    assert again.stopped_uses.get().reason == use.reason
    assert held() == {shelf["wax"].pk}
