"""Freight or duty billed after a delivery, on its pages; and the costs of the period. Figures worked by hand.

The filled studio's first delivery is wax for 61.30 and fragrance for 43.70. Of 10 kg of wax 920 g and 368 g went
into candles, 500 g into a blend and 460 g into a run in progress, 7,752 g are here; of 1 kg of fragrance 80 g and
32 g, 888 g are here. A duty of 10.50 is a tenth of the goods: 6.13 to the wax and 4.37 to the fragrance.
"""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.deliveries import views_late_costs as period_costs
from inventory.models import LateCost, PeriodCost, Posting
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves, refused
from tests.web.inspection import csv_of, inspect, text_of

PERIOD = reverse("inventory:period-cost-list")


def url(house):
    return reverse("inventory:late-cost-add", args=[house.delivery.pk])


def duty(amount="10.50", **more):
    """Everything the page "freight or duty billed later" sends."""
    return {
        "paper": "invoice",
        "amount": amount,
        "spread": "value",
        "reference": "D-88",
        "note": "Customs duty",
        "happened_at": "",
        "submission_key": key(),
        **more,
    }


@pytest.fixture
def bookkeeper(filled):
    return enter(filled.people.bookkeeper)


def test_the_bookkeeper_adds_a_duty_and_sees_where_it_went(filled, bookkeeper):
    answer = bookkeeper.post(url(filled), duty())

    assert answer.headers["Location"] == f"{filled.delivery.get_absolute_url()}#late-costs"
    text = text_of(bookkeeper.get(filled.delivery.get_absolute_url()))
    # 6.13 × 0.7752 = 4.751976 and 1.378024; 4.37 × 0.888 = 3.88056 and 0.48944.
    for figure in ("$10.50", "$4.75", "$1.38", "$3.88", "$0.49"):
        assert f">{figure}<" in text, figure
    # By batch, of the wax: 0.613 × 0.920 = 0.56396, × 0.368 = 0.225584, × 0.5 = 0.3065, × 0.46 = 0.28198.
    for figure in ("$0.56", "$0.23", "$0.31", "$0.28"):
        assert f">{figure}<" in text, figure
    for batch in (filled.finished, filled.fresh, filled.blend, filled.started):
        assert batch.get_absolute_url() in text
    assert "Customs duty" in text
    # 52.271736 before.
    assert filled.books.of(filled.shelf["wax"])[1] == 57_023_712
    assert filled.books.of(filled.shelf["fragrance"])[1] == 42_686_160 + 3_880_560


def test_the_page_says_that_what_was_made_keeps_its_cost(filled, bookkeeper):
    page = bookkeeper.get(url(filled))

    assert "keep the cost they were made at" in text_of(page)
    assert inspect(page).faults == []


def test_a_credit_note_takes_cost_back(filled, bookkeeper):
    bookkeeper.post(url(filled), duty(paper="credit"))

    assert LateCost.objects.get().amount == -10_500_000
    assert "Credit note D-88, −$10.50" in text_of(bookkeeper.get(filled.delivery.get_absolute_url()))


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("amount", "", ["fill this in"]),
        ("amount", "0", ["above zero"]),
        ("amount", "-5", ["minus sign"]),
        ("amount", "ten", ["12.50"]),
        ("amount", "EUR 5", ["USD"]),
        ("paper", "letter", ["choose one"]),
        ("spread", "size", ["choose one"]),
        ("happened_at", "2026-02-27T08:00", ["01 Mar 2026", "after that"]),
        ("happened_at", "2026-03-21T08:00", ["future"]),
        ("reference", "x" * 61, ["60"]),
        ("note", "x" * 301, ["300"]),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(filled, bookkeeper, field, typed, words):
    with nothing_moves():
        page = bookkeeper.post(url(filled), duty(**{field: typed}))

    refused(page, page.context["form"], field, *words)


def test_by_weight_over_counted_things_is_refused(filled, bookkeeper):
    counted = filled.shelf["wick"].delivery_line.delivery
    with nothing_moves():
        page = bookkeeper.post(reverse("inventory:late-cost-add", args=[counted.pk]), duty(spread="weight"))

    refused(page, page.context["form"], "spread", "every line is weighed", typed=["D-88"])


def test_the_same_press_twice_adds_it_once(filled, bookkeeper):
    data = duty()

    first, second = bookkeeper.post(url(filled), data), bookkeeper.post(url(filled), data)

    assert (first.status_code, second.status_code) == (302, 302)
    assert first.headers["Location"] == second.headers["Location"]
    assert LateCost.objects.count() == 1


def test_a_reversed_delivery_leads_back_to_its_page(filled, bookkeeper):
    gone = filled.reversal.reverses.delivery
    with nothing_moves():
        answer = bookkeeper.post(reverse("inventory:late-cost-add", args=[gone.pk]), duty())

    assert answer.headers["Location"] == gone.get_absolute_url()
    assert "Freight or duty billed later</a>" not in text_of(bookkeeper.get(gone.get_absolute_url()))


def test_it_is_reversed_from_its_posting(filled, owner_page):
    owner_page.post(url(filled), duty())
    posting = Posting.objects.get(late_cost__reference="D-88")
    assert "Billed later for" in text_of(owner_page.get(posting.get_absolute_url()))

    answer = owner_page.post(
        reverse("inventory:posting-reverse", args=[posting.pk]),
        {"reason": "Not ours", "submission_key": key()},
    )

    assert answer.status_code == 302
    assert filled.books.of(filled.shelf["wax"])[1] == 52_271_736
    text = text_of(owner_page.get(filled.delivery.get_absolute_url()))
    assert "Not ours" in text
    assert ">Reversed<" in text


def test_whoever_entered_it_takes_it_back_the_bookkeeper_too(filled, bookkeeper):
    bookkeeper.post(url(filled), duty())
    posting = LateCost.objects.get().posting
    assert ">Reverse</a>" in text_of(bookkeeper.get(posting.get_absolute_url()))
    undo = reverse("inventory:posting-reverse", args=[posting.pk])

    with nothing_moves():
        assert (
            enter(filled.people.maker).post(undo, {"reason": "x", "submission_key": key()}).status_code == 403
        )
        dispatched = reverse("inventory:posting-reverse", args=[filled.dispatch.posting_id])
        assert bookkeeper.get(dispatched).status_code == 403
        assert bookkeeper.post(dispatched, {"reason": "x", "submission_key": key()}).status_code == 403
    assert bookkeeper.post(undo, {"reason": "Not ours", "submission_key": key()}).status_code == 302

    assert filled.books.of(filled.shelf["wax"])[1] == 52_271_736


def test_a_maker_without_costs_sees_nothing_of_it(filled, bookkeeper):
    bookkeeper.post(url(filled), duty())
    client = enter(filled.people.maker)

    text = text_of(client.get(filled.delivery.get_absolute_url()))

    assert "billed later" not in text
    assert "$" not in text
    assert "Costs of the period" not in text_of(client.get("/stock/"))
    posting = text_of(client.get(LateCost.objects.get().posting.get_absolute_url()))
    assert "$" not in posting


def test_the_costs_of_the_period_are_listed_with_their_cause_and_add_up(filled, bookkeeper):
    before = sum(PeriodCost.objects.values_list("value", flat=True))
    bookkeeper.post(url(filled), duty())

    text = text_of(bookkeeper.get(PERIOD))
    rows = csv_of(bookkeeper, f"{PERIOD}?format=csv")

    assert "Billed later for delivery T-204: D-88, Customs duty" in text
    assert "1 Jan 2026 to 20 Mar 2026" in text
    mine = {row["Lot"]: row for row in rows if row["Why"].startswith("Billed later")}
    assert mine[filled.shelf["wax"].code]["Cost"] == "1.378024"
    assert mine[filled.shelf["fragrance"].code]["Cost"] == "0.489440"
    assert mine[filled.shelf["wax"].code]["Item"] == "wax"
    # 1.378024 and 0.48944.
    assert sum(Decimal(row["Cost"]) for row in rows) == Decimal(before + 1_867_464).scaleb(-6)


def test_they_are_asked_for_from_a_day_to_a_day(filled, bookkeeper):
    bookkeeper.post(url(filled), duty(happened_at="2026-03-20T00:30"))

    def total(first, last):
        page = bookkeeper.get(PERIOD, {"first": first, "last": last})
        return len(page.context["table"].rows), page.context["total"]

    assert total("2026-03-20", "2026-03-20") == (2, 1_867_464)
    assert total("2026-03-20", "") == (2, 1_867_464)
    assert total("2026-03-01", "2026-03-19") == (0, 0)
    text = text_of(bookkeeper.get(PERIOD, {"first": "2026-03-20", "last": "2026-03-01"}))
    assert "Swap the two days" in text
    assert "Write a date" in text_of(bookkeeper.get(PERIOD, {"first": "yesterday"}))


def test_a_cost_taken_back_is_listed_as_such(filled, owner_page):
    owner_page.post(url(filled), duty())
    filled.books.reverse(LateCost.objects.get().posting)

    page = owner_page.get(PERIOD)

    assert "Taken back: Billed later for delivery T-204" in text_of(page)
    assert (
        sum(cost.value for cost in page.context["table"].rows if "Billed later" in period_costs.why(cost))
        == 0
    )


def test_more_costs_take_no_more_queries(filled, bookkeeper):
    def asked(address):
        with CaptureQueriesContext(connection) as captured:
            assert bookkeeper.get(address).status_code == 200
        return len(captured.captured_queries)

    bookkeeper.post(url(filled), duty())
    bookkeeper.get("/")
    pages = (filled.delivery.get_absolute_url(), PERIOD, f"{PERIOD}?format=csv")
    before = [asked(page) for page in pages]

    for number in range(3):
        bookkeeper.post(url(filled), duty(str(number + 1)))

    assert [asked(page) for page in pages] == before
