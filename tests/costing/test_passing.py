"""Labor and overhead along lots: what a batch cost and what goods hold of it are one answer, however long the way.

20.00 an hour and half of it again as overhead, everybody's work the owner's. Figures worked by hand.
"""

from datetime import date

import pytest

from batches.models import Batch
from batches.production import runs
from costing.actual.batch_cost import cost_of
from costing.actual.passing import Along, BatchNode, LotNode, pass_on
from costing.models import GoodsRule
from costing.rates.rates import Rates, set_labour_rate, set_overhead_rate
from costing.valuation.carried import Added, CarryingBatch, CarryingLot, carried
from costing.valuation.goods import goods_at
from costing.valuation.ledger_as_of import Instant
from inventory.models import Lot
from inventory.shipments import dispatching
from studio.core.days import first_instant_after
from tests.house import NOW, TODAY, grams, money

pytestmark = pytest.mark.django_db
SPRING = date(2026, 1, 1)
NOW_ALL = Instant(first_instant_after(TODAY))


@pytest.fixture
def rates(books):
    set_labour_rate(from_on=SPRING, person=None, per_hour=money(20), by=books.by, now=NOW)
    set_overhead_rate(from_on=SPRING, basis="of_labour", amount=500_000, by=books.by, now=NOW)


@pytest.fixture
def two_lots(books, rates):
    """1 kg of a blend that took an hour, in two lots of 600 g and 400 g; a bystander that took half an hour."""
    wax = books.receive("wax", "10 kg", cost=50)
    lots = []
    for name, parts, minutes in (("Base", (600, 400), 60), ("Other base", (1_000,), 30)):
        books.item(name, made_here=True)
        batch = books.plan(books.formula(name, [("wax", "wax_share", 1_000_000)]), grams(1_000))
        books.draw_into(batch, (wax, "1 kg"))
        work(books, batch, minutes)
        for place, part in enumerate(parts, 1):
            lots += books.finish(batch, grams(part), last=place == len(parts))
    return lots


def work(books, batch, minutes):
    runs.note_labour(
        batch, person_id=books.by.pk, step="weigh", minutes=minutes, worked_on=TODAY, signature=books.sign()
    )


def candles(books, *takings, units):
    """A batch of candles that are nothing but the blend; its draws with what came along, and the lot it made."""
    name = takings[0][0].item.name
    version = books.formula(f"Candle of {name}", [(name, "wax_share", 1_000_000)], fill="100 g")
    batch = books.plan(version, units)
    for lot, amount in takings:
        books.draw_into(batch, (Lot.objects.get(pk=lot.pk), amount))
    (made,) = books.finish(batch, units)
    return cost_of(Batch.objects.get(pk=batch.pk), Rates.read()), made


def along(cost):
    return [
        (each.along.labour, each.along.overhead, each.along.milliminutes)
        for each in sorted(cost.draws, key=lambda drawn: drawn.draw.pk)
    ]


def in_lots():
    """What goods hold beyond material, by lot: the owner's work and overhead."""
    goods = goods_at(NOW_ALL, GoodsRule(normal_loss_ppm=0))
    assert all((each.labour, each.material) == (0, 0) for each in goods.in_lots.values())
    return {lot: (each.owner, each.overhead) for lot, each in goods.in_lots.items()}


def test_a_blend_in_two_lots_counts_once_wherever_it_is_asked_for(books, two_lots):
    first, second, other = two_lots
    cost, made = candles(books, (first, "150 g"), (first, "450 g"), (second, "100 g"), units=7)

    # 20.00, 10.00 and 60 minutes over 1,000 g: 0.02, 0.01 and 0.06 minutes a gram.
    assert along(cost) == [
        (money(3), money("1.50"), 9_000),
        (money(9), money("4.50"), 27_000),
        (money(2), money(1), 6_000),
    ]
    assert (cost.along, cost.hands_on) == (Along(money(14), money(7), 42_000), 42_000)
    assert in_lots() == {
        made.pk: (cost.along.labour, cost.along.overhead),
        second.pk: (money(6), money(3)),
        other.pk: (money(10), money(5)),
    }


def test_a_blend_that_came_back_brings_along_what_it_left_with(books, two_lots):
    # 200 g of the second lot are sold, 100 g of it come back and are poured: 2.00, 1.00 and 6 minutes.
    first, second, other = two_lots
    sold = books.send(second, "200 g")
    (back,) = dispatching.take_back(
        sold.dispatch.pk, [dispatching.Back(second.pk, grams(100))], signature=books.sign(reason="Too much")
    )
    Lot.objects.filter(pk=back.pk).update(held=False)
    assert in_lots()[back.pk] == (money(2), money(1))

    cost, made = candles(books, (back, "100 g"), units=1)

    assert along(cost) == [(money(2), money(1), 6_000)]
    assert in_lots() == {
        first.pk: (money(12), money(6)),
        second.pk: (money(4), money(2)),
        other.pk: (money(10), money(5)),
        made.pk: (money(2), money(1)),
    }


def test_candles_that_came_back_hold_the_work_they_left_with(books, two_lots):
    # Eight candles with 14.00 and 7.00 of a blend and half an hour of their own, 10.00 and 5.00: 3.00 and 1.50 each. Four
    # are sold, one comes back.
    _, _, other = two_lots
    cost, made = candles(books, (two_lots[0], "600 g"), (two_lots[1], "100 g"), units=8)
    work(books, cost.batch, 30)
    sold = books.send(made, 4)
    (back,) = dispatching.take_back(
        sold.dispatch.pk, [dispatching.Back(made.pk, 1)], signature=books.sign(reason="Chipped")
    )

    assert in_lots() == {
        made.pk: (money(12), money(6)),
        back.pk: (money(3), money("1.50")),
        two_lots[1].pk: (money(6), money(3)),
        other.pk: (money(10), money(5)),
    }


LONG = 1_000


def test_a_thousand_decantings_one_after_another_lose_nothing():
    # 100 g with 12.00 of labor, poured on whole each time; half of the last is drawn. A bystander keeps its own.
    whole = grams(100)
    nodes = {1: BatchNode(Along(money(12), money(6), 60_000), made=[(0, whole)])}
    lots = {0: LotNode(batch=1, took_in=whole, left=[(0, whole)]), -1: LotNode(took_in=5, left=[(-1, 5)])}
    for place in range(1, LONG):
        lots[place] = LotNode(filled_from=[place - 1], took_in=whole, left=[(place, whole)])
    lots[LONG - 1].left = [(LONG - 1, whole // 2)]

    told = pass_on(nodes, lots)

    assert told[LONG - 1] == Along(money(6), money(3), 30_000)
    assert told[LONG - 2] == Along(money(12), money(6), 60_000)
    assert told[-1] == Along()


def test_a_thousand_batches_one_after_another_hold_the_work_of_all(books):
    # Each draws all that the one before made and adds 1.00; the last lot holds 1,000.00, half of it still here.
    batches, lots = {}, {}
    for place in range(LONG):
        drew = [("drawn", place, place - 1)] if place else []
        batches[place] = CarryingBatch(
            Added(labour=money(1)), over=True, good=10, planned=20, drew=drew, made={place: 10}
        )
        lots[place] = CarryingLot(batch=place, took_in=10)
        lots[place].left.append((("drawn", place + 1, place), 10))
    lots[LONG - 1].left, lots[LONG - 1].on_hand = [], 5
    batches[-1] = CarryingBatch(Added(owner=money(3)), planned=4, made={-1: 1})
    lots[-1] = CarryingLot(batch=-1, took_in=1, on_hand=1)

    told = carried(batches, lots, 0)

    assert told.lots == {LONG - 1: Added(labour=money(500)), -1: Added(owner=money("0.75"))}
    assert told.batches == {-1: Added(owner=money("2.25"))}
    assert (told.abnormal, told.added) == (Added(), Added(labour=money(1_000), owner=money(3)))
