"""A run for one event is left out of the usual use in one press, all it drew together, and counted again in one."""

import pytest
from django.urls import reverse

from inventory.models import OneOff
from inventory.replenishment import one_offs
from tests.web import forms
from tests.web.conftest import enter


def sent(**more):
    return {"reason": "The harbour fair, one time", "submission_key": forms.key(), **more}


@pytest.fixture
def run(filled):
    """A finished run and the postings it drew by that stand."""
    batch = filled.finished
    return batch, set(batch.draws.standing().values_list("movement__posting", flat=True))


def test_all_that_a_run_drew_is_left_out_and_counted_again(filled, run):
    batch, postings = run
    client = enter(filled.people.maker)
    url = reverse("batches:batch-one-off", args=[batch.code])
    assert "Leave it out of the usual use" in client.get(batch.get_absolute_url()).content.decode()

    data = sent(to="one-off")
    assert client.post(url, data).status_code == client.post(url, data).status_code == 302

    assert len(postings) > 1
    assert set(OneOff.objects.standing().values_list("posting", flat=True)) == postings
    assert OneOff.objects.count() == len(postings)
    assert "Will not come again" in client.get(batch.get_absolute_url()).content.decode()

    client.post(url, sent(to="usual"))
    assert not OneOff.objects.standing().exists()


def test_what_is_marked_already_stays_and_the_rest_follows(filled, run):
    batch, postings = run
    signature = filled.books.sign(reason="The wax alone")
    one_offs.mark(min(postings), one_off=True, signature=signature)
    enter(filled.people.maker).post(reverse("batches:batch-one-off", args=[batch.code]), sent(to="one-off"))
    assert one_offs.all_one_off(postings)
    assert OneOff.objects.get(posting=min(postings)).reason == "The wax alone"


@pytest.mark.parametrize("data", [{"reason": " "}, {"to": "usual"}])
def test_without_a_reason_or_with_nothing_to_take_back_nothing_changes(filled, run, data):
    batch, _ = run
    answer = enter(filled.people.maker).post(
        reverse("batches:batch-one-off", args=[batch.code]), sent(**data)
    )
    assert answer.status_code == 422
    assert not OneOff.objects.exists()


def test_a_run_that_drew_nothing_has_nothing_to_leave_out(filled):
    url = reverse("batches:batch-one-off", args=[filled.planned.code])
    assert enter(filled.people.maker).post(url, sent(to="one-off")).status_code == 422
    assert not one_offs.all_one_off([])


def test_a_posting_leads_to_its_whole_run(filled, run):
    batch, postings = run
    page = enter(filled.people.maker).get(reverse("inventory:posting-detail", args=[min(postings)]))
    assert reverse("batches:batch-one-off", args=[batch.code]) in page.content.decode()
