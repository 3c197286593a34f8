"""Cautions: flash point against where fragrance is added, and loads against maxima on their own basis."""

import pytest

from batches.formulas.cautions import FINISHING, MELTING, POURING, at_step, particular
from batches.formulas.loads import Weighing, load_of
from batches.formulas.sheet import batch_sheet
from batches.models import FormulaVersion
from inventory.models import Item
from tests.house import grams

pytestmark = pytest.mark.django_db


def said(version, **of_item):
    for name, fields in of_item.items():
        Item.objects.filter(name=name).update(**fields)
    version = FormulaVersion.objects.prefetch_related("lines__item").get(pk=version.pk)
    return " ".join(particular(version, batch_sheet(version.recipe(), 10)))


@pytest.fixture
def version(books):
    """8 % of melt, which is 8/92 = 8.6957 % of wax; fragrance added at 80 °C."""
    books.receive("wax", "10 kg", cost=50)
    books.receive("fragrance", "1 kg", cost=40)
    return books.candle(fragrance_at_mc=80_000)


def test_a_missing_flash_point_is_said_not_guessed(version):
    assert "No flash point is on record for fragrance" in said(version)


@pytest.mark.parametrize(("flash_point_mc", "warned"), [(79_999, True), (80_000, True), (80_001, False)])
def test_fragrance_added_at_or_above_its_flash_point_is_warned_of(version, flash_point_mc, warned):
    # Some makers add below the flash point, others do not; so it warns and does not block. Common practice.
    assert (
        "at or above its flash point" in said(version, fragrance={"flash_point_mc": flash_point_mc})
    ) is warned


@pytest.mark.parametrize(
    ("basis", "maximum_ppm", "warned"),
    [
        ("of_melt", 80_000, False),  # exactly the maximum
        ("of_melt", 79_999, True),
        ("of_wax", 86_957, False),
        ("of_wax", 86_956, True),
        ("of_wax", 80_000, True),  # 8 % read on the wrong basis would have passed
    ],
)
def test_a_load_is_compared_with_each_maximum_on_its_own_basis(version, basis, maximum_ppm, warned):
    limit = {"maximum_load_ppm": maximum_ppm, "maximum_load_basis": basis}

    assert ("Do not pour" in said(version, fragrance=limit)) is warned
    assert ("Do not pour" in said(version, fragrance={"maximum_load_ppm": None}, wax=limit)) is warned


@pytest.mark.parametrize("missing", ["wax", "fragrance"])
def test_a_maximum_that_is_not_on_record_is_said_and_of_whom(version, missing):
    limits = {
        name: {"maximum_load_ppm": 100_000, "maximum_load_basis": "of_wax"} for name in ("wax", "fragrance")
    }
    assert "No maximum load is on record" not in said(version, **limits)

    words = said(version, **limits | {missing: {"maximum_load_ppm": None, "maximum_load_basis": ""}})

    assert words.count("No maximum load is on record") == 1
    assert f"No maximum load is on record for {missing}, so nobody knows whether" in words
    assert "8.7 % of wax = 8 % of melt is too much" in words.replace("\N{NO-BREAK SPACE}", " ")


def test_a_maximum_is_asked_for_only_where_there_is_a_load(books, version):
    """A dye states none and nobody asks; without fragrance there is no load to judge."""
    dyed = books.formula(
        "Dyed",
        [("wax", "wax_share", 1_000_000), ("dye", "of_wax", 1_000), ("wick", "per_unit", 1)],
        fill="100 g",
    )
    assert "No maximum load" not in said(dyed)
    scented = books.formula(
        "Scented",
        [("wax", "wax_share", 1_000_000), ("dye", "of_wax", 1_000), ("fragrance", "of_wax", 80_000)],
        fill="100 g",
    )
    assert said(scented).count("No maximum load is on record") == 2


def really(version, **drawn):
    """The load of so many grams of each, and what is said of it."""
    lines = list(FormulaVersion.objects.get(pk=version.pk).lines.select_related("item"))
    found = load_of(
        Weighing(line, None, grams(drawn.get(line.item.name, 0))) for line in lines if line.in_melt
    )
    return found and (
        found.words.replace("\N{NO-BREAK SPACE}", " "),
        found.above_words.replace("\N{NO-BREAK SPACE}", " "),
    )


def test_the_load_that_was_really_weighed_is_held_against_every_maximum(version):
    # 95/920 = 10.326 % of wax, 95/1015 = 9.360 % of melt; at 92/920 it is the maximum and not above it. By hand.
    Item.objects.filter(name="fragrance").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_melt")

    assert really(version, wax=920, fragrance=95, wick=10) == (
        "10.33 % of wax = 9.36 % of melt",
        "As it was weighed, the load of 10.33 % of wax is above the 10 % of wax stated for fragrance.",
    )
    assert really(version, wax=920, fragrance=92) == ("10 % of wax = 9.09 % of melt", "")
    # What brings a load back is wax: 173 g more.
    assert really(version, wax=1093, fragrance=95) == ("8.69 % of wax = 8 % of melt", "")


@pytest.mark.parametrize("drawn", [{}, {"wax": 920}, {"fragrance": 80}])
def test_half_a_pot_has_no_load(version, drawn):
    assert really(version, **drawn) is None


def test_hand_finishing_has_its_caution_and_a_process_without_it_has_none(version):
    # Common practice, no source: fire and burns with a heat gun or torch, and glass that cracks when heated unevenly.
    assert FINISHING not in said(version)

    FormulaVersion.objects.filter(pk=version.pk).update(rest_hours=12)

    assert FINISHING in said(version)
    for word in ("heat gun", "torch", "hot glass"):
        assert word in FINISHING


def test_each_step_at_the_bench_brings_its_own_cautions(version):
    Item.objects.filter(name="fragrance").update(flash_point_mc=93_000)
    Item.objects.filter(name="wax").update(maximum_load_ppm=80_000, maximum_load_basis="of_wax")
    version = FormulaVersion.objects.prefetch_related("lines__item").get(pk=version.pk)
    scent = next(line for line in version.lines.all() if line.item.name == "fragrance")

    of = at_step(version, batch_sheet(version.recipe(), 10), unit="F")

    # 93 degrees C are 199.4 degrees F; added at 80 degrees C, below it, so the flash point is told and nothing sharper.
    told = [sentence.replace("\N{NO-BREAK SPACE}", " ") for sentence in of[f"line:{scent.pk}"]]
    assert told[0].startswith("fragrance: flash point 199.4 °F")
    assert "above the 8 % of wax stated for wax" in told[1]
    assert of["melt"] == [MELTING]
    assert of["finish"] == [FINISHING]
    assert of["pour"][-1] == POURING
    assert "Do not pour" in of["pour"][0]


def test_beside_the_fragrance_stands_the_sharper_sentence_where_its_flash_point_is_reached(version):
    for flash, words in ((80_000, "at or above its flash point"), (None, "No flash point is on record")):
        Item.objects.filter(name="fragrance").update(flash_point_mc=flash)
        fresh = FormulaVersion.objects.prefetch_related("lines__item").get(pk=version.pk)
        assert words in at_step(fresh, batch_sheet(fresh.recipe(), 10))["fragrance"][0]
