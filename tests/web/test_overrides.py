"""The owner's word that a lot may be used all the same, through the pages."""

import pytest

from inventory.models import Lot, Override
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def maker_page(filled):
    return enter(filled.people.maker)


def ask(client, lot, until, reason="Burned clean in a test", what="override"):
    fields = {"until": until, "reason": reason, "submission_key": key()}
    return client.post(f"/stock/lots/{lot.code}/{what}/", fields)


def test_the_owner_allows_a_held_lot_and_its_page_says_so(filled, owner_page):
    assert ask(owner_page, filled.held, "2026-04-10").status_code == 302

    shown = owner_page.get(filled.held.get_absolute_url()).content.decode()
    assert "Allowed until 10 Apr 2026" in shown
    assert "Burned clean in a test" in shown
    assert "On hold, allowed" in shown


def test_a_maker_is_offered_no_such_thing_and_has_no_way_to_do_it(filled, maker_page):
    shown = maker_page.get(filled.held.get_absolute_url()).content.decode()
    assert "Allow its use" not in shown

    with nothing_moves():
        assert ask(maker_page, filled.held, "2026-04-10").status_code == 403
    assert not Override.objects.filter(lot=filled.held).exists()


def test_a_day_that_has_passed_is_refused_beside_its_field(filled, owner_page):
    with nothing_moves():
        answer = ask(owner_page, filled.held, "2026-03-01")
    refused(answer, answer.context["form"], "until", "That day has passed", typed=["Burned clean in a test"])


def test_what_was_taken_on_the_owners_word_shows_it(filled, maker_page):
    shown = maker_page.get(filled.override.get_absolute_url()).content.decode()
    assert "had allowed its use until 30 Apr 2026: A test batch set well" in shown


def test_a_batch_shows_the_owners_word_beside_what_went_in(filled, owner_page):
    ask(owner_page, filled.held, "2026-04-10")
    filled.books.draw_into(filled.started, (Lot.objects.get(pk=filled.held.pk), "40 g"))

    shown = owner_page.get(filled.started.get_absolute_url()).content.decode()
    assert "had allowed its use until 10 Apr 2026: Burned clean in a test" in shown


def test_the_owner_takes_it_back(filled, owner_page):
    ask(owner_page, filled.allowed, "", "It set badly", what="end-override")

    assert Lot.objects.get(pk=filled.allowed.pk).allowed_until is None
    assert "No longer allowed" in owner_page.get(filled.allowed.get_absolute_url()).content.decode()
