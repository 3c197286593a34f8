"""A batch from plan to shelf, and put right afterwards. Figures worked by hand.

The candle of these tests is 100 g of melt: 92 g of wax and 8 g of fragrance, one wick, one vessel. Wax is 5.00 a
kilogram, fragrance 40.00 a kilogram, a wick 0.10, a vessel 2.00.
"""

from datetime import date, timedelta

import pytest
from django.db import DatabaseError, connection, transaction

from batches import checks as batch_checks
from batches import formulas, runs
from batches.models import Batch, Draw, FormulaLine, FormulaVersion, Labour, Outcome, Reading
from batches.recipe import RecipeError
from batches.runs import BatchError, NothingDrawn
from inventory import checks, holding
from inventory.books import CannotReverse, LotNotUsable, LotShort, WrongTime
from inventory.models import Commitment, PeriodCost, Posting
from tests.house import NOW, TODAY, day, grams, money, refused, settle, snapshot

pytestmark = pytest.mark.django_db


@pytest.fixture
def shelf(books):
    return {
        "wax": books.receive("wax", "10 kg", cost=50),
        "fragrance": books.receive("fragrance", "1 kg", cost=40),
        "wick": books.receive("wick", 100, cost=10),
        "vessel": books.receive("vessel", 50, cost=100),
    }


@pytest.fixture
def version(books):
    return books.candle()


def fill(books, shelf, batch, units=10, *, at=NOW, wax=None):
    """Draw what `units` need, all from one lot each. Ten are worth 4.60 + 3.20 + 1.00 + 20.00 = 28.80."""
    return {
        "wax": books.draw_into(batch, (shelf["wax"], wax or f"{92 * units} g"), at=at),
        "fragrance": books.draw_into(batch, (shelf["fragrance"], f"{8 * units} g"), at=at),
        "wick": books.draw_into(batch, (shelf["wick"], units), at=at),
        "vessel": books.draw_into(batch, (shelf["vessel"], units), at=at),
    }


def committed(batch):
    return dict(Commitment.objects.filter(source=batch.code).values_list("item__name", "quantity"))


def state(batch):
    batch.refresh_from_db()
    return batch.state


def period():
    return sum(PeriodCost.objects.values_list("value", flat=True))


def problems():
    every = (*checks.CHECKS, *batch_checks.CHECKS)
    return [said for check in every if check is not checks.guards_in_place for said in check()]


@pytest.fixture(autouse=True)
def _the_books_agree_afterwards(request, db):
    yield
    assert problems() == []


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
    # A quarter of the wax as a first layer, the rest as a second: two lines of one item.
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

    assert runs.drawn_by_line(batch) == {first.pk: grams(20), second.pk: grams(60)}
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

    with refused(LotNotUsable, rf"Lot {shelf['wick'].code} is wick, not wax. Take a lot of wax"):
        books.draw_into(batch, (shelf["wick"], 10), line="wax")


def test_a_line_of_another_formula_is_refused(books, shelf, version):
    batch, other = books.plan(version, 10), books.candle("Quince Orchard")

    with refused(BatchError, "not in the batch's formula"):
        runs.draw_line(
            batch.pk, other.lines.first().pk, books.take((shelf["wax"], "1 g")), signature=books.sign()
        )


def test_drawing_nothing_is_refused_and_starts_nothing(books, version):
    batch = books.plan(version, 10)

    with refused(Exception, "Choose a lot and enter a quantity above zero"):
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
    fill(books, shelf, batch)

    good, seconds = books.finish(batch, 7, 2, {"Sinkhole": 1})

    assert (books.of(good), good.grade) == ((7, money("28.80")), "first")
    assert (books.of(seconds), seconds.grade) == ((2, 0), "second")
    assert (state(batch), batch.finished_at, committed(batch)) == ("finished", NOW, {})
    told = [(outcome.result, outcome.quantity, outcome.defect) for outcome in batch.outcomes.all()]
    assert told == [("good", 7, ""), ("second", 2, ""), ("scrap", 1, "Sinkhole")]


def test_seconds_carry_the_material_where_nothing_is_good(books, shelf, version):
    batch = books.plan(version, 10)
    fill(books, shelf, batch)

    (seconds,) = books.finish(batch, 0, 9, {"Frosting": 1})

    assert books.of(seconds) == (9, money("28.80"))


def test_a_batch_that_is_all_scrap_makes_no_lot_and_its_material_is_lost(books, shelf, version):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch)

    assert books.finish(batch, scrap={"Cracking": 6, "Wet spots": 4}) == []

    assert (state(batch), runs.unsettled(batch)) == ("finished", 0)
    books.correct(draws["wick"], (shelf["wick"], 12))
    assert (period(), Posting.objects.filter(kind="revaluation").count()) == (0, 0)


def test_a_batch_finished_good_and_then_as_scrap_leaves_nothing_open(books, shelf, version):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch)
    books.finish(batch, 10)
    books.undo(batch)
    books.finish(batch, scrap={"Cracking": 10})

    assert runs.unsettled(batch) == 0
    assert problems() == []
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
        (runs.Result(), "at least as scrap"),
        (runs.Result(scrap={"Other": 0}), "at least as scrap"),
        (runs.Result(good=-1, seconds=5), "below zero"),
        (runs.Result(good=5, seconds=-1), "below zero"),
        (runs.Result(good=5, scrap={"Other": -1}), "below zero"),
    ],
)
def test_a_yield_that_cannot_be_is_refused(books, shelf, version, result, sentence):
    batch = books.plan(version, 10)
    fill(books, shelf, batch)

    with refused(BatchError, sentence):
        runs.finish(batch.pk, result, signature=books.sign())


def test_a_batch_is_not_finished_before_its_last_draw(books, shelf, version):
    batch = books.plan(version, 10)
    fill(books, shelf, batch, at=day(10))

    with refused(WrongTime, "last draw was on 10 Mar 2026, 09:00"):
        books.finish(batch, 10, at=day(10) - timedelta(minutes=1))
    books.finish(batch, 10, at=day(10))


def test_a_batch_is_not_finished_in_the_future(books, shelf, version):
    batch = books.plan(version, 10)
    fill(books, shelf, batch)

    with refused(WrongTime, "future"):
        runs.finish(
            batch.pk, runs.Result(good=10), signature=books.sign(NOW).at(NOW + timedelta(minutes=1))
        )


def test_a_finished_batch_takes_no_more(books, shelf, version):
    batch = books.plan(version, 10)
    fill(books, shelf, batch)
    books.finish(batch, 10)

    with refused(BatchError, "is finished; nothing more can be drawn"):
        books.draw_into(batch, (shelf["wax"], "1 g"))
    with refused(BatchError, "is finished"):
        books.finish(batch, 10)
    with refused(BatchError, "is finished"):
        runs.call_off(batch.pk, signature=books.sign(reason="too late"))


def test_a_pour_is_ready_when_it_has_cured_and_expires_by_its_item(books, shelf):
    version = books.candle(cure_days=14)
    books.item("Cedar & Black Tea").__class__.objects.filter(name="Cedar & Black Tea").update(shelf_life_days=365)
    batch = books.plan(version, 10)
    fill(books, shelf, batch, at=day(10))

    (made,) = books.finish(batch, 10, at=day(10))

    assert (made.ready_on, made.expires_on) == (date(2026, 3, 24), date(2027, 3, 10))
    with refused(LotNotUsable, "cures until 24 Mar 2026"):
        books.send(made, 1)


def test_a_corrected_draw_before_the_finish_is_what_counts(books, shelf, version):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch, at=day(10))

    corrected = books.correct(draws["wax"], (shelf["wax"], "1000 g"))

    assert (corrected.happened_at, corrected.recorded_at, corrected.reason) == (day(10), NOW, "mis-keyed")
    assert books.of(shelf["wax"]) == (grams(9_000), money(45))
    assert sum(draw.value for draw in batch.draws.standing()) == money("29.20")
    (made,) = books.finish(batch, 10)
    assert books.of(made) == (10, money("29.20"))


def test_a_draw_taken_back_whole_is_committed_again(books, shelf, version):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch)

    assert books.correct(draws["wax"]) is None

    assert committed(batch) == {"wax": grams(920)}
    assert books.of(shelf["wax"]) == (grams(10_000), money(50))


def test_a_draw_corrected_after_the_finish_passes_its_difference_on(books, shelf, version):
    # 1,000 g instead of 920 g of wax: 0.40 more.
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))

    books.correct(draws["wax"], (shelf["wax"], "1000 g"))

    assert books.of(made) == (10, money("29.20"))
    assert (runs.unsettled(batch), period()) == (0, 0)


@pytest.mark.parametrize(
    ("wax", "here", "gone"),
    [
        # 0.40 more: 6 of 10 are here and take 0.24, the period 0.16.
        ("1000 g", "17.52", "0.16"),
        # 2.10 less (500 g for 920 g): 1.26 less here, 0.84 less for the period.
        ("500 g", "16.02", "-0.84"),
    ],
)
def test_the_share_of_what_was_sent_is_a_cost_of_the_period(books, shelf, version, wax, here, gone):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    sent = books.send(made, 4, at=day(12))
    assert books.of(made) == (6, money("17.28"))

    books.correct(draws["wax"], (shelf["wax"], wax))

    assert books.of(made) == (6, money(here))
    assert period() == money(gone)
    # All that was drawn is here, was sent, or is a cost of the period.
    drawn = sum(draw.value for draw in batch.draws.standing())
    assert drawn == made.value - sum(move.value for move in sent.movements.all()) + period()


def test_two_corrections_pass_on_what_each_changed(books, shelf, version):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))

    again = books.correct(draws["wax"], (shelf["wax"], "1000 g"))
    books.correct(draws["wick"], (shelf["wick"], 12))
    books.correct(again, (shelf["wax"], "920 g"))

    # 28.80 and two wicks more.
    assert books.of(made) == (10, money(29))
    assert Posting.objects.filter(kind="revaluation").count() == 3


def test_a_correction_to_a_dearer_lot_passes_its_price_on(books, shelf, version):
    dear = books.receive("wax", "1 kg", cost=8)
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))

    books.correct(draws["wax"], (dear, "920 g"))  # 7.36 for 4.60

    assert books.of(made) == (10, money("31.56"))
    assert books.of(shelf["wax"]) == (grams(10_000), money(50))


def test_a_correction_of_a_blend_stays_with_the_blend(books, shelf):
    # 1 kg of blend from 1 kg of wax at 5.00; half of it went into another batch before it was put right to 1.2 kg.
    blend = books.formula("blend", [("wax", "wax_share", 1_000_000)])
    first = books.plan(blend, grams(1_000))
    wrong = books.draw_into(first, (shelf["wax"], "1 kg"), at=day(10))
    (half,) = books.finish(first, grams(1_000), at=day(10))
    second = books.plan(books.formula("tealight", [("blend", "wax_share", 1_000_000)], fill="50 g"), 10)
    books.draw_into(second, (half, "500 g"), at=day(11))
    (made,) = books.finish(second, 10, at=day(11))

    books.correct(wrong, (shelf["wax"], "1.2 kg"))

    # 1.00 more: half to what is left of the blend, half to the period.
    assert (books.of(half), books.of(made)) == ((grams(500), money(3)), (10, money("2.50")))
    assert period() == money("0.50")


def test_a_correction_that_fails_leaves_the_wrong_draw_standing(books, shelf, version):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch)

    with refused(LotShort, "asked"):
        books.correct(draws["wick"], (shelf["wick"], 101))
    with refused(LotNotUsable, "is wax, not wick"):
        books.correct(draws["wick"], (shelf["wax"], "1 g"))

    assert batch.draws.standing().count() == 4


def test_a_draw_is_corrected_once_and_only_a_draw_is(books, shelf, version):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch)
    books.correct(draws["wick"], (shelf["wick"], 12))

    with refused(CannotReverse, "reversed before"):
        books.correct(draws["wick"], (shelf["wick"], 13))
    with refused(BatchError, "not a draw of a batch"):
        books.correct(Posting.objects.filter(kind="receipt").first(), (shelf["wick"], 1))


def test_a_finish_entered_wrongly_is_undone_and_entered_again(books, shelf, version):
    batch = books.plan(version, 10)
    fill(books, shelf, batch)
    wrong_good, wrong_seconds = books.finish(batch, 8, 2)

    books.undo(batch)

    assert (books.of(wrong_good), books.of(wrong_seconds)) == ((0, 0), (0, 0))
    assert (state(batch), batch.finished_at) == ("started", None)
    (made,) = books.finish(batch, 9, scrap={"Underfilled": 1})
    assert books.of(made) == (9, money("28.80"))
    assert [outcome.quantity for outcome in batch.outcomes.standing()] == [9, 1]


def test_undoing_a_finish_takes_its_cost_corrections_back_first(books, shelf, version):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    again = books.correct(draws["wax"], (shelf["wax"], "1000 g"))
    books.correct(again, (shelf["wax"], "500 g"))

    books.undo(batch)

    assert (books.of(made), period()) == ((0, 0), 0)
    (right,) = books.finish(batch, 10)
    assert books.of(right) == (10, money("26.70"))  # 28.80 less 420 g of wax at 5.00


def test_a_finish_of_which_something_left_is_not_undone(books, shelf, version):
    batch = books.plan(version, 10)
    draws = fill(books, shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    sent = books.send(made, 4)
    books.correct(draws["wax"], (shelf["wax"], "1000 g"))

    with refused(CannotReverse, rf"Of lot {made.code}, 4 was used since"):
        books.undo(batch)

    books.reverse(sent)
    books.undo(batch)
    assert (books.of(made), period()) == ((0, 0), 0)


def test_only_a_finished_batch_is_undone(books, version):
    batch = books.plan(version, 10)

    with refused(BatchError, "not finished"):
        books.undo(batch)


def test_a_batch_is_called_off_with_a_reason_and_commits_nothing(books, version):
    batch = books.plan(version, 10)

    runs.call_off(batch.pk, signature=books.sign(reason="no vessels"))

    assert (state(batch), batch.note, committed(batch)) == ("called_off", "Called off: no vessels", {})
    with refused(BatchError, "called off"):
        runs.call_off(batch.pk, signature=books.sign())


def test_a_batch_with_material_in_it_is_not_called_off(books, shelf, version):
    batch = books.plan(version, 10)
    wrong = books.draw_into(batch, (shelf["wax"], "1 g"))

    with refused(BatchError, "Material was drawn into this batch"):
        runs.call_off(batch.pk, signature=books.sign(reason="no vessels"))

    books.correct(wrong)
    runs.call_off(batch.pk, signature=books.sign(reason="no vessels"))
    assert state(batch) == "called_off"


def test_a_reading_starts_the_batch_and_is_kept(books, version):
    batch = books.plan(version, 10)

    runs.take_reading(batch.pk, "pour", 57_000, note="", signature=books.sign(day(10)))

    reading = Reading.objects.get()
    assert (reading.kind, reading.temperature_mc, reading.at, reading.by) == ("pour", 57_000, day(10), books.by)
    assert state(batch) == "started"


def test_minutes_may_be_noted_after_the_finish(books, shelf, version):
    batch = books.plan(version, 10)
    fill(books, shelf, batch)
    books.finish(batch, 10)

    runs.note_labour(
        batch, person_id=books.by.pk, step="finish", minutes=45, worked_on=TODAY, signature=books.sign()
    )

    assert Labour.objects.get().minutes == 45


PROCESS = {"fill_ug": grams(120), "loss_ppm": 0, "division_ug": grams(1)}


def test_a_version_nobody_planned_from_may_be_rewritten(books, version):
    wax = formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000)

    formulas.rewrite_version(version, PROCESS, [wax])

    version.refresh_from_db()
    assert (version.fill_ug, version.lines.count()) == (grams(120), 1)


def test_a_used_version_is_never_rewritten(books, version):
    books.plan(version, 10)
    wax = formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000)

    with refused(formulas.VersionUsed, "Write a new version"):
        formulas.rewrite_version(version, PROCESS, [wax])
    assert formulas.write_version(version.formula, PROCESS, [wax], signature=books.sign()).number == 2


LINE = "batches_formulaline"
VERSION = "batches_formulaversion"


@pytest.mark.parametrize(
    "sql",
    [
        f"UPDATE {LINE} SET amount = amount + 1",
        f"UPDATE {LINE} SET version_id = (SELECT max(id) FROM {VERSION})",
        f"DELETE FROM {LINE}",
        f"INSERT INTO {LINE} (version_id, item_id, basis, amount, spare_ppm) "
        f"SELECT version_id, item_id, basis, amount, spare_ppm FROM {LINE}",
        f"UPDATE {VERSION} SET fill_ug = fill_ug + 1",
        f"UPDATE {VERSION} SET pour_from_mc = 55000",
        f"UPDATE {VERSION} SET notes = 'stir longer'",
        f"UPDATE {VERSION} SET number = 9 WHERE number = 1",
        f"DELETE FROM {VERSION}",
    ],
)
def test_the_database_refuses_to_change_a_used_version(books, version, sql):
    books.plan(version, 10)
    spare = formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000)
    formulas.write_version(version.formula, PROCESS, [spare], signature=books.sign())
    settle()

    refused_by_the_database(sql)


@pytest.mark.parametrize("table", [LINE, VERSION])
def test_the_database_refuses_to_replace_a_used_version(books, version, table):
    books.plan(version, 10)
    settle()
    with connection.cursor() as cursor:
        names = [column.name for column in connection.introspection.get_table_description(cursor, table)]
    verb = "INSERT OR REPLACE" if connection.vendor == "sqlite" else "INSERT"

    refused_by_the_database(f"{verb} INTO {table} ({', '.join(names)}) SELECT {', '.join(names)} FROM {table}")


def test_the_database_refuses_to_replace_a_used_line_by_one_of_another_version(books, version):
    books.plan(version, 10)
    spare = books.candle("Quince Orchard")
    used = version.lines.first()
    settle()
    verb = "INSERT OR REPLACE" if connection.vendor == "sqlite" else "INSERT"

    refused_by_the_database(
        f"{verb} INTO {LINE} (id, version_id, item_id, basis, amount, spare_ppm) "
        f"VALUES ({used.pk}, {spare.pk}, {used.item_id}, 'of_wax', 1, 0)"
    )


def refused_by_the_database(sql):
    def all_rows():
        return [list(model.objects.order_by("pk").values()) for model in (FormulaVersion, FormulaLine)]

    before = all_rows()
    with pytest.raises(DatabaseError, match="was used; write a new version"), transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute(sql)
    assert all_rows() == before


def test_the_framework_s_bulk_writes_do_not_get_round_it(books, version):
    books.plan(version, 10)
    line = version.lines.first()

    for attempt in (
        lambda: FormulaLine.objects.update(amount=1),
        lambda: FormulaLine.objects.bulk_create([FormulaLine(version=version, item=line.item, basis="of_wax", amount=1)]),
        lambda: FormulaVersion.objects.update(fill_ug=1),
        lambda: FormulaLine.objects.filter(pk=line.pk)._raw_delete("default"),
    ):
        with pytest.raises(DatabaseError, match="was used"), transaction.atomic():
            attempt()


def test_the_state_of_a_used_version_may_change(books, version):
    books.plan(version, 10)

    FormulaVersion.objects.filter(pk=version.pk).update(state="retired")

    assert FormulaVersion.objects.get(pk=version.pk).state == "retired"


@pytest.mark.parametrize(
    ("model", "fields", "constraint"),
    [
        (Batch, {"quantity": 0}, "batch_makes_something"),
        (Batch, {"state": "finished"}, "batch_finished_says_when"),
        (Batch, {"finished_at": NOW}, "batch_finished_says_when"),
        (Outcome, {"quantity": 0}, "outcome_is_positive"),
        (Outcome, {"result": "scrap"}, "outcome_scrap_makes_no_lot"),
        (FormulaLine, {"amount": 0}, "formula_line_has_an_amount"),
        (FormulaLine, {"spare_ppm": -1}, "formula_line_spare_not_negative"),
        (FormulaVersion, {"state": "good"}, "formula_state_is_known"),
        (FormulaVersion, {"pour_from_mc": 60_000, "pour_to_mc": 55_000}, "pour_window_is_a_window"),
    ],
)
def test_rows_that_cannot_be_are_refused(books, shelf, version, model, fields, constraint):
    batch = books.plan(version, 10)
    fill(books, shelf, batch)
    books.finish(batch, 10)
    books.plan(version, 5)
    books.candle("Quince Orchard")  # not used, so that only the constraint stands in the way
    rows = {
        Batch: Batch.objects.filter(state="planned"),
        Outcome: Outcome.objects.all(),
        FormulaLine: FormulaLine.objects.filter(version__batches=None),
        FormulaVersion: FormulaVersion.objects.filter(batches=None),
    }[model]
    before = snapshot()

    with pytest.raises(DatabaseError, match=constraint), transaction.atomic():
        model.objects.filter(pk=rows.first().pk).update(**fields)

    assert snapshot() == before


def test_a_draw_is_of_one_movement(books, shelf, version):
    batch = books.plan(version, 10)
    books.draw_into(batch, (shelf["wax"], "1 g"))
    draw = Draw.objects.get()

    with pytest.raises(DatabaseError, match="(?i)unique"), transaction.atomic():
        Draw.objects.bulk_create([Draw(batch=batch, line=draw.line, movement=draw.movement)])
