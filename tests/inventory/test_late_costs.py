"""Freight and duty billed after the delivery go to where the goods are by then. Figures worked by hand."""

from fractions import Fraction

import pytest
from django.db import DatabaseError, connection, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches import checks as batch_checks
from batches.production.late_cost_panel import uses_of
from inventory import checks
from inventory.deliveries.late_costs import add_cost, shares_of
from inventory.deliveries.receiving import CannotSpread
from inventory.ledger.books import BookError, CannotReverse, WrongTime
from inventory.models import LateCost, Lot, PeriodCost, Posting
from studio import guards
from studio.people.signature import Signature
from tests.house import NOW, day, grams, money, refused, settle

pytestmark = pytest.mark.django_db

PROVED = [check for check in checks.CHECKS if check is not checks.guards_in_place]


@pytest.fixture
def agreeing(db):
    """Proves the stock books after the test."""
    yield
    assert [said for check in PROVED for said in check()] == []


@pytest.fixture
def bill(books):
    """`bill(delivery, "12.50")`: the invoice came at NOW."""

    def act(delivery, amount, *, spread="value", at=NOW, reference="D-88"):
        return add_cost(
            delivery,
            amount=money(amount),
            spread=spread,
            reference=reference,
            signature=books.sign(at, "Customs duty"),
        )

    return act


def delivery_of(lot):
    return lot.delivery_line.delivery


def lots_of(delivery):
    return list(Lot.objects.filter(delivery_line__delivery=delivery).order_by("pk"))


def values_of(delivery):
    return [lot.value for lot in lots_of(delivery)]


def told(late):
    """What joined each lot and what the period bears, by the lot's code."""
    late = LateCost.objects.with_shares().get(pk=late.pk)
    return {share.lot.code: (share.joined, share.period) for share in shares_of(late)}


# Where it goes


def test_with_nothing_used_all_of_it_joins_the_lots(books, bill, agreeing):
    delivery = books.deliver(books.arrival("wax", "10 kg", 50), books.arrival("fragrance", "1 kg", 40))

    late = bill(delivery, 9)

    assert values_of(delivery) == [money(55), money(44)]
    assert not PeriodCost.objects.exists()
    assert (late.posting.kind, late.posting.happened_at, late.posting.reason) == (
        "revaluation",
        NOW,
        "Customs duty",
    )


def test_the_share_of_what_was_used_is_a_cost_of_the_period(books, bill, agreeing):
    wax = books.receive("wax", "10 kg", cost=50)
    books.draw(wax, "5 kg")

    late = bill(delivery_of(wax), 10)

    assert books.of(wax) == (grams(5_000), money(30))
    assert told(late) == {wax.code: (money(5), money(5))}


def test_with_everything_used_the_period_bears_it_all(books, bill, agreeing):
    wax = books.receive("wax", "10 kg", cost=50)
    books.draw(wax, "4 kg")
    books.take_out(wax, "6 kg")

    late = bill(delivery_of(wax), 10)

    assert books.of(wax) == (0, 0)
    assert told(late) == {wax.code: (0, money(10))}
    assert not late.posting.movements.exists()


def test_it_follows_what_was_decanted_and_decanted_again(books, bill, agreeing):
    # Of 10 kg, 3 kg are in the pail, 3 kg were used from it, 4 kg went into a jar; of those 2 kg are there,
    # 1 kg was used and 1 kg went on. 20.00: 6, 6 and 8; of the 8: 4, 2 and 2.
    pail = books.receive("wax", "10 kg", cost=100)
    (jar,) = books.decant((pail, "4 kg"))
    (small,) = books.decant((jar, "1 kg"))
    books.draw(jar, "1 kg")
    books.draw(pail, "3 kg")

    late = bill(delivery_of(pail), 20)

    assert [books.of(lot)[1] for lot in (pail, jar, small)] == [money(36), money(24), money(12)]
    assert told(late) == {
        pail.code: (money(6), money(6)),
        jar.code: (money(4), money(2)),
        small.code: (money(2), 0),
    }


def test_several_jars_share_by_what_went_into_them(books, bill, agreeing):
    # 10.00 over 10 kg: 4 kg still in the pail, 1 kg, 2 kg and 3 kg in jars.
    pail = books.receive("wax", "10 kg", cost=100)
    jars = books.decant((pail, "6 kg"), jars=("1 kg", "2 kg", "3 kg"))

    bill(delivery_of(pail), 10)

    assert [books.of(lot)[1] for lot in (pail, *jars)] == [money(44), money(11), money(22), money(33)]


def test_in_a_mixture_it_is_shared_with_the_mixture_and_not_with_the_other_delivery(books, bill, agreeing):
    # 6 kg, of which 3 kg are poured together with 3 kg of another; of those 6 kg, 2 kg are used. 9.00: 4.50
    # stay in the pail; of the other 4.50 two thirds are in the jar.
    pail = books.receive("wax", "6 kg", cost=60)
    other = books.receive("wax", "4 kg", cost=40)
    (jar,) = books.decant((pail, "3 kg"), (other, "3 kg"))
    books.draw(jar, "2 kg")

    late = bill(delivery_of(pail), 9)

    assert told(late) == {pail.code: (money("4.5"), 0), jar.code: (money(3), money("1.5"))}
    assert books.of(other) == (grams(1_000), money(10))
    assert books.of(jar) == (grams(4_000), money(43))


def test_what_clung_to_an_emptied_pail_is_paid_for_by_the_jar(books, bill, agreeing):
    pail = books.receive("wax", "10 kg", cost=100)
    (jar,) = books.decant((pail, "9 kg"), emptied=True)

    bill(delivery_of(pail), 10)

    assert books.of(jar) == (grams(9_000), money(110))
    assert not PeriodCost.objects.exists()


def test_what_was_reversed_does_not_count_as_used(books, bill, agreeing):
    wax = books.receive("wax", "10 kg", cost=50)
    books.reverse(books.draw(wax, "5 kg"))
    (jar,) = books.decant((wax, "2 kg"))
    books.reverse(Posting.objects.get(kind="decant"))

    late = bill(delivery_of(wax), 10)

    assert told(late) == {wax.code: (money(10), 0)}
    assert books.of(jar) == (0, 0)


def test_a_credit_takes_cost_back_from_stock_and_period(books, bill, agreeing):
    wax = books.receive("wax", "10 kg", cost=50)
    books.draw(wax, "5 kg")

    late = bill(delivery_of(wax), -10)

    assert books.of(wax) == (grams(5_000), money(20))
    assert told(late) == {wax.code: (money(-5), money(-5))}


def test_a_credit_never_takes_a_lot_below_nothing(books, bill, agreeing):
    # 5 kg left, worth 1.00; half of the 10.00 would be 5.00.
    wax = books.receive("wax", "10 kg", cost=2)
    books.draw(wax, "5 kg")

    late = bill(delivery_of(wax), -10)

    assert books.of(wax) == (grams(5_000), 0)
    assert told(late) == {wax.code: (money(-1), money(-9))}


def test_millionths_that_do_not_divide_are_all_somewhere(books, bill, agreeing):
    # 100 millionths over three pails: 34, 33, 33. The first: 7 of 10 here, 23.8 and 10.2, so 24 and 10.
    delivery = books.deliver(books.arrival("wax", "10 g", 3, packs=3, lot_per_pack=True))
    first, second, third = lots_of(delivery)
    books.draw(first, "3 g")

    late = bill(delivery, "0.0001")

    assert told(late) == {first.code: (24, 10), second.code: (33, 0), third.code: (33, 0)}


def test_by_weight_it_goes_by_what_arrived(books, bill, agreeing):
    delivery = books.deliver(books.arrival("wax", "6 kg", 10), books.arrival("fragrance", "2 kg", 90))

    bill(delivery, 12, spread="weight")

    assert values_of(delivery) == [money(19), money(93)]


# As if it had been billed with the delivery


def test_carriage_billed_late_lands_the_published_units(books, bill, agreeing):
    # AAT (accounting technicians) forum 444273: inputs read, answers derived. 20 at 50, 30 at 75, 40 at 100,
    # carriage 750. Units to 0.0001; the total exact.
    delivery = books.deliver(
        books.arrival("wick", 20, 1_000),
        books.arrival("label", 30, 2_250),
        books.arrival("vessel", 40, 4_000),
    )

    bill(delivery, 750)

    values = values_of(delivery)
    assert sum(values) == money(8_000)
    for value, count, unit in zip(values, (20, 30, 40), ("55.1724", "82.7586", "110.3448"), strict=True):
        assert abs(Fraction(value, count) - money(unit)) <= 100


def test_freight_in_billed_late_joins_the_cost_of_the_goods(books, bill, agreeing):
    # OpenStax, Principles of Accounting Vol. 1, 6.5, read: 30 at 80 and 1,000 freight are 3,400.
    lot = books.receive("vessel", 30, cost=30 * 80)

    bill(delivery_of(lot), 1_000)

    assert books.of(lot) == (30, money(3_400))


def test_freight_known_before_does_not_change_how_the_rest_is_shared(books, bill, agreeing):
    # 10.00 of goods and 30.00: a quarter and three quarters, whatever carriage came with them.
    lines = (books.arrival("wax", "1 kg", 10), books.arrival("fragrance", "9 kg", 30))
    delivery = books.deliver(*lines, freight=20, spread="weight")

    bill(delivery, 4)

    assert values_of(delivery) == [money(13), money(51)]  # 10 + 2 + 1, and 30 + 18 + 3


# What is refused


def test_what_cannot_be_shared_is_refused_with_what_to_do(books, bill):
    counted = books.deliver(books.arrival("wax", "1 kg", 10), books.arrival("wick", 10, 1))
    free = books.deliver(books.arrival("wax", "1 kg", 0))

    with refused(CannotSpread, "only when every line is weighed"):
        bill(counted, 5, spread="weight")
    with refused(CannotSpread, "or share it by weight"):
        bill(free, 5)
    with refused(CannotSpread, "above zero"):
        bill(counted, 0)


def test_it_does_not_come_before_the_delivery_nor_after_now(books, bill):
    wax = books.receive("wax", "10 kg", cost=50, at=day(5))

    with refused(WrongTime, "arrived on 05 Mar 2026"):
        bill(delivery_of(wax), 5, at=day(4))
    to_come = Signature(by=books.by, happened_at=day(25), recorded_at=NOW)
    with refused(WrongTime, "future"):
        add_cost(delivery_of(wax), amount=1, spread="value", reference="", signature=to_come)


def test_a_jar_that_was_filled_after_the_invoice_came_is_named(books, bill):
    wax = books.receive("wax", "10 kg", cost=50)
    (jar,) = books.decant((wax, "1 kg"), at=day(12))

    with refused(WrongTime, rf"Lot {jar.spaced_code} was filled .* Give a later time"):
        bill(delivery_of(wax), 5, at=day(11))


def test_a_reversed_delivery_takes_no_cost(books, bill):
    wax = books.receive("wax", "10 kg", cost=50)
    books.reverse(delivery_of(wax).posting)

    with refused(BookError, "was reversed"):
        bill(delivery_of(wax), 5)


# Taking it back


def test_it_is_reversed_with_its_cost_of_the_period(books, bill, agreeing):
    wax = books.receive("wax", "10 kg", cost=50)
    books.draw(wax, "5 kg")
    late = bill(delivery_of(wax), 10)

    books.reverse(late.posting)

    assert books.of(wax) == (grams(5_000), money(25))
    assert sorted(PeriodCost.objects.values_list("value", flat=True)) == [money(-5), money(5)]
    with refused(CannotReverse, "reversed before"):
        books.reverse(late.posting)


@pytest.mark.parametrize("how", ["draw", "decant"])
def test_it_is_not_reversed_once_some_of_it_has_gone_on(books, bill, agreeing, how):
    wax = books.receive("wax", "10 kg", cost=50)
    late = bill(delivery_of(wax), 10)
    if how == "draw":
        used = books.draw(wax, "5 kg")
    else:
        books.decant((wax, "5 kg"))
        used = Posting.objects.get(kind="decant")

    with refused(CannotReverse, rf"Some of lot {wax.spaced_code} has left since"):
        books.reverse(late.posting)

    books.reverse(used)
    books.reverse(late.posting)
    assert books.of(wax) == (grams(10_000), money(50))


def test_a_delivery_is_not_reversed_under_a_cost_that_stands(books, bill, agreeing):
    # Free goods: a credit for them leaves the lots alone and is the period's, so that no value would be in the way.
    wax = books.receive("wax", "10 kg")
    late = bill(delivery_of(wax), -5, spread="weight")
    assert told(late) == {wax.code: (0, money(-5))}

    with refused(CannotReverse, "Reverse that cost first"):
        books.reverse(delivery_of(wax).posting)

    books.reverse(late.posting)
    books.reverse(delivery_of(wax).posting)
    assert books.of(wax) == (0, 0)


# Batches


@pytest.fixture
def poured(books):
    """Ten candles from 920 g of 10 kg of wax at 50.00, and 80 g of the same wax into another batch."""
    shelf = {
        "wax": books.receive("wax", "1 kg", cost=5),
        "fragrance": books.receive("fragrance", "1 kg", cost=40),
        "wick": books.receive("wick", 100, cost=10),
        "vessel": books.receive("vessel", 50, cost=100),
    }
    batch = books.plan(books.candle(), 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    return shelf, batch, draws, made


def test_what_was_made_keeps_its_cost_and_the_batch_is_named_with_its_share(books, bill, poured):
    # 1 kg of wax: 920 g in the batch, 30 g spilled, 50 g here. 10.00: 9.20, 0.30 and 0.50.
    shelf, batch, draws, made = poured
    books.take_out(shelf["wax"], "30 g")

    late = bill(delivery_of(shelf["wax"]), 10)

    assert books.of(made) == (10, money("28.80"))
    uses = uses_of(LateCost.objects.with_shares().filter(pk=late.pk))
    assert [(use.batch, use.quantity, use.share) for use in uses] == [
        (batch, grams(920), money("9.20")),
        (None, grams(30), money("0.30")),
    ]
    # Later corrections and uses do not change what the cost was shared over.
    books.correct(draws["wax"], (shelf["wax"], "910 g"))
    books.take_out(shelf["wax"], "10 g")
    again = uses_of(LateCost.objects.with_shares().filter(pk=late.pk))
    assert [use.share for use in again] == [money("9.20"), money("0.30")]
    assert [said for check in (*PROVED, *batch_checks.CHECKS) for said in check()] == []


def test_a_finish_is_undone_over_it(books, bill, poured):
    shelf, batch, _, made = poured
    bill(delivery_of(shelf["wax"]), 10)

    books.undo(batch)

    assert books.of(made) == (0, 0)
    (again,) = books.finish(batch, 10)
    assert books.of(again) == (10, money("28.80"))
    assert [said for check in (*PROVED, *batch_checks.CHECKS) for said in check()] == []


# The record


def test_the_database_keeps_it_as_it_was_written(books, bill):
    late = bill(delivery_of(books.receive("wax", "10 kg", cost=50)), 10)
    settle()

    for attempt in (
        lambda: LateCost.objects.update(amount=1),
        lambda: LateCost.objects.filter(pk=late.pk)._raw_delete(connection.alias),
    ):
        with pytest.raises(DatabaseError, match="never"), transaction.atomic():
            attempt()


def test_a_changed_amount_is_found(books, bill):
    late = bill(delivery_of(books.receive("wax", "10 kg", cost=50)), 10)
    settle()
    guards.remove()
    LateCost.objects.update(amount=money(11))

    assert list(checks.late_costs_add_up()) == [
        f"Delivery {late.delivery_id}: cost {late.pk}, billed later, and where it went do not agree."
    ]


# Any history

STEP = st.tuples(st.integers(0, 9), st.sampled_from(["draw", "scrap", "decant"]), st.integers(1, 11))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    amount=st.one_of(st.integers(-(10**9), 10**9), st.integers(-20, 20)).filter(bool),
    cost=st.integers(1, 10**9),
    quantity=st.integers(2, 10**12),
    steps=st.lists(STEP, max_size=8),
)
def test_every_millionth_is_in_a_lot_or_in_the_period_and_near_its_exact_share(
    books, amount, cost, quantity, steps
):
    with transaction.atomic():
        pail = books.receive("wax", quantity, cost=Fraction(cost, 10**6))
        lots, gone, exact = [pail], {pail.pk: 0}, {}
        jars: dict[int, list[tuple[int, int]]] = {pail.pk: []}
        for number, how, twelfths in steps:
            lot = lots[number % len(lots)]
            taken = books.of(lot)[0] * twelfths // 12
            if not taken:
                continue
            if how == "decant":
                (jar,) = books.decant((lot, taken))
                lots.append(jar)
                gone[jar.pk], jars[jar.pk] = 0, []
                jars[lot.pk].append((jar.pk, taken))
            else:
                (books.draw if how == "draw" else books.take_out)(lot, taken)
                gone[lot.pk] += taken
        before = {lot.pk: books.of(lot) for lot in lots}
        reaching = {lot.pk: Fraction(0) for lot in lots} | {pail.pk: Fraction(amount)}
        for lot in lots:
            here = before[lot.pk][0]
            whole = here + gone[lot.pk] + sum(filled for _, filled in jars[lot.pk])
            exact[lot.pk] = max(reaching[lot.pk] * here / whole, -before[lot.pk][1])
            for jar_id, filled in jars[lot.pk]:
                reaching[jar_id] += reaching[lot.pk] * filled / whole

        late = add_cost(
            delivery_of(pail), amount=amount, spread="value", reference="", signature=books.sign()
        )

        shares = told(late)
        assert sum(joined + period for joined, period in shares.values()) == amount
        for lot in lots:
            grown = books.of(lot)[1] - before[lot.pk][1]
            assert grown == shares.get(lot.code, (0, 0))[0]
            # Each level rounds once.
            assert abs(grown - exact[lot.pk]) <= len(lots)
            assert lot.value >= 0
        assert [said for check in PROVED for said in check()] == []
        transaction.set_rollback(True)
