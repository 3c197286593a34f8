"""Units to remelt end in a lot that is poured again: its value, its shares, its balance, and opening the batch again."""

from fractions import Fraction

import pytest

from batches import checks
from batches.lineage.composition import compositions
from batches.lineage.lineage import Key
from batches.models import Outcome
from batches.planning.plans import BatchError
from batches.production import finishing
from batches.production.finishing import Recovered
from batches.tracing.trace import balance_of_batch, trace_of
from inventory.models import Lot
from tests.house import day, grams, money, refused, snapshot

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]


@pytest.fixture
def batch(books):
    """Ten candles: 920 g of wax for 9.20, 80 g of fragrance for 8.00, wicks and vessels for 10.00: 27.20 drawn."""
    books.shelf = {
        "wax": books.receive("wax", "4 kg", cost=40),
        "fragrance": books.receive("fragrance", "400 g", cost=40),
        "wick": books.receive("wick", 80, cost=20),
        "vessel": books.receive("vessel", 40, cost=30),
    }
    batch = books.plan(books.candle(), 10)
    books.fill(books.shelf, batch, at=day(10))
    return batch


def remelt(books, batch, units=2, weight=200, *, weighed=False, good=8, **more):
    item = books.item("Cedar melt", kind="wax", made_here=True)
    kept = Recovered(item, grams(weight), of_remelt=True, weighed=weighed)
    books.finish(batch, good=good, rework=units, recovered=[kept], at=day(11), release=False, **more)
    return Lot.objects.get(item=item, outcome__batch=batch)


def test_the_lot_takes_its_share_of_the_pot_and_the_good_ones_the_rest(books, batch):
    # 200 g of the 1,000 g that were worth 17.20: 3.44. The eight carry 23.76, the two lost vessels and wicks too.
    lot = remelt(books, batch)

    good = Lot.objects.get(outcome__batch=batch, outcome__result="good")
    assert (lot.on_hand, lot.value) == (grams(200), money("3.44"))
    assert (good.on_hand, good.value) == (8, money("23.76"))
    assert (lot.outcome.emptied.result, lot.outcome.emptied.quantity, lot.outcome.weighed) == (
        "rework",
        2,
        False,
    )
    assert lot.awaits_release is False


def test_the_trace_finds_the_melt_in_the_lot_and_only_wicks_in_the_emptied_units(books, batch):
    remelt(books, batch)

    wax = trace_of(books.shelf["wax"])
    wick = trace_of(books.shelf["wick"])

    # 920 g of wax: 184 g in the remelt, 736 g in the eight. Of ten wicks two went with the emptied ones.
    amounts = {key: amount for key, amount in wax.shares.amounts.items() if key.what == "lot"}
    by_item = {wax.lots[key.pk].item.name: amount for key, amount in amounts.items()}
    assert by_item["Cedar melt"] == grams(184)
    assert by_item["Cedar & Black Tea"] == grams(736)
    assert wax.shares.by_place()["On the shelf"] == grams(4000)
    assert wick.shares.by_place()["To be melted again"] == 2
    assert sum(wick.shares.by_place().values()) == 80


def test_the_balance_of_the_batch_counts_the_melt_once(books, batch):
    remelt(books, batch, weight=188, weighed=True)

    balance = balance_of_batch(batch, at_most_ppm=20_000)

    # 800 g in eight jars and 188 g in the remelt: 12 g of 1,000 g are missing.
    assert balance.melt.remainder == grams(12)
    assert dict(balance.fitted)[books.item("wick")].remainder == 0


def test_pouring_it_is_a_draw_that_carries_its_value_and_what_is_in_it(books, batch):
    lot = remelt(books, batch)
    beside = books.plan(books.candle("Beside"), 10)
    books.fill(books.shelf, beside, at=day(12))
    lines = [("Cedar melt", "wax_share", 1_000_000), ("wick", "per_unit", 1), ("vessel", "per_unit", 1)]
    tin = books.formula("Tin", lines, fill="100 g", name="Tin")
    again = books.plan(tin, 2)
    books.draw_into(again, (lot, "200 g"), at=day(12))
    for name in ("wick", "vessel"):
        books.draw_into(again, (books.shelf[name], 2), at=day(12))
    (tins,) = books.finish(again, good=2, at=day(12), release=False)

    lot.refresh_from_db()
    # 3.44 of melt, two wicks at 0.25 and two vessels at 0.75.
    assert (lot.on_hand, lot.value, tins.value) == (0, 0, money("5.44"))
    found = compositions([tins.pk, lot.pk], [beside.pk])
    for key in (Key("lot", tins.pk), Key("lot", lot.pk), Key("batch", beside.pk)):
        assert {item.name: share for item, share in found[key].parts.items()} == {
            "wax": Fraction(23, 25),
            "fragrance": Fraction(2, 25),
        }
    inside = trace_of(tins).inside
    assert inside[Key("lot", books.shelf["fragrance"].pk)] == grams(16)


def test_opening_the_batch_again_takes_the_lot_back(books, batch):
    lot = remelt(books, batch)

    books.undo(batch)

    lot.refresh_from_db()
    assert (lot.on_hand, lot.value) == (0, 0)
    # Entered again it is the same lot, whose code may be on the tub.
    again = remelt_again(books, batch)
    assert again.pk == lot.pk


def remelt_again(books, batch):
    item = books.item("Cedar melt")
    kept = Recovered(item, grams(100), of_remelt=True)
    books.finish(batch, good=9, rework=1, recovered=[kept], at=day(12), release=False)
    return Lot.objects.filter(item=item, on_hand__gt=0).get()


def test_units_recorded_before_without_a_lot_stay_as_they_are(books, batch):
    books.finish(batch, good=8, rework=2, release=False)

    row = Outcome.objects.get(batch=batch, result="rework")
    assert (row.lot, hasattr(row, "melt"), list(checks.yields_fit())) == (None, False, [])
    # Their melt counts at the fill weight, in them.
    assert trace_of(books.shelf["wax"]).shares.by_place()["To be melted again"] == grams(184)


def test_melt_of_units_to_remelt_needs_units(books, batch):
    item = books.item("Cedar melt", kind="wax", made_here=True)
    kept = Recovered(item, grams(100), of_remelt=True)
    with refused(BatchError, "there are units it is of"):
        books.finish(batch, good=8, recovered=[kept])
    with refused(BatchError, "is one lot"):
        books.finish(batch, good=8, rework=2, recovered=[kept, kept])


def test_no_more_melt_comes_back_than_was_weighed_in(books, batch):
    """1,000 g were drawn. A scale may be off by a few percent; beyond that a weight is wrong or missing."""
    before = snapshot()
    with pytest.raises(
        finishing.MoreThanDrawn, match=r"5,000.g of melt would be recovered of 1,000.g"
    ) as told:
        remelt(books, batch, units=10, weight=5_000, weighed=True, good=0)
    assert told.value.of_remelt
    assert snapshot() == before

    assert remelt(books, batch, units=10, weight=1_050, weighed=True, good=0).on_hand == grams(1_050)


def test_what_was_recovered_in_an_earlier_part_counts_and_what_is_given_up_as_well(books, batch):
    item = books.item("old melt", kind="wax", made_here=True)
    books.finish(batch, 2, recovered=[Recovered(item, grams(700))], last=False)
    with pytest.raises(finishing.MoreThanDrawn, match=r"1,100.g of melt would be recovered"):
        books.finish(batch, 2, recovered=[Recovered(item, grams(400))])
    books.finish(batch, 2, recovered=[Recovered(item, grams(100))])

    given_up = books.plan(batch.version, 10)
    books.draw_into(given_up, (books.receive("wax", "100 g", cost=1), "100 g"))
    with pytest.raises(finishing.MoreThanDrawn, match=r"200.g of melt would be recovered of 100.g"):
        finishing.abandon(
            given_up.pk, [Recovered(item, grams(200))], signature=books.sign(reason="The pot cracked")
        )
