"""Two people at one dispatch or one customer at the same instant: real threads and real transactions."""

from datetime import date
from threading import Event
from time import sleep

import pytest
from django.db import transaction

from inventory.customers import customers
from inventory.customers.customers import Contact, StillOpen
from inventory.ledger import books as stock
from inventory.models import Return
from inventory.sales_orders import customer_orders
from inventory.sales_orders.customer_orders import OrderHead
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back, CannotReturn
from tests.inventory.test_concurrency import at_once, books_agree

pytestmark = pytest.mark.django_db(transaction=True)
WANTED_ON = date(2026, 4, 1)


def overlapping(first, second):
    """Begin `second` while the transaction of `first` is still open; what each gave back or raised."""
    begun = Event()

    def slowly():
        with transaction.atomic():
            made = first()
            begun.set()
            sleep(0.3)  # by now the second has looked, and waits
        return made

    def meanwhile():
        begun.wait(timeout=20)
        return second()

    return at_once(slowly, meanwhile)


@pytest.fixture
def jars(books):
    books.item("Quince Orchard", kind="finished")
    return books.receive("Quince Orchard", 10, cost=10)


def ada(item_id, quantity=2):
    return OrderHead("Ada Moor", WANTED_ON, reach="555 0188"), {item_id: quantity}


def test_nothing_comes_back_twice_nor_of_a_dispatch_that_is_being_reversed(books, jars, sign):
    posting, single = books.send(jars, 5), books.send(jars, 1)
    back = sign(reason="dented")

    _, refused = overlapping(
        lambda: stock.reverse(posting, sign(reason="wrong parcel")),
        lambda: dispatching.take_back(posting.dispatch.pk, [Back(jars.pk, 2)], signature=back),
    )
    twice = at_once(
        *[lambda: dispatching.take_back(single.dispatch.pk, [Back(jars.pk, 1)], signature=back)] * 2
    )

    assert isinstance(refused, CannotReturn)
    assert sorted(type(result).__name__ for result in twice) == ["CannotReturn", "list"]
    assert Return.objects.count() == 1
    assert books_agree()


def test_nobody_who_waits_for_an_order_is_erased_however_close_the_two_come(books, jars, sign):
    def order():
        return customer_orders.take(*ada(jars.item_id), signature=sign())

    known = customers.customer_named(Contact("Ada Moor", reach="555 0188"), at=sign().recorded_at)

    def erase():
        return customers.erase(known.pk, signature=sign())

    # Just taken, just opening again: not erased. Erased first: the order is of somebody new.
    taken, refused = overlapping(order, erase)
    assert (taken.customer, type(refused)) == (known, StillOpen)
    sent = books.send_for(taken, (jars, 2)).dispatch.posting
    _, refused = overlapping(lambda: stock.reverse(sent, sign(reason="wrong parcel")), erase)
    assert isinstance(refused, StillOpen)
    customer_orders.call_off(taken.pk, signature=sign(reason="not wanted any more"))
    _, again = overlapping(erase, order)
    assert (again.customer.name, again.customer.erased_at) == ("Ada Moor", None)
    assert again.customer_id != known.pk
    # An order that passes to another customer is still found by whoever waited for it.
    _, over = overlapping(
        lambda: customer_orders.change(
            again.pk, OrderHead("Bram Tyde", WANTED_ON), {jars.item_id: 2}, signature=sign()
        ),
        lambda: customer_orders.call_off(again.pk, signature=sign(reason="not wanted any more")),
    )
    assert (over.state, over.customer.name) == ("called_off", "Bram Tyde")
    assert books_agree()
