"""What was drawn for a line is one answer: on the batch's page and record, at the bench, in the week."""

from datetime import timedelta

import pytest
from django.test import Client

from batches.bench.state import bench_state
from batches.models import Batch, Draw
from batches.planning import plans
from batches.planning.lot_allocation import chosen_of
from batches.planning.week import week_of
from batches.records.record_facts import RecordFacts
from inventory.models import Commitment
from tests.house import NOW, TODAY, grams

pytestmark = pytest.mark.django_db

# Of 1,840 g of wax 700 g of one lot and 300 g of another were drawn; of 20 wicks 12; of the rest nothing stands.
DRAWN = {"wax": grams(1_000), "wick": 12}
LEFT = {"wax": grams(840), "fragrance": grams(160), "wick": 8, "vessel": 20}


@pytest.fixture
def lots(books, shelf):
    return shelf["wax"], books.receive("wax", "5 kg", cost=25)


@pytest.fixture
def batch(books, shelf, version, lots):
    """20 candles; a draw was put right from 500 g to 300 g and another taken back. A bystander drew of the same lots."""
    batch, other = books.plan(version, 20), books.plan(version, 5)
    books.choose(batch, (lots[0], "800 g"), (lots[1], "1040 g"))
    books.draw_into(batch, (lots[0], "700 g"))
    books.correct(books.draw_into(batch, (lots[1], "500 g")), (lots[1], "300 g"))
    books.correct(books.draw_into(batch, (shelf["fragrance"], "80 g")))
    books.draw_into(batch, (shelf["wick"], 12))
    books.fill(shelf, other, 5)
    return Batch.objects.with_product().prefetch_related("version__lines__item").get(pk=batch.pk)


def by_name(batch, quantities):
    names = {line.pk: line.item.name for line in batch.version.lines.all()}
    return {names[line]: quantity for line, quantity in quantities.items() if quantity}


def test_every_page_and_verb_takes_the_same_for_drawn(books, batch, lots, studio):
    assert by_name(batch, plans.drawn_by_line(batch)) == DRAWN
    of_both = Draw.objects.standing().by_line()
    assert by_name(batch, {line: q for (of, line), q in of_both.items() if of == batch.pk}) == DRAWN
    browser = Client()
    browser.force_login(books.by, backend="django.contrib.auth.backends.ModelBackend")
    page = browser.get(batch.get_absolute_url())
    assert page.status_code == 200, page.headers
    plan = page.context["plan"]
    assert {need.item.name: need.drawn for need in plan.needs if need.drawn} == DRAWN
    record = RecordFacts(batch, books.by)
    assert {line.line.item.name: line.actual for line in record.lines if line.actual} == DRAWN
    bench = bench_state(batch, studio, books.by, NOW)
    at_bench = {line["id"]: sum(pour["drawn"] for pour in line["pours"]) for line in bench["lines"]}
    assert by_name(batch, at_bench) == DRAWN


def test_what_is_left_to_draw_follows_it_everywhere(books, batch, lots, studio):
    reserved = Commitment.objects.filter(source=batch.code)
    assert dict(reserved.values_list("item__name", "quantity")) == LEFT
    week = week_of(TODAY - timedelta(days=TODAY.weekday()), today=TODAY)
    needed = {
        material.item.name: row.after.event.quantity
        for material in week.materials
        for row in material.rows
        if row.batch == batch
    }
    assert needed == LEFT
    chosen = {row.lot.pk: row.quantity for rows in chosen_of(batch).values() for row in rows}
    assert chosen == {lots[0].pk: grams(100), lots[1].pk: grams(740)}
