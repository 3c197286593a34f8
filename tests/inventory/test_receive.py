"""Goods arrive: lots, their cost with freight, and what is kept of the invoice. Figures worked by hand."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.deliveries.receiving import Arrival, CannotSpread, receive, spread_freight
from inventory.ledger import books as stock
from inventory.models import Delivery, Item, Lot, Movement, Posting
from studio.core.codes import is_valid
from tests.house import ARRIVED, NOW, grams, money, refused

pytestmark = pytest.mark.django_db


def lots_of(delivery):
    return list(Lot.objects.filter(delivery_line__delivery=delivery).order_by("pk"))


def test_a_delivery_becomes_a_lot_with_its_quantity_and_cost(books):
    lot = books.receive(
        "fragrance", "10 kg", cost="300.00", supplier_lot="FR-88", expires_on=date(2027, 2, 28)
    )

    assert (lot.on_hand, lot.value) == (grams(10_000), money("300.00"))
    assert (lot.supplier_lot, lot.expires_on, lot.arrived_at) == ("FR-88", date(2027, 2, 28), ARRIVED)
    assert is_valid(lot.code)
    movement = lot.movements.get()
    assert (movement.kind, movement.quantity, movement.value) == ("received", grams(10_000), money(300))
    assert (movement.posting.kind, movement.posting.by, movement.posting.recorded_at) == (
        "receipt",
        books.by,
        NOW,
    )


def test_each_line_becomes_a_lot_and_keeps_what_the_invoice_said(books):
    delivery = books.deliver(
        books.arrival("wax", "25 kg", "120.50", packs=2),
        books.arrival("wick", 500, "41.20"),
    )

    wax, wicks = lots_of(delivery)
    assert (wax.on_hand, wax.value) == (grams(50_000), money("120.50"))
    assert (wicks.on_hand, wicks.value) == (500, money("41.20"))
    first = delivery.lines.first()
    assert (first.packs, first.pack_quantity, first.typed_quantity, first.typed_price) == (
        2,
        grams(25_000),
        "25 kg",
        "120.50",
    )


def test_a_lot_for_each_pack_shares_the_price_to_the_last_millionth(books):
    # 100.00 over three pails: 33.333334 + 33.333333 + 33.333333.
    delivery = books.deliver(books.arrival("wax", "20 kg", 100, packs=3, lot_per_pack=True))

    assert [lot.on_hand for lot in lots_of(delivery)] == [grams(20_000)] * 3
    assert [lot.value for lot in lots_of(delivery)] == [33_333_334, 33_333_333, 33_333_333]


def test_freight_is_shared_by_what_the_lines_cost(books):
    # 12.00 over 30.00 and 10.00 is 9.00 and 3.00.
    delivery = books.deliver(
        books.arrival("wax", "10 kg", 30),
        books.arrival("wick", 100, 10),
        freight=12,
    )

    assert [lot.value for lot in lots_of(delivery)] == [money(39), money(13)]
    assert [line.freight_value for line in delivery.lines.all()] == [money(9), money(3)]


def test_freight_is_shared_by_weight(books):
    # 4,000 over 25,000 kg and 15,000 kg is 2,500 and 1,500. Derived.
    delivery = books.deliver(
        books.arrival("wax", "25000 kg", 100),
        books.arrival("fragrance", "15000 kg", 900),
        freight=4_000,
        spread="weight",
    )

    assert [line.freight_value for line in delivery.lines.all()] == [money(2_500), money(1_500)]


def test_freight_by_weight_needs_every_line_weighed(books):
    wax, wicks = books.arrival("wax", "10 kg", 30), books.arrival("wick", 100, 10)

    with refused(CannotSpread, "only when every line is weighed"):
        books.deliver(wax, wicks, freight=12, spread="weight")


def test_freight_by_cost_needs_a_line_that_cost_something(books):
    sample = books.arrival("fragrance", "15 g", 0)

    with refused(CannotSpread, "Give the lines a price"):
        books.deliver(sample, freight=5)


def test_a_free_sample_is_worth_nothing_and_stands_on_the_shelf(books):
    sample = books.receive("fragrance", "15 g")

    assert (sample.on_hand, sample.value) == (grams(15), 0)


def test_nothing_arrives_in_the_future(books, sign):
    line = books.arrival("wax", "10 kg", 30)
    later = sign(at=NOW + timedelta(minutes=1))
    invoice = {"supplier": books.supplier(), "reference": "", "freight": 0, "spread": "value"}

    with refused(stock.WrongTime, "cannot have arrived in the future"):
        receive(arrivals=[line], signature=later, **invoice)


def test_a_lot_without_a_date_takes_the_item_s_shelf_life(books):
    books.item("fragrance", shelf_life_days=365)

    assert books.receive("fragrance", "1 kg").expires_on == date(2027, 3, 1)
    assert books.receive("fragrance", "1 kg", expires_on=date(2026, 6, 1)).expires_on == date(2026, 6, 1)


def test_the_shelf_life_counts_from_the_day_on_the_studio_s_clock(books, settings):
    # 1 March, 02:30 UTC is still the last of February five hours west.
    settings.TIME_ZONE = "America/New_York"
    books.item("fragrance", shelf_life_days=10)

    lot = books.receive("fragrance", "1 kg", at=ARRIVED.replace(hour=2, minute=30))

    assert lot.expires_on == date(2026, 3, 10)


def test_a_lot_goes_where_its_item_usually_stands(books):
    books.item("wax", place="Shelf B2")

    assert books.receive("wax", "1 kg").place == "Shelf B2"
    assert books.receive("wax", "1 kg", place="Yard").place == "Yard"


def test_a_delivery_that_fails_leaves_no_trace(books, monkeypatch):
    line = books.arrival("wax", "10 kg", 30)
    monkeypatch.setattr("inventory.deliveries.receiving._keep_lines", _fail)

    with refused(RuntimeError, "line printer on fire"):
        books.deliver(line)

    monkeypatch.undo()
    assert books.receive("wax", "1 kg").code == "L0001T"  # the code that was taken back is given out


def _fail(*args):
    raise RuntimeError("line printer on fire")


def test_codes_are_given_out_in_order_and_once(books):
    codes = [books.receive("wax", "1 kg").code for _ in range(40)]

    assert codes == sorted(codes)
    assert len(set(codes)) == 40
    assert all(map(is_valid, codes))


LINES = st.lists(st.tuples(st.integers(1, 10**12), st.integers(0, 10**12)), min_size=1, max_size=6)


@given(LINES, st.integers(0, 10**10), st.sampled_from(Delivery.Spread.values))
def test_shares_of_freight_add_up_to_it_and_none_is_below_zero(lines, freight, spread):
    wax = Item(name="wax", kind="wax", unit="g")
    arrivals = [Arrival(wax, 1, quantity, value, "", "") for quantity, value in lines]
    if spread == "value" and freight and not any(value for _, value in lines):
        return

    shares = spread_freight(freight, arrivals, spread)

    assert sum(shares) == freight
    assert min(shares) >= 0


def test_nothing_is_posted_but_the_receipt(books):
    books.receive("wax", "10 kg", cost=30)

    assert list(Posting.objects.values_list("kind", flat=True)) == ["receipt"]
    assert Movement.objects.count() == 1
