"""The same number of queries for sixty items, six hundred and six thousand: worked out, and on every page that shows it."""

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Item
from inventory.replenishment import at_a_glance, facts, forecast_text, rules
from inventory.replenishment.outlooks import outlooks
from inventory.replenishment.purchase_list import baskets
from tests.house import NOW, TODAY
from tests.inventory.reorder.crowd import crowd

pytestmark = pytest.mark.django_db

# Rules; items; use; first days; lots; plans; customers' orders; orders, drafts and how long deliveries took; suppliers,
# offers, prices and what came last.
QUERIES = 14
PAGES = (
    "today",
    "inventory:item-list",
    "inventory:reorder-list",
    "inventory:purchase-list",
    "inventory:slow-list",
)


def worked_out():
    now = rules.in_force()
    found = outlooks(facts.read(TODAY, window=now.window_days), now)
    for each in forecast_text.by_urgency(found.values())[:50]:
        forecast_text.why(each)
        assert each.best or not each.is_used
    baskets(found.values(), now)
    return found


def queries_of(browser, url):
    with CaptureQueriesContext(connection) as captured:
        assert browser.get(url).status_code == 200
    return len(captured.captured_queries)


def test_everything_for_every_item_takes_a_fixed_number_of_queries(owner, studio):
    browser = Client()
    browser.force_login(owner)
    taken: dict[str, list[int]] = {}
    for size, name in ((60, "A"), (540, "B"), (5_400, "C")):
        crowd(owner, size, draws=4, name=name)
        with CaptureQueriesContext(connection) as captured:
            found = worked_out()
        assert len(captured.captured_queries) == QUERIES, [
            query["sql"][:200] for query in captured.captured_queries
        ]
        with time_machine.travel(NOW, tick=False):
            one = Item.objects.filter(name__startswith=name).earliest("pk")
            for place in ("inventory:item-reorder", "inventory:item-detail"):
                taken.setdefault(place, []).append(queries_of(browser, reverse(place, args=[one.pk])))
            if size != 540:
                for page in PAGES:
                    taken.setdefault(page, []).append(queries_of(browser, reverse(page)))
    assert len(found) == 6_000
    assert {page: counts for page, counts in taken.items() if len(set(counts)) > 1} == {}


def test_a_few_items_of_many_take_a_fixed_number_of_queries(owner):
    crowd(owner, 60)
    ids = list(facts.read(TODAY, window=90).of)
    for some in (ids[:1], ids[:40]):
        with CaptureQueriesContext(connection) as captured:
            assert len(at_a_glance.of(some, TODAY)) == len(some)
        assert len(captured.captured_queries) == QUERIES
