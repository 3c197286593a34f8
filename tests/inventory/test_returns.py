"""Goods sent out and taken back: to whom, what came back on hold as a lot of its own, worth what it left with."""

from dataclasses import replace

import pytest
from django.db import DatabaseError, connection, transaction

from batches.tracing import trace
from batches.tracing import tree as trace_tree
from batches.tracing.shares import Place
from inventory.checks import CHECKS
from inventory.customers import customers
from inventory.customers.customers import Contact, customer_named
from inventory.ledger.books import CannotReverse, LotNotUsable, WrongTime
from inventory.lots import holding
from inventory.models import Channel, Customer, Dispatch, Return, ReturnLine
from inventory.sales_orders import customer_orders
from inventory.sales_orders.order_progress import sent_of
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back, CannotReturn
from tests.house import NOW, day, refused

SENT = day(12)

pytestmark = pytest.mark.django_db


def complaints():
    return [line for check in CHECKS for line in check()]


@pytest.fixture
def tins(books):
    """Ten tins bought in for 10.00: 1 each."""
    books.item("Slate tin", kind="finished")
    return books.receive("Slate tin", 10, cost="10.00")


def back(books, dispatch, *pairs, at=NOW, reason="Lid was loose"):
    backs = [Back(lot.pk, quantity) for lot, quantity in pairs]
    return dispatching.take_back(dispatch.pk, backs, signature=books.sign(at, reason))


def sent(books, *pairs, at=SENT, **said):
    said = {"to": Contact("Ida Fennimore"), **said}
    return dispatching.send(books.take(*pairs), signature=books.sign(at), **said)


def test_what_came_back_is_a_lot_of_its_own_on_hold_worth_what_it_left_with(books, tins):
    dispatch = sent(books, (tins, 3))

    (returned,) = back(books, dispatch, (tins, 2))

    tins.refresh_from_db()
    returned.refresh_from_db()
    assert (tins.on_hand, tins.value, tins.held) == (7, 7_000_000, False)
    assert (returned.on_hand, returned.value, returned.held) == (2, 2_000_000, True)
    assert returned.code != tins.code
    assert returned.hold_records.get().reason == f"Came back, dispatch {dispatch.pk}: Lid was loose"
    with refused(LotNotUsable, "on hold"):
        sent(books, (returned, 1), at=NOW)
    assert complaints() == []


def test_what_comes_back_of_a_lot_on_the_owners_hold_is_the_owners_to_release(books, tins, maker):
    """Of two lots in one dispatch one was put on hold for the owner since; it may be used up by then."""
    other = books.receive("Slate tin", 5, cost="5.00")
    dispatch = sent(books, (tins, 10), (other, 2))
    holding.hold_for_owner([tins.pk], signature=books.sign(reason="Above its maximum"))

    grave, plain = back(books, dispatch, (tins, 2), (other, 1))

    with refused(holding.OwnerDecides, "Above its maximum"):
        holding.release(grave.pk, signature=replace(books.sign(reason="Looks fine"), by=maker))
    holding.release(plain.pk, signature=replace(books.sign(reason="Looks fine"), by=maker))
    assert [record.owner_decides for record in plain.hold_records.filter(held=True)] == [False]
    assert complaints() == []


def test_returns_carry_the_value_of_a_dispatch_to_the_last_millionth(books):
    """10.00 over seven leaves 1428571.43 millionths each: three sent carry 4285714 (half to even), and come back so."""
    books.item("Slate tin", kind="finished")
    lot = books.receive("Slate tin", 7, cost="10.00")
    dispatch = sent(books, (lot, 3))

    made = [back(books, dispatch, (lot, 1))[0] for _ in range(3)]

    for each in made:
        each.refresh_from_db()
    assert [each.value for each in made] == [1_428_571, 1_428_572, 1_428_571]
    assert complaints() == []


def test_a_lot_that_is_used_up_meanwhile_comes_back_all_the_same(books, tins):
    dispatch = sent(books, (tins, 6), at=day(12))
    sent(books, (tins, 4), at=day(13))
    (returned,) = back(books, dispatch, (tins, 1), at=day(19))
    assert books.of(tins) == (0, 0)
    assert books.of(returned) == (1, 1_000_000)
    assert complaints() == []


@pytest.mark.parametrize(
    ("how_many", "words"),
    [
        (4, "3 can come back of this dispatch, and 4 are entered"),
        (0, "at least one lot"),
        (-1, "at least one lot"),
    ],
)
def test_no_more_comes_back_than_was_sent(books, tins, how_many, words):
    dispatch = sent(books, (tins, 3))
    with refused(CannotReturn, words):
        back(books, dispatch, (tins, how_many))


def test_what_came_back_does_not_come_back_again(books, tins):
    dispatch = sent(books, (tins, 3))
    first = back(books, dispatch, (tins, 2))[0]
    with refused(CannotReturn, "1 can come back"):
        back(books, dispatch, (tins, 2))
    books.reverse(first.movements.get().posting)
    back(books, dispatch, (tins, 3))
    with refused(CannotReturn, "nothing more can come back"):
        back(books, dispatch, (tins, 1))
    assert complaints() == []


def test_only_what_a_dispatch_sent_comes_back_of_it_and_only_afterwards(books, tins):
    books.item("Quince tin", kind="finished")
    other = books.receive("Quince tin", 5, cost="5.00")
    dispatch = sent(books, (tins, 3), at=day(12))
    with refused(CannotReturn, "not part of this dispatch"):
        back(books, dispatch, (other, 1))
    with refused(CannotReturn, "named once"):
        back(books, dispatch, (tins, 1), (tins, 1))
    with refused(WrongTime, "cannot have come back before"):
        back(books, dispatch, (tins, 1), at=day(11))


def test_a_dispatch_of_which_some_came_back_is_reversed_after_its_return(books, tins):
    dispatch = sent(books, (tins, 3))
    (returned,) = back(books, dispatch, (tins, 1))
    with refused(CannotReverse, "Some of this came back"):
        books.reverse(dispatch.posting)
    books.reverse(Return.objects.get().posting)
    books.reverse(dispatch.posting)
    dispatch = Dispatch.objects.get()
    with refused(CannotReturn, "was reversed"):
        back(books, dispatch, (tins, 1))
    assert (books.of(tins), books.of(returned)) == ((10, 10_000_000), (0, 0))
    assert complaints() == []


def test_an_order_stays_sent_when_something_comes_back(books, tins):
    order = books.order_of("Moor & Mill", ("Slate tin", 3))
    dispatch = books.send_for(order, (tins, 3), at=day(12)).dispatch
    back(books, dispatch, (tins, 1))
    assert sent_of([order.pk]) == {(order.pk, tins.item_id): 3}
    order.refresh_from_db()
    assert order.state == "sent"


def test_what_came_back_is_traced_to_the_lot_it_was_sent_of(books, tins):
    dispatch = sent(books, (tins, 3))
    (returned,) = back(books, dispatch, (tins, 2))
    found = trace.trace_of(tins)
    root = trace_tree.forward(found)
    assert [(node.lot, node.quantity, node.how) for node in root.children] == [(returned, 2, "came back")]
    # Of ten, three were sent: one is still there, two are on the shelf again, with the seven that never left.
    assert found.shares.by_place() == {Place.SHELF: 9, Place.SENT: 1}
    # Ida has that one, and nothing once it came back as well.
    assert [(row.lot, row.quantity, row.amount) for row in found.left] == [(tins, 1, 1)]
    back(books, dispatch, (tins, 1))
    assert trace.trace_of(tins).left == []
    root = trace_tree.backward(trace.trace_of(returned))
    assert [(node.lot, node.quantity, node.how) for node in root.children] == [(tins, 2, "came back")]
    returned.refresh_from_db()
    balance = trace.balance_of_lot(returned, at_most_ppm=0)
    assert (balance.came, balance.remainder) == ((("Came back", 2),), 0)


# Who it went to


def known(name, contact="", reach=""):
    return customer_named(Contact(name, contact, reach), at=NOW)


def test_a_customer_is_known_again_by_name_and_by_how_to_reach_them(books):
    ida = known("Ida Fennimore", reach="ida@fennimore.example")
    assert known("ida  fennimore ") == ida
    assert known("Ida Fennimore", "Ida", "IDA@fennimore.example") == ida
    ida.refresh_from_db()
    assert ida.contact == "Ida"
    assert known("Ida Fennimore", reach="other@fennimore.example") != ida
    assert known("") is None


def test_what_is_not_known_of_a_customer_yet_is_added(books):
    ida = known("Ida Fennimore")
    assert known("Ida Fennimore", reach="555 0100") == ida
    ida.refresh_from_db()
    assert ida.reach == "555 0100"


def test_a_channel_is_one_whatever_its_capitals(books):
    assert customers.channel_named("Web shop") == customers.channel_named(" web  SHOP")
    assert customers.channel_named("  ") is None
    assert Channel.objects.count() == 1


def test_an_erased_customer_is_gone_by_name_and_still_counts(books, tins):
    dispatch = sent(books, (tins, 3), reference="W-7")
    order = books.order_of("Ida Fennimore", ("Slate tin", 1), note="Ring twice, Ida is deaf")
    with refused(customers.StillOpen, "is open, and could not be sent"):
        customers.erase(dispatch.customer_id, signature=books.sign())
    customer_orders.call_off(order.pk, signature=books.sign(reason="No longer wanted"))
    for _ in range(2):
        customers.erase(dispatch.customer_id, signature=books.sign())

    ida = Customer.objects.get()
    assert (ida.name, ida.contact, ida.reach, ida.erased_by) == ("", "", "", books.by)
    assert str(ida) == f"Erased customer {ida.pk}"
    order.refresh_from_db()
    assert order.note == ""
    assert books.of(tins) == (7, 7_000_000)
    assert list(Dispatch.objects.values_list("customer", "reference")) == [(ida.pk, "W-7")]
    # Somebody of the same name is somebody else.
    assert known("Ida Fennimore") != ida
    assert complaints() == []


def test_a_name_is_for_owner_and_makers(books, owner, maker, bookkeeper):
    ida, shop = known("Ida Fennimore"), known("Moor & Mill")
    shop.is_person = False
    assert [ida.display_name(each) for each in (owner, maker)] == ["Ida Fennimore"] * 2
    assert ida.display_name(bookkeeper) == str(ida) == f"Customer {ida.pk}"
    assert shop.display_name(bookkeeper) == "Moor & Mill"


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE inventory_dispatch SET posting_id = posting_id + 1",
        "DELETE FROM inventory_dispatch",
        "UPDATE inventory_returnline SET quantity = 9",
        "DELETE FROM inventory_returnline",
        "DELETE FROM inventory_return",
        "DELETE FROM inventory_customer",
        "UPDATE inventory_customer SET name = 'Ida again', erased_at = NULL WHERE erased_at IS NOT NULL",
        "UPDATE inventory_customer SET erased_at = added_at WHERE erased_at IS NULL",
    ],
)
def test_the_database_keeps_what_was_sent_and_what_was_erased(books, tins, statement):
    dispatch = sent(books, (tins, 3))
    back(books, dispatch, (tins, 1))
    gone = known("Wilf Harrow")
    customers.erase(gone.pk, signature=books.sign())
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


def test_a_return_that_says_more_than_came_is_found(books, tins):
    dispatch = sent(books, (tins, 3))
    (returned,) = back(books, dispatch, (tins, 1))
    line = ReturnLine.objects.create(
        goods_return=Return.objects.get(), source=tins, lot=books.receive("wax", "1 g"), quantity=3
    )
    assert complaints() == [f"Line {line.pk} of a return and what came with it do not agree."]
    assert returned.held
