"""The value of recovered melt that is poured again is told by the heads of what is in it."""

from fractions import Fraction

import pytest

from batches.models import Batch
from batches.production.finishing import Recovered
from costing.actual.batch_cost import COST_READS, cost_of
from costing.model.heads import by_heads
from costing.rates.rates import Rates
from inventory.models import Item, Lot
from tests.house import day, grams, money


@pytest.mark.django_db
def test_melt_poured_again_is_told_by_what_is_in_it_and_a_blend_as_one(books):
    # The pot: 920 g of wax for 9.20 and 80 g of fragrance for 8.00. 100 g of it are worth 0.92 and 0.80.
    shelf = {
        "wax": books.receive("wax", "2 kg", cost=20),
        "fragrance": books.receive("fragrance", "200 g", cost=20),
        "wick": books.receive("wick", 40, cost=10),
        "vessel": books.receive("vessel", 20, cost=15),
    }
    batch = books.plan(books.candle(), 10)
    books.fill(shelf, batch, at=day(10))
    melt = books.item("Cedar melt", kind="wax", made_here=True)
    books.finish(batch, good=9, recovered=[Recovered(melt, grams(100))], at=day(10))
    lot = Lot.objects.get(item=melt)
    tin = books.formula("Tin", [("Cedar melt", "wax_share", 1_000_000)], fill="100 g", name="Tin")
    poured = books.plan(tin, 1)
    books.draw_into(poured, (lot, "100 g"), at=day(11))
    books.finish(poured, good=1, at=day(11))

    cost = cost_of(Batch.objects.with_product().prefetch_related(*COST_READS).get(pk=poured.pk), Rates.read())

    assert (cost.heads["wax"], cost.heads["fragrance"]) == (money("0.92"), money("0.80"))
    assert cost.material == money("1.72")


def test_nothing_is_lost_between_the_heads():
    wax, oil, dye = (Item(pk=number, kind=kind) for number, kind in enumerate(("wax", "fragrance", "dye"), 1))
    worth = {wax: Fraction(1, 3), oil: Fraction(1, 3), dye: Fraction(1, 3)}

    assert sum(by_heads(100, wax, worth).values()) == 100
    assert sorted(by_heads(100, wax, worth).values()) == [33, 33, 34]
    # What is not known stays under the head of the item.
    assert by_heads(100, wax, {oil: Fraction(1, 4)}) == {"fragrance": 25, "wax": 75}
    assert by_heads(0, wax, worth) == {"wax": 0, "fragrance": 0, "colour_additives": 0}
    assert by_heads(7, oil, {}) == {"fragrance": 7}
