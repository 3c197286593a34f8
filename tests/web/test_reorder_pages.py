"""The pages of buying: what they show to whom, drafting in one press, leaving out what will not come again, the rules."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import DeliveryLine, Item, OneOff, Order, ReorderRules, Supplier
from inventory.replenishment import forecast_text
from inventory.replenishment.rules import in_force
from studio import guards
from tests.house import NOW, grams, money
from tests.web import forms
from tests.web.conftest import enter
from tests.web.inspection import text_of

LIST, PURCHASE = "/stock/reorder/", "/stock/reorder/purchase/"


def key():
    """A fresh key, as a page hands one out."""
    return {"submission_key": forms.key()}


def typed(page, changes):
    """Everything a page's form would send, with these fields typed anew; what it showed goes along."""
    data = {}
    for field in page.context["form"]:
        shown = field.value()
        if shown is not None and shown is not False:
            data[field.html_name] = shown
        if field.field.show_hidden_initial:
            data[field.html_initial_name] = "" if field.initial is None else field.initial
    return {**data, **changes}


@pytest.fixture
def due(filled):
    """400 g of an oil of which 700 g were used in thirty days: 23.3 g a day, so it lasts seventeen days.

    A delivery takes four days, as the three orders of the supplier did. Use comes in lumps of 100 g: 93 g while one waits
    and 50 below the point, in all 143 ± 91 g, whose 95 % point is 317 g. The safety stock is 317 − 93 = 223 g: the level
    falls below it on day 7, and the last day to order is day 3.
    """
    books = filled.books
    lot = books.receive("Due oil", "1100 g", cost=40, at=NOW - timedelta(days=30))
    Item.objects.filter(pk=lot.item_id).update(kind="fragrance")
    for back in (13, 11, 9, 7, 5, 3, 1):
        books.draw(lot, "100 g", at=NOW - timedelta(days=back))
    Supplier.objects.update(lead_days=12)
    books.offer("Due oil", "500 g", (1, "21.37"), (4, "19.41"))
    return lot.item


def test_the_list_names_what_is_due_first_and_says_by_when_how_much_and_of_whom(filled, due):
    page = enter(filled.people.owner).get(f"{LIST}?show=due").content.decode()
    assert "Due oil" in page
    assert "× 500 g" in page
    assert "Tollgate Wax and Wick" in page


def test_a_maker_who_may_not_see_costs_sees_quantities_and_days_and_no_price(filled, due):
    for url in (LIST, PURCHASE, reverse("inventory:item-reorder", args=[due.pk])):
        seen = enter(filled.people.costly).get(url).content.decode()
        page = enter(filled.people.maker).get(url).content.decode()
        assert "$" in seen.replace("$(", ""), url
        assert "$" not in page, url
        assert "500 g" in page


def test_another_service_level_or_window_is_tried_without_being_kept(filled, due):
    client = enter(filled.people.maker)
    url = reverse("inventory:item-reorder", args=[due.pk])
    usual, high = (
        client.get(f"{url}?service={ppm}&window=60").context["outlook"] for ppm in (900_000, 990_000)
    )
    assert high.keep > usual.keep
    assert high.past.wanted_days == 60
    assert "Tried out here only" in client.get(f"{url}?service=990000").content.decode()
    assert in_force().service_ppm == 950_000


def test_what_is_tried_comes_before_an_items_own_service_level(filled, due):
    Item.objects.filter(pk=due.pk).update(service_ppm=980_000)
    client = enter(filled.people.maker)
    url = reverse("inventory:item-reorder", args=[due.pk])
    assert client.get(url).context["outlook"].service_ppm == 980_000
    # What the form shows unchanged, with another window, tries no service level.
    assert client.get(f"{url}?service=980000&window=60").context["rules"].tried_ppm is None
    assert client.get(f"{url}?service=950000").context["outlook"].service_ppm == 950_000


@pytest.mark.parametrize("query", ["service=x&window=", "service=1&window=9999999999", "service=-5&window=0"])
def test_odd_words_in_the_address_leave_the_rules_as_they_are(filled, query):
    found = enter(filled.people.maker).get(f"{LIST}?{query}")
    assert (found.status_code, found.context["service_ppm"]) == (200, 950_000)


def test_below_the_safety_stock_the_last_day_to_order_may_lie_further_back(filled, due):
    """A delivery takes four days: of 100 g left, less than the safety stock, an order of four days ago would come today."""
    client, url = enter(filled.people.owner), reverse("inventory:item-reorder", args=[due.pk])
    assert "or before" not in text_of(client.get(url))

    filled.books.draw(due.lots.get(), "300 g")

    seen = client.get(url)
    assert seen.context["outlook"].order_in == -4
    assert "2026 or before: less than the safety stock is left" in text_of(seen)


def test_the_days_to_come_leave_as_a_table(filled, due):
    url = reverse("inventory:item-reorder", args=[due.pk])
    rows = enter(filled.people.maker).get(f"{url}?format=csv").content.decode("utf-8-sig").splitlines()
    assert rows[0] == "Day,Unit,Usual use,Planned,Comes,Goes off,Level,At worst,At best"
    assert rows[1].startswith("2026-03-20,g,23.333333,0,0,0,376.666667,")
    assert len(rows) == 122


def take(client, item):
    """The purchase list as the page would send it, this item's line alone ticked, three packs."""
    baskets = client.get(PURCHASE).context["baskets"]
    line = next(line for _, lines in baskets for line, *_ in lines if line.item == item)
    return {"take": line.key, f"packs-{line.key}": "3", **key()}


def test_one_press_drafts_and_a_second_does_no_harm(filled, due):
    client = enter(filled.people.maker)
    data = take(client, due)
    before = Order.objects.count()

    first, again = client.post(PURCHASE, data), client.post(PURCHASE, data)

    order = Order.objects.latest("pk")
    assert Order.objects.count() == before + 1
    assert first.status_code == again.status_code == 302
    assert first.headers["Location"] == again.headers["Location"] == order.get_absolute_url()
    line = order.lines.get()
    assert (line.item, line.packs, line.price, order.is_draft) == (due, 3, money("21.37"), True)


def test_the_sums_follow_what_is_ticked_and_how_many(filled, due):
    """500 g for 21.37, from four packs on for 19.41."""
    client = enter(filled.people.owner)
    name = take(client, due)["take"]
    seen = client.get(PURCHASE, {"reckon": "1", "take": name, f"packs-{name}": "5"})
    (basket, ((line, packs, _), *_)) = seen.context["baskets"][0]
    assert (basket.goods, line.price, packs) == (money("97.05"), money("19.41"), "5")
    assert "Ticked: $97.05" in seen.content.decode()
    none = client.get(PURCHASE, {"reckon": "1", f"packs-{name}": "x"})
    assert none.context["baskets"][0][0].goods == 0
    assert f'name="packs-{name}" value="x"' in none.content.decode()


def test_a_use_that_stands_out_is_pointed_at(filled, due):
    lot = due.lots.get()
    client = enter(filled.people.maker)
    url = reverse("inventory:item-reorder", args=[due.pk])
    assert "Stands out" not in client.get(url).content.decode()
    filled.books.draw(lot, "300 g", at=NOW - timedelta(days=2))
    page = client.get(url)
    # Seven draws of 100 g, and one of three times as much.
    assert [(times, stands_out) for _, _, _, times, stands_out in page.context["largest"][:2]] == [
        (3, True),
        (1, False),
    ]
    assert "Stands out" in page.content.decode()


def test_a_way_to_buy_is_drafted_from_the_items_own_page(filled, due):
    client = enter(filled.people.maker)
    url = reverse("inventory:item-reorder", args=[due.pk])
    page = client.get(url)
    second = page.context["choices"][1]
    content = page.content.decode()
    assert "Draft this order" in content
    assert f'name="take" value="{due.pk}:{second.option.key}"' in content
    name = f"{due.pk}:{second.option.key}"

    client.post(PURCHASE, {"take": name, f"packs-{name}": str(second.option.packs), **key()})

    line = Order.objects.latest("pk").lines.get()
    assert (line.item, line.packs) == (due, second.option.packs)
    drafted = client.get(url).content.decode()
    assert "On a draft already" in drafted
    assert "Draft this order" not in drafted
    assert "Draft this order" not in enter(filled.people.bookkeeper).get(url).content.decode()


def test_the_drawing_names_the_days(filled, due):
    page = enter(filled.people.maker).get(reverse("inventory:item-reorder", args=[due.pk]))
    outlook = page.context["outlook"]
    for day in (outlook.order_by, outlook.day_out, outlook.day_crossed):
        assert forecast_text.day_words(day) in {
            said.rpartition(": ")[2] for _, said in page.context["plot"].key
        }


def test_what_runs_out_without_a_lead_time_is_on_the_first_page_and_under_the_purchase_list(filled, due):
    Supplier.objects.update(lead_days=None)
    # As if no order had been received yet: what came, came without one.
    guards.remove()
    DeliveryLine.objects.update(order_line=None)
    client = enter(filled.people.maker)
    assert "nobody knows how long a delivery takes" in client.get("/").content.decode()
    page = client.get(PURCHASE).content.decode()
    assert "Nobody can say by when" in page
    assert "Enter the stated lead time" in page


def test_slow_stock_follows_another_window(filled, due):
    """700 g in the last 28 days are 25 g a day; in sixty, of which it was here thirty, 23.3."""
    page = enter(filled.people.maker).get("/stock/reorder/slow/?window=28")
    assert page.context["rules"].window_days == 28
    assert "Looking back" in page.content.decode()


@pytest.mark.parametrize(
    ("packs", "sentence"), [("0", "whole number"), ("1.5", "whole number"), ("", "whole number")]
)
def test_what_is_no_number_of_packs_is_refused_with_what_was_typed(filled, due, packs, sentence):
    client = enter(filled.people.maker)
    data = take(client, due)
    name = next(name for name in data if name.startswith("packs-"))
    before = Order.objects.count()

    answer = client.post(PURCHASE, {**data, name: packs})

    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert f'name="{name}" value="{packs}"' in answer.content.decode()
    assert Order.objects.count() == before


@pytest.mark.parametrize("take", [[], ["1"], ["x:y"], ["999999:1"], ["1:99999999999999999999"]])
def test_what_names_no_line_is_refused(filled, take):
    data = {"take": take, **{f"packs-{each}": "1" for each in take}, **key()}
    before = Order.objects.count()
    assert enter(filled.people.maker).post(PURCHASE, data).status_code == 422
    assert Order.objects.count() == before


def test_an_order_for_one_event_is_left_out_and_taken_back(filled, due):
    client = enter(filled.people.maker)
    posting = due.lots.get().movements.filter(kind="drawn").earliest("pk").posting
    url = reverse("inventory:posting-one-off", args=[posting.pk])
    item = reverse("inventory:item-reorder", args=[due.pk])
    assert client.get(item).context["outlook"].past.used == grams(700)

    data = {"reason": "Harbour fair, one time", "to": "one-off", **key()}
    client.post(url, data)
    client.post(url, data)

    found = client.get(item)
    assert found.context["outlook"].past.used == grams(600)
    assert "Harbour fair, one time" in found.content.decode()
    assert OneOff.objects.filter(posting=posting).count() == 1
    assert client.post(url, {"reason": "", "to": "usual", **key()}).status_code == 422
    client.post(url, {"reason": "It came again", "to": "usual", **key()})
    assert client.get(item).context["outlook"].past.used == grams(700)


def test_the_owner_sets_the_rules(filled):
    client = enter(filled.people.owner)
    url = reverse("inventory:reorder-rules")
    data = typed(client.get(url), {"service_ppm": "97.5", "order_cost": "12", "window_days": "60"})

    assert client.post(url, data).status_code == 302

    kept = ReorderRules.objects.get()
    assert (kept.service_ppm, kept.order_cost, kept.window_days) == (975_000, money(12), 60)
    assert (kept.carrying_ppm, kept.set_by) == (200_000, filled.people.owner)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("service_ppm", "100"),
        ("service_ppm", "20"),
        ("window_days", "3"),
        ("window_days", "1000"),
        ("carrying_ppm", "300"),
        ("horizon_days", "7"),
        ("order_cost", "-1"),
    ],
)
def test_impossible_rules_are_refused_with_what_was_typed(filled, field, value):
    client = enter(filled.people.owner)
    url = reverse("inventory:reorder-rules")

    answer = client.post(url, typed(client.get(url), {field: value}))

    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert not ReorderRules.objects.exists()


def test_an_item_has_its_own_rules(filled, due):
    client = enter(filled.people.maker)
    url = reverse("inventory:item-reorder-change", args=[due.pk])
    new = filled.books.item("Rain on Slate oil")
    data = typed(client.get(url), {"service_ppm": "99", "room_for": "2 kg", "replaced_by": str(new.pk)})

    assert client.post(url, {**data, "no_longer_bought": "on"}).status_code == 302

    due.refresh_from_db()
    assert (due.service_ppm, due.room_for, due.replaced_by, due.no_longer_bought) == (
        990_000,
        grams(2_000),
        new,
        True,
    )
    back = reverse("inventory:item-reorder-change", args=[new.pk])
    refused = client.post(back, typed(client.get(back), {"replaced_by": str(due.pk)}))
    assert refused.status_code == 422


def test_a_suppliers_terms_are_for_who_sees_costs(filled):
    supplier = filled.shelf["wax"].supplier
    client = enter(filled.people.costly)
    url = reverse("inventory:supplier-terms", args=[supplier.pk])
    data = typed(client.get(url), {"minimum_order": "150", "freight_per_order": "14.50"})

    assert client.post(url, data).status_code == 302

    supplier.refresh_from_db()
    assert (supplier.minimum_order, supplier.freight_per_order, supplier.free_freight_from) == (
        money(150),
        money("14.50"),
        None,
    )
    assert "$150.00" in client.get(supplier.get_absolute_url()).content.decode()
    assert "$150.00" not in enter(filled.people.maker).get(supplier.get_absolute_url()).content.decode()


def test_the_stock_list_the_item_and_the_first_page_say_how_long_it_lasts_and_by_when_to_order(filled, due):
    client = enter(filled.people.maker)
    listed = client.get("/stock/?q=Due").content.decode()
    assert "order by" in listed
    page = client.get(due.get_absolute_url()).content.decode()
    assert "Lasts" in page
    assert "Order this week" in page
    assert "Due oil" in client.get("/").content.decode()


def test_the_table_has_exact_figures(filled, due):
    text = enter(filled.people.owner).get(f"{LIST}?format=csv&q=Due+oil").content.decode("utf-8-sig")
    head, row = (line.split(",") for line in text.splitlines())
    cells = dict(zip(head, row, strict=True))
    assert (cells["Free to use"], cells["Pack"], cells["Unit"]) == ("400", "500 g", "g")
    assert Decimal(cells["Price per pack"]) in {Decimal("21.37"), Decimal("19.41")}
