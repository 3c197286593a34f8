"""The page of what the runs show: who may look, what it answers to odd questions, and what leaves as a file."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.production import runs
from studio.models import Studio
from tests.house import day
from tests.web.conftest import enter
from tests.web.inspection import csv_of, inspect, text_of


@pytest.fixture
def page():
    return reverse("batches:batch-analysis")


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def poured(filled):
    """Twelve runs of two: the six in a room of 18 °C with one sinkhole each, the six of 22 °C with none."""
    books = filled.books
    version = books.formula("Sunk candle", [("Lamp wax", "wax_share", 1_000_000)], fill="100 g")
    lots = [books.receive("Lamp wax", "600 g", cost=3) for _ in range(4)]
    made = []
    for number in range(12):
        batch = books.plan(version, 2, on=date(2026, 3, 2 + number))
        books.draw_into(batch, (lots[number // 3], "200 g"), at=day(2 + number))
        cool = number % 2 == 0
        room = 18_000 if cool else 22_000
        runs.take_reading(batch.pk, "room", room, note="", signature=books.sign(day(2 + number, 10)))
        books.finish(batch, 1 if cool else 2, scrap={"Sinkhole": 1} if cool else {}, at=day(2 + number, 12))
        made.append(batch)
    return made


@pytest.mark.parametrize("role", ["owner", "maker", "costly", "bookkeeper"])
def test_everybody_may_look(filled, page, role):
    answer = enter(getattr(filled.people, role)).get(page)

    assert answer.status_code == 200
    assert inspect(answer).faults == []


def test_a_stranger_signs_in_first(filled, page):
    assert enter(None).get(page).url.startswith(reverse("sign-in"))


def test_nothing_is_posted_to_it(owner, page):
    assert owner.post(page).status_code == 405


def test_too_few_runs_say_so_and_what_to_record(owner, page):
    # Of the filled studio's runs four that fill vessels ended, one of them given up.
    said = text_of(owner.get(page))

    assert "Too few runs to tell: 3; at least 8 are needed." in said
    assert "the temperatures: when fragrance was added" in said
    assert "1 of the runs was given up" in said


def test_no_runs_at_all_teach_what_to_record(owner, page):
    asked = owner.get(page, {"from_on": "2020-01-01", "to_on": "2020-12-31"})

    assert "No run of these days has come to an end." in text_of(asked)
    assert inspect(asked).faults == []


def test_a_cool_room_is_found(owner, page, poured):
    answer = owner.get(page, {"formula": poured[0].version.formula_id, "look": "defect:Sinkhole"})
    said = text_of(answer).replace("\N{NO-BREAK SPACE}", " ")

    # 6 of 12 units in cool rooms; the middle of 18 and 22 °C is 20 °C. C(12,6) = 924 ways, two of them as far apart:
    # p = 2/924 = 0.0022, and 0.0065 among three: the lot and the age of the wax are tested too.
    assert "Runs in a room below 20 °C: sinkhole in 50.0 % of the units in 6 runs; " in said
    assert "in a room of 20 °C and above: 0.0 % in 6 runs (p = 0.002 by itself, 0.006 among 3 tested" in said
    assert "Worth a trial; it does not prove the cause." in said
    assert inspect(answer).faults == []
    drawn = answer.content.decode()
    assert f'<a href="{poured[0].get_absolute_url()}">{poured[0].code}</a>' in drawn
    assert drawn.count('<g class="plot-dot"') >= 12


def test_temperatures_are_in_the_studio_s_unit(owner, page, poured):
    Studio.objects.update(temperature_unit="F")

    said = text_of(owner.get(page, {"formula": poured[0].version.formula_id, "look": "defect:Sinkhole"}))

    assert "Runs in a room below 68 °F" in said.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"formula": "x"}, "formula"),
        ({"formula": "999999"}, "formula"),
        ({"formula": "9" * 40}, "formula"),
        ({"look": "defect:\x00"}, "look"),
        ({"look": "profit"}, "look"),
        ({"from_on": "yesterday"}, "from_on"),
        ({"to_on": "0001-01-01"}, "to_on"),
        ({"from_on": "2026-03-20", "to_on": "2026-03-01"}, "to_on"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field_and_left_out(owner, page, asked, field):
    answer = owner.get(page, asked)

    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert inspect(answer).faults == []


def test_an_empty_day_leaves_that_end_open(filled, owner, page):
    books = filled.books
    old = books.plan(filled.candle, 1, on=date(2024, 5, 1))
    books.fill(filled.shelf, old, 1)
    books.finish(old, 1)

    assert (
        owner.get(page, {"from_on": "", "to_on": ""}).context["runs"] == owner.get(page).context["runs"] + 1
    )


def test_the_table_leaves_as_a_file_run_by_run(filled, owner, page):
    rows = {row["Batch"]: row for row in csv_of(owner, f"{page}?format=csv")}

    ten = rows[filled.finished.code]
    assert ten["Day"] == "2026-03-10"
    assert (ten["Poured at, °C"], ten["Room, °C"]) == ("58", "")
    assert (ten["Good"], ten["Seconds"], ten["Scrap"], ten["Scrap: Frosting"]) == ("9", "0", "1", "1")
    assert (ten["Person who poured"], ten["Fragrance"]) == ("Tobin", "fragrance")
    # 920 g and 80 g fill ten of 100 g; nine are good.
    assert ten["Yield, % of theoretical"] == "90.0"
    assert rows[filled.abandoned.code]["State"] == "Given up"
    assert filled.blend.code not in rows
    none = owner.get(page, {"format": "csv", "formula": filled.rain.formula_id})
    assert len(none.content.decode().splitlines()) == 1


def test_it_asks_as_often_of_many_runs_as_of_few(filled, owner, page, poured):
    def asked(**query):
        with CaptureQueriesContext(connection) as queries:
            assert owner.get(page, query).status_code == 200
        return len(queries)

    assert asked() == asked(from_on="2026-03-10", to_on="2026-03-10")


def test_it_is_found_from_the_batch_and_from_the_formula(filled, owner, page):
    formula = filled.finished.version.formula_id
    batch = owner.get(filled.finished.get_absolute_url()).content.decode()
    of_formula = owner.get(reverse("batches:formula-detail", args=[formula])).content.decode()

    assert f'href="{page}?formula={formula}&amp;look=defect:Frosting"' in batch
    assert f'href="{page}?formula={formula}"' in of_formula
    assert owner.get(page, {"formula": formula, "look": "defect:Frosting"}).status_code == 200
