"""Decanting: part of a lot moves into containers that become lots of their own, and takes its cost along."""

from datetime import date

import pytest

from batches.tracing import trace
from batches.tracing import tree as trace_tree
from inventory import checks
from inventory.ledger.books import CannotReverse, LotShort, WrongTime
from inventory.lots import holding
from inventory.lots.decanting import CannotDecant
from inventory.models import Lot, Posting
from studio.codes import is_valid
from tests.house import day, grams, money, refused

pytestmark = pytest.mark.django_db


def agree():
    assert [said for check in checks.CHECKS for said in check()] == []


@pytest.fixture
def pail(books):
    return books.receive(
        "fragrance",
        "10 kg",
        cost="300.00",
        supplier_lot="SF-31",
        expires_on=date(2026, 9, 1),
        place="Shelf A",
    )


def test_a_decanted_lot_takes_its_share_of_the_cost_along(books, pail):
    (jar,) = books.decant((pail, "2.5 kg"))

    assert books.of(jar) == (grams(2500), money("75.00"))
    assert books.of(pail) == (grams(7500), money("225.00"))
    agree()


def test_a_jar_inherits_what_is_written_on_the_pail(books, pail):
    (jar,) = books.decant((pail, "1 kg"))

    assert (jar.item, jar.supplier, jar.supplier_lot) == (pail.item, pail.supplier, "SF-31")
    assert (jar.expires_on, jar.held) == (date(2026, 9, 1), False)
    assert is_valid(jar.code)
    assert jar.code != pail.code


def test_several_jars_at_once_share_the_cost_to_the_last_millionth(books):
    pail = books.receive("fragrance", "3 g", cost="0.000010")  # ten millionths over three grams

    jars = books.decant((pail, "3 g"), jars=["1 g", "1 g", "1 g"])

    assert [books.of(jar)[1] for jar in jars] == [4, 3, 3]
    assert books.of(pail) == (0, 0)
    agree()


def test_two_lots_in_one_container_are_a_new_lot_with_two_parents(books, pail):
    other = books.receive(
        "fragrance", "1 kg", cost="40.00", supplier_lot="SF-40", expires_on=date(2026, 6, 1)
    )

    (jar,) = books.decant((pail, "1 kg"), (other, "500 g"))

    # 30.00 of the pail and 20.00 of the other; the earlier expiry counts, and no single supplier's lot is right.
    assert books.of(jar) == (grams(1500), money("50.00"))
    assert (jar.expires_on, jar.supplier_lot) == (date(2026, 6, 1), "")
    parents = trace_tree.backward(trace.trace_of(jar)).children
    assert {(node.lot, node.quantity) for node in parents} == {(pail, grams(1000)), (other, grams(500))}
    agree()


def test_what_clings_to_an_emptied_pail_is_scrap_and_the_jars_carry_its_cost(books, pail):
    jars = books.decant((pail, "9.9 kg"), jars=["5 kg", "4.9 kg"], emptied=True)

    assert books.of(pail) == (0, 0)
    # 300.00 over 9.9 kg: 151.515151515… and 148.484848484…
    assert [books.of(jar)[1] for jar in jars] == [151_515_152, 148_484_848]
    assert pail.movements.get(kind="scrapped").quantity == -grams(100)
    balance = trace.balance_of_lot(pail, at_most_ppm=0)
    assert dict(balance.went) == {"Decanted from it": grams(9900), "Scrapped": grams(100)}
    assert balance.remainder == 0
    agree()


def test_a_pail_that_gave_more_than_its_books_held(books, pail):
    with refused(LotShort, "holds 10,000.g by the books"):
        books.decant((pail, "10.2 kg"))

    (jar,) = books.decant((pail, "10.2 kg"), found=True)

    assert books.of(jar) == (grams(10_200), money("300.00"))
    assert books.of(pail) == (0, 0)
    assert Posting.objects.to_review().get() == jar.movements.get().posting
    agree()


def test_a_jar_filled_from_a_lot_on_hold_is_on_hold_and_says_why(books, pail):
    holding.hold(pail.pk, signature=books.sign(reason="Smells of solvent"))

    (jar,) = books.decant((pail, "1 kg"))

    jar.refresh_from_db()
    assert jar.held
    assert pail.spaced_code in jar.hold_records.get().reason
    agree()


@pytest.mark.parametrize(
    ("jars", "says"),
    [(["1 kg", "1 kg"], "must be the same"), ([0, "1 kg"], "above zero")],
)
def test_what_does_not_add_up_is_refused(books, pail, jars, says):
    with refused(CannotDecant, says):
        books.decant((pail, "1 kg"), jars=jars)


def test_other_odd_decantings_are_refused(books, pail):
    wax = books.receive("wax", "5 kg", cost=20)
    other = books.receive("fragrance", "1 kg", cost=40)

    with refused(CannotDecant, "one item"):
        books.decant((pail, "1 kg"), (wax, "1 kg"))
    with refused(CannotDecant, "named once"):
        books.decant((pail, "1 kg"), (pail, "1 kg"))
    with refused(CannotDecant, "one container first"):
        books.decant((pail, "1 kg"), (other, "1 kg"), jars=["1 kg", "1 kg"])
    with refused(WrongTime, "arrived on"):
        books.decant((other, "1 kg"), at=day(1, 8))


def test_a_decanting_is_reversed_while_the_jars_are_full(books, pail):
    jars = books.decant((pail, "9.9 kg"), jars=["5 kg", "4.9 kg"], emptied=True, at=day(10))
    posting = jars[0].movements.get().posting

    books.reverse(posting)

    assert books.of(pail) == (grams(10_000), money("300.00"))
    assert [books.of(jar) for jar in jars] == [(0, 0), (0, 0)]
    assert trace_tree.forward(trace.trace_of(pail)).children == []
    assert trace.balance_of_lot(pail, at_most_ppm=0).went == ()
    agree()


def test_a_jar_that_was_used_keeps_its_decanting_from_being_reversed(books, pail):
    (jar,) = books.decant((pail, "1 kg"), at=day(10))
    books.take_out(jar, "10 g")

    with refused(CannotReverse, "10.g was used since"):
        books.reverse(jar.movements.order_by("pk").first().posting)


def test_a_trace_goes_through_decants_of_decants(books, pail):
    can, _ = books.decant((pail, "5 kg"), jars=["3 kg", "2 kg"], at=day(5))
    (jar,) = books.decant((can, "1 kg"), at=day(6))
    down = trace_tree.forward(trace.trace_of(pail))

    assert {node.lot for node in down.children} == set(Lot.objects.filter(pk__gt=pail.pk)) - {jar}
    through = next(node for node in down.children if node.lot == can)
    assert [(node.lot, node.quantity, node.how) for node in through.children] == [
        (jar, grams(1000), "decanted")
    ]
    up = trace_tree.backward(trace.trace_of(jar))
    assert up.children[0].lot == can
    assert up.children[0].children[0].lot == pail
