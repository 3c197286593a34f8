"""A code that was replaced, and one that ended, on every page where somebody may type it."""

import pytest
from django.urls import reverse

from studio.core.numerals import NBSP
from tests.house import day
from tests.web.conftest import enter
from tests.web.forms import key
from tests.web.inspection import text_of


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def replaced(filled):
    """Eight good and two seconds, entered anew as nine good and one scrap: the seconds' code leads to the good ones."""
    books = filled.books
    batch = books.plan(filled.candle, 10)
    books.fill(filled.shelf, batch, at=day(19))
    good, seconds = books.finish(batch, 8, 2, at=day(19, 12))
    books.undo(batch)
    books.finish(batch, 9, scrap={"Frosting": 1}, at=day(19, 12))
    return seconds, good


def said(page):
    return text_of(page).replace(NBSP, " ").replace("&nbsp;", " ")


def test_the_lot_its_trace_and_the_search_say_what_replaced_it(replaced, maker):
    old, new = replaced
    page = said(maker.get(old.get_absolute_url()))
    assert "This code was replaced by" in page
    assert new.get_absolute_url() in page
    assert "counted again" in page
    assert "Used up" not in page

    trace = said(maker.get(reverse("batches:trace-code", args=[old.code])))
    assert "This code was replaced by" in trace
    assert reverse("batches:trace-code", args=[new.code]) in trace
    for words in ("Adds up", "Nothing came of it yet"):
        assert words not in trace, words
    assert maker.get(reverse("batches:trace-sheet", args=[old.code])).status_code == 200

    asked = maker.get(reverse("batches:trace"), {"code": old.spaced_code}, follow=True)
    assert asked.redirect_chain[-1][0] == reverse("batches:trace-code", args=[new.code])
    assert f"{new.spaced_code} replaced {old.spaced_code}" in said(asked)


def test_while_its_batch_is_open_again_a_code_is_said_to_wait_for_what_came_out(filled, replaced, maker):
    """The jars stand on the shelf with their code; only the record of them was taken back."""
    _, lot = replaced
    filled.books.undo(lot.outcome.batch)

    for page in (lot.get_absolute_url(), reverse("batches:trace-code", args=[lot.code])):
        told = said(maker.get(page))
        assert (
            f"Batch {lot.outcome.batch.spaced_code} is open again: what came out of it is still to be" in told
        )
        for words in ("nothing stands in its place", "Nothing of this code is anywhere"):
            assert words not in told, page


def test_a_recall_of_it_is_of_what_replaced_it(replaced, maker):
    old, new = replaced
    data = {"codes": old.code, "is_drill": "yes", "why": "It cracked", "look": "1", "submission_key": key()}
    page = maker.post(reverse("batches:recall-start"), data)
    assert page.context["lots"] == [new]
    assert f"The code {old.spaced_code} was replaced by {new.spaced_code}" in said(page)


def test_a_complaint_with_it_is_about_what_replaced_it(replaced, maker):
    old, new = replaced
    data = {
        "code": old.spaced_code,
        "what": "It cracked",
        "kind": "glass",
        "units": "1",
        "told_at": "2026-03-20T12:00",
        "submission_key": key(),
    }
    page = maker.post(reverse("batches:complaint-add"), data, follow=True)
    assert page.context["complaint"].lot == new
    assert f"The code {old.spaced_code} was replaced; the complaint is about lot {new.spaced_code}" in said(
        page
    )


def test_what_stands_says_nothing_of_being_replaced(replaced, maker):
    _, new = replaced
    assert "replaced by" not in said(maker.get(new.get_absolute_url()))
