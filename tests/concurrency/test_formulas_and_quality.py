"""Two people at one formula, burn test, recall or complaint: who comes second is told, and nothing is doubled."""

from dataclasses import replace

import pytest

from batches.burn_tests import burning
from batches.complaints import complaining
from batches.formulas import hazard_labels
from batches.formulas import writing as formulas
from batches.formulas.sheet import batch_sheet
from batches.models import (
    BurnReading,
    BurnTest,
    ComplaintChange,
    ComplaintPhoto,
    FormulaVersion,
    HazardLabel,
    RecallAnswer,
    StateChange,
)
from batches.recalls import facts, recalling
from inventory.lots import holding
from inventory.models import Commitment
from inventory.papers import documents
from inventory.selling import customers
from inventory.selling.customers import Who
from studio import uploads
from tests.concurrency.overlap import names, overlapping, twice
from tests.files import picture
from tests.house import NOW, TODAY, grams

pytestmark = pytest.mark.django_db(transaction=True)
PROCESS = {"fill_ug": None, "loss_ppm": 0, "division_ug": grams(1)}


def all_of(books, item="wax"):
    return [formulas.Ingredient(books.item(item), "wax_share", 1_000_000)]


@pytest.fixture
def candle(books, wax):
    return books.formula("Slate", [("wax", "wax_share", 1_000_000)], fill="100 g")


@pytest.fixture
def goods(books, wax, candle):
    """Ten candles that wait for their release."""
    batch = books.plan(candle, 10)
    books.draw_into(batch, (wax, "1 kg"))
    (lot,) = books.finish(batch, 10, release=False)
    return lot


# Formulas


def test_of_two_new_versions_each_has_a_number_of_its_own(books, blend):
    other = books.formula("other blend", [("wax", "wax_share", 1_000_000)])

    def write():
        return formulas.write_version(blend.formula, PROCESS, all_of(books), signature=books.sign())

    assert twice(write) == ("FormulaVersion", "FormulaVersion")
    assert list(blend.formula.versions.order_by("number").values_list("number", flat=True)) == [1, 2, 3]
    assert other.formula.versions.count() == 1


def test_a_version_that_is_being_planned_from_is_not_rewritten(books, blend):
    soy = all_of(books, "soy")

    results = overlapping(
        lambda: books.plan(blend, grams(1_000)), lambda: formulas.rewrite_version(blend, PROCESS, soy)
    )

    assert names(results) == ("Batch", "VersionUsed")
    assert [line.item.name for line in blend.lines.all()] == ["wax"]


def test_a_plan_reckons_with_the_version_as_it_was_just_rewritten(books, blend):
    results = overlapping(
        lambda: formulas.rewrite_version(blend, PROCESS, all_of(books, "soy")),
        lambda: books.plan(blend, grams(1_000)),
    )

    assert names(results) == ("FormulaVersion", "Batch")
    assert [(each.item.name, each.quantity) for each in Commitment.objects.all()] == [("soy", grams(1_000))]


def test_a_version_is_approved_by_one_of_two(books, blend):
    assert twice(lambda: books.approve(blend)) == ("StateChange", "StateError")
    assert StateChange.objects.get().version == blend


def test_no_label_names_a_document_that_is_being_withdrawn(books, wax):
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 80_000)]
    version = books.formula("Fig", lines, fill="100 g")
    sheet = books.paper("fragrance")
    scents = hazard_labels.scents_of(version, batch_sheet(version.recipe(), 10))

    _, refused = overlapping(
        lambda: documents.withdraw(sheet.pk, signature=books.sign(reason="Superseded")),
        lambda: hazard_labels.enter_hazard_label(
            version, {"none_needed": True}, {sheet.item_id: sheet}, scents, signature=books.sign()
        ),
    )

    assert isinstance(refused, hazard_labels.CannotTake)
    assert HazardLabel.objects.count() == 0


# Burn tests


def test_what_is_being_made_a_blend_is_not_burned(books, candle):
    results = overlapping(
        lambda: formulas.rewrite_version(candle, PROCESS, all_of(books)), lambda: books.light(candle, "350 g")
    )

    assert names(results) == ("FormulaVersion", "BurnError")
    assert (BurnTest.objects.count(), FormulaVersion.objects.get(pk=candle.pk).fill_ug) == (0, None)


def test_nothing_is_read_of_a_burn_test_that_is_being_decided(books, candle):
    test, other = books.light(candle, "350 g"), books.light(candle, "340 g")
    books.read(other, 1, {"weight": "330 g"})

    results = overlapping(
        lambda: burning.decide(test.pk, "broken_off", signature=books.sign(reason="It fell")),
        lambda: books.read(test, 1, {"weight": "330 g"}),
    )

    assert names(results) == ("BurnTest", "BurnEnded")
    assert [reading.jar.test for reading in BurnReading.objects.all()] == [other]


def test_a_burn_reading_is_struck_out_by_one_of_two(books, candle):
    test = books.light(candle, "350 g")
    (reading,) = books.read(test, 1, {"weight": "330 g"})

    results = twice(lambda: burning.strike(reading.pk, signature=books.sign(reason="Read too early")))

    assert results == ("BurnReading", "BurnError")


# Release


def test_goods_that_are_being_held_are_not_released(books, goods):
    results = overlapping(
        lambda: holding.hold(goods.pk, signature=books.sign(reason="A crack")), lambda: books.release(goods)
    )

    assert names(results) == ("Lot", "CannotRelease")
    goods.refresh_from_db()
    assert (goods.held, goods.awaits_release) == (True, True)


def test_a_lot_is_let_go_by_one_of_two(goods):
    assert twice(lambda: holding.let_go(goods.pk)) == ("Lot", "AlreadySo")


def test_goods_are_released_by_one_of_two(books, goods):
    assert twice(lambda: books.release(goods)) == ("Release", "AlreadySo")
    goods.refresh_from_db()
    assert not goods.awaits_release


# Recalls


def test_a_recall_sees_what_is_being_drawn_from_what_it_holds(books, wax, batch):
    other = books.receive("wax", "5 kg")

    posting, recall = overlapping(lambda: books.draw_into(batch, (wax, "400 g")), lambda: books.recall(wax))

    assert posting.kind == "draw"
    frozen = [(row.lot, row.used, row.on_hand, row.held_now) for row in recall.lots.all()]
    assert frozen == [(wax, grams(400), grams(9_600), True)]
    assert [row.batch for row in recall.batches.all()] == [batch]
    other.refresh_from_db()
    assert not other.held


def test_a_recall_waits_for_what_was_poured_while_it_waited(books, wax, monkeypatch):
    """At its first look the jar is not there yet; at the second somebody draws from it."""
    (jar,) = books.decant((wax, "1 kg"))
    looks = []

    def first_without_the_jar(*of, **more):
        looks.append(1)
        found = facts_of(*of, **more)
        return replace(found, lots=found.lots - {jar.pk}) if len(looks) == 1 else found

    facts_of = facts.descendants
    monkeypatch.setattr(facts, "descendants", first_without_the_jar)

    _, recall = overlapping(lambda: books.draw(jar, "400 g"), lambda: books.recall(wax))

    assert {(row.lot, row.on_hand) for row in recall.lots.all()} == {(wax, grams(9_000)), (jar, grams(600))}
    jar.refresh_from_db()
    assert (jar.held, jar.on_hand) == (True, grams(600))


@pytest.fixture
def called_back(books, wax, goods):
    """A recall of the wax; the market had three of its candles. And the market as a party to it."""
    books.release(goods)
    books.send(goods, 3)
    recall = books.recall(wax)
    return recall, recall.parties.get()


def test_nothing_is_answered_of_a_recall_that_is_being_closed(books, called_back):
    recall, market = called_back

    results = overlapping(
        lambda: recalling.close(recall.pk, finding="All found", signature=books.sign()),
        lambda: recalling.answer(market.pk, RecallAnswer.Kind.TOLD, on=TODAY, signature=books.sign()),
    )

    assert names(results) == ("Recall", "RecallError")
    assert RecallAnswer.objects.count() == 0


def test_no_more_is_accounted_for_than_went_there(books, called_back, goods):
    _, market = called_back

    def destroyed():
        kind, quantities = RecallAnswer.Kind.DESTROYED, {goods.item: 2}
        return recalling.answer(market.pk, kind, on=TODAY, quantities=quantities, signature=books.sign())

    assert twice(destroyed) == ("list", "RecallError")
    assert [row.quantity for row in RecallAnswer.objects.all()] == [2]


def test_an_answer_is_taken_back_by_one_of_two(books, called_back):
    _, market = called_back
    (told,) = recalling.answer(market.pk, RecallAnswer.Kind.TOLD, on=TODAY, signature=books.sign())

    results = twice(lambda: recalling.take_back(told.pk, signature=books.sign(reason="Not them")))

    assert results == ("RecallAnswer", "RecallError")


# Complaints


@pytest.fixture
def complaint(books, goods):
    return books.complain(goods, customer=customers.customer_named(Who("Ada Moor"), at=NOW))


def test_of_two_changes_of_a_complaint_the_second_says_what_the_first_wrote(books, complaint):
    results = overlapping(
        *[
            lambda cause=cause: complaining.change(complaint.pk, cause=cause, signature=books.sign())
            for cause in ("Thin glass", "Draft")
        ]
    )

    assert names(results) == ("Complaint", "Complaint")
    written = ComplaintChange.objects.order_by("pk").values_list("before", "after")
    assert list(written) == [("", "Thin glass"), ("Thin glass", "Draft")]


def test_a_photo_lies_beside_a_complaint_once(books, complaint):
    file = uploads.receive_picture("jar.png", picture())

    results = twice(lambda: complaining.add_photo(complaint.pk, file, signature=books.sign()))

    assert results == ("ComplaintPhoto", "ComplaintError")
    assert ComplaintPhoto.objects.count() == 1


def closed(books, complaint):
    complaining.change(complaint.pk, state="closed", outcome="replaced", cause="Chip", signature=books.sign())
    return ComplaintChange.objects.count()


@pytest.mark.parametrize("second", ["complaint", "customer"])
def test_names_are_erased_from_a_complaint_once(books, complaint, second):
    before, who = closed(books, complaint), complaint.customer_id
    erase = {
        "complaint": lambda: complaining.erase(complaint.pk, signature=books.sign()),
        "customer": lambda: customers.erase(who, signature=books.sign()),
    }

    for result in overlapping(erase["complaint"], erase[second]):
        assert not isinstance(result, Exception)

    assert ComplaintChange.objects.count() == before + 1
    complaint.refresh_from_db()
    assert (complaint.customer, complaint.what) == (None, "")
