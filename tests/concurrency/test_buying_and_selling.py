"""Two people at one supplier price, order, shipment, customer or file: who comes second is told, and nobody is lost."""

from datetime import timedelta

import pytest
from django.db import transaction

from inventory.customers import customers, retention
from inventory.customers.customers import Contact
from inventory.importing import import_service as table_import
from inventory.models import (
    Closing,
    Customer,
    CustomerOrder,
    DispatchChange,
    Import,
    Item,
    Lot,
    Order,
    Return,
    ShopProduct,
)
from inventory.purchasing import offers, ordering
from inventory.replenishment import purchase_list, rules
from inventory.sales_orders import customer_orders, order_progress
from inventory.sales_orders.customer_orders import OrderHead
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from inventory.shop_files import import_service as shop_import
from inventory.shop_files.planning import plan_of
from inventory.shop_files.reading import Product
from studio.models import Studio
from tests.concurrency.overlap import names, overlapping, twice
from tests.house import NOW, TODAY, day, money
from tests.inventory.test_shop_orders import row, shop, waiting
from tests.web.conftest import enter
from tests.web.test_reorder_pages import typed

pytestmark = pytest.mark.django_db(transaction=True)


# Buying


def test_a_supplier_price_is_withdrawn_by_one_of_two(books):
    offer, other = books.offer("wax", "1 kg", (1, 10)), books.offer("wax", "5 kg", (1, 45))

    assert twice(lambda: offers.withdraw(offer.pk)) == ("Offer", "OfferError")
    other.refresh_from_db()
    assert not other.withdrawn


def test_a_purchase_order_is_sent_by_one_of_two(books):
    order = books.order(("wax", 10, "1 kg", 10))

    assert twice(lambda: ordering.send(order.pk, signature=books.sign())) == ("Order", "OrderError")


def test_nothing_arrives_of_an_order_that_is_being_called_off(books):
    order = books.order(("wax", 10, "1 kg", 10), sent=day(2))

    results = overlapping(
        lambda: ordering.call_off(order.pk, signature=books.sign(reason="Too dear")),
        lambda: books.bring(order, (0, "10 kg")),
    )

    assert names(results) == ("Order", "OrderError")
    assert Lot.objects.count() == 0


def test_an_order_lacks_what_is_reversed_while_the_rest_arrives(books):
    """Six of ten came; the other four come while the six are taken back."""
    order = books.order(("wax", 10, "1 kg", 10), sent=day(2))
    six = books.bring(order, (0, "6 kg"))

    results = overlapping(lambda: books.bring(order, (0, "4 kg")), lambda: books.reverse(six.posting))

    assert names(results) == ("Delivery", "Posting")
    order.refresh_from_db()
    assert (order.state, ordering.lacking([order.pk])) == ("sent", {order.pk})


def test_one_press_drafts_what_two_people_chose(books, wax):
    offer = books.offer("wax", "1 kg", (1, 10))
    held = rules.Rules(950_000, 40, 200_000, money(5), 120)

    def draft():
        return purchase_list.draft_orders(
            {f"{wax.item_id}:{offer.pk}": 3}, rules=held, signature=books.sign()
        )

    assert twice(draft) == ("list", "OrderError")
    assert [(line.item, line.packs) for line in Order.objects.get().lines.all()] == [(wax.item, 3)]


def test_two_items_do_not_take_each_others_place(books, studio, owner):
    first, second = books.item("wax"), books.item("soy")

    def put(old, new):
        client, url = enter(owner), f"/stock/items/{old.pk}/reorder/change/"
        data = typed(client.get(url), {"replaced_by": str(new.pk), "no_longer_bought": "on"})
        return lambda: client.post(url, data).status_code

    assert overlapping(put(first, second), put(second, first)) == (302, 422)
    assert dict(Item.objects.values_list("name", "replaced_by")) == {"wax": second.pk, "soy": None}


# Selling


@pytest.fixture
def jars(books):
    books.item("Quince Orchard", kind="finished")
    return books.receive("Quince Orchard", 10, cost=10)


def test_no_more_is_sent_for_an_order_than_it_wants(books, jars):
    order = books.order_of("Ada Moor", ("Quince Orchard", 3))

    assert twice(lambda: books.send_for(order, (jars, 2))) == ("OrderDispatch", "CustomerOrderError")
    assert books.of(jars) == (8, money(8))


def test_an_order_lacks_what_is_reversed_while_the_rest_is_sent(books, jars):
    order = books.order_of("Ada Moor", ("Quince Orchard", 5))
    two = books.send_for(order, (jars, 2)).dispatch.posting

    results = overlapping(lambda: books.send_for(order, (jars, 3)), lambda: books.reverse(two))

    assert names(results) == ("OrderDispatch", "Posting")
    order.refresh_from_db()
    assert (order.state, books.of(jars)) == ("open", (7, money(7)))


def test_nothing_comes_back_of_what_is_being_reversed(books, jars):
    sent = books.send(jars, 5)

    results = overlapping(
        lambda: books.reverse(sent),
        lambda: dispatching.take_back(
            sent.dispatch.pk, [Back(jars.pk, 2)], signature=books.sign(reason="Dented")
        ),
    )

    assert names(results) == ("Posting", "CannotReturn")
    assert (Return.objects.count(), books.of(jars)) == (0, (10, money(10)))


def test_what_is_coming_back_is_not_reversed(books, jars):
    sent = books.send(jars, 5)

    results = overlapping(
        lambda: dispatching.take_back(
            sent.dispatch.pk, [Back(jars.pk, 2)], signature=books.sign(reason="Dented")
        ),
        lambda: books.reverse(sent),
    )

    assert names(results) == ("list", "CannotReverse")
    assert (Return.objects.count(), books.of(jars)) == (1, (5, money(5)))


def test_no_more_comes_back_than_was_sent(books, jars):
    sent = books.send(jars, 3)

    def back():
        backs = [Back(jars.pk, 2)]
        return dispatching.take_back(sent.dispatch.pk, backs, signature=books.sign(reason="Dented"))

    assert twice(back) == ("list", "CannotReturn")
    assert Return.objects.count() == 1


def test_a_sale_is_no_gift_after_its_day_was_closed(books, jars):
    sent = books.send(jars, 3, at=day(1, 12))
    said = {"to": None, "channel": "", "reference": "", "signature": books.sign()}

    results = overlapping(
        lambda: books.close(day(1).date()),
        lambda: dispatching.write_head(sent.dispatch.pk, kind="gift", **said),
    )

    assert names(results) == ("Closing", "BookError")
    assert (Closing.objects.count(), DispatchChange.objects.count()) == (1, 0)


# Customers


@pytest.fixture
def ada():
    return customers.customer_named(Contact("Ada Moor", reach="555 0188"), at=NOW)


def test_nobody_is_erased_of_whom_an_order_is_being_taken(books, jars, ada):
    results = overlapping(
        lambda: books.order_of("Ada Moor", ("Quince Orchard", 2)),
        lambda: customers.erase(ada.pk, signature=books.sign()),
    )

    assert names(results) == ("CustomerOrder", "StillOpen")
    assert CustomerOrder.objects.get().customer.name == "Ada Moor"


def test_an_order_of_somebody_who_is_being_erased_is_of_somebody_new(books, jars, ada):
    _, order = overlapping(
        lambda: customers.erase(ada.pk, signature=books.sign()),
        lambda: books.order_of("Ada Moor", ("Quince Orchard", 2)),
    )

    assert (order.customer.name, order.customer == ada) == ("Ada Moor", False)
    assert sorted(Customer.objects.values_list("name", flat=True)) == ["", "Ada Moor"]


def test_nobody_is_erased_whose_order_is_being_opened_again(books, jars, pause, monkeypatch):
    """Who reverses has the order and wants the customer; who erases must not have the customer and want the order."""
    order = books.order_of("Ada Moor", ("Quince Orchard", 2), note="A blue ribbon")
    sent = books.send_for(order, (jars, 2)).dispatch.posting
    monkeypatch.setattr(order_progress, "lock_of_posting", pause.after(order_progress.lock_of_posting))

    results = overlapping(
        lambda: books.reverse(sent),
        lambda: customers.erase(order.customer_id, signature=books.sign()),
        pause,
    )

    assert names(results) == ("Posting", "StillOpen")
    order.refresh_from_db()
    assert (order.state, order.note, order.customer.name) == ("open", "A blue ribbon", "Ada Moor")


def test_an_order_is_not_opened_again_for_somebody_who_is_being_erased(books, jars, monkeypatch):
    """The order passed to them when whoever erases them had listed their orders: only they themselves are locked."""
    order = books.order_of("Ada Moor", ("Quince Orchard", 2))
    sent = books.send_for(order, (jars, 2)).dispatch.posting
    monkeypatch.setattr(
        customers, "lock_with_orders", lambda ids: customers._locked(Customer.objects.filter(pk__in=ids))
    )

    results = overlapping(
        lambda: customers.erase(order.customer_id, signature=books.sign()), lambda: books.reverse(sent)
    )

    assert names(results) == ("Customer", "Posting")
    order.refresh_from_db()
    assert (order.state, order.closed_reason) == ("called_off", "The customer was erased.")


def test_nothing_is_written_of_somebody_who_is_being_erased(books, ada):
    results = overlapping(
        lambda: customers.erase(ada.pk, signature=books.sign()),
        lambda: customers.write_customer(ada.pk, Contact("Ada Moor", reach="555 0188"), is_person=True),
    )

    assert names(results) == ("Customer", "CustomerGone")
    ada.refresh_from_db()
    assert (ada.name, ada.reach) == ("", "")


def test_an_order_that_passes_to_another_customer_is_found_by_who_waited(books, jars):
    order = books.order_of("Ada Moor", ("Quince Orchard", 2))

    _, ended = overlapping(
        lambda: customer_orders.change(
            order.pk, OrderHead("Bram Tyde", TODAY), {jars.item_id: 2}, signature=books.sign()
        ),
        lambda: customer_orders.call_off(order.pk, signature=books.sign(reason="Not wanted")),
    )

    assert (ended.state, ended.customer.name) == ("called_off", "Bram Tyde")


def silent(books, jars, *names_and_days):
    """Customers who were sent one jar each on days of March."""
    for name, of_march in names_and_days:
        books.send(jars, 1, at=day(of_march), to=name)
        Customer.objects.filter(name=name).update(is_person=True, added_at=day(of_march))
    return [Customer.objects.get(name=name) for name, _ in names_and_days]


def test_all_whose_time_is_over_are_locked_before_the_first_is_erased(books, jars, pause, monkeypatch):
    """The later customer is the longer silent one, and erased first."""
    ada, bram = silent(books, jars, ("Ada Moor", 3), ("Bram Tyde", 2))
    retention.set_rule(1, signature=books.sign())
    monkeypatch.setattr(retention, "erase", pause.after(retention.erase))

    def others():
        with transaction.atomic():
            return customers.lock_named([ada.name, bram.name])

    erased, locked = overlapping(
        lambda: retention.erase_due(TODAY + timedelta(days=60), signature=books.sign()), others, pause
    )

    assert (erased, locked) == (2, None)
    assert not Customer.objects.exclude(name="").exists()


# Files


def test_a_table_is_brought_in_by_one_of_two(books, studio):
    books.item("old box", kind="packaging")
    text = "Item,Quantity,Cost,Arrived,Lot\nold box,10,1.30,2026-03-01,OB-7\n"
    table = books.keep_table("lots", text)
    shown = table_import.look(table, Studio.objects.get(), NOW).fingerprint

    results = twice(lambda: table_import.bring_in(table, shown=shown, signature=books.sign()))

    assert results == ("Import", "NotAsShown")
    assert (Import.objects.count(), Lot.objects.filter(supplier_lot="OB-7").count()) == (1, 1)


def shop_file(books, *customers_of):
    """A file of one order for each customer, and what it would do."""
    kept = shop(books)
    file = waiting(books, kept, *[row(f"W-{n}", 1, name=name) for n, name in enumerate(customers_of, 1)])
    file.refresh_from_db()
    return file, plan_of(file, TODAY).fingerprint


def test_a_shops_file_is_brought_in_by_one_of_two(books):
    file, shown = shop_file(books, "Ida Fennimore")

    results = twice(lambda: shop_import.bring_in(file.pk, shown=shown, signature=books.sign()))

    assert results == ("OrderPlan", "NotAsShown")
    assert [order.customer.name for order in CustomerOrder.objects.all()] == ["Ida Fennimore"]


def test_all_customers_of_a_shops_file_are_locked_before_the_first_order(books, pause, monkeypatch):
    """The file names the later customer first; whoever takes both meanwhile waits for the whole."""
    ada, bram = (customers.customer_named(Contact(name), at=NOW) for name in ("Ada Moor", "Bram Tyde"))
    file, shown = shop_file(books, "Bram Tyde", "Ada Moor")
    monkeypatch.setattr(shop_import, "_bring", pause.after(shop_import._bring))

    def others():
        with transaction.atomic():
            return customers.lock_with_orders([ada.pk, bram.pk])

    results = overlapping(
        lambda: shop_import.bring_in(file.pk, shown=shown, signature=books.sign()), others, pause
    )

    assert names(results) == ("OrderPlan", "NoneType")
    assert [order.customer for order in CustomerOrder.objects.order_by("pk")] == [bram, ada]


def test_products_of_a_shop_are_kept_by_one_after_the_other(books, pause):
    """Two people who explain the same words in opposite order."""
    kept, item = shop(books), books.item("Slate tin")
    words = ("Blue moon", "Slate tin")
    shop_import.keep_products(kept.pk, dict.fromkeys(words, Product(item.pk)))

    class Slowly(dict):
        def items(self):
            for pair in super().items():
                yield pair
                pause.here()

    results = overlapping(
        lambda: shop_import.keep_products(kept.pk, Slowly.fromkeys(words, Product(item.pk, 2))),
        lambda: shop_import.keep_products(kept.pk, dict.fromkeys(reversed(words), Product(item.pk, 3))),
        pause,
    )

    assert results == (None, None)
    assert sorted(ShopProduct.objects.values_list("words", "pieces")) == [(word, 3) for word in words]
