"""Which runs are learned from, and what is read of each."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.analysis.reading import defects_known, ended, read
from batches.models import BenchEntry, Reading
from batches.production import finishing, runs
from inventory.models import Lot
from tests.house import NOW, day

pytestmark = pytest.mark.django_db
MARCH = date(2026, 3, 1), date(2026, 3, 31)


@pytest.fixture
def poured(books, shelf, version, maker, sign):
    """Ten poured on 10 March: seven good, a second, two sinkholes; 58 and 60 °C, in a room of 19 °C."""
    batch = books.plan(version, 10, on=date(2026, 3, 10))
    books.fill(shelf, batch, 10, at=day(10))
    for kind, heat in (("pour", 58_000), ("pour", 60_000), ("room", 19_000)):
        runs.take_reading(batch.pk, kind, heat, note="", signature=books.sign(day(10, 10)))
    runs.note_labour(
        batch,
        person_id=maker.pk,
        step="pour",
        minutes=40,
        worked_on=date(2026, 3, 10),
        signature=books.sign(),
    )
    books.finish(batch, 7, 1, scrap={"Sinkhole": 2}, at=day(10, 12))
    return batch


def test_a_defect_counts_among_seconds_as_among_scrap(books, shelf, poured):
    batch = books.plan(poured.version, 10, on=date(2026, 3, 12))
    books.fill(shelf, batch, 10, at=day(12))
    books.finish(batch, 6, 3, scrap={"Sinkhole": 1}, flawed={"Frosting": 2, "Sinkhole": 1}, at=day(12, 12))
    first, second = read(ended(*MARCH))

    assert (first.flawed, second.flawed) == ({}, {"Frosting": 2, "Sinkhole": 1})
    # One of the scrap and one of the seconds; made are the same ten.
    assert (second.with_defect("Sinkhole"), second.with_defect("Frosting"), second.made) == (2, 2, 10)
    finishing.undo_finish(batch.pk, signature=books.sign(reason="Counted anew"))
    assert [run.flawed for run in read(ended(*MARCH))] == [{}]


def only(*days):
    (run,) = read(ended(*(days or MARCH)))
    return run


def test_a_run_with_all_that_is_known_of_it(poured, shelf):
    run = only()

    assert (run.code, run.formula, run.product, run.day) == (
        poured.code,
        "Cedar & Black Tea",
        "Cedar & Black Tea",
        date(2026, 3, 10),
    )
    assert (run.good, run.seconds, run.rework, run.scrap, run.made) == (7, 1, 0, {"Sinkhole": 2}, 10)
    # 920 g of wax and 80 g of fragrance fill ten of 100 g.
    assert run.theoretical == 10
    assert run.temperatures == {"pour": 59_000, "room": 19_000}
    assert run.levels["wax_lot"].code == shelf["wax"].code
    assert run.levels["fragrance_lot"].code == shelf["fragrance"].code
    named = {key: run.levels[key].words for key in ("scent", "vessel", "person")}
    assert named == {"scent": "fragrance", "vessel": "vessel", "person": "Tobin"}
    # Wax arrived on 1 March at nine; it was drawn on the 10th at nine.
    assert run.wax_days == (day(10) - shelf["wax"].arrived_at).total_seconds() / 86_400
    assert not run.given_up


def test_what_was_undone_or_taken_back_is_left_out(books, poured, owner):
    wrong = Reading.objects.create(batch=poured, kind="room", temperature_mc=90_000, by=owner, at=NOW)
    told = {"batch": poured, "by": owner, "at": NOW, "recorded_at": NOW, "digest": "x"}
    entry = BenchEntry.objects.create(
        key="00000000-0000-4000-8000-000000000001", kind="reading", reading=wrong, **told
    )
    assert only().temperatures["room"] == 54_500
    BenchEntry.objects.create(
        key="00000000-0000-4000-8000-000000000002", kind="undo", takes_back=entry, **told
    )

    assert only().temperatures["room"] == 19_000

    typed = runs.take_reading(poured.pk, "room", 91_000, note="", signature=books.sign())
    assert only().temperatures["room"] == 55_000
    runs.strike_reading(typed.pk, signature=books.sign(reason="Typed 91 for 19"))
    assert only().temperatures["room"] == 19_000

    books.undo(poured)
    assert read(ended(*MARCH)) == []
    books.finish(poured, 10, at=day(10, 14))
    assert (only().good, only().scrap) == (10, {})


def test_a_draw_put_right_counts_as_it_stands(books, shelf, version):
    batch = books.plan(version, 10, on=date(2026, 3, 10))
    draws = books.fill(shelf, batch, 10, at=day(10))
    other = books.receive("wax", "2 kg", cost=9)
    books.correct(draws["wax"], (other, "820 g"), (shelf["wax"], "200 g"))
    books.finish(batch, 10, at=NOW)

    run = only()

    assert run.theoretical == pytest.approx(11)
    assert run.levels["wax_lot"].code == other.code
    assert len(run.lots["wax"]) == 2
    # Nobody entered time for pouring, so it is who drew the wax.
    assert run.levels["person"].words == "Maren"


def test_a_run_given_up_yielded_nothing_and_a_blend_is_none(books, shelf, version, sign):
    given_up = books.plan(version, 5, on=date(2026, 3, 11))
    books.draw_into(given_up, (shelf["wax"], "460 g"), at=day(11))
    finishing.abandon(given_up.pk, [], signature=books.sign(at=day(11, 12), reason="The power went"))
    books.item("Lane blend", kind="wax", made_here=True)
    blend = books.plan(books.formula("Lane blend", [("wax", "wax_share", 1_000_000)]), 500_000_000)
    books.draw_into(blend, (shelf["wax"], "500 g"))
    books.finish(blend, good=490_000_000)

    run = only()

    assert (run.code, run.given_up, run.made, run.reached) == (given_up.code, True, 0, 0)


def test_runs_are_of_the_days_and_the_formula_asked_for(books, poured, version):
    other = books.candle("Rain on Slate")

    assert len(read(ended(date(2026, 3, 10), date(2026, 3, 10), version.formula_id))) == 1
    assert read(ended(date(2026, 3, 11), date(2026, 3, 31))) == []
    assert read(ended(*MARCH, other.formula_id)) == []


def test_as_many_questions_are_asked_of_many_runs_as_of_one(books, poured, shelf, version):
    def asked():
        with CaptureQueriesContext(
            connection,
        ) as queries:
            read(ended(*MARCH))
        return len(queries)

    one = asked()
    for number in range(3):
        batch = books.plan(version, 2, on=date(2026, 3, 12 + number))
        books.fill(shelf, batch, 2, at=day(12 + number))
        books.finish(batch, 2, at=day(12 + number, 12))

    assert asked() == one == 7


def test_every_defect_stands_once_in_the_order_of_the_alphabet():
    assert defects_known(["wet spots", "Frosting"], ["Frosting", "Sinkhole", ""]) == [
        "Frosting",
        "Sinkhole",
        "wet spots",
    ]


def test_the_first_of_equals_is_the_level(books, shelf, version):
    first, second = (books.receive("wax", "1 kg", cost=5) for _ in range(2))
    batch = books.plan(version, 10, on=date(2026, 3, 10))
    books.draw_into(batch, (first, "460 g"), (second, "460 g"), at=NOW)
    for name, amount in (("fragrance", "80 g"), ("wick", 10), ("vessel", 10)):
        books.draw_into(batch, (shelf[name], amount), at=NOW)
    books.finish(batch, 10, at=NOW)

    assert only().levels["wax_lot"].code == Lot.objects.get(pk=first.pk).code
