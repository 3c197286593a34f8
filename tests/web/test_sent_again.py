"""Forms sent twice, late, or without their key; and things that were gone when the form arrived."""

import pytest
from django.urls import reverse

from batches.models import Batch, FormulaVersion
from inventory.models import Delivery, HoldRecord, Item, Lot, Posting
from tests.web.conftest import enter
from tests.web.forms import (
    ADD,
    delivery,
    draw_url,
    drawn,
    key,
    line,
    nothing_moves,
    refused,
    send_url,
    sent,
)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


def test_a_form_sent_twice_posts_once_and_leads_to_the_same_page(filled, owner):
    data = delivery(filled, line(filled))
    before = Delivery.objects.count()

    answers = [owner.post(ADD, data).headers["Location"] for _ in range(3)]

    assert answers == [Delivery.objects.latest("pk").get_absolute_url()] * 3
    assert Delivery.objects.count() == before + 1


def test_who_sent_a_form_twice_is_told_even_when_the_first_answer_was_lost(filled, owner):
    data = delivery(filled, line(filled))
    owner.post(ADD, data)
    # The browser dropped the first answer, and with it the words for the next page.
    owner.cookies.pop("messages")

    page = owner.post(ADD, data, follow=True).content.decode()

    assert "This was sent twice and is kept once." in page


@pytest.mark.parametrize("act", ["send", "draw", "plan", "item", "hold"])
def test_every_kind_of_form_is_accepted_once(filled, maker, act):
    url, data = {
        "send": (send_url(filled.cured), sent("3")),
        "draw": (
            draw_url(filled.planned),
            drawn(filled, filled.planned, "wax", (filled.shelf["wax"].code, "92")),
        ),
        "plan": (
            "/batches/plan/",
            {
                "formula": str(filled.candle.pk),
                "quantity": "3",
                "planned_on": "2026-03-25",
                "submission_key": key(),
            },
        ),
        "hold": (
            reverse("inventory:lot-hold", args=[filled.shelf["wax"].code]),
            {"reason": "Cloudy", "submission_key": key()},
        ),
        "item": (
            "/stock/items/add/",
            {"name": "Moor wax", "kind": "wax", "unit": "g", "submission_key": key()},
        ),
    }[act]
    kept = (Posting, Batch, Item, HoldRecord)
    before = [model.objects.count() for model in kept]

    first, second = maker.post(url, data), maker.post(url, data)

    assert (first.status_code, second.status_code) == (302, 302)
    assert first.headers["Location"] == second.headers["Location"]
    assert sum(model.objects.count() for model in kept) - sum(before) == 1


def test_the_last_of_a_lot_sent_twice_goes_once(filled, maker):
    # The second finds the lot empty, and still is answered with the first one's result.
    data = sent("7")

    assert maker.post(send_url(filled.cured), data).status_code == 302
    assert maker.post(send_url(filled.cured), data).status_code == 302
    assert filled.books.of(filled.cured) == (0, 0)


def test_the_same_key_with_other_content_clashes(filled, maker):
    data = sent("1")
    maker.post(send_url(filled.cured), data)
    with nothing_moves():
        other = maker.post(send_url(filled.cured), data | {"quantity": "2"})
        elsewhere = maker.post(send_url(filled.seconds), data)
        somebody = enter(filled.people.owner).post(send_url(filled.cured), data)

    assert [answer.status_code for answer in (other, somebody)] == [409, 409]
    # On another page the lot is not ready before the key is looked at, or the key clashes.
    assert elsewhere.status_code in {409, 422}
    assert "already sent with other figures" in other.content.decode()


@pytest.mark.parametrize("odd", [None, "", "1", "\x00", "x" * 10_000, "zzzzzzzz-0f62-4a8e-9a77-3f2f10c9a001"])
def test_a_form_without_its_key_changes_nothing(filled, maker, odd):
    data = sent("1")
    del data["submission_key"]
    with nothing_moves():
        page = maker.post(send_url(filled.cured), data | ({} if odd is None else {"submission_key": odd}))

    assert page.status_code == 409


def test_a_refused_form_keeps_its_key_and_a_fresh_one_gets_a_new_one(filled, maker):
    data = sent("99")

    page = maker.post(send_url(filled.cured), data)

    assert f'value="{data["submission_key"]}"' in page.content.decode()
    assert data["submission_key"] not in maker.get(send_url(filled.cured)).content.decode()


# Things that are gone


def test_a_line_that_is_not_in_the_batch_is_left_alone(filled, maker):
    wax = filled.shelf["wax"].code
    with nothing_moves():
        # A line of another formula, and one that never was.
        for number in (filled.books.line(filled.overdue, "wax"), 999_999, "x", "-1"):
            page = maker.post(
                draw_url(filled.planned),
                {f"line{number}-0-code": wax, f"line{number}-0-amount": "5", "submission_key": key()},
            )
            assert page.status_code == 422, number


def test_a_line_named_in_the_address_that_is_gone_shows_an_empty_page(filled, maker):
    for odd in ("999999", "x", "\x00", "-1", "9" * 50):
        assert maker.get(draw_url(filled.planned), {"line": odd}).status_code == 200


def test_an_item_retired_meanwhile_is_refused_at_its_line(filled, owner):
    data = delivery(filled, line(filled, "dye", each="5 g"))
    Item.objects.filter(name="dye").update(retired=True)
    with nothing_moves():
        page = owner.post(ADD, data)

    refused(page, page.context["lines"].forms[0], "item", "from the list")


def test_a_version_retired_meanwhile_is_refused(filled, maker):
    FormulaVersion.objects.filter(pk=filled.candle.pk).update(state="retired")
    data = {
        "formula": str(filled.candle.pk),
        "quantity": "3",
        "planned_on": "2026-03-25",
        "submission_key": key(),
    }
    with nothing_moves():
        page = maker.post("/batches/plan/", data)

    refused(page, page.context["form"], "formula", "from the list")


def test_a_lot_that_is_gone_when_the_form_arrives_is_a_sentence(filled, maker, monkeypatch):
    # Lots are never deleted; should one be, the books say so.
    ghost = Lot(pk=10**6, code="L00001", item=filled.shelf["wax"].item)
    monkeypatch.setattr("batches.production.forms.find_lot", lambda text: ghost)
    with nothing_moves():
        page = maker.post(draw_url(filled.planned), drawn(filled, filled.planned, "wax", ("L00001", "5")))

    assert page.status_code == 422
    assert "no longer there" in page.content.decode()


def test_what_a_colleague_drew_meanwhile_is_asked_about_before_it_is_too_much(filled, maker, owner):
    batch = filled.planned
    vessels = next(line for line in batch.version.lines.all() if line.item.name == "vessel")
    seen = f"line{vessels.pk}-seen"
    shown = maker.get(draw_url(batch)).content.decode()
    assert f'name="{seen}" value="0"' in shown
    row = drawn(filled, batch, "vessel", (filled.shelf["vessel"].code, str(batch.quantity)))
    assert owner.post(draw_url(batch), row | {seen: "0"}).status_code == 302
    with nothing_moves():
        page = maker.post(draw_url(batch), row | {seen: "0", "submission_key": key()})

    assert page.status_code == 422
    assert f"Meanwhile {batch.quantity} went in already, the last by Maren." in page.content.decode()
    # Recorded again it went in as well: the page carries what is in by now.
    assert f'name="{seen}" value="{batch.quantity}"' in page.content.decode()
    again = row | {seen: str(batch.quantity), "submission_key": key()}
    assert maker.post(draw_url(batch), again).status_code == 302
    assert -sum(batch.draws.standing().filter(line=vessels).values_list("movement__quantity", flat=True)) == (
        2 * batch.quantity
    )


@pytest.mark.parametrize("batch", ["finished", "called_off"])
def test_a_batch_that_is_over_takes_nothing_more(filled, maker, batch):
    over = getattr(filled, batch)
    with nothing_moves():
        answer = maker.post(draw_url(over), {"submission_key": key()})
        assert answer.headers["Location"] == over.get_absolute_url()
        # What somebody typed while the batch ended stays on the page.
        page = maker.post(reverse("batches:batch-finish", args=[over.code]), {"submission_key": key()})
        assert page.status_code == 422
        assert "Nothing of yours was saved" in page.content.decode()


def test_a_batch_finished_while_the_form_was_open_is_a_sentence(filled, maker, monkeypatch):
    stale = Batch.objects.select_related("version__formula__item").get(pk=filled.finished.pk)
    stale.state = "started"
    monkeypatch.setattr("batches.production.views_draws.batch_of", lambda code: stale)
    with nothing_moves():
        page = maker.post(
            draw_url(filled.finished), drawn(filled, filled.finished, "wax", (filled.shelf["wax"].code, "5"))
        )

    assert page.status_code == 422
    assert "is finished; nothing more can be drawn" in page.content.decode()
