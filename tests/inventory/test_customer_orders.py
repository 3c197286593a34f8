"""Orders of customers: taken, changed, sent against, called off; what is ready and what is still to be poured."""

from datetime import date

import pytest
from django.db import DatabaseError, connection, transaction

from batches.models import FormulaVersion
from inventory.checks import CHECKS
from inventory.customers import customers
from inventory.ledger.books import LotNotUsable, LotShort
from inventory.models import Commitment, CustomerOrder, Dispatch, OrderDispatch
from inventory.sales_orders import customer_orders
from inventory.sales_orders.customer_orders import CustomerOrderError, OrderHead
from inventory.sales_orders.order_progress import sent_of
from inventory.sales_orders.order_standing import standings
from studio import guards
from studio.core.codes import is_valid
from tests.house import TODAY, refused, settle

pytestmark = pytest.mark.django_db

FRIDAY = date(2026, 3, 27)
CEDAR, RAIN = "Cedar & Black Tea", "Rain on Slate"


def promised(order):
    return dict(Commitment.objects.filter(source=order.code).values_list("item__name", "quantity"))


def state(order):
    order.refresh_from_db()
    return order.state


def complaints():
    return [line for check in CHECKS for line in check()]


@pytest.fixture
def candles(books):
    """`candles(n)`: so many good jars, poured and released, as a lot."""
    version = books.candle()
    shelf = {name: books.receive(name, amount) for name, amount in (("wax", "9 kg"), ("fragrance", "1 kg"))}
    shelf |= {name: books.receive(name, 90) for name in ("wick", "vessel")}

    def pour(units, **more):
        batch = books.plan(version, units)
        books.fill(shelf, batch, units)
        return books.finish(batch, units, **more)[0]

    return pour


def test_an_order_is_taken_with_a_code_and_promises_what_it_wants(books):
    order = books.order_of("Moor & Mill", (CEDAR, 24), (RAIN, 12), on=FRIDAY)

    assert order.code.startswith("C")
    assert is_valid(order.code)
    assert promised(order) == {CEDAR: 24, RAIN: 12}
    assert set(Commitment.objects.values_list("needed_on", flat=True)) == {FRIDAY}


@pytest.mark.parametrize("wanted", [{}, {"wax": 3}, {CEDAR: 0}])
def test_an_order_wants_finished_goods_and_some_of_them(books, wanted):
    books.item(CEDAR, kind="finished")
    by_key = {books.item(name).pk: quantity for name, quantity in wanted.items()}
    with refused(CustomerOrderError, "least one|finished goods|above zero"):
        customer_orders.take(OrderHead("Moor & Mill", FRIDAY), by_key, signature=books.sign())


def test_an_order_is_written_anew_while_nothing_was_sent(books):
    order = books.order_of("Moor & Mill", (CEDAR, 24), (RAIN, 12), on=FRIDAY)
    kept = order.lines.get(item__name=CEDAR).pk
    wanted = {books.item(CEDAR).pk: 30}

    customer_orders.change(order.pk, OrderHead("Moor & Mill", TODAY), wanted, signature=books.sign())

    assert promised(order) == {CEDAR: 30}
    assert order.lines.get().pk == kept
    assert Commitment.objects.get().needed_on == TODAY


def test_a_line_for_which_a_run_was_planned_stays(books):
    version = books.candle()
    order = books.order_of("Moor & Mill", (CEDAR, 24), (RAIN, 12))
    books.plan(version, 24, order=order)
    with refused(CustomerOrderError, "A run of Cedar & Black Tea was planned"):
        customer_orders.change(
            order.pk, OrderHead("Moor & Mill", TODAY), {books.item(RAIN).pk: 12}, signature=books.sign()
        )


def test_sending_lowers_the_promise_and_the_last_of_it_closes_the_order(books, candles):
    lot = candles(24)
    order = books.order_of("Moor & Mill", (CEDAR, 24), reference="MM-7", channel="Wholesale")

    books.send_for(order, (lot, 10))
    assert (state(order), promised(order)) == ("open", {CEDAR: 14})
    assert sent_of([order.pk]) == {(order.pk, lot.item_id): 10}

    books.send_for(order, (lot, 14))
    assert (state(order), promised(order)) == ("sent", {})
    assert (order.closed_by, order.closed_reason) == (books.by, "")
    assert set(Dispatch.objects.values_list("customer__name", "channel__name", "reference")) == {
        ("Moor & Mill", "Wholesale", "MM-7")
    }
    assert complaints() == []


def test_a_reversed_dispatch_opens_the_order_again(books, candles):
    lot = candles(24)
    order = books.order_of("Moor & Mill", (CEDAR, 24))
    sent = books.send_for(order, (lot, 24))

    books.reverse(sent.dispatch.posting)

    assert (state(order), promised(order)) == ("open", {CEDAR: 24})
    assert order.closed_at is None
    assert books.of(lot)[0] == 24
    assert complaints() == []


def test_an_order_of_a_customer_who_was_erased_does_not_open_again(books, candles):
    lot, order = candles(20), books.order_of("Moor & Mill", (CEDAR, 12), on=FRIDAY)
    sent = books.send_for(order, (lot, 12)).dispatch.posting
    customers.erase(order.customer_id, signature=books.sign())

    books.reverse(sent)

    assert state(order) == "called_off"
    assert order.closed_reason == "The customer was erased."
    assert promised(order) == {}
    assert books.of(lot)[0] == 20
    assert complaints() == []


def test_nothing_beyond_the_order_is_sent_for_it(books, candles):
    lot = candles(24)
    order = books.order_of("Moor & Mill", (CEDAR, 10))
    with refused(CustomerOrderError, "wants 10 more of Cedar & Black Tea, and 12 are chosen"):
        books.send_for(order, (lot, 12))
    other = books.order_of("Harbour Hall", (RAIN, 2))
    with refused(CustomerOrderError, "Cedar & Black Tea is not on this order"):
        books.send_for(other, (lot, 2))


def test_what_the_books_refuse_is_not_sent_for_an_order_either(books, candles):
    waiting, few = candles(6, release=False), candles(4)
    order = books.order_of("Moor & Mill", (CEDAR, 10))
    with refused(LotNotUsable, "waits to be looked at"):
        books.send_for(order, (waiting, 6))
    with refused(LotShort, "holds 4 by the books"):
        books.send_for(order, (few, 5))
    assert not OrderDispatch.objects.exists()


def test_what_was_sent_stays_when_the_rest_is_called_off(books, candles):
    lot = candles(24)
    order = books.order_of("Moor & Mill", (CEDAR, 24))
    sent = books.send_for(order, (lot, 10))
    with refused(CustomerOrderError, "Some of it was sent"):
        customer_orders.change(
            order.pk, OrderHead("Moor & Mill", TODAY), {lot.item_id: 12}, signature=books.sign()
        )
    with refused(CustomerOrderError, "Say why"):
        customer_orders.call_off(order.pk, signature=books.sign(reason=" "))

    customer_orders.call_off(order.pk, signature=books.sign(reason="The shop closes"))
    assert (state(order), promised(order)) == ("called_off", {})

    books.reverse(sent.dispatch.posting)
    assert (state(order), promised(order)) == ("called_off", {})
    with refused(CustomerOrderError, "is called off"):
        books.send_for(order, (lot, 1))
    assert complaints() == []


def test_the_shelf_counts_towards_the_order_that_is_wanted_first(books, candles):
    """20 ready and 6 waiting to be released; the first wants 24, the second 10, for which 3 are planned.

    The first: 20 ready, 4 curing. The second: 2 curing, 3 being made, so 10 - 2 - 3 = 5 to pour.
    """
    candles(20)
    candles(6, release=False)
    later = books.order_of("Harbour Hall", (CEDAR, 10), on=FRIDAY)
    sooner = books.order_of("Moor & Mill", (CEDAR, 24), on=TODAY)
    version = FormulaVersion.objects.get()
    books.plan(version, 3, order=later)

    found = standings(TODAY)
    (first,), (second,) = found[sooner.pk], found[later.pk]

    assert (first.ready, first.curing, first.making, first.to_pour) == (20, 4, 0, 0)
    assert (second.ready, second.curing, second.making, second.to_pour) == (0, 2, 3, 5)
    assert standings(TODAY, order=later)[later.pk] == [second]


def test_a_run_finished_in_part_is_being_made_for_the_rest(books):
    """Twelve planned for the order, five came out good and one as scrap: six are still to come."""
    version = books.candle()
    order = books.order_of("Moor & Mill", (CEDAR, 12))
    batch = books.plan(version, 12, order=order)
    books.finish(batch, 5, scrap={"Frosting": 1}, without=True, last=False, release=False)

    (line,) = standings(TODAY)[order.pk]

    assert (line.curing, line.making, line.to_pour) == (5, 6, 1)


def test_seconds_do_not_count_as_ready(books, candles):
    candles(3, seconds=4)
    order = books.order_of("Moor & Mill", (CEDAR, 7))
    assert standings(TODAY)[order.pk][0].ready == 3


@pytest.mark.parametrize(
    ("statement", "complaint"),
    [
        ("UPDATE inventory_commitment SET quantity = 9", "other quantities"),
        ("UPDATE inventory_commitment SET source = 'C99999'", "which is no order"),
        ("UPDATE inventory_customerorder SET code = 'C0001Z'", "check character"),
        (
            "UPDATE inventory_customerorder SET state = 'sent', closed_at = taken_at",
            "counts as sent; not everything was",
        ),
        (
            "UPDATE inventory_customerorder SET state = 'called_off', closed_at = taken_at",
            "nobody said why",
        ),
        (
            "UPDATE inventory_customer SET name = '', contact = '', reach = '', erased_at = added_at",
            "a customer who was erased",
        ),
    ],
)
def test_check_books_sees_an_order_that_does_not_agree(books, statement, complaint):
    books.order_of("Moor & Mill", (CEDAR, 24))
    assert complaints() == []
    settle()
    guards.remove()
    with connection.cursor() as cursor:
        cursor.execute(statement)
    assert any(complaint in line for line in complaints())


def test_the_database_keeps_orders_and_what_was_sent_for_them(books, candles):
    lot = candles(2)
    order = books.order_of("Moor & Mill", (CEDAR, 2))
    books.send_for(order, (lot, 2))
    for statement in (
        "DELETE FROM inventory_orderdispatch",
        "UPDATE inventory_orderdispatch SET order_id = order_id",
        "UPDATE inventory_customerorderline SET quantity = 3",
        "DELETE FROM inventory_customerorder",
    ):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    assert CustomerOrder.objects.get().state == "sent"
