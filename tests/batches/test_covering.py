"""What a passed burn test covers. The candle that was burned is 220 g with 7.5 % of wax of one scent, one wick, no dye.

All figures by hand. The tolerances are the studio's own: 5 % of what was burned, common practice, no source.
"""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.burn_tests import burning
from batches.formulas import approving
from batches.formulas import writing as formulas
from batches.formulas.covering import coverage
from batches.models import BurnLimits, FormulaVersion
from inventory.models import Item, Lot
from studio.models import Role, User
from tests.house import Books, base, grams, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def maker(books):
    return Books(User.objects.create(username="tobin", first_name="Tobin", role=Role.MAKER))


def made_of(load=75_000, dye=None, wicks=1, **more):
    """Lines of a candle: fragrance and dye in ppm of the wax."""
    lines = [
        ("wax", "wax_share", 1_000_000),
        ("fragrance", "of_wax", load),
        ("wick", "per_unit", wicks),
        ("vessel", "per_unit", 1),
    ]
    lines += [("dye", "of_wax", dye)] if dye else []
    return lines + [(name, basis, amount) for name, (basis, amount) in more.items()]


@pytest.fixture
def burned(books):
    """The version that was burned, with its passed test; its maxima are far away."""
    version = books.formula("Cedar", made_of(), fill="220 g")
    Item.objects.filter(kind__in=["wax", "fragrance"]).update(
        maximum_load_ppm=200_000, maximum_load_basis="of_wax"
    )
    return pass_test(books, version, "220 g")


def pass_test(books, version, melt, **more):
    test = books.light(version, "500 g", melt=melt, **more)
    calm = {"flame_um": 40_000, "soot": "none"}
    for cycle, weight in enumerate(("480 g", "460 g", "440 g"), 1):
        books.read(test, cycle, {"weight": weight, "mushrooming": "none", **calm})
    end = {"weight": "330 g", "wax_left_um": 12_000, "went_out": "put_out"}
    books.read(test, 4, {**end, **calm}, kind="end")
    return burning.decide(test.pk, "passed", signature=books.sign(reason="Burned evenly"))


def written(books, formula, lines, fill=220_000_000):
    """Another version of a formula; the fill in micrograms."""
    ingredients = [formulas.Ingredient(books.item(name), basis, amount) for name, basis, amount, *_ in lines]
    fields = {"fill_ug": fill, "loss_ppm": 0, "division_ug": 1}
    return formulas.write_version(formula, fields, ingredients, signature=books.sign())


def said(version):
    """What of a version is not covered, with plain spaces."""
    fresh = FormulaVersion.objects.prefetch_related("lines__item").get(pk=version.pk)
    return [sentence.replace("\N{NO-BREAK SPACE}", " ") for sentence in coverage(fresh).differences]


HIGHER = "fragrance 9.9 % of wax, burned at 7.5 %"
DYED = "1 % of wax of dye that was not burned"
FULLER = "fill 280 g, burned at 220 g"


@pytest.mark.parametrize(
    ("changed", "fill", "expected"),
    [
        ({"load": 99_000}, 220, [HIGHER]),
        ({"dye": 10_000}, 220, [DYED]),
        ({}, 280, [FULLER]),
        ({"load": 99_000, "dye": 10_000}, 280, [HIGHER, DYED, FULLER]),
    ],
)
def test_more_scent_dye_or_fill_than_was_burned_is_not_known(books, maker, burned, changed, fill, expected):
    version = written(books, burned.version.formula, made_of(**changed), grams(fill))

    assert said(version) == expected
    fresh = FormulaVersion.objects.prefetch_related("lines__item").get(pk=version.pk)
    first, *others = approving.conditions(fresh)
    assert (first.answer, len(first.differences)) == ("Not known", len(expected))
    assert [each.answer for each in others] == ["Met", "Met"]
    with refused(approving.NotReady, "Only the owner"):
        maker.approve(version)
    change = books.approve(version, "Tried at home for a year")
    lacking = change.missing.replace("\N{NO-BREAK SPACE}", " ")
    assert lacking == f"burn test {burned.pk} does not cover it: {', and '.join(expected)}"
    assert change.burn_test is None


def test_what_was_burned_itself_is_covered(maker, burned):
    assert said(burned.version) == []
    assert maker.approve(burned.version).burn_test == burned


@pytest.mark.parametrize(
    ("fill", "expected"),
    [
        # 5 % of 220 g is 11 g.
        (grams(231), []),
        (grams(231) + 1, ["fill 231 g, burned at 220 g"]),
        (grams(209), []),
        (grams(209) - 1, ["fill 209 g, burned at 220 g"]),
    ],
)
def test_a_fill_at_the_tolerance_is_covered_and_a_microgram_beyond_is_not(books, burned, fill, expected):
    assert said(written(books, burned.version.formula, made_of(), fill)) == expected


@pytest.mark.parametrize(
    ("load", "expected"),
    [
        (75_000, []),
        (75_001, ["fragrance 7.5001 % of wax, burned at 7.5 %"]),
        (60_000, []),
    ],
)
def test_a_load_may_be_lower_and_not_a_millionth_higher(books, burned, load, expected):
    assert said(written(books, burned.version.formula, made_of(load), grams(220))) == expected


@pytest.mark.parametrize(
    ("share", "expected"),
    [
        # 5 % of 1 % of wax.
        (10_500, []),
        (10_501, ["dye 1.05 % of wax, burned at 1 %"]),
        (9_500, []),
        (9_499, ["dye 0.95 % of wax, burned at 1 %"]),
    ],
)
def test_a_dye_keeps_its_share_within_the_tolerance(books, share, expected):
    formula = pass_test(
        books, books.formula("Dyed", made_of(dye=10_000), fill="220 g"), "220 g"
    ).version.formula

    assert said(written(books, formula, made_of(dye=share), grams(220))) == expected


def test_every_item_that_burns_counts_and_a_label_does_not(books, burned):
    formula = burned.version.formula
    red, stearin, oak = books.item("Red", kind="dye"), books.item("Stearin", kind="additive"), "Oak Moss"
    books.item(oak, kind="fragrance")
    tin = books.item("Tin", kind="vessel")
    books.item("soy")
    in_a_tin = [*made_of()[:3], (tin.name, "per_unit", 1)]
    other_wax = [("soy", "wax_share", 300_000), ("wax", "wax_share", 700_000), *made_of()[1:]]
    other_scent = [made_of()[0], (oak, "of_wax", 75_000), *made_of()[2:]]
    unscented = [made_of()[0], *made_of()[2:]]

    assert {
        name: said(written(books, formula, lines, grams(220)))
        for name, lines in {
            "red": [*made_of(), (red.name, "of_wax", 1_000)],
            "stearin": [*made_of(), (stearin.name, "of_melt", 20_000)],
            "wicks": made_of(wicks=2),
            "tin": in_a_tin,
            "wax": other_wax,
            "scent": other_scent,
            "none": unscented,
            "label": [*made_of(), ("label", "per_unit", 1), ("lid", "per_unit", 1)],
        }.items()
    } == {
        "red": ["0.1 % of wax of Red that was not burned"],
        # 2 % of melt, W = M·0.98/1.075: 0.02·1.075/0.98 = 2.1939 % of wax.
        "stearin": ["2.19 % of wax of Stearin that was not burned"],
        "wicks": ["2 × wick, burned with 1"],
        "tin": ["1 × Tin that was not burned", "no vessel, burned with 1"],
        "wax": ["30 % of the wax of soy that was not burned", "wax 70 % of the wax, burned at 100 %"],
        "scent": ["7.5 % of wax of Oak Moss that was not burned", "no fragrance, burned with 7.5 % of wax"],
        "none": ["no fragrance, burned with 7.5 % of wax"],
        "label": [],
    }


def test_a_dye_in_grams_for_each_candle_counts_by_its_share(books, burned):
    # It is melted in: 218 g of wax and scent at 7.5 % of wax hold 202.791 g of wax; 2 g are 0.986 % of it.
    version = written(books, burned.version.formula, [*made_of(), ("dye", "per_unit", grams(2))], grams(220))

    assert said(version) == ["0.99 % of wax of dye that was not burned"]


def test_one_of_two_scents_may_not_take_the_others_place(books):
    oak = books.item("Oak Moss", kind="fragrance").name
    both = [*made_of(40_000), (oak, "of_wax", 40_000)]
    formula = pass_test(books, books.formula("Two", both, fill="220 g"), "220 g").version.formula

    found = said(written(books, formula, [*made_of(70_000), (oak, "of_wax", 10_000)], grams(220)))

    assert found == ["fragrance 7 % of wax, burned at 4 %"]


def test_the_latest_test_that_covers_is_taken_before_a_nearer_date(books, burned):
    stronger = books.formula("Cedar strong", made_of(99_000), fill="220 g")
    second = pass_test(books, stronger, "220 g")
    low, high = written(books, burned.version.formula, made_of(), grams(220)), stronger

    assert coverage(fresh(low)).test == second  # a lower load than that one is covered by it too
    assert coverage(fresh(high)).test == second
    pass_test(books, books.formula("Bystander", made_of(dye=10_000), fill="220 g"), "220 g")
    assert coverage(fresh(low)).test == second


def fresh(version):
    return FormulaVersion.objects.prefetch_related("lines__item").get(pk=version.pk)


def test_a_test_of_another_wax_is_not_near(books, burned):
    books.item("soy")
    soy = books.formula("Soy jar", [("soy", "wax_share", 1_000_000), *made_of()[1:]], fill="220 g")

    assert coverage(fresh(soy)).test is None
    assert approving.conditions(fresh(soy))[0].lacking == approving.NONE_BURNED


def test_what_was_really_weighed_in_is_what_was_burned(books):
    """1,000 g of wax with 60 g of fragrance where 75 g were planned: 6 % of wax was burned."""
    for name, quantity in (("wax", "10 kg"), ("fragrance", "1 kg"), ("wick", 100), ("vessel", 100)):
        books.receive(name, quantity, cost=10)
    version = books.formula("Cedar", made_of(), fill="215 g")
    batch = books.plan(version, 5)
    draw_and_finish(books, batch, fragrance="60 g")
    pass_test(books, version, "215 g", batch_id=batch.pk)

    assert said(version) == ["fragrance 7.5 % of wax, burned at 6 %"]
    assert said(written(books, version.formula, made_of(60_000), grams(215))) == []
    assert batch.spaced_code in coverage(fresh(version)).basis


def test_what_was_weighed_within_the_tolerance_counts_as_its_target(books):
    """72 g where 75 g were planned is 4 % less: no scale meets a target to the microgram."""
    for name, quantity in (("wax", "10 kg"), ("fragrance", "1 kg"), ("wick", 100), ("vessel", 100)):
        books.receive(name, quantity, cost=10)
    version = books.formula("Cedar", made_of(), fill="215 g")
    batch = books.plan(version, 5)
    draw_and_finish(books, batch, fragrance="72 g")
    pass_test(books, version, "215 g", batch_id=batch.pk)

    assert said(version) == []


def draw_and_finish(books, batch, *, fragrance):
    lots = {lot.item.name: lot for lot in Lot.objects.select_related("item")}
    books.draw_into(batch, (lots["wax"], "1 kg"))
    books.draw_into(batch, (lots["fragrance"], fragrance))
    books.draw_into(batch, (lots["wick"], 5))
    books.draw_into(batch, (lots["vessel"], 5))
    books.finish(batch, good=5)


def test_the_melt_that_was_in_the_jars_is_what_was_burned(books):
    version = books.formula("Cedar", made_of(), fill="220 g")
    pass_test(books, version, "180 g")

    assert said(version) == ["fill 220 g, burned at 180 g"]


def test_the_owners_tolerance_holds_from_when_it_is_set(books, burned):
    fuller = written(books, burned.version.formula, made_of(), grams(280))
    kept = {
        field.name: getattr(burned.limits, field.name)
        for field in BurnLimits._meta.fields
        if field.name not in ("id", "set_by", "set_at")
    }
    # 60 g are 27.27 % of 220 g.
    burning.set_limits(limits={**kept, "fill_tolerance_ppm": 272_728}, signature=books.sign())
    assert said(fuller) == []
    burning.set_limits(limits={**kept, "fill_tolerance_ppm": 0}, signature=books.sign())
    assert said(fuller) == [FULLER]
    assert said(burned.version) == []


def test_more_tests_ask_no_more_queries(books, burned):
    def asked():
        with CaptureQueriesContext(connection) as caught:
            coverage(fresh(version))
        return len(caught)

    version = written(books, burned.version.formula, made_of(99_000), grams(220))
    before = asked()
    for number in range(4):
        pass_test(books, books.formula(f"More {number}", made_of(dye=10_000), fill="220 g"), "220 g")

    assert asked() == before


@pytest.mark.parametrize(
    ("melts", "expected"),
    [
        # 280 g and 160 g are 220 g on average; a jar within 5 % of 220 g counts as filled so, and one nobody noted.
        (("280 g", "160 g"), ["fill 220 g, burned with jar 1 at 280 g, jar 2 at 160 g"]),
        (("231 g", "160 g"), ["fill 220 g, burned with jar 2 at 160 g"]),
        ((None, "160 g"), ["fill 220 g, burned with jar 2 at 160 g"]),
        (("231 g", "209 g"), []),
        ((None, None), []),
    ],
)
def test_each_jar_burned_as_it_was_filled_and_not_as_all_on_average(books, melts, expected):
    version = books.formula("Cedar", made_of(), fill="220 g")
    jars = [burning.JarWeight(grams(500), melt and base(melt)) for melt in melts]
    test = burning.start(version.pk, jars, cycle_minutes=240, signature=books.sign())
    calm = {"flame_um": 40_000, "soot": "none"}
    for cycle, weight in enumerate(("480 g", "460 g", "440 g"), 1):
        books.read(test, cycle, *[{"weight": weight, "mushrooming": "none", **calm}] * 2)
    end = {"weight": "355 g", "wax_left_um": 12_000, "went_out": "put_out"}
    books.read(test, 4, *[{**end, **calm}] * 2, kind="end")
    burning.decide(test.pk, "passed", signature=books.sign(reason="Burned evenly"))

    assert said(version) == expected
