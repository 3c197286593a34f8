"""Orders of customers on the pages: taken, changed, sent, called off; who sees how to reach them."""

from uuid import uuid4

import pytest
from django.urls import reverse

from inventory.models import CustomerOrder, Dispatch
from tests.house import TODAY
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def url(name, order):
    return reverse(f"inventory:customer-order-{name}", args=[order.code])


def typed(house, *lines, **head):
    """Everything the page of an order sends: pairs of a product and how many."""
    data = {
        "customer": "Moor & Mill",
        "wanted_on": "2026-03-27",
        "channel": "",
        "reference": "",
        "contact": "",
        "reach": "",
        "note": "",
        "submission_key": key(),
        "lines-TOTAL_FORMS": str(len(lines)),
        "lines-INITIAL_FORMS": "0",
        **head,
    }
    for number, (name, quantity) in enumerate(lines):
        data |= {
            f"lines-{number}-item": str(house.books.item(name).pk),
            f"lines-{number}-quantity": quantity,
        }
    return data


def order_of_cured(house, quantity=5):
    """An order of the candles of which seven are on the shelf."""
    return house.books.order_of("Moor & Mill", ("Cedar & Black Tea", quantity))


def test_an_order_is_taken_once_however_often_it_is_sent(filled, maker):
    data = typed(filled, ("Cedar & Black Tea", "24"), contact="Ada", reach="555 0142")
    before = CustomerOrder.objects.count()
    for _ in range(2):
        page = maker.post(reverse("inventory:customer-order-add"), data)
        assert page.status_code == 302
    assert CustomerOrder.objects.count() == before + 1
    assert b"555 0142" in maker.get(page.url).content


def test_how_to_reach_a_customer_is_for_owner_and_makers(filled):
    for person, seen in (("owner", True), ("maker", True), ("bookkeeper", False)):
        browser = enter(getattr(filled.people, person))
        page = browser.get(filled.wanted.get_absolute_url())
        assert (b"Ada Moor" in page.content) is seen, person
        assert (b"555 0188" in page.content) is seen, person
        table = browser.get(f"{reverse('inventory:customer-order-list')}?format=csv")
        assert (b"Moor & Mill" in table.content) is seen, person
        assert (f"Customer {filled.wanted.customer_id}".encode() in table.content) is not seen, person
        assert b"Ada Moor" not in table.content


def test_what_is_wrong_with_an_order_is_said_and_kept(filled, maker):
    add = reverse("inventory:customer-order-add")
    with nothing_moves():
        twice = typed(filled, ("Cedar & Black Tea", "24"), ("Cedar & Black Tea", "3"))
        page = maker.post(add, twice)
        assert page.status_code == 422
        assert b"stands on a line above" in page.content
        page = maker.post(add, typed(filled, wanted_on="soon"))
        refused(page, page.context["form"], "wanted_on", "2026-03-21", typed=("Moor &amp; Mill",)[:0])
        assert b"Order at least one thing." in page.content


def test_a_change_of_an_order_that_somebody_changed_meanwhile_is_asked_about(filled, maker):
    page = maker.get(url("change", filled.wanted))
    seen = page.context["form"]["seen"].value()
    CustomerOrder.objects.filter(pk=filled.wanted.pk).update(note="Ring first")
    data = typed(filled, ("Rain on Slate", "8"), seen=seen)
    page = maker.post(url("change", filled.wanted), data)
    assert page.status_code == 422
    assert b"Somebody changed this order meanwhile" in page.content
    data |= {"seen": page.context["form"].data["seen"]}
    assert maker.post(url("change", filled.wanted), data).status_code == 302
    assert filled.wanted.lines.get().quantity == 8


def test_the_suggested_lot_is_sent_and_the_order_closes(filled, maker):
    order = order_of_cured(filled)
    page = maker.get(url("send", order))
    name = f"lot-{filled.cured.pk}"
    assert page.context["form"][name].value() == "5"

    data = {name: "5", "kind": "sale", "happened_at": "", "submission_key": key()}
    for _ in range(2):
        assert maker.post(url("send", order), data).status_code == 302

    order.refresh_from_db()
    assert order.state == "sent"
    assert Dispatch.objects.filter(for_order__order=order).count() == 1
    assert maker.get(url("send", order)).status_code == 302


def test_what_cannot_be_sent_is_said_beside_its_lot(filled, maker):
    order = order_of_cured(filled)
    name = f"lot-{filled.cured.pk}"
    for amount, words in (("6", "wants 5 more"), ("many", ""), ("", "at least one lot")):
        with nothing_moves():
            page = maker.post(
                url("send", order),
                {name: amount, "kind": "sale", "happened_at": "", "submission_key": str(uuid4())},
            )
        field = name if amount else "__all__"
        refused(page, page.context["form"], field, words)


def test_an_order_is_called_off_for_a_reason(filled, maker):
    order = order_of_cured(filled)
    page = maker.post(url("call-off", order), {"reason": "", "submission_key": key()})
    assert page.status_code == 422
    data = {"reason": "The feast is off", "submission_key": key()}
    for _ in range(2):
        assert maker.post(url("call-off", order), data).status_code == 302
    assert b"The feast is off" in maker.get(order.get_absolute_url()).content


def test_what_was_called_off_meanwhile_is_said(filled, maker):
    page = maker.post(url("call-off", filled.unwanted), {"reason": "Again", "submission_key": key()})
    assert page.status_code == 422
    assert b"is called off" in page.content


def test_the_search_box_finds_an_order_by_code_and_by_customer(filled, maker):
    find = reverse("search")
    assert maker.get(find, {"q": filled.wanted.spaced_code}).url == filled.wanted.get_absolute_url()
    assert filled.wanted.code in maker.get(find, {"q": "moor & m"}).content.decode()


def test_the_shelf_says_what_an_item_is_promised_to(filled, maker):
    order = order_of_cured(filled)
    item = filled.cured.item
    page = maker.get(item.get_absolute_url()).content.decode()
    assert f'href="{order.get_absolute_url()}"' in page
    assert "1 order" in maker.get(reverse("inventory:item-list")).content.decode()
    wax = filled.shelf["wax"].item
    assert f'href="{filled.planned.get_absolute_url()}"' in maker.get(wax.get_absolute_url()).content.decode()


def test_today_names_an_order_that_is_due_and_offers_to_send_what_is_ready(filled, maker):
    order = filled.books.order_of("Moor & Mill", ("Cedar & Black Tea", 5), on=TODAY)
    page = maker.get(reverse("today")).content.decode()
    assert "5 × Cedar &amp; Black Tea for Moor &amp; Mill" in page
    assert url("send", order) in page


def test_a_change_of_one_line_keeps_the_others(filled, maker):
    order = filled.books.order_of("Moor & Mill", ("Cedar & Black Tea", 5), ("Rain on Slate", 60))
    shown = maker.get(url("change", order)).context["lines"]
    data = typed(filled, ("Cedar & Black Tea", "7"), ("Rain on Slate", "60"))
    data |= {"lines-INITIAL_FORMS": str(shown.initial_form_count()), "shown": ""}
    page = maker.get(url("change", order))
    data |= {
        name: page.context["form"][name].value() or ""
        for name in page.context["form"].fields
        if name not in data
    }

    maker.post(url("change", order), data)

    assert sorted(order.lines.values_list("item__name", "quantity")) == [
        ("Cedar & Black Tea", 7),
        ("Rain on Slate", 60),
    ]
