"""What a recall reads from the books and what is answered to it: whole sets, beside lots and batches it does not reach."""

from datetime import timedelta

import pytest

from batches.planning import plans
from batches.recalls import recalling
from batches.recalls.facts import Stood, came_back, reach, stood
from batches.recalls.progress import progress_of
from inventory.customers.customers import Contact
from inventory.lots import write_offs
from inventory.lots.holding import hold
from inventory.models import Dispatch
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from tests.house import NOW, TODAY, day, grams, refused

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]

BEGAN = day(18)


@pytest.fixture
def house(books, shelf, version):
    """Two jars of one wax went into a batch of ten and one of five; another wax went into two that stand apart."""
    first_jar, second_jar = (books.decant((shelf["wax"], "1000 g"), at=day(2))[0] for _ in range(2))
    apart_wax = books.receive("wax", "3 kg", cost=15)
    made = {}
    for name, wax, units in (("ten", first_jar, 10), ("five", second_jar, 5), ("apart", apart_wax, 2)):
        batch = books.plan(version, units)
        books.fill(shelf | {"wax": wax}, batch, units, at=day(4))
        (made[name],) = books.finish(batch, units, at=day(5))
    return {"wax": shelf["wax"], "first": first_jar, "second": second_jar, **made}


def batch_of(lot):
    return lot.outcome.batch


def test_only_the_batches_that_the_lots_reach_are_frozen(books, house, version):
    """One is planned and took nothing, one took of the first jar and is open, one was called off."""
    books.plan(version, 3)
    open_one, called_off = books.plan(version, 1), books.plan(version, 1)
    books.draw_into(open_one, (house["first"], "10 g"))
    wrong = books.draw_into(called_off, (house["first"], "10 g"))
    books.reverse(wrong)
    plans.call_off(called_off.pk, signature=books.sign(reason="Not wanted"))

    def frozen(*lots):
        recall = books.recall(*lots, drill=True)
        return (
            set(recall.batches.values_list("batch", "state")),
            set(recall.lots.values_list("lot", flat=True)),
        )

    ten, five, apart = (batch_of(house[name]).pk for name in ("ten", "five", "apart"))
    keys = {name: lot.pk for name, lot in house.items()}
    assert frozen(house["second"]) == ({(five, "finished")}, {keys["second"], keys["five"]})
    assert frozen(house["first"]) == (
        {(ten, "finished"), (open_one.pk, "started")},
        {keys["first"], keys["ten"]},
    )
    assert frozen(house["ten"]) == (set(), {keys["ten"]})
    assert frozen(house["wax"]) == (
        {(ten, "finished"), (five, "finished"), (open_one.pk, "started")},
        set(keys.values()) - {keys["apart"]},
    )
    assert frozen(house["apart"]) == (set(), {keys["apart"]})
    assert apart not in set(reach({keys["wax"]}).batches)


def test_where_a_lot_stood_counts_each_kind_on_its_side(books, house, sign):
    """The second jar: 1,000 g came and 460 g were used. 20 g were corrected off, a count found 30 g less, then 10 g more.

    Of it 100 g were decanted, 5 g scrapped, 4 g sampled and 3 g sent back. The wax and its other jar are as they were.
    """
    jar = house["second"]
    write_offs.put_right(jar.pk, grams(520), signature=sign(reason="mis-keyed"))
    for found in ("490 g", "500 g"):
        count = books.start_count(items=["wax"])
        for _ in range(2):
            books.look(count, (jar, found))
        books.post_count(count)
    books.decant((jar, "100 g"))
    books.take_out(jar, "5 g")
    books.take_out(jar, "4 g", kind="sample")

    jar.refresh_from_db()
    house["first"].refresh_from_db()
    rows = stood([jar, house["first"], house["ten"]])

    # 1,000 − 20 − 30 + 10 = 960 g came; 960 − 460 − 100 − 9 = 391 g are there.
    assert rows == {
        jar.pk: Stood(
            came=grams(960), used=grams(460), decanted=grams(100), lost=grams(9), on_hand=grams(391)
        ),
        house["first"].pk: Stood(came=grams(1_000), used=grams(920), on_hand=grams(80)),
        house["ten"].pk: Stood(came=10, on_hand=10),
    }
    assert [row.unexplained for row in rows.values()] == [0, 0, 0]


def test_what_came_back_counts_once_from_the_recall_on_and_of_its_goods_alone(books, house, sign):
    """Ten: 6 to Wilf, of which 1 came back before the recall, then 2 and 1, and 1 that was reversed. Five: 3 in another
    parcel, 2 came back. Of the two apart, sent with the five, 1 came back.
    Ottoline's one came back before, so the recall knows nothing of it."""
    to_wilf = books.send(house["ten"], 6, at=day(8), to="Wilf Harrow")
    both = dispatching.send(
        books.take((house["five"], 3), (house["apart"], 2)),
        to=Contact("Ida Fennimore"),
        signature=sign(at=day(9)),
    )
    wilf = Dispatch.objects.get(posting=to_wilf)

    def back(dispatch, lot, quantity, recorded):
        signature = sign(at=recorded, recorded=recorded, reason="Not wanted")
        return dispatching.take_back(dispatch.pk, [Back(lot.pk, quantity)], signature=signature)[0]

    later = Dispatch.objects.get(posting=books.send(house["ten"], 1, at=day(14), to="Ottoline Marsh"))
    back(wilf, house["ten"], 1, day(15))
    back(later, house["ten"], 1, day(16))
    recall = books.recall(house["wax"], at=BEGAN)
    back(wilf, house["ten"], 2, NOW)
    back(wilf, house["ten"], 1, NOW)
    slip = back(wilf, house["ten"], 1, NOW)
    books.reverse(slip.came_back_from.goods_return.posting)
    back(both, house["five"], 2, NOW)
    back(both, house["apart"], 1, NOW)

    sent = list(recall.sent.all())
    assert sorted((row.lot_id, row.quantity) for row in sent) == sorted(
        [(house["ten"].pk, 5), (house["five"].pk, 3)]
    )
    item_id = house["ten"].item_id
    assert came_back(sent, BEGAN) == {item_id: 2 + 1 + 2}
    assert came_back([row for row in sent if row.dispatch_id == wilf.pk], BEGAN) == {item_id: 3}
    # At the very instant is before; from a day before the first return on, that one counts too.
    assert came_back(sent, NOW) == {}
    assert came_back(sent, day(14)) == {item_id: 6}
    assert came_back([], BEGAN) == {}


@pytest.fixture
def answered(books, house):
    """A drill: Wilf has 4 of the ten, Ida 3 of the five."""
    books.send(house["ten"], 4, at=day(8), to="Wilf Harrow")
    books.send(house["five"], 3, at=day(8), to="Ida Fennimore")
    recall = books.recall(house["wax"], drill=True)
    wilf, ida = (recall.parties.get(customer__name=name) for name in ("Wilf Harrow", "Ida Fennimore"))
    return recall, wilf, ida, house["ten"].item


def test_an_answer_that_was_taken_back_is_given_again(answered, sign):
    recall, wilf, ida, candle = answered

    def answer(party, kind, quantity=0):
        quantities = {candle: quantity} if quantity else None
        return recalling.answer(party.pk, kind, on=TODAY, quantities=quantities, signature=sign())

    answer(ida, "returned", 3)
    answer(wilf, "told")
    (kept,) = answer(wilf, "destroyed", 1)
    (slip,) = answer(wilf, "returned", 3)
    with refused(recalling.RecallError, "4 .*went there and 4 .*at most 0 "):
        answer(wilf, "used_up", 1)

    taken_back = recalling.take_back(slip.pk, signature=sign(reason="Somebody else's parcel"))
    assert progress_of(recall).units_accounted == 3 + 1

    # One is accounted for, so three are left and no fourth.
    with refused(recalling.RecallError, "4 .*went there and 1 .*at most 3 "):
        answer(wilf, "returned", 4)
    (again,) = answer(wilf, "returned", 3)
    assert progress_of(recall).units_accounted == 3 + 4
    with refused(recalling.RecallError, "at most 0 "):
        answer(wilf, "used_up", 1)
    with refused(recalling.RecallError, "taken back already"):
        recalling.take_back(taken_back.pk, signature=sign())
    rows = wilf.answers.exclude(kind="told").order_by("pk")
    assert [(row.pk, row.kind, row.quantity, row.takes_back_id) for row in rows] == [
        (kept.pk, "destroyed", 1, None),
        (slip.pk, "returned", 3, None),
        (taken_back.pk, "returned", 3, slip.pk),
        (again.pk, "returned", 3, None),
    ]


def test_the_day_of_being_told_and_of_the_answer_begins_with_the_recall(answered, sign):
    """What became of goods may have become of them before; told and answered is who knows of the recall."""
    _, wilf, _, candle = answered
    yesterday = TODAY - timedelta(days=1)
    for kind in ("told", "answered"):
        with refused(recalling.RecallError, "before the recall"):
            recalling.answer(wilf.pk, kind, on=yesterday, signature=sign())
        recalling.answer(wilf.pk, kind, on=TODAY, signature=sign())
    for kind in ("returned", "destroyed", "used_up"):
        recalling.answer(wilf.pk, kind, on=yesterday, quantities={candle: 1}, signature=sign())
    with refused(recalling.RecallError, "future"):
        recalling.answer(
            wilf.pk, "returned", on=TODAY + timedelta(days=1), quantities={candle: 1}, signature=sign()
        )
    assert sorted(wilf.answers.values_list("kind", "on")) == sorted(
        [("told", TODAY), ("answered", TODAY)]
        + [(kind, yesterday) for kind in ("returned", "destroyed", "used_up")]
    )


@pytest.mark.parametrize("drill", [True, False])
def test_what_was_on_hold_before_is_told_from_what_the_recall_held(books, house, sign, drill):
    """The five and the two apart were on hold before; all of the ten were sent, so nothing of them is here."""
    for name in ("five", "apart"):
        hold(house[name].pk, signature=sign(reason="Cracked lids"))
    books.send(house["ten"], 10, at=day(8))

    recall = books.recall(house["wax"], drill=drill)

    rows = {row.lot_id: (row.held_before, row.held_now) for row in recall.lots.all()}
    assert rows == {
        house["wax"].pk: (False, not drill),
        house["first"].pk: (False, not drill),
        house["second"].pk: (False, not drill),
        house["ten"].pk: (False, False),
        house["five"].pk: (True, False),
    }
