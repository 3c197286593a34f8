"""Two people or two processes at what the whole studio shares: codes, owners, set-up, rates, scenarios."""

import pytest
from django.db import transaction

from batches.models import Formula, Labour
from batches.production import runs
from costing.models import LabourRate
from costing.new_products import keeping
from costing.rates.rates import set_labour_rate
from inventory.models import Item
from studio.models import Role, User
from studio.numbering import next_codes
from studio.server import one_at_a_time
from tests.concurrency.overlap import Pause, names, overlapping, twice
from tests.costing.thoughts import think
from tests.house import NOW, day, money
from tests.web.conftest import enter
from tests.web.test_reorder_pages import typed

pytestmark = pytest.mark.django_db(transaction=True)


def test_no_code_is_given_out_twice():
    next_codes("L", 1)

    first, second = overlapping(*[lambda: next_codes("L", 2)] * 2)

    assert len({*first, *second}) == 4
    assert [int(code[1:5]) for code in (*first, *second)] == [2, 3, 4, 5]


def test_somebody_stays_the_owner(studio, owner):
    """Two owners who each make the other a maker."""
    other = User.objects.create_user(
        "ines", first_name="Ines", password="nine paper lanterns", role=Role.OWNER
    )

    def demote(by, person):
        client, url = enter(by), f"/people/{person.pk}/"
        data = typed(client.get(url), {"role": Role.MAKER})
        return lambda: client.post(url, data).status_code

    assert overlapping(demote(owner, other), demote(other, owner)) == (302, 422)
    assert list(User.objects.filter(role=Role.OWNER)) == [owner]


def test_one_of_two_starting_processes_sets_up():
    order, pause = [], Pause()

    def set_up(name):
        # In a transaction for SQLite, whose processes share no lock but the file's.
        with transaction.atomic(), one_at_a_time():
            order.append(f"{name} begins")
            pause.here()
            order.append(f"{name} ends")

    overlapping(lambda: set_up("first"), lambda: set_up("second"), pause)

    assert order == ["first begins", "first ends", "second begins", "second ends"]


def test_no_rate_begins_in_a_day_that_is_being_closed(books):
    def set_rate():
        return set_labour_rate(from_on=day(1).date(), person=None, per_hour=money(20), by=books.by, now=NOW)

    results = overlapping(lambda: books.close(day(1).date()), set_rate)

    assert names(results) == ("Closing", "RateError")
    assert LabourRate.objects.count() == 0


def test_no_minutes_are_noted_on_a_day_that_is_being_closed(books, batch, maker, sign):
    def note():
        return runs.note_labour(
            batch, person_id=maker.pk, step="pouring", minutes=90, worked_on=day(1).date(), signature=sign()
        )

    results = overlapping(lambda: books.close(day(1).date()), note)

    assert names(results) == ("Closing", "BooksClosed")
    assert Labour.objects.count() == 0


def test_one_formula_is_made_of_a_scenario(books, wax):
    version = books.formula(
        "Slate", [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 80_000)], fill="100 g"
    )
    scenario = think(books, "Rain on Slate", version)

    results = twice(lambda: keeping.make_formula(scenario.pk, signature=books.sign()))

    assert results == ("FormulaVersion", "CannotMake")
    assert sorted(Formula.objects.values_list("name", flat=True)) == ["Rain on Slate", "Slate"]
    assert Item.objects.filter(name="Rain on Slate").count() == 1
