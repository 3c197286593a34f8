"""A result entered anew keeps its lot: the code on the jars leads to what it stands for. Figures worked by hand."""

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.db import IntegrityError, transaction

from batches.complaints.complaining import candle_of
from batches.models import Batch, Outcome
from batches.production import finishing, versions
from batches.production.finishing import Recovered
from batches.tracing import finding
from inventory.checks import codes_lead_somewhere
from inventory.lots import holding
from inventory.lots.succession import endings
from inventory.models import Lot, Posting
from inventory.shipments.scanning import read_scans
from studio import guards
from studio.demonstration.corrected import count_again
from tests.house import NOW, day, grams, money, refused

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]


@pytest.fixture
def batch(books, shelf, version):
    """Ten candles: everything drawn on the tenth of March, 28.80 in all. A second batch stands beside it."""
    other = books.plan(version, 5)
    books.fill(shelf, other, 5, at=day(9))
    books.finish(other, 5, at=day(9, 12))
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(10))
    return batch


@pytest.fixture
def bystander(batch):
    """The other batch's lot, which nothing here may change."""
    lot = Lot.objects.get(outcome__result="good", outcome__quantity=5)
    before = (lot.pk, lot.on_hand, lot.value)
    yield lot
    lot.refresh_from_db()
    assert (lot.pk, lot.on_hand, lot.value) == before


@pytest.mark.usefixtures("bystander")
def test_a_corrected_count_stays_in_the_lot_whose_code_is_on_the_jars(books, batch):
    (made,) = books.finish(batch, 10, at=day(11))

    books.undo(batch)
    (again,) = books.finish(batch, 9, scrap={"Underfilled": 1}, at=day(11))

    assert (again.pk, again.code) == (made.pk, made.code)
    assert books.of(made) == (9, money("28.80"))
    assert [hit.thing for hit in finding.found(made.code)] == [made]
    assert [outcome.quantity for outcome in made.outcomes.order_by("pk")] == [10, 9]


def test_every_code_of_a_batch_in_parts_comes_back_to_its_own_part(books, batch):
    (first,) = books.finish(batch, 4, at=day(11), last=False)
    (second,) = books.finish(batch, 6, at=day(12))
    books.undo(batch)
    books.undo(batch)

    (first_again,) = books.finish(batch, 3, at=day(11), last=False)
    (second_again,) = books.finish(batch, 6, scrap={"Frosting": 1}, at=day(12))

    assert (first_again, second_again) == (first, second)
    assert (books.of(first), books.of(second)) == ((3, money("9.60")), (6, money("19.20")))


def test_parts_entered_as_one_lead_on_to_the_one(books, batch):
    (first,) = books.finish(batch, 4, at=day(11), last=False)
    (second,) = books.finish(batch, 6, at=day(12))
    books.undo(batch)
    books.undo(batch)
    (whole,) = books.finish(batch, 10, at=day(12))

    assert whole == first
    assert [lot.pk for lot in endings([second.pk])[second.pk].lots] == [first.pk]
    assert [hit.thing for hit in finding.found(second.code)] == [first]
    assert "replaced" in finding.found(second.code)[0].why


def test_seconds_that_were_none_lead_on_to_the_good_ones(books, batch):
    good, seconds = books.finish(batch, 8, 2, at=day(11))
    books.undo(batch)
    (again,) = books.finish(batch, 9, scrap={"Wet spots": 1}, at=day(11))

    assert again == good
    assert (books.of(good), books.of(seconds)) == ((9, money("28.80")), (0, 0))
    assert candle_of(seconds.code).lot == good
    scanned = read_scans(f"{seconds.code}\n{good.code} x 2")
    assert (scanned.pieces, scanned.problems) == ({good.pk: 3}, [])
    assert scanned.replaced == [(seconds.spaced_code, good)]


def test_an_open_batch_says_that_its_result_is_not_entered_yet(books, batch):
    (made,) = books.finish(batch, 10, at=day(11))
    books.undo(batch)

    ending = endings([made.pk])[made.pk]

    assert (ending.lots, ending.reversal.by, ending.reversal.reason) == ([], books.by, "counted again")
    assert [hit.thing for hit in finding.found(made.code)] == [made]
    assert candle_of(made.code).batch == batch


def test_melt_recovered_keeps_its_lot_and_else_leads_to_what_it_became(books, batch):
    melt = books.item("Cedar melt", kind="wax", made_here=True)
    finishing.abandon(batch.pk, [Recovered(melt, grams(500))], signature=books.sign(day(11), "No power"))
    kept = Lot.objects.get(item=melt)
    books.undo(batch)
    finishing.abandon(batch.pk, [Recovered(melt, grams(400))], signature=books.sign(day(11), "No power"))
    # 4.60 of wax and 3.20 of fragrance were weighed, 1,000 g of it: 400 g are worth 3.12.
    assert books.of(kept) == (grams(400), money("3.12"))
    books.undo(batch)

    (made,) = books.finish(batch, 10, at=day(12))

    assert [lot.pk for lot in endings([kept.pk])[kept.pk].lots] == [made.pk]


def test_a_lot_that_was_released_is_held_where_more_came_than_were_looked_at(books, batch):
    (made,) = books.finish(batch, 8, scrap={"Frosting": 2}, at=day(11))
    books.undo(batch)
    (same,) = books.finish(batch, 7, scrap={"Frosting": 3}, at=day(11), release=False)
    assert (same.held, same.awaits_release) == (False, False)
    books.undo(batch)

    (more,) = books.finish(batch, 10, at=day(11), release=False)

    assert (more.pk, more.held) == (made.pk, True)
    assert "2 more" in more.hold_records.first().reason


def held(*lots):
    return [Lot.objects.get(pk=lot.pk).held for lot in lots]


@pytest.mark.usefixtures("bystander")
@pytest.mark.parametrize("owners", [True, False])
def test_a_hold_passes_on_to_whatever_is_entered_in_its_place(books, batch, maker, owners):
    """Ten on hold: entered as eight seconds, then as one good and nine more good, then as melt. A release ends it."""
    melt = books.item("Cedar melt", kind="wax", made_here=True)
    (made,) = books.finish(batch, 10, at=day(11), release=False)
    put_on = holding.hold_for_owner if owners else holding.hold_all
    put_on([made.pk], signature=books.sign(reason="Smells of solvent"))
    books.undo(batch)
    (seconds,) = books.finish(batch, 0, 8, {"Frosting": 2}, at=day(11), release=False)
    books.undo(batch)
    (one,) = books.finish(batch, 1, at=day(11), last=False, release=False)
    nine = books.finish(batch, 1, 8, at=day(11), release=False)
    assert (one, nine[1]) == (made, seconds)
    books.undo(batch)
    (tub,) = books.finish(batch, recovered=[Recovered(melt, grams(900))], at=day(11), release=False)

    assert held(made, seconds, *nine, tub) == [True] * 5
    record = tub.hold_records.get()
    assert (record.reason, record.owner_decides) == ("Smells of solvent", owners)
    if owners:
        with refused(holding.OwnerDecides, "Smells of solvent"):
            holding.release(tub.pk, signature=replace(books.sign(reason="Fine"), by=maker))
    holding.release(tub.pk, signature=books.sign(reason="It was the lid"))
    books.undo(batch)
    books.finish(batch, recovered=[Recovered(melt, grams(800))], at=day(11), release=False)
    assert held(tub) == [False]


def test_another_product_entered_in_its_place_is_on_hold_too(books, batch):
    (made,) = books.finish(batch, 10, at=day(11), release=False)
    holding.hold_for_owner([made.pk], signature=books.sign(reason="Above its maximum"))
    books.undo(batch)
    right = books.candle("Fig Leaf")
    versions.correct_version(batch.pk, right.pk, signature=books.sign(reason="It was fig"))

    (other,) = books.finish(Batch.objects.get(pk=batch.pk), 10, at=day(11), release=False)

    assert (other.item, held(other)) == (right.formula.item, [True])


def test_what_comes_again_whole_keeps_its_hold_to_itself(books, batch):
    """Four and six: only the four are on hold, and come again as four. A hold that was released passes on nothing."""
    (four,) = books.finish(batch, 4, at=day(11), last=False, release=False)
    (six,) = books.finish(batch, 5, at=day(12), release=False)
    holding.hold(four.pk, signature=books.sign(reason="Specks"))
    books.undo(batch)
    books.undo(batch)
    books.finish(batch, 4, at=day(11), last=False, release=False)
    books.finish(batch, 6, at=day(12), release=False)
    assert held(four, six) == [True, False]

    holding.release(four.pk, signature=books.sign(reason="Dust"))
    books.undo(batch)
    books.undo(batch)
    (seconds,) = books.finish(batch, 0, 10, at=day(12), release=False)
    assert held(seconds) == [False]


def test_what_is_called_back_stays_on_hold_as_seconds(books, batch, bystander):
    (made,) = books.finish(batch, 10, at=day(11), release=False)
    recall = books.recall(made)
    books.undo(batch)

    (seconds,) = books.finish(batch, 0, 10, at=day(11), release=False)

    assert held(seconds, bystander) == [True, False]
    assert recall.spaced_code in seconds.hold_records.get().reason


def test_what_is_corrected_to_an_earlier_hour_keeps_its_lot(books, batch):
    (made,) = books.finish(batch, 10, at=day(12))
    books.undo(batch)

    (same,) = books.finish(batch, 10, at=day(11))

    assert (same.pk, same.arrived_at) == (made.pk, day(11))


def test_a_lot_is_the_result_of_one_batch_and_once_at_a_time(books, batch, bystander):
    (made,) = books.finish(batch, 10, at=day(11))
    wrong = Outcome(batch=batch, posting=bystander.outcome.posting, result="good", quantity=1, lot=bystander)
    with pytest.raises(IntegrityError, match="one batch"), transaction.atomic():
        Outcome.objects.bulk_create([wrong])
    again = Outcome(batch=batch, posting=made.outcome.posting, result="good", quantity=1, lot=made)
    with pytest.raises(IntegrityError, match="one batch"), transaction.atomic():
        Outcome.objects.bulk_create([again])


def test_a_reversed_delivery_and_a_reversed_decanting_say_where_they_went(books):
    pail = books.receive("wax", "5 kg", cost=20)
    (jar,) = books.decant((pail, "1 kg"))
    books.reverse(jar.movements.get().posting)
    gone = books.receive("wick", 100, cost=5)
    books.reverse(gone.movements.get().posting)

    found = endings([pail.pk, jar.pk, gone.pk])

    assert set(found) == {jar.pk, gone.pk}
    assert [lot.pk for lot in found[jar.pk].lots] == [pail.pk]
    assert (found[gone.pk].lots, found[gone.pk].reversal.by) == ([], books.by)


def test_the_check_tells_of_a_code_that_leads_nowhere_without_a_word(books, batch):
    lot = books.receive("wick", 100, cost=5)
    said = books.reverse(lot.movements.get().posting, reason="")
    assert list(codes_lead_somewhere()) == [f"Lot {lot.code} leads nowhere, and nobody said why."]
    guards.remove()
    Posting.objects.filter(pk=said.pk).update(reason="Sent to the wrong studio")
    guards.install()
    assert list(codes_lead_somewhere()) == []


def test_the_check_tells_of_a_lot_that_nothing_brought(books, batch):
    lost = Lot.objects.create(code="L0009C", item=books.item("wax"), arrived_at=day(1))
    assert list(codes_lead_somewhere()) == ["Lot L0009C was brought by nothing."]
    guards.remove()
    lost.delete()
    guards.install()


def test_the_demonstration_counts_one_of_its_batches_again(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(10))
    (lot,) = books.finish(batch, 10, at=day(11), release=False)

    count_again(SimpleNamespace(people=SimpleNamespace(maker=books.by)), NOW + timedelta(hours=1))

    assert books.of(lot) == (9, money("28.80"))
    lines = batch.outcomes.order_by("pk").values_list("result", "quantity", "lot")
    assert list(lines) == [("good", 10, lot.pk), ("good", 9, lot.pk), ("scrap", 1, None)]
