"""A drill is practised with a clock that runs on its page."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inventory.models import Lot

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_clock_runs_on_the_page_of_a_drill(sit_down, studio, owner, books):
    scent = books.receive("fragrance", "300 g", cost=12)
    recall = books.recall(scent, drill=True, at=timezone.now() - timedelta(minutes=90))
    person = sit_down(sign_in=owner)
    person.open(recall.get_absolute_url())

    clock = person.page.locator("[data-running-since]")
    expect(clock).to_contain_text("1:30:")
    person.follow("Stop the clock")
    person.fill({"What was found": "Everything in half the time."})
    person.press("Stop")

    person.sees("1 h 30 min")
    person.sees("within the 4 hours of practice")
    assert not Lot.objects.filter(held=True).exists()
