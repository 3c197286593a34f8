"""A studio of any size, written into the database at once: items, lots, a past of draws, offers, orders and plans."""

from datetime import timedelta

from inventory.models import (
    Commitment,
    Item,
    Lot,
    Movement,
    Offer,
    OfferBreak,
    Order,
    OrderLine,
    Posting,
    Supplier,
)
from studio.models import User
from tests.house import ARRIVED, NOW, TODAY, grams, money

SUPPLIERS = 20


def crowd(by: User, size: int, *, draws: int = 2, postings: int = 100, name: str = "Crowd") -> None:
    """`size` items with one lot each, `draws` draws of each in the last 400 days, and offers for every one."""
    suppliers = Supplier.objects.bulk_create(
        Supplier(name=f"{name} supplier {number}", lead_days=3 + number % 12, minimum_order=money(50))
        for number in range(SUPPLIERS)
    )
    items = Item.objects.bulk_create(
        Item(name=f"{name} {number:05d}", kind="fragrance", unit="g", shelf_life_days=500)
        for number in range(size)
    )
    arrived = ARRIVED - timedelta(days=500)
    lots = Lot.objects.bulk_create(
        Lot(
            code=f"{name[0]}{number:06d}",
            item=item,
            arrived_at=arrived,
            expires_on=TODAY + timedelta(days=30 + number % 600),
            on_hand=grams(200 + number % 900),
            value=money(20),
        )
        for number, item in enumerate(items)
    )
    moments = Posting.objects.bulk_create(
        Posting(
            kind="draw",
            happened_at=NOW - timedelta(days=1 + number * 400 // postings),
            recorded_at=NOW,
            by=by,
        )
        for number in range(postings)
    )
    Movement.objects.bulk_create(
        (
            Movement(
                posting=moments[(number * 7 + turn * 13) % postings],
                lot=lot,
                kind="drawn",
                quantity=-grams(5 + (number + turn) % 40),
                value=0,
            )
            for number, lot in enumerate(lots)
            for turn in range(draws)
        ),
        batch_size=5_000,
    )
    _buying(by, items, suppliers)


def _buying(by: User, items: list[Item], suppliers: list[Supplier]) -> None:
    offers = Offer.objects.bulk_create(
        Offer(
            supplier=suppliers[(number + which) % SUPPLIERS],
            item=item,
            pack_quantity=grams(100),
            typed_pack="100 g",
            quoted_on=TODAY - timedelta(days=200),
            by=by,
            recorded_at=NOW,
        )
        for number, item in enumerate(items)
        for which in range(1 + (number % 10 == 0))
    )
    OfferBreak.objects.bulk_create(
        OfferBreak(offer=offer, from_packs=packs, price=money(price))
        for offer in offers
        for packs, price in ((1, 9), (10, 8))
    )
    Commitment.objects.bulk_create(
        Commitment(
            source=f"Z{number}", item=item, quantity=grams(40), needed_on=TODAY + timedelta(days=number % 30)
        )
        for number, item in enumerate(items[::5])
    )
    orders = Order.objects.bulk_create(
        Order(
            code=f"Q{items[0].pk}{number:04d}",
            supplier=suppliers[0],
            state="draft",
            made_by=by,
            made_at=NOW,
            expected_on=TODAY + timedelta(days=number % 20),
        )
        for number in range(max(len(items) // 20, 1))
    )
    OrderLine.objects.bulk_create(
        OrderLine(order=order, item=item, packs=2, pack_quantity=grams(100), typed_pack="100 g")
        for order, item in zip(orders, items, strict=False)
    )
    sent = [order.pk for order in orders[::2]]
    Order.objects.filter(pk__in=sent).update(state="sent", sent_by=by, sent_at=NOW - timedelta(days=9))
