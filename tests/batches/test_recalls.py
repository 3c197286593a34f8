"""Recalls: all that carries a suspect lot is frozen, held and counted; a drill holds nothing; nobody is forgotten."""

import io
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from importlib import import_module

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction
from django.db.models import F
from pypdf import PdfReader

from batches.lineage.recall_scope import widths
from batches.models import Recall, RecallAnswer, RecallLot, RecallSent, RecallStep
from batches.recalls import recalling
from batches.recalls.checks import recalls_add_up
from batches.recalls.facts import reach, stood
from batches.recalls.letters_text import letter_to
from batches.recalls.progress import BENCHMARK, progress_of
from batches.recalls.report_pdf import report_pdf
from batches.recalls.report_text import (
    ANSWERS_HEAD,
    CUSTOMERS_HEAD,
    LOTS_HEAD,
    SENT_HEAD,
    answer_rows,
    customer_rows,
    head_of,
    lot_rows,
    report_of,
    sent_rows,
)
from inventory.lots.holding import hold
from inventory.models import Dispatch, HoldRecord, Lot
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from studio import guards
from tests.house import NOW, TODAY, day, grams, refused, settle

pytestmark = pytest.mark.django_db


@pytest.fixture
def house(books, shelf, version, agreeing):
    """The wax went straight into ten candles, and by way of a jar into five more; some of each are with customers.

    Ten: 6 to the market, 1 scrapped, 3 here. Five: 2 to Wilf, 3 here. The jar holds 40 g still. Another lot of wax, and
    what was made of it, has nothing to do with it.
    """
    (jar,) = books.decant((shelf["wax"], "500 g"), at=day(2))
    first, second = books.plan(version, 10), books.plan(version, 5)
    books.fill(shelf, first, at=day(4))
    books.fill(shelf | {"wax": jar}, second, 5, at=day(4))
    (ten,), (five,) = books.finish(first, 10, at=day(5)), books.finish(second, 5, at=day(5))
    books.send(ten, 4, at=day(8))
    books.send(ten, 2, at=day(9))
    books.send(five, 2, at=day(9), to="Wilf Harrow")
    books.take_out(ten, 1)
    other = books.receive("wax", "3 kg", cost=15)
    third = books.plan(version, 2)
    books.fill(shelf | {"wax": other}, third, 2, at=day(6))
    (apart,) = books.finish(third, 2, at=day(7))
    return {"wax": shelf["wax"], "jar": jar, "ten": ten, "five": five, "other": other, "apart": apart}


def test_a_recall_holds_at_once_all_that_is_affected_and_still_here(books, house):
    recall = books.recall(house["wax"])

    affected = {house[name].pk for name in ("wax", "jar", "ten", "five")}
    assert set(recall.lots.values_list("lot", flat=True)) == affected
    assert set(Lot.objects.filter(held=True).values_list("pk", flat=True)) == affected
    assert set(HoldRecord.objects.values_list("lot", flat=True)) == affected
    assert HoldRecord.objects.first().reason.startswith(f"Recall {recall.spaced_code}: The wax may")


def test_the_snapshot_says_where_every_gram_and_candle_was(books, house):
    recall = books.recall(house["wax"])

    # Wax: 10 kg came; 920 g into ten, 500 g decanted, 8.58 kg here. The jar: 460 g into five. By hand.
    kept = {row.lot_id: row for row in recall.lots.all()}
    wax, jar = kept[house["wax"].pk], kept[house["jar"].pk]
    assert (wax.came, wax.used, wax.decanted, wax.on_hand) == tuple(map(grams, (10_000, 920, 500, 8_580)))
    assert (jar.came, jar.used, jar.on_hand) == tuple(map(grams, (500, 460, 40)))
    ten, five = kept[house["ten"].pk], kept[house["five"].pk]
    assert (ten.came, ten.sent, ten.lost, ten.on_hand) == (10, 6, 1, 3)
    assert (five.came, five.sent, five.lost, five.on_hand) == (5, 2, 0, 3)
    assert [row.suspect for row in kept.values()].count(True) == 1
    assert not any(row.unexplained for row in kept.values())


def test_every_customer_is_listed_with_lots_days_and_quantities(books, house):
    progress = progress_of(books.recall(house["wax"]))

    sent = {
        each.party.customer.name: [(row.lot, row.quantity, row.sent_at) for row in each.sent]
        for each in progress.parties
    }
    assert sent == {
        "Harbour Street Market": [(house["ten"], 4, day(8)), (house["ten"], 2, day(9))],
        "Wilf Harrow": [(house["five"], 2, day(9))],
    }
    assert (progress.units_made, progress.units_sent, progress.units_here, progress.units_lost) == (
        15,
        8,
        6,
        1,
    )
    assert progress.traced_share == 1


def test_what_happens_afterwards_leaves_the_snapshot_and_is_taken_in_as_a_step(books, house, sign):
    recall = books.recall(house["jar"], drill=True)
    before = list(RecallLot.objects.order_by("pk").values())
    assert not recalling.fresh_since(recall)
    batch = books.plan(house["five"].outcome.batch.version, 2)
    books.draw_into(batch, (house["jar"], "30 g"))
    (fresh,) = books.decant((house["jar"], "10 g"))
    books.send(house["five"], 1, to="Ottoline Marsh")

    new = recalling.fresh_since(recall)
    assert (new.lots, new.batches) == ([fresh], [batch])
    assert [(each.lot_id, each.quantity) for each in new.went] == [(house["five"].pk, 1)]

    step = recalling.take_in(recall.pk, signature=sign())

    assert step.number == 2
    assert list(RecallLot.objects.filter(step__number=1).order_by("pk").values()) == before
    assert set(step.lots.values_list("lot", flat=True)) == {fresh.pk}
    assert {each.party.customer.name for each in progress_of(recall).parties} == {
        "Wilf Harrow",
        "Ottoline Marsh",
    }
    assert not recalling.fresh_since(recall)
    with pytest.raises(recalling.RecallError, match="Nothing became affected"):
        recalling.take_in(recall.pk, signature=sign())


def test_a_drill_holds_nothing(books, house):
    recall = books.recall(house["wax"], drill=True)

    assert not Lot.objects.filter(held=True).exists()
    assert (recall.lots.count(), recall.lots.filter(held_now=True).count()) == (4, 0)


def test_a_lot_on_hold_already_stays_as_it_was(books, house, sign):
    hold(house["five"].pk, signature=sign(reason="Cracked lids"))
    recall = books.recall(house["jar"])

    row = recall.lots.get(lot=house["five"])
    assert (row.held_before, row.held_now) == (True, False)
    assert [record.reason for record in house["five"].hold_records.all()] == ["Cracked lids"]


def test_what_was_reversed_is_not_called_back(books, house):
    posting = books.send(house["five"], 1, to="Nobody")
    books.reverse(posting)

    recall = books.recall(house["wax"])

    assert RecallSent.objects.filter(recall=recall, lot=house["five"]).count() == 1
    assert recall.lots.get(lot=house["five"]).sent == 2


def test_what_came_back_is_here_and_no_longer_with_whom_it_went_to(books, house, sign):
    """Of six to the market, one came back of the first four; both of Wilf's came back."""
    first = Dispatch.objects.get(posting__happened_at=day(8))
    wilf = Dispatch.objects.get(customer__name="Wilf Harrow")
    (again,) = dispatching.take_back(first.pk, [Back(house["ten"].pk, 1)], signature=sign())
    dispatching.take_back(wilf.pk, [Back(house["five"].pk, 2)], signature=sign())

    recall = books.recall(house["wax"])

    progress = progress_of(recall)
    assert [[row.quantity for row in each.sent] for each in progress.parties] == [[3, 2]]
    # Fifteen were made: 5 are with the market, 3 + 3 never left, 3 are back on the shelf, 1 is scrap. By hand.
    assert (progress.units_made, progress.units_sent, progress.units_here, progress.units_lost) == (
        15,
        5,
        9,
        1,
    )
    assert Lot.objects.get(pk=again.pk).held
    wide = widths([house["wax"].pk])[house["wax"].pk]
    assert (wide.units, wide.units_sent, wide.units_here, wide.customers) == (15, 5, 9, 1)


def test_what_comes_back_during_a_recall_is_counted_once(books, house, sign):
    recall = books.recall(house["wax"])
    wilf = Dispatch.objects.get(customer__name="Wilf Harrow")
    dispatching.take_back(wilf.pk, [Back(house["five"].pk, 2)], signature=sign())
    recalling.take_in(recall.pk, signature=sign())

    progress = progress_of(recall)
    # The snapshot has them with Wilf still, and what became of them is entered there.
    assert (progress.units_made, progress.units_sent, progress.units_here, progress.units_lost) == (
        15,
        8,
        6,
        1,
    )
    assert not recalling.fresh_since(recall)


def test_a_part_that_came_back_and_did_not_after_all_is_with_the_customer_again(books, house, sign):
    """Of the market's first four one came back before the recall; while it runs that return is reversed."""
    first = Dispatch.objects.get(posting__happened_at=day(8))
    (again,) = dispatching.take_back(first.pk, [Back(house["ten"].pk, 1)], signature=sign())
    recall = books.recall(house["wax"])
    before = list(RecallSent.objects.order_by("pk").values())
    # 15 made: 3 + 2 with the market, 2 with Wilf, 3 + 3 + 1 here, 1 scrap. By hand.
    progress = progress_of(recall)
    assert (progress.units_made, progress.units_sent, progress.units_here, progress.units_lost) == (
        15,
        7,
        7,
        1,
    )

    books.reverse(again.came_back_from.goods_return.posting)

    fresh = recalling.fresh_since(recall)
    assert [(went.lot_id, went.dispatch, went.quantity) for went in fresh.went] == [
        (house["ten"].pk, first, 1)
    ]
    assert [(went.lot_id, went.quantity) for went in fresh.again] == [(house["ten"].pk, 1)]
    assert (fresh.lots, fresh.batches) == ([], [])
    step = recalling.take_in(recall.pk, signature=sign())

    assert [(row.lot, row.dispatch, row.quantity) for row in step.sent.all()] == [(house["ten"], first, 1)]
    assert list(RecallSent.objects.filter(step__number=1).order_by("pk").values()) == before
    progress = progress_of(recall)
    sent = {each.party.customer.name: sum(row.quantity for row in each.sent) for each in progress.parties}
    assert sent == {"Harbour Street Market": 6, "Wilf Harrow": 2}
    assert (progress.units_made, progress.units_sent, progress.units_here, progress.units_lost) == (
        15,
        8,
        6,
        1,
    )
    assert not recalling.fresh_since(recall)
    assert list(recalls_add_up()) == []
    # All six can be accounted for, and no seventh.
    market, candle = recall.parties.get(customer__name="Harbour Street Market"), house["ten"].item
    with refused(recalling.RecallError, "6 .*went there"):
        recalling.answer(market.pk, "destroyed", on=TODAY, quantities={candle: 7}, signature=sign())
    recalling.answer(market.pk, "destroyed", on=TODAY, quantities={candle: 6}, signature=sign())
    assert progress_of(recall).units_accounted == 6


def test_going_back_what_later_steps_froze_is_joined(books, house, sign):
    first = Dispatch.objects.get(posting__happened_at=day(8))
    (again,) = dispatching.take_back(first.pk, [Back(house["ten"].pk, 1)], signature=sign())
    recall = books.recall(house["wax"])
    books.reverse(again.came_back_from.goods_return.posting)
    recalling.take_in(recall.pk, signature=sign())
    settle()

    with transaction.atomic():
        guards.remove()
        import_module("batches.migrations.0022_recall_sent_joined_again").join(apps, None)
        rows = sorted(recall.sent.values_list("lot", "dispatch__posting__happened_at", "quantity"))
        transaction.set_rollback(True)

    ten, five = house["ten"].pk, house["five"].pk
    assert rows == [(ten, day(8), 4), (ten, day(9), 2), (five, day(9), 2)]


def test_a_return_during_the_recall_that_is_reversed_changes_nothing(books, house, sign):
    recall = books.recall(house["wax"])
    first = Dispatch.objects.get(posting__happened_at=day(8))
    (again,) = dispatching.take_back(first.pk, [Back(house["ten"].pk, 1)], signature=sign())
    recalling.take_in(recall.pk, signature=sign())

    books.reverse(again.came_back_from.goods_return.posting)

    assert not recalling.fresh_since(recall)
    assert progress_of(recall).units_sent == 8


def test_a_lot_that_was_empty_and_is_here_again_goes_on_hold(books, house, sign):
    """Wilf's last three are sent to him before the recall, and that was a slip: they never left."""
    slip = books.send(house["five"], 3, to="Wilf Harrow")
    recall = books.recall(house["jar"])
    assert not Lot.objects.get(pk=house["five"].pk).held
    drill = books.recall(house["jar"], drill=True)

    books.reverse(slip)

    assert recalling.fresh_since(recall).here_again == [house["five"]]
    assert not recalling.fresh_since(drill)
    recalling.take_in(recall.pk, signature=sign())
    assert Lot.objects.get(pk=house["five"].pk).held
    assert not Lot.objects.get(pk=house["apart"].pk).held
    assert not recalling.fresh_since(recall)


def test_how_far_it_is(books, house, sign):
    recall = books.recall(house["wax"])
    candle = house["ten"].item
    market, wilf = (
        recall.parties.get(customer__name=name) for name in ("Harbour Street Market", "Wilf Harrow")
    )
    recalling.answer(market.pk, "told", on=TODAY, signature=sign())
    recalling.answer(wilf.pk, "returned", on=TODAY, quantities={candle: 2}, signature=sign())
    recalling.answer(market.pk, "destroyed", on=TODAY, quantities={candle: 1}, signature=sign())
    recalling.answer(market.pk, "used_up", on=TODAY, quantities={candle: 2}, signature=sign())

    progress = progress_of(recall)

    # Both were told, both answered, 5 of 8 candles are accounted for.
    assert (progress.told_share, progress.answered_share, progress.accounted_share) == (1, 1, Fraction(5, 8))
    assert {each.party: each.state[1] for each in progress.parties} == {
        market: "Answered",
        wilf: "Accounted for",
    }


def test_more_than_went_there_cannot_come_back(books, house, sign):
    recall = books.recall(house["wax"], drill=True)
    wilf = recall.parties.get(customer__name="Wilf Harrow")
    candle = house["five"].item
    recalling.answer(wilf.pk, "destroyed", on=TODAY, quantities={candle: 1}, signature=sign())

    with refused(recalling.RecallError, "2 .*went there and 1 .*at most 1 "):
        recalling.answer(wilf.pk, "returned", on=TODAY, quantities={candle: 2}, signature=sign())
    with refused(recalling.RecallError, "How many|how many"):
        recalling.answer(wilf.pk, "returned", on=TODAY, signature=sign())
    with refused(recalling.RecallError, "future"):
        recalling.answer(wilf.pk, "told", on=TODAY + timedelta(days=1), signature=sign())
    with refused(recalling.RecallError, "before the recall"):
        recalling.answer(wilf.pk, "told", on=date(2026, 3, 19), signature=sign())


def test_an_entry_that_was_a_slip_is_taken_back_and_stays(books, house, sign):
    recall = books.recall(house["wax"], drill=True)
    wilf = recall.parties.get(customer__name="Wilf Harrow")
    candle = house["five"].item
    (slip,) = recalling.answer(wilf.pk, "returned", on=TODAY, quantities={candle: 2}, signature=sign())

    recalling.take_back(slip.pk, signature=sign(reason="Somebody else's parcel"))

    assert progress_of(recall).units_accounted == 0
    assert RecallAnswer.objects.count() == 2
    with refused(recalling.RecallError, "taken back already"):
        recalling.take_back(slip.pk, signature=sign())


def test_a_closed_recall_takes_nothing_in(books, house, sign):
    recall = books.recall(house["wax"], at=day(20, 9))
    party = recall.parties.first()
    closed = recalling.close(recall.pk, finding="Water in the pail", signature=sign())

    assert closed.ran(NOW) == timedelta(hours=3)
    assert closed.ran(NOW) <= BENCHMARK
    for act in (
        lambda: recalling.answer(party.pk, "told", on=TODAY, signature=sign()),
        lambda: recalling.take_in(recall.pk, signature=sign()),
        lambda: recalling.close(recall.pk, finding="Again", signature=sign()),
    ):
        with refused(recalling.RecallError, "closed"):
            act()
    # What is on hold stays so.
    assert Lot.objects.filter(held=True).count() == 4


@pytest.mark.parametrize("drill", [True, False])
def test_whatever_a_drill_writes_says_drill_and_nothing_of_a_recall_does(
    books, house, studio, owner, sign, drill
):
    recall = books.recall(house["wax"], drill=drill)
    wilf = recall.parties.get(customer__name="Wilf Harrow")
    recalling.answer(wilf.pk, "told", on=TODAY, signature=sign())
    progress = progress_of(recall)
    assert len(progress.parties) == 2

    for each in progress.parties:
        letter = letter_to(each, studio=studio, by=owner, now=NOW)
        for text in (letter.letter, letter.subject, letter.message):
            assert text.startswith("DRILL") is drill, text
            assert ("DRILL" in text) is drill
        assert ("DRILL" in letter.letter.splitlines()[0]) is drill
        assert ("DRILL" in letter.letter.splitlines()[-1]) is drill
        assert ("do not send" in letter.message) is drill
    tables = (
        (SENT_HEAD, sent_rows(progress, studio, owner)),
        (LOTS_HEAD, lot_rows(progress)),
        (CUSTOMERS_HEAD, customer_rows(progress, owner)),
        (ANSWERS_HEAD, answer_rows(progress, owner)),
    )
    for head, cells in tables:
        assert ("DRILL" in head_of(head, is_drill=drill)[0]) is drill
        rows = list(cells)
        assert rows
        assert {str(row[0]) for row in rows} == {f"DRILL {recall.code}" if drill else recall.code}
    report = report_of(progress, studio, by=owner, now=NOW, printed="Printed today")
    assert [part.title.startswith("DRILL: ") for part in report.parts] == [drill] * 3
    pages = PdfReader(io.BytesIO(report_pdf(report))).pages
    assert [("DRILL" in page.extract_text()) for page in pages] == [drill] * len(pages)


def test_a_drills_report_says_drill_on_every_page(books, house, studio, owner):
    report = report_of(
        progress_of(books.recall(house["wax"], drill=True)), studio, by=owner, now=NOW, printed=""
    )
    many = replace(report, parts=tuple(replace(part, rows=list(part.rows) * 60) for part in report.parts))

    pages = PdfReader(io.BytesIO(report_pdf(many))).pages

    assert len(pages) > 3
    assert all(
        "DRILL: Mock recall" in page.extract_text().replace("\N{NO-BREAK SPACE}", " ") for page in pages
    )


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE batches_recalllot SET sent = 0",
        "DELETE FROM batches_recallsent",
        "UPDATE batches_recallanswer SET quantity = 1",
        "UPDATE batches_recallparty SET customer_id = NULL",
        "DELETE FROM batches_recallstep",
        "UPDATE batches_recall SET why = 'nothing'",
        "DELETE FROM batches_recall",
    ],
)
def test_the_database_keeps_what_was_frozen(books, house, sign, statement):
    recall = books.recall(house["wax"], drill=True)
    recalling.answer(recall.parties.first().pk, "told", on=TODAY, signature=sign())

    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert Recall.objects.get().why.startswith("The wax")


def test_mass_balance_after_a_notes_worked_case(books, shelf):
    # Process balance of checks section 7 (R, ifsqn.com 12938): 80 + 20 + 1 + 9 = 110 kg in, 100 kg out, 10 kg lost. Here in
    # grams, of one lot that was mixed of four: nothing is unexplained once the loss is booked.
    parts = [books.receive("wax", f"{kg} g") for kg in (80, 20, 1, 9)]
    (mixed,) = books.decant(*[(lot, f"{lot.on_hand // grams(1)} g") for lot in parts])
    books.take_out(mixed, "10 g")

    mixed.refresh_from_db()
    found = stood([mixed])[mixed.pk]
    assert (found.came, found.lost, found.on_hand, found.unexplained) == (
        grams(110),
        grams(10),
        grams(100),
        0,
    )
    # 100 of 110: 90.91 % recovered, as the source has it.
    assert round(Fraction(found.on_hand, found.came) * 100, 2) == Fraction("90.91")


def test_the_reach_takes_the_same_queries_for_twice_the_lots(books, house, django_assert_max_num_queries):
    with django_assert_max_num_queries(14):
        reach({house["wax"].pk})
    for _ in range(3):
        books.decant((house["wax"], "100 g"))
        books.send(house["ten"], 1)
    with django_assert_max_num_queries(14):
        reach({house["wax"].pk, house["other"].pk, house["jar"].pk})


def test_the_tables_carry_what_a_trace_is_asked_for(books, house, studio, owner):
    progress = progress_of(books.recall(house["jar"], drill=True))

    # 21 CFR 1.1340: lot code, quantity and unit, description, recipient, where from, date, who gave the code, document.
    (row,) = [dict(zip(SENT_HEAD, cells, strict=True)) for cells in sent_rows(progress, studio, owner)]
    assert (row["Lot code"], row["Quantity"], row["Unit"]) == (house["five"].code, 2, "each")
    assert (row["What it is"], row["Sent to"]) == ("Cedar & Black Tea", "Wilf Harrow")
    assert (row["Sent from"], row["Lot code given by"], row["Sent on"]) == (
        "Ninefold Lane",
        "Ninefold Lane",
        day(9),
    )
    assert row["Batch code on the jar"] == house["five"].outcome.batch.code
    assert row["Document type"] == "Sale"
    lots = [dict(zip(LOTS_HEAD, cells, strict=True)) for cells in lot_rows(progress)]
    assert [(cells["Lot code"], cells["Suspect"], cells["Unexplained"]) for cells in lots] == [
        (house["jar"].code, "yes", 0),
        (house["five"].code, "no", 0),
    ]
    assert len(list(customer_rows(progress, owner))) == 1


def test_a_bookkeeper_reads_no_private_name(books, house, studio, bookkeeper):
    progress = progress_of(books.recall(house["jar"], drill=True))

    (cells,) = sent_rows(progress, studio, bookkeeper)
    assert "Wilf" not in str(cells)


def test_the_report_says_it_all_on_paper(books, house, studio, owner):
    recall = books.recall(house["wax"], drill=True, at=day(20, 9))
    report = report_of(progress_of(recall), studio, by=owner, now=NOW, printed="Printed today")

    pages = PdfReader(io.BytesIO(report_pdf(report))).pages
    text = " ".join(page.extract_text() for page in pages).replace("\N{NO-BREAK SPACE}", " ")
    for said in (
        "Mock recall",
        "3 h 00 min",
        "Wilf Harrow",
        "Nothing was held",
        "100 %",
    ):
        assert said in text


@pytest.mark.parametrize(
    ("began", "stopped", "said"),
    [
        (day(20, 9), None, "3 h 00 min: still running, for comparison with the 4 hours"),
        (day(20, 9), NOW, "3 h 00 min: within the 4 hours"),
        (day(20, 7), None, "5 h 00 min: beyond the 4 hours"),
    ],
)
def test_a_drill_is_within_the_hours_of_practice_once_its_clock_stopped(
    books, house, studio, owner, began, stopped, said
):
    recall = books.recall(house["wax"], drill=True, at=began)
    if stopped:
        recalling.close(recall.pk, finding="Both ways, all of it.", signature=books.sign(stopped))
        recall.refresh_from_db()

    report = report_of(progress_of(recall), studio, by=owner, now=NOW, printed="Printed today")

    assert said in dict(report.facts)["Against practice"]


def _sent_twice():
    """The same again as a later step: each row is no more than was sent, both together are."""
    row = RecallSent.objects.select_related("step").earliest("pk")
    row.step = RecallStep.objects.create(
        recall_id=row.recall_id, number=2, by_id=row.step.by_id, at=row.step.at
    )
    row.pk = None
    row.save()


@pytest.mark.parametrize(
    ("tamper", "words"),
    [
        (lambda: RecallLot.objects.update(came=F("came") + 1), "does not add up"),
        (lambda: RecallSent.objects.update(quantity=F("quantity") + 1), "than its dispatch sent"),
        (lambda: _sent_twice(), "than its dispatch sent"),
        (lambda: RecallAnswer.objects.update(quantity=9), "more came back"),
    ],
)
def test_check_books_sees_a_recall_that_was_tampered_with(books, house, sign, tamper, words):
    recall = books.recall(house["wax"])
    wilf = recall.parties.get(customer__name="Wilf Harrow")
    recalling.answer(
        wilf.pk, RecallAnswer.Kind.RETURNED, on=TODAY, quantities={house["five"].item: 2}, signature=sign()
    )
    assert list(recalls_add_up()) == []
    settle()

    with transaction.atomic():
        guards.remove()
        tamper()
        told = list(recalls_add_up())
        transaction.set_rollback(True)

    assert told
    assert all(words in sentence for sentence in told)
