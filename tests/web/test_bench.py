"""The bench's doors and its JSON: what a tablet asks and sends, and what it is told when it may not."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from batches.models import BenchEntry
from inventory.models import Posting
from tests.files import pdf, phone_photo
from tests.house import NOW, grams, snapshot
from tests.web.conftest import enter
from tests.web.inspection import guarded, inspect, text_of

AT = int(NOW.timestamp() * 1000)
JSON = {"Accept": "application/json"}


@pytest.fixture
def send(filled):
    """`send(...)`: one entry for the run in progress, by the owner unless a client is given."""
    url = reverse("batches:bench-entries", args=[filled.started.code])

    def post(client=None, person=None, **content):
        person = person or filled.people.owner
        client = client or enter(person)
        fields = {"key": uuid4(), "kind": "note", "by": person.pk, "at": AT - 1000, "sent_at": AT, **content}
        return client.post(url, fields, headers=JSON)

    return post


def wax(filled, quantity=20, **more):
    lot = filled.shelf["wax"]
    line = filled.started.version.lines.get(item=lot.item).pk
    weight = grams(quantity)
    return {
        "kind": "draw",
        "line": line,
        "lot": lot.pk,
        "quantity": weight,
        "gross": weight,
        "tare": 0,
        **more,
    }


def test_an_entry_is_taken_in_once_and_says_what_is_saved(filled, send):
    before = filled.books.of(filled.shelf["wax"])[0]
    content = wax(filled, key=uuid4())

    answers = [send(**content), send(**content | {"sent_at": AT + 5000})]

    assert [answer.status_code for answer in answers] == [200, 200]
    saved = [answer.json()["entry"] for answer in answers]
    assert saved[0] == saved[1]
    assert (saved[0]["kind"], saved[0]["quantity"], saved[0]["by"]) == ("draw", grams(20), "Maren")
    assert filled.books.of(filled.shelf["wax"])[0] == before - grams(20)
    guarded(answers[0])
    assert "no-store" in answers[0].headers["Cache-Control"]


def test_it_happened_as_long_ago_as_the_tablets_clock_says_however_wrong_it_is(filled, send):
    # The tablet believes it is 1990; it was entered twenty minutes before it was sent.
    sent = 631_152_000_000
    send(kind="note", text="Late", at=sent - 20 * 60_000, sent_at=sent)
    send(kind="note", text="From tomorrow", at=sent + 86_400_000, sent_at=sent)

    late, ahead = BenchEntry.objects.order_by("-pk")[:2][::-1]
    assert (late.at, ahead.at) == (NOW - timedelta(minutes=20), NOW)


def test_what_somebody_else_entered_is_not_taken_in(filled, send):
    before = snapshot()
    answer = send(client=enter(filled.people.maker), **wax(filled))

    assert (answer.status_code, answer.json()["refused"]) == (409, "person")
    assert snapshot() == before


def test_a_key_with_other_content_says_what_stands(filled, send):
    key = uuid4()
    send(**wax(filled, key=key))
    answer = send(**wax(filled, 21, key=key))

    assert answer.status_code == 409
    assert answer.json()["saved"]["quantity"] == grams(20)


def test_a_refusal_names_the_lot_and_what_can_be_done(filled, send):
    held = filled.books.receive("wax", "1 kg", cost="1.00")
    from inventory.lots import holding

    holding.hold(held.pk, signature=filled.books.sign(reason="Specks"))
    before = snapshot()
    said = send(**wax(filled) | {"lot": held.pk}).json()
    assert (said["refused"], said["lot"]) == ("lot", held.pk)
    assert "is on hold" in said["sentence"]
    short = send(**wax(filled, 90_000)).json()
    assert (short["refused"], short["lot"]) == ("short", filled.shelf["wax"].pk)
    assert "book" in short["sentence"]
    assert short["missing"] in short["sentence"]
    for content in (
        {"kind": "nothing"},
        {"key": "no key"},
        wax(filled) | {"quantity": "1.5"},
        wax(filled) | {"quantity": -1},
        wax(filled) | {"lot": 10**30},
        {"text": "x" * 501},
        {"text": "a\x00b"},
        {"text": "It was poured all the same.", "note_kind": "poured"},
        {"kind": "photo"},
        {"kind": "photo", "photo": SimpleUploadedFile("a.jpg", pdf())},
        {"kind": "undo", "takes_back": uuid4()},
    ):
        answer = send(**content)
        assert answer.status_code == 422, content
        assert answer.json()["sentence"]
    assert snapshot() == before


def test_a_photo_is_written_anew_and_shown(filled, send):
    answer = send(kind="photo", text="The pot", photo=SimpleUploadedFile("pot.jpg", phone_photo()))
    photo = BenchEntry.objects.latest("pk").photo

    assert answer.status_code == 200
    shown = enter(filled.people.bookkeeper).get(
        reverse("batches:batch-photo", args=[filled.started.code, photo.pk])
    )
    assert (shown.status_code, shown.headers["Content-Type"]) == (200, "image/jpeg")
    assert b"secret" not in shown.content
    other = reverse("batches:batch-photo", args=[filled.finished.code, photo.pk])
    assert enter(filled.people.owner).get(other).status_code == 404


def test_signed_out_a_script_is_told_so_and_a_person_is_led_to_the_door(filled):
    for name in ("bench-state", "bench-entries"):
        url = reverse(f"batches:{name}", args=[filled.started.code])
        answer = Client().get(url, headers=JSON)
        assert (answer.status_code, answer.json()["refused"]) == (401, "sign-in")
        assert Client().get(url).status_code == 302


def test_an_old_token_is_told_as_such_and_the_state_brings_a_new_one(filled):
    client = Client(enforce_csrf_checks=True)
    client.force_login(filled.people.owner, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("batches:bench-entries", args=[filled.started.code])
    fields = {
        "key": uuid4(),
        "kind": "note",
        "text": "x",
        "by": filled.people.owner.pk,
        "at": AT,
        "sent_at": AT,
    }
    answer = client.post(url, fields, headers=JSON)
    assert (answer.status_code, answer.json()["refused"]) == (403, "token")

    token = client.get(reverse("batches:bench-state", args=[filled.started.code])).json()["token"]

    assert client.post(url, fields, headers=JSON | {"X-CSRFToken": token}).status_code == 200


def test_the_state_answers_for_a_code_the_tablet_does_not_know(filled):
    client = enter(filled.people.maker)
    url = reverse("batches:bench-state", args=[filled.started.code])

    lot = client.get(f"{url}?code={filled.held.spaced_code.lower()}").json()["lot"]
    assert (lot["code"], lot["item_name"]) == (filled.held.code, filled.held.item.name)
    assert "is on hold" in lot["stop"]
    assert client.get(f"{url}?code=%00nothing").json() == {"lot": None}


def test_the_page_brings_what_it_shows_along_and_leads_on_without_scripts(filled):
    answer = enter(filled.people.maker).get(reverse("batches:batch-bench", args=[filled.started.code]))

    page = inspect(answer)
    assert page.faults == []
    assert reverse("batches:batch-draw", args=[filled.started.code]) in page.links
    assert "The bench needs scripts." in text_of(answer)


def test_a_batch_that_is_over_still_opens_so_that_what_waits_can_be_seen(filled):
    answer = enter(filled.people.maker).get(reverse("batches:batch-bench", args=[filled.finished.code]))
    assert answer.status_code == 200
    assert '"open": false' in text_of(answer)


def test_the_worker_reaches_no_further_than_batches_and_keeps_only_parts(filled):
    answer = Client().get("/batches/bench-worker.js")

    assert answer.headers["Content-Type"].startswith("text/javascript")
    assert "Service-Worker-Allowed" not in answer.headers
    assert "studio/bench.js" in answer.content.decode()
    assert "no-cache" in answer.headers["Cache-Control"]


def test_the_batch_page_leads_to_the_bench_and_shows_what_was_kept_there(filled):
    url = reverse("batches:batch-detail", args=[filled.started.code])
    answer = enter(filled.people.maker).get(url)
    text = text_of(answer)

    assert reverse("batches:batch-bench", args=[filled.started.code]) in inspect(answer).links
    assert "Draught from the door" in text
    assert "Taken back" in text
    assert reverse("batches:batch-photo", args=[filled.started.code, filled.bench_photo.pk]) in text
    assert (
        reverse("batches:batch-bench", args=[filled.started.code])
        in inspect(enter(filled.people.maker).get("/")).links
    )
    assert Posting.objects.filter(reason="Taken back at the bench").count() == 0
