"""A batch from plan to shelf. Figures worked by hand; prices and the candle are in conftest."""

from datetime import date, timedelta

import pytest
from django.db import DatabaseError, transaction

from batches.models import Labour, Reading, StruckReading
from batches.planning import plans
from batches.planning.plans import BatchError
from batches.production import cost_allocation, finishing, runs
from batches.production.finishing import NothingDrawn
from batches.recipe import RecipeError
from inventory.ledger.books import BookError, LotNotUsable, LotShort, WrongTime
from inventory.lots import holding
from inventory.models import Commitment, Item, PeriodCost, Posting
from tests.house import NOW, TODAY, day, grams, money, refused

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]


def committed(batch):
    return dict(Commitment.objects.filter(source=batch.code).values_list("item__name", "quantity"))


def state(batch):
    batch.refresh_from_db()
    return batch.state


def period():
    return sum(PeriodCost.objects.values_list("value", flat=True))


def test_a_plan_commits_what_it_needs_by_its_day(books, version):
    batch = books.plan(version, 12, on=date(2026, 3, 27))

    assert (batch.state, batch.quantity, batch.planned_by) == ("planned", 12, books.by)
    assert committed(batch) == {"wax": grams(1_104), "fragrance": grams(96), "wick": 12, "vessel": 12}
    assert set(Commitment.objects.values_list("needed_on", flat=True)) == {date(2026, 3, 27)}


@pytest.mark.parametrize("quantity", [0, -1, 10**15])
def test_a_plan_that_cannot_be_is_refused(books, version, quantity):
    with refused(RecipeError, "above zero|books can hold"):
        books.plan(version, quantity)


def test_a_draw_starts_the_batch_and_lowers_what_is_committed(books, shelf, version):
    batch = books.plan(version, 10)

    posting = books.draw_into(batch, (shelf["wax"], "900 g"))

    assert state(batch) == "started"
    assert committed(batch)["wax"] == grams(20)
    assert books.of(shelf["wax"]) == (grams(9_100), money("45.50"))
    draw = batch.draws.get()
    assert (draw.quantity, draw.value, draw.movement.posting) == (grams(900), money("4.50"), posting)


def test_drawing_more_than_planned_commits_nothing_more(books, shelf, version):
    batch = books.plan(version, 10)

    books.draw_into(batch, (shelf["wax"], "925 g"))

    assert "wax" not in committed(batch)


def test_several_lots_may_fill_one_line(books, shelf, version):
    dear = books.receive("wax", "1 kg", cost=8)
    batch = books.plan(version, 10)

    posting = books.draw_into(batch, (shelf["wax"], "500 g"), (dear, "420 g"))

    drawn = [(draw.movement.lot, draw.quantity, draw.value) for draw in batch.draws.all()]
    assert drawn == [(shelf["wax"], grams(500), money("2.50")), (dear, grams(420), money("3.36"))]
    assert {draw.movement.posting for draw in batch.draws.all()} == {posting}
    assert "wax" not in committed(batch)


def test_one_lot_may_serve_two_lines(books):
    # Fragrance goes in twice, a quarter of it at the start: two lines of one item.
    oil = books.receive("fragrance", "1 kg", cost=40)
    layered = books.formula(
        "Rain on Slate",
        [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 20_000), ("fragrance", "of_melt", 60_000)],
        fill="100 g",
    )
    batch = books.plan(layered, 10)
    first, second = layered.lines.filter(item__name="fragrance")
    assert committed(batch)["fragrance"] == grams(80)

    runs.draw_line(batch.pk, first.pk, books.take((oil, "20 g")), signature=books.sign())
    assert committed(batch)["fragrance"] == grams(60)
    runs.draw_line(batch.pk, second.pk, books.take((oil, "60 g")), signature=books.sign())

    assert plans.drawn_by_line(batch) == {first.pk: grams(20), second.pk: grams(60)}
    assert "fragrance" not in committed(batch)
    assert books.of(oil) == (grams(920), money("36.80"))


def test_too_much_on_one_line_does_not_cover_another(books):
    oil = books.receive("fragrance", "1 kg", cost=40)
    layered = books.formula(
        "Rain on Slate",
        [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 20_000), ("fragrance", "of_melt", 60_000)],
        fill="100 g",
    )
    batch = books.plan(layered, 10)

    runs.draw_line(batch.pk, layered.lines.all()[1].pk, books.take((oil, "50 g")), signature=books.sign())

    assert committed(batch)["fragrance"] == grams(60)


def test_the_wrong_item_is_stopped_and_named(books, shelf, version):
    batch = books.plan(version, 10)

    with refused(LotNotUsable, rf"Lot {shelf['wick'].spaced_code} is wick, not wax. Take a lot of wax"):
        books.draw_into(batch, (shelf["wick"], 10), line="wax")


def test_a_line_of_another_formula_is_refused(books, shelf, version):
    batch, other = books.plan(version, 10), books.candle("Quince Orchard")

    with refused(BatchError, "not in the batch's formula"):
        runs.draw_line(
            batch.pk, other.lines.first().pk, books.take((shelf["wax"], "1 g")), signature=books.sign()
        )


def test_drawing_nothing_is_refused_and_starts_nothing(books, version):
    batch = books.plan(version, 10)

    with refused(BookError, "Choose a lot and enter a quantity above zero"):
        runs.draw_line(batch.pk, books.line(batch, "wax"), [], signature=books.sign())


def test_a_held_or_short_lot_stops_the_draw_and_leaves_the_batch_planned(books, shelf, version, sign):
    batch = books.plan(version, 10)
    holding.hold(shelf["wax"].pk, signature=sign(reason="grit"))

    with refused(LotNotUsable, "on hold"):
        books.draw_into(batch, (shelf["wax"], "1 g"))
    with refused(LotShort, "holds 100 by the books; 101 was asked"):
        books.draw_into(batch, (shelf["wick"], 101))


def test_a_draw_of_more_than_the_books_hold_may_be_booked_as_found(books, shelf, version):
    batch = books.plan(version, 10)

    books.draw_into(batch, (shelf["wick"], 103), found=True)

    assert (batch.draws.get().quantity, batch.draws.get().value) == (103, money(10))
    assert Posting.objects.to_review().count() == 1


def test_good_units_carry_the_whole_of_the_material(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)

    good, seconds = books.finish(batch, 7, 2, {"Sinkhole": 1})

    assert (books.of(good), good.grade) == ((7, money("28.80")), "first")
    assert (books.of(seconds), seconds.grade) == ((2, 0), "second")
    assert (state(batch), batch.finished_at, committed(batch)) == ("finished", NOW, {})
    told = [(outcome.result, outcome.quantity, outcome.defect) for outcome in batch.outcomes.all()]
    assert told == [("good", 7, ""), ("second", 2, ""), ("scrap", 1, "Sinkhole")]


def test_seconds_carry_the_material_where_nothing_is_good(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)

    (seconds,) = books.finish(batch, 0, 9, {"Frosting": 1})

    assert books.of(seconds) == (9, money("28.80"))


def test_a_batch_that_is_all_scrap_makes_no_lot_and_its_material_is_lost(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch)

    assert books.finish(batch, scrap={"Cracking": 6, "Wet spots": 4}) == []

    assert (state(batch), cost_allocation.unsettled(batch)) == ("finished", 0)
    books.correct(draws["wick"], (shelf["wick"], 12))
    assert (period(), Posting.objects.filter(kind="revaluation").count()) == (0, 0)


def test_a_batch_finished_good_and_then_as_scrap_leaves_nothing_open(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch)
    books.finish(batch, 10)
    books.undo(batch)
    books.finish(batch, scrap={"Cracking": 10})

    assert cost_allocation.unsettled(batch) == 0
    books.correct(draws["wick"], (shelf["wick"], 12))
    assert Posting.objects.filter(kind="revaluation").count() == 0


def test_what_was_not_drawn_is_named_unless_none_was_used(books, shelf, version):
    batch = books.plan(version, 10)
    books.draw_into(batch, (shelf["wax"], "920 g"))

    with refused(NothingDrawn, "Nothing was drawn for fragrance, wick, vessel") as caught:
        books.finish(batch, 10)
    assert caught.value.names == ["fragrance", "wick", "vessel"]

    (made,) = books.finish(batch, 10, without=True)
    assert books.of(made) == (10, money("4.60"))


@pytest.mark.parametrize(
    ("result", "sentence"),
    [
        (finishing.Result(), "at least as scrap"),
        (finishing.Result(scrap={"Other": 0}), "at least as scrap"),
        (finishing.Result(good=-1, seconds=5), "below zero"),
        (finishing.Result(good=5, seconds=-1), "below zero"),
        (finishing.Result(good=5, scrap={"Other": -1}), "below zero"),
    ],
)
def test_a_yield_that_cannot_be_is_refused(books, shelf, version, result, sentence):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)

    with refused(BatchError, sentence):
        finishing.finish(batch.pk, result, signature=books.sign())


def test_a_batch_is_not_finished_before_its_last_draw(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(10))

    with refused(WrongTime, "last draw was on 10 Mar 2026, 09:00"):
        books.finish(batch, 10, at=day(10) - timedelta(minutes=1))
    books.finish(batch, 10, at=day(10))


def test_a_batch_is_not_finished_in_the_future(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)

    with refused(WrongTime, "future"):
        finishing.finish(
            batch.pk, finishing.Result(good=10), signature=books.sign(NOW).at(NOW + timedelta(minutes=1))
        )


def test_a_finished_batch_takes_no_more(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)
    books.finish(batch, 10)

    with refused(BatchError, "is finished; nothing more can be drawn"):
        books.draw_into(batch, (shelf["wax"], "1 g"))
    with refused(BatchError, "is finished"):
        books.finish(batch, 10)
    with refused(BatchError, "is finished"):
        plans.call_off(batch.pk, signature=books.sign(reason="too late"))


def test_a_pour_is_ready_when_it_has_cured_and_expires_by_its_item(books, shelf):
    version = books.candle(cure_days=14)
    Item.objects.filter(name="Cedar & Black Tea").update(shelf_life_days=365)
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(10))

    (made,) = books.finish(batch, 10, at=day(10))

    assert (made.ready_on, made.expires_on) == (date(2026, 3, 24), date(2027, 3, 10))
    with refused(LotNotUsable, "cures until 24 Mar 2026"):
        books.send(made, 1)


def test_a_batch_is_called_off_with_a_reason_and_commits_nothing(books, version):
    batch = books.plan(version, 10)

    plans.call_off(batch.pk, signature=books.sign(reason="no vessels"))

    assert (state(batch), batch.note, committed(batch)) == ("called_off", "Called off: no vessels", {})
    with refused(BatchError, "called off"):
        plans.call_off(batch.pk, signature=books.sign())


def test_a_batch_with_material_in_it_is_not_called_off(books, shelf, version):
    batch = books.plan(version, 10)
    wrong = books.draw_into(batch, (shelf["wax"], "1 g"))

    with refused(BatchError, "Material was drawn into this batch"):
        plans.call_off(batch.pk, signature=books.sign(reason="no vessels"))

    books.correct(wrong)
    plans.call_off(batch.pk, signature=books.sign(reason="no vessels"))
    assert state(batch) == "called_off"


def test_a_reading_starts_the_batch_and_is_kept(books, version):
    batch = books.plan(version, 10)

    runs.take_reading(batch.pk, "pour", 57_000, note="", signature=books.sign(day(10)))

    reading = Reading.objects.get()
    assert (reading.kind, reading.temperature_mc, reading.at, reading.by) == (
        "pour",
        57_000,
        day(10),
        books.by,
    )
    assert state(batch) == "started"


def test_minutes_may_be_noted_after_the_finish(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)
    books.finish(batch, 10)

    runs.note_labour(
        batch, person_id=books.by.pk, step="finish", minutes=45, worked_on=TODAY, signature=books.sign()
    )

    assert Labour.objects.get().minutes == 45


def test_a_reading_noted_wrongly_is_struck_out_once_and_stays(books, version):
    batch = books.plan(version, 10)
    wrong = runs.take_reading(batch.pk, "pour", 160_000, note="", signature=books.sign())
    right = runs.take_reading(batch.pk, "pour", 60_000, note="", signature=books.sign())

    struck = runs.strike_reading(wrong.pk, signature=books.sign(reason="Typed 160 for 60"))

    assert (struck.reason, struck.by) == ("Typed 160 for 60", books.by)
    assert list(batch.readings.standing()) == [right]
    assert batch.readings.count() == 2
    with refused(BatchError, "struck out or taken back already"):
        runs.strike_reading(wrong.pk, signature=books.sign(reason="Once more"))


def test_the_database_keeps_what_was_struck_out_and_asks_why(books, version):
    batch = books.plan(version, 10)
    wrong = runs.take_reading(batch.pk, "pour", 160_000, note="", signature=books.sign())
    with pytest.raises(DatabaseError), transaction.atomic():
        runs.strike_reading(wrong.pk, signature=books.sign())
    runs.strike_reading(wrong.pk, signature=books.sign(reason="Typed 160 for 60"))

    for change in (StruckReading.objects.all().delete, lambda: StruckReading.objects.update(reason="x")):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()
    assert not batch.readings.standing().exists()


def worked(books, batch, minutes, *, step="finish", on=TODAY):
    return runs.note_labour(
        batch, person_id=books.by.pk, step=step, minutes=minutes, worked_on=on, signature=books.sign()
    )


def test_minutes_noted_wrongly_are_taken_back_and_noted_anew(books, shelf, version):
    batch = books.plan(version, 10)
    wrong = worked(books, batch, 600)
    right = worked(books, batch, 60)

    back = runs.take_back_labour(wrong.pk, signature=books.sign().because("Typed 600 for 60"))

    assert (back.minutes, back.worked_on, back.person, back.reason) == (
        -600,
        TODAY,
        books.by,
        "Typed 600 for 60",
    )
    assert sum(batch.labour.values_list("minutes", flat=True)) == 60
    assert list(Labour.objects.standing()) == [right]


def test_minutes_are_taken_back_once_and_what_takes_back_never(books, shelf, version):
    batch = books.plan(version, 10)
    wrong = worked(books, batch, 600)
    back = runs.take_back_labour(wrong.pk, signature=books.sign())

    for entry in (wrong, back):
        with pytest.raises(BatchError, match="taken back already"):
            runs.take_back_labour(entry.pk, signature=books.sign())

    assert Labour.objects.count() == 2


@pytest.mark.parametrize(
    "change", [{"minutes": -599}, {"step": "pour"}, {"by_owner": False}, {"minutes": 600}]
)
def test_the_database_takes_back_nothing_but_what_was_noted(books, shelf, version, change):
    entry = worked(books, books.plan(version, 10), 600)
    like = {
        name: getattr(entry, name)
        for name in ("batch", "person", "step", "worked_on", "by_owner", "recorded_by", "recorded_at")
    }

    with pytest.raises(DatabaseError), transaction.atomic():
        Labour.objects.create(**like | {"minutes": -600, "takes_back": entry} | change)

    assert Labour.objects.get() == entry
