"""Planning on the pages: where to begin, lots by hand, asked about twice, moved; and the week."""

import csv
from io import StringIO

import pytest
from django.urls import reverse

from batches.models import Batch, ChosenLot
from tests.house import grams
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves

pytestmark = pytest.mark.django_db

PLAN = "/batches/plan/"


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def sent(house, quantity="6", **more):
    """Everything the page sends that plans a run of the candle."""
    data = {"start": "units", "formula": str(house.candle.pk), "quantity": quantity, "note": ""}
    return data | {"planned_on": "2026-03-24", "submission_key": key()} | more


def field(house, name, lot):
    line = house.candle.lines.get(item__name=name)
    return f"take-{line.pk}-{lot.pk}"


def test_the_same_run_again_is_asked_about_once(filled, maker):
    """A page gone back to carries a new key; the run behind it stands already."""
    assert maker.post(PLAN, sent(filled)).status_code == 302
    before = Batch.objects.count()
    again = sent(filled)
    page = maker.post(PLAN, again)
    assert page.status_code == 422
    assert b"You planned this very run a moment ago" in page.content
    assert Batch.objects.count() == before
    assert maker.post(PLAN, again | {"again": "on"}).status_code == 302
    assert Batch.objects.count() == before + 1
    # Another number is another run.
    assert maker.post(PLAN, sent(filled, "7")).status_code == 302
    # And of a colleague nobody asks.
    assert enter(filled.people.costly).post(PLAN, sent(filled, "7")).status_code == 302


def test_a_plan_sent_twice_makes_one_run(filled, maker):
    before, data = Batch.objects.count(), sent(filled)
    assert maker.post(PLAN, data).url == maker.post(PLAN, data).url
    assert Batch.objects.count() == before + 1


def test_lots_chosen_on_the_plan_are_kept_with_the_run(filled, maker):
    other = filled.books.receive("wax", "2 kg")
    page = maker.post(PLAN, sent(filled, **{field(filled, "wax", other): "552"}))
    assert page.status_code == 302
    batch = Batch.objects.latest("pk")
    assert list(batch.chosen_lots.values_list("lot", "quantity")) == [(other.pk, grams(552))]
    assert "Chosen by hand" in maker.get(page.url).content.decode()


def test_a_lot_that_cannot_give_so_much_is_said_beside_it(filled, maker):
    name = field(filled, "wax", filled.shelf["wax"])
    with nothing_moves():
        page = maker.post(PLAN, sent(filled, **{name: "553"}))
    assert page.status_code == 422
    assert "are needed. Take less" in page.context["chosen_form"].errors[name][0]
    assert 'value="553"' in page.content.decode()
    with nothing_moves():
        page = maker.post(PLAN, sent(filled, **{name: "a lot"}))
    assert page.status_code == 422


def test_the_plan_of_an_order_works_out_what_to_pour_and_is_tied_to_it(filled, maker):
    line = filled.wanted.lines.get()
    page = maker.get(PLAN, {"start": "order", "line": line.pk})
    assert page.context["quantity_text"] == "60"
    hidden = {"start": "order", "line": str(line.pk), "formula": str(filled.rain.pk), "quantity": "60"}
    assert maker.post(PLAN, sent(filled) | hidden).status_code == 302
    assert Batch.objects.latest("pk").order_line == line
    shown = maker.get(filled.wanted.get_absolute_url()).content.decode()
    assert "Runs planned for it" in shown
    assert "nothing is left to pour" in maker.get(PLAN, {"start": "order", "line": line.pk}).content.decode()


def test_a_lot_to_use_up_is_chosen_and_says_what_stays(filled, maker):
    """500 g at 92 g each: five take 460 g and leave 40 g."""
    lot = filled.books.receive("wax", "500 g")
    asked = {"start": "lot", "lot": lot.code, "formula": filled.candle.pk}
    page = maker.get(PLAN, asked)
    assert (page.context["quantity_text"], page.context["left_of_lot"]) == ("5", (lot, grams(40)))
    name = field(filled, "wax", lot)
    assert page.context["chosen_form"][name].value() == "460"


@pytest.mark.parametrize(
    "asked",
    [
        {"start": "lot", "lot": "L0000", "formula": "1"},
        {"start": "order", "line": "999999"},
        {"start": "order", "line": "1 OR 1"},
        {"start": "most", "formula": "9" * 30},
        {"start": "nowhere", "formula": "x", "quantity": "-1"},
        {"start": "lot", "lot": "\x00", "formula": "\x00"},
    ],
)
def test_an_odd_beginning_is_answered_with_a_sentence(filled, maker, asked):
    page = maker.get(PLAN, asked)
    assert page.status_code in {200, 422}


def test_missing_material_says_where_to_get_it(filled, maker):
    """This supplier took four days each time, whatever the offer says: for the 31st it is ordered by the 27th."""
    asked = {"formula": filled.candle.pk, "quantity": "400", "planned_on": "2026-03-31"}
    page = maker.get(PLAN, asked).content.decode()
    assert "Not enough on the shelf" in page
    assert "Order by Fri 27 Mar from Tollgate Wax and Wick" in page
    assert f"/stock/purchase-orders/add/?offer={filled.offer.pk}" in page


def test_lots_are_chosen_and_given_back_on_the_batch(filled, maker):
    url = reverse("batches:batch-lots", args=[filled.planned.code])
    name = field(filled, "wax", filled.shelf["wax"])
    data = {name: "100", "submission_key": key()}
    for _ in range(2):
        assert maker.post(url, data).status_code == 302
    assert ChosenLot.objects.get(batch=filled.planned).quantity == grams(100)
    assert maker.get(url).context["form"][name].value() == "100"
    assert maker.post(url, {name: "", "submission_key": key()}).status_code == 302
    assert not ChosenLot.objects.filter(batch=filled.planned).exists()


def test_a_plan_is_moved_on_its_page_and_leaves_what_a_colleague_changed(filled, maker):
    url = reverse("batches:batch-replan", args=[filled.planned.code])
    form = maker.get(url).context["form"]
    shown = {form.add_initial_prefix(name): str(form[name].initial) for name in form.fields}
    Batch.objects.filter(pk=filled.planned.pk).update(quantity=9)
    data = {"quantity": form["quantity"].initial, "planned_on": "2026-03-31", "submission_key": key()}
    assert maker.post(url, shown | data).status_code == 302
    filled.planned.refresh_from_db()
    assert (filled.planned.quantity, str(filled.planned.planned_on)) == (9, "2026-03-31")
    page = maker.post(url, data | {"quantity": "0", "submission_key": key()})
    assert page.status_code == 422


def test_a_run_that_was_begun_is_not_moved(filled, maker):
    url = reverse("batches:batch-replan", args=[filled.started.code])
    assert maker.get(url).status_code == 302
    with nothing_moves():
        page = maker.post(url, {"quantity": "3", "planned_on": "2026-03-31", "submission_key": key()})
    assert page.status_code == 422
    assert b"was begun" in page.content


def test_the_week_leaves_as_a_table(filled, maker):
    page = maker.get(reverse("batches:week"), {"format": "csv"})
    rows = list(csv.reader(StringIO(page.content.decode("utf-8-sig"))))
    assert rows[0][:4] == ["Material", "Unit", "Day", "What"]
    assert any(row[3] == "Run" for row in rows)


@pytest.mark.parametrize("asked", ["", "2026-02-30", "9999-12-31", "0001-01-01", "\x00", "2199-12-31"])
def test_an_odd_week_is_answered(filled, maker, asked):
    assert maker.get(reverse("batches:week"), {"from": asked}).status_code == 200
