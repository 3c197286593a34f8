"""Decanting: part of a lot moves into containers that become lots of their own, and takes its cost along."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from batches.production import releasing
from batches.tracing import trace
from batches.tracing import tree as trace_tree
from inventory import checks
from inventory.ledger.books import CannotReverse, LotNotUsable, LotShort, WrongTime
from inventory.lots import holding
from inventory.lots.decanting import CannotDecant
from inventory.models import Lot, Posting
from studio.core.codes import is_valid
from tests.house import NOW, TODAY, day, grams, money, refused

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


def test_what_only_the_owner_may_release_stays_so_in_the_jar(books, pail, maker):
    other = books.receive("fragrance", "1 kg", cost=40)
    free = books.receive("fragrance", "1 kg", cost=40)
    holding.hold_for_owner([pail.pk], signature=books.sign(reason="Above its maximum"))
    (jar,) = books.decant((pail, "1 kg"))
    (mixed,) = books.decant((other, "500 g"), (jar, "500 g"))
    (clear,) = books.decant((free, "500 g"))

    for lot in (jar, mixed):
        with refused(holding.OwnerDecides, "Only the owner may release this lot.*Above its maximum"):
            holding.release(lot.pk, signature=replace(books.sign(reason="Fine"), by=maker))
    clear.refresh_from_db()
    other.refresh_from_db()
    assert (clear.held, other.held) == (False, False)
    # Found again, it is nothing new; once the owner released the pail, what is poured of it is free.
    assert holding.hold_for_owner([jar.pk], signature=books.sign(reason="Above its maximum")) == []
    holding.release(pail.pk, signature=books.sign(reason="Burned two, even"))
    (later,) = books.decant((pail, "1 kg"))
    later.refresh_from_db()
    assert not later.held
    agree()


def test_candles_that_wait_for_their_release_wait_in_their_new_box_too(books, maker):
    """Twelve of a design that nobody approved: five are put into a box of their own. Ten bought ones wait for nobody."""
    version = books.candle()
    batch = books.plan(version, 12)
    for name, much, need in (("wax", "2 kg", "1104 g"), ("fragrance", "1 kg", "96 g")):
        books.draw_into(batch, (books.receive(name, much, cost=10), need))
    for name in ("wick", "vessel"):
        books.draw_into(batch, (books.receive(name, 12, cost=12), 12))
    (made,) = books.finish(batch, 12, release=False)
    bought = books.receive(version.formula.item.name, 10, cost=20)

    (box,) = books.decant((made, 5))
    (other,) = books.decant((bought, 5))

    assert (box.awaits_release, other.awaits_release) == (True, False)
    with refused(LotNotUsable, "waits to be looked at"):
        books.send(box, 1)
    ticks = {"label_right": True, "warning_on": True, "unweighed": True, "on": TODAY}
    with refused(releasing.NeedsOwner, "The design is not approved"):
        releasing.release(box.pk, **ticks, signature=replace(books.sign(), by=maker))
    with refused(CannotDecant, "waits to be released. Release it first, or decant it by itself"):
        books.decant((made, 1), (bought, 1))
    releasing.release(box.pk, **ticks, despite="For friends who test", signature=books.sign())
    made.refresh_from_db()
    assert made.awaits_release
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


def test_what_was_found_in_a_jar_is_on_hold_in_the_pail_it_is_poured_back_into(books, pail):
    """The pail's own hold, which the jar inherited, was released since and does not come back with it."""
    holding.hold(pail.pk, signature=books.sign(reason="Label torn"))
    (jar,) = books.decant((pail, "1 kg"))
    later = NOW + timedelta(hours=1)
    holding.release(pail.pk, signature=books.sign(later, reason="It is the right one"))
    holding.hold_for_owner([jar.pk], signature=books.sign(later, reason="Water in it"))

    books.reverse(jar.movements.get().posting)

    assert [record.reason for record in holding.standing_on([pail.pk])[pail.pk]] == ["Water in it"]
    assert holding.waits_for_owner([pail.pk])
    agree()


def test_a_reversed_decanting_of_a_free_jar_holds_nothing(books, pail):
    (jar,) = books.decant((pail, "1 kg"))
    books.reverse(jar.movements.get().posting)
    assert holding.standing_on([pail.pk, jar.pk]) == {}


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
