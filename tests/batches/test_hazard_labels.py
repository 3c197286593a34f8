"""Chemical hazard labeling: kept with load, document and fragrance, and outdated when one of the three changes.

CLP, Regulation (EC) No 1272/2008, Article 17 lists a label's elements (read). That a candle is judged at its load: from
memory. Nothing here classifies.
"""

from datetime import timedelta
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction

from batches.formulas import writing as formulas
from batches.formulas.hazard_labels import (
    CLP_MARKETS,
    MISSING,
    CannotTake,
    enter_hazard_label,
    hazard_standing,
    scents_of,
)
from batches.formulas.sheet import batch_sheet
from batches.models import FormulaVersion, HazardLabel, HazardSource
from batches.production.finishing import Recovered
from inventory.documents import services
from tests.house import NOW, grams

pytestmark = pytest.mark.django_db
ELEMENTS = {
    "none_needed": False,
    "identifiers": "an invented sensitizer",
    "pictograms": "GHS07",
    "signal": "warning",
    "hazards": "H317 May cause an allergic skin reaction.",
    "precautions": "P102 Keep out of reach of children.",
    "supplemental": "",
}


def whole(version):
    rows = FormulaVersion.objects.select_related("formula__item").prefetch_related("lines__item")
    version = rows.get(pk=version.pk)
    return version, batch_sheet(version.recipe(), 10)


def enter(books, version, document, elements=ELEMENTS, at=NOW):
    version, sheet = whole(version)
    scents = scents_of(version, sheet)
    of_item = {document.item_id: document} if document else {}
    return enter_hazard_label(version, elements, of_item, scents, signature=books.sign(at))


def standing(version):
    return hazard_standing(*whole(version))


def changes(version):
    return [change.replace("\N{NO-BREAK SPACE}", " ") for change in standing(version).changes]


def another(books, version, share_ppm, scent="fragrance"):
    """The next version with the share of a fragrance of the melt."""
    lines = [
        formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000),
        formulas.Ingredient(books.item(scent, kind="fragrance"), "of_melt", share_ppm),
    ]
    fields = {"fill_ug": grams(100), "loss_ppm": 0, "division_ug": grams(1)}
    return formulas.write_version(version.formula, fields, lines, signature=books.sign())


@pytest.fixture
def version(books):
    """8 of 100 g of melt: 8 % of melt and 8/92 = 2/23 of wax."""
    books.item("fragrance", kind="fragrance")
    return books.candle()


@pytest.fixture
def sheet(books, version):
    return books.paper("fragrance")


def test_elements_are_kept_with_the_exact_load_the_document_the_name_and_the_moment(books, version, sheet):
    label = enter(books, version, sheet)

    (source,) = label.sources.all()
    assert (source.of_wax, source.of_melt) == (Fraction(2, 23), Fraction(2, 25))
    assert (source.document, source.fragrance.name) == (sheet, "fragrance")
    assert (label.entered_by, label.entered_at) == (books.by, NOW)
    found = standing(version)
    assert found.is_current
    assert found.label == label
    assert label.words.splitlines() == [
        "WARNING",
        "Contains: an invented sensitizer",
        "H317 May cause an allergic skin reaction.",
        "P102 Keep out of reach of children.",
    ]


@pytest.mark.parametrize("market", ["eu", "gb"])
def test_where_clp_holds_a_scented_candle_without_elements_is_named_and_elsewhere_not(books, version, market):
    assert market in CLP_MARKETS
    (said,) = standing(version).cautions(market)

    for words in (
        "No chemical hazard labeling is on record",
        "1272/2008",
        "at its load",
        "samples",
        "competent person",
    ):
        assert words in said
    assert standing(version).cautions("us") == []
    bare = books.formula("Plain", [("wax", "wax_share", 1_000_000)], fill="100 g")
    assert standing(bare).cautions(market) == []


def test_another_load_is_named_both_ways_and_the_version_it_was_taken_for_stays_right(books, version, sheet):
    enter(books, version, sheet)
    higher = another(books, version, 99_000)

    # 9.9 of 100 is 9.9/90.1 = 10.987...% of wax; 8/92 = 8.695...% of wax. By hand.
    assert changes(higher) == [
        "fragrance was taken at 8.7 % of wax = 8 % of melt; this version has 10.99 % of wax = 9.9 % of melt."
    ]
    assert changes(version) == []
    assert "outdated" in standing(higher).cautions("eu")[0]
    assert not standing(higher).is_current
    # Entered again for the new load, both are right.
    enter(books, higher, sheet, at=NOW + timedelta(minutes=1))
    assert (changes(higher), changes(version)) == ([], [])


def test_a_load_that_differs_by_less_than_is_shown_is_another_load(books, version, sheet):
    enter(books, version, sheet)

    assert len(changes(another(books, version, 80_001))) == 1


def test_another_fragrance_is_named(books, version, sheet):
    enter(books, version, sheet)

    assert changes(another(books, version, 80_000, "amber")) == [
        "Taken without amber, which is in this version.",
        "Taken with fragrance, which is not in this version.",
    ]


def test_a_newer_sheet_is_named_and_one_of_something_else_is_not(books, version, sheet):
    enter(books, version, sheet)
    books.paper("wax")
    books.paper("fragrance", "ifra")
    assert changes(version) == []

    newer = books.paper("fragrance")

    (said,) = changes(version)
    assert said.startswith("A newer safety data sheet of fragrance was filed on 20 Mar 2026")
    services.withdraw(newer.pk, signature=books.sign())
    assert changes(version) == []


def test_a_document_that_was_withdrawn_or_erased_counts_no_more(books, version, sheet):
    enter(books, version, sheet)
    services.withdraw(sheet.pk, signature=books.sign())
    assert "was withdrawn" in changes(version)[0]
    services.put_back(sheet.pk, signature=books.sign())
    assert changes(version) == []
    services.erase(sheet.pk, signature=books.sign(reason="Not ours"))
    assert "was erased" in changes(version)[0]


def test_the_newest_entering_counts_and_the_first_stays(books, version, sheet):
    enter(books, version, sheet)
    second = enter(books, version, sheet, ELEMENTS | {"signal": "danger"}, at=NOW + timedelta(minutes=1))

    assert standing(version).label == second
    assert HazardLabel.objects.count() == 2


def test_without_a_document_that_counts_or_without_a_load_nothing_is_kept(books, version, sheet):
    with pytest.raises(CannotTake, match="Name the document of fragrance"):
        enter(books, version, None)
    services.withdraw(sheet.pk, signature=books.sign())
    with pytest.raises(CannotTake, match="does not count"):
        enter(books, version, sheet)
    bare = books.formula("Plain", [("wax", "wax_share", 1_000_000)], fill="100 g")
    with pytest.raises(CannotTake, match="no fragrance load"):
        enter(books, bare, sheet)
    assert not HazardLabel.objects.exists()
    assert not HazardSource.objects.exists()


def test_a_label_says_something_or_that_nothing_is_asked_for(books, version, sheet):
    nothing = dict.fromkeys(("identifiers", "pictograms", "signal", "hazards", "precautions"), "")
    for elements in (nothing | {"none_needed": False}, ELEMENTS | {"none_needed": True}):
        with pytest.raises(IntegrityError), transaction.atomic():
            enter(books, version, sheet, elements)
    assert enter(books, version, sheet, {"none_needed": True}).words == ""
    assert standing(version).is_current


def test_scent_in_recovered_melt_is_scent_in_the_candle(books, shelf):
    """92 g of wax and 8 g of fragrance for each 100 g of the melt: 2/23 of wax, 2/25 of melt."""
    batch = books.plan(books.candle(), 10)
    books.fill(shelf, batch)
    melt = books.item("Cedar melt", kind="wax", made_here=True)
    books.finish(batch, 9, recovered=[Recovered(melt, grams(100))])
    tin = books.formula("Tin", [("Cedar melt", "wax_share", 1_000_000)], fill="100 g")

    (load,) = scents_of(*whole(tin))

    assert (load.item.name, load.of_wax, load.of_melt) == ("fragrance", Fraction(2, 23), Fraction(2, 25))
    assert standing(tin).cautions("eu") == [MISSING]
    assert standing(tin).cautions("us") == []
