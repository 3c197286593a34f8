"""A lot that was stopped and went in nevertheless: asked for a reason on both forms, and told wherever it matters."""

import re

import pytest
from django.urls import reverse

from inventory.lots import holding
from inventory.models import Lot, StoppedUse
from tests.house import TODAY, grams, snapshot
from tests.web.conftest import enter
from tests.web.forms import key
from tests.web.inspection import text_of

WHY = "Read off the pail afterwards"


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def suspect(filled):
    lot = filled.books.receive("wax", "5 kg", cost=25)
    holding.hold(lot.pk, signature=filled.books.sign(reason="Specks"))
    return lot


@pytest.fixture
def batch(filled):
    return filled.books.plan(filled.candle, 4)


def rows(filled, batch, lot, **more):
    line = filled.books.line(batch, lot.item.name)
    return {
        f"line{line}-0-{name}": value for name, value in ({"code": lot.code, "amount": "100"} | more).items()
    }


def test_a_correction_that_names_a_held_lot_asks_for_a_reason_and_takes_it(filled, maker, batch, suspect):
    posting = filled.books.draw_into(batch, (filled.shelf["wax"], "100 g"))
    url = reverse("batches:draw-correct", args=[batch.code, posting.pk])
    before = snapshot()
    data = {"submission_key": key(), "reason": "The pail was misread", **rows(filled, batch, suspect)}

    asked = maker.post(url, data)

    assert asked.status_code == 422
    text = text_of(asked)
    assert "is on hold" in text
    assert "It went in already: why?" in text
    assert snapshot() == before

    line = filled.books.line(batch, "wax")
    answer = maker.post(url, data | {f"line{line}-0-despite": WHY})

    assert answer.headers["Location"] == batch.get_absolute_url()
    use = StoppedUse.objects.get()
    assert (use.lot, use.reason, use.posting.reason) == (suspect, WHY, "The pail was misread")
    assert Lot.objects.get(pk=suspect.pk).on_hand == grams(4_900)
    # Told on the batch's page, on the posting's and on Today, until somebody has looked.
    assert WHY in text_of(maker.get(batch.get_absolute_url()))
    page = maker.get(use.posting.get_absolute_url())
    assert "A lot that was stopped went in" in text_of(page)
    today = text_of(maker.get("/"))
    assert "wax went in from a lot that was on hold" in today
    maker.post(reverse("inventory:posting-review", args=[use.posting.pk]))
    assert "A lot that was stopped went in" not in text_of(maker.get(use.posting.get_absolute_url()))
    assert "went in from a lot that was on hold" not in text_of(maker.get("/"))


def test_more_of_a_lot_that_was_stopped_since_asks_too_and_less_of_it_does_not(filled, maker, batch):
    wax = filled.shelf["wax"]
    posting = filled.books.draw_into(batch, (wax, "100 g"))
    there = Lot.objects.get(pk=wax.pk).on_hand
    holding.hold(wax.pk, signature=filled.books.sign(reason="Specks"))
    url = reverse("batches:draw-correct", args=[batch.code, posting.pk])
    data = {"submission_key": key(), "reason": "Mis-keyed"}

    asked = maker.post(url, data | rows(filled, batch, wax, amount="101"))

    assert asked.status_code == 422
    assert "It went in already: why?" in text_of(asked)
    assert Lot.objects.get(pk=wax.pk).on_hand == there
    assert maker.post(url, data | rows(filled, batch, wax, amount="99")).status_code == 302
    assert Lot.objects.get(pk=wax.pk).on_hand == there + grams(1)
    assert not StoppedUse.objects.exists()


def test_what_went_in_on_the_plain_form_asks_too(filled, maker, batch, suspect):
    url = reverse("batches:batch-draw", args=[batch.code])
    when = f"{TODAY.isoformat()}T12:00"
    data = {"submission_key": key(), "happened_at": when, **rows(filled, batch, suspect)}

    asked = maker.post(url, data)
    assert "It went in already: why?" in text_of(asked)
    assert not StoppedUse.objects.exists()
    line = filled.books.line(batch, "wax")
    answer = maker.post(url, data | {f"line{line}-0-despite": WHY})

    assert answer.status_code == 302
    assert StoppedUse.objects.get().reason == WHY


def test_the_field_is_not_there_before_it_is_asked(filled, maker, batch):
    assert not re.search(
        r'name="line\d+-\d+-despite"',
        maker.get(reverse("batches:batch-draw", args=[batch.code])).content.decode(),
    )


def test_the_bench_says_that_a_reason_is_wanted(filled, maker, batch, suspect):
    line = filled.books.line(batch, "wax")
    content = {
        "kind": "draw",
        "line": line,
        "lot": suspect.pk,
        "quantity": grams(100),
        "key": key(),
        "by": filled.people.maker.pk,
        "at": 1_000,
        "sent_at": 1_000,
    }
    url = reverse("batches:bench-entries", args=[batch.code])
    said = maker.post(url, content).json()
    assert (said["refused"], said["stopped"], said["lot"]) == ("lot", "held", suspect.pk)

    assert maker.post(url, content | {"despite": WHY}).status_code == 200
    assert StoppedUse.objects.get().reason == WHY


def test_the_page_of_a_batch_says_what_to_fill_each_to(filled, maker, batch):
    page = text_of(maker.get(batch.get_absolute_url()))

    assert re.search(r'<dt>Fill each to</dt>\s*<dd><span class="figure hero">100.g</span></dd>', page)


def test_whoever_releases_a_lot_reads_every_hold_on_it_and_whose_word_it_takes(filled, maker):
    """Two holds stand at once, one of them for the owner alone; what was released before is over."""
    wax, books = filled.shelf["wax"], filled.books
    holding.hold(wax.pk, signature=books.sign(reason="The pail leaked"))
    holding.release(wax.pk, signature=books.sign(reason="It was water on the lid"))
    holding.hold(wax.pk, signature=books.sign(reason="It smells of smoke"))
    holding.hold_for_owner([wax.pk], signature=books.sign(reason="Its pot was above a maximum"))

    for page in (reverse("inventory:lot-release", args=[wax.code]), wax.get_absolute_url()):
        notices = re.findall(
            r'<div class="notice problem"><p>(.*?)</p>', maker.get(page).content.decode(), re.S
        )
        said = [" ".join(re.sub("<[^>]+>", " ", notice).split()) for notice in notices]
        assert said == [
            "On hold since 20 Mar 2026, by Maren: It smells of smoke",
            "On hold since 20 Mar 2026, by Maren: Its pot was above a maximum Only the owner may release it.",
        ]
