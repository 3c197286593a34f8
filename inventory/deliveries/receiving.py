"""Goods arrive: a delivery becomes lots on the shelf, freight shared over them to the last millionth."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone

from inventory.ledger import books
from inventory.models import Delivery, DeliveryLine, Item, Lot, Movement, Posting, Supplier
from inventory.purchasing import ordering
from studio.core.money import allocate
from studio.core.quantities import Dimension
from studio.numbering import next_codes
from studio.people.signature import Signature

LOT_PREFIX = "L"


class CannotSpread(Exception):
    """Freight cannot be shared as asked. Its text is a sentence that says what to do."""


@dataclass(frozen=True)
class Arrival:
    """One line of an invoice, understood: packs × `pack_quantity` base units for `goods_value` millionths in all."""

    item: Item
    packs: int
    pack_quantity: int
    goods_value: int
    typed_quantity: str
    typed_price: str
    supplier_lot: str = ""
    expires_on: date | None = None
    place: str = ""
    lot_per_pack: bool = False
    order_line_id: int | None = None

    @property
    def quantity(self) -> int:
        """Everything on the line, in base units."""
        return self.packs * self.pack_quantity


def spread_freight(freight: int, arrivals: Sequence[Arrival | DeliveryLine], spread: str) -> list[int]:
    """Each line's share of the freight, in millionths, summing to it exactly; of a credit, below zero.

    By value or by weight; IAS 2 puts carriage inwards into the cost of what it carried. Raises CannotSpread.
    """
    if not freight:
        return [0] * len(arrivals)
    if spread == Delivery.Spread.WEIGHT:
        if any(arrival.item.dimension is not Dimension.MASS for arrival in arrivals):
            raise CannotSpread(
                "Freight can be shared by weight only when every line is weighed. Share it by cost."
            )
        return allocate(freight, [arrival.quantity for arrival in arrivals])
    weights = [arrival.goods_value for arrival in arrivals]
    if not any(weights):
        raise CannotSpread(
            "Every line is free, so freight cannot be shared by cost. Give the lines a price, or share it by weight."
        )
    return allocate(freight, weights)


@transaction.atomic
def receive(
    *,
    supplier: Supplier,
    reference: str,
    arrivals: Sequence[Arrival],
    freight: int,
    spread: str,
    signature: Signature,
) -> Delivery:
    """Put a delivery on the shelf: one lot for each line, or for each pack where the line asks for that.

    Lines that were ordered name their order line; an order of which nothing is left to come closes. Values are in
    millionths of the currency unit. Raises CannotSpread, WrongTime, OrderError.
    """
    ordered = [(each.order_line_id, each.item.pk) for each in arrivals if each.order_line_id is not None]
    orders = ordering.expecting(supplier, ordered)
    freights = spread_freight(freight, arrivals, spread)
    if signature.happened_at > signature.recorded_at:
        raise books.WrongTime("A delivery cannot have arrived in the future. Give a time that has passed.")
    counts = [arrival.packs if arrival.lot_per_pack else 1 for arrival in arrivals]
    codes = iter(next_codes(LOT_PREFIX, sum(counts)))
    lots: list[Lot] = []
    amounts: list[tuple[int, int]] = []
    for arrival, carried, count in zip(arrivals, freights, counts, strict=True):
        values = allocate(arrival.goods_value + carried, [1] * count)
        for value in values:
            lots.append(_lot(arrival, next(codes), supplier, signature))
            amounts.append((arrival.quantity // count, value))
    Lot.objects.bulk_create(lots)
    lines = [
        books.Line(lot.pk, Movement.Kind.RECEIVED, quantity, value)
        for lot, (quantity, value) in zip(lots, amounts, strict=True)
    ]
    posting = books.post(Posting.Kind.RECEIPT, signature, lines)
    delivery = Delivery.objects.create(
        supplier=supplier, reference=reference, freight=freight, spread=spread, posting=posting
    )
    _keep_lines(delivery, arrivals, freights, counts, lots)
    ordering.settle(orders, signature)
    return delivery


def _lot(arrival: Arrival, code: str, supplier: Supplier, signature: Signature) -> Lot:
    """The lot an arrival becomes, still empty."""
    expires_on = arrival.expires_on
    if expires_on is None and arrival.item.shelf_life_days:
        arrived_on = timezone.localtime(signature.happened_at).date()
        expires_on = arrived_on + timedelta(days=arrival.item.shelf_life_days)
    return Lot(
        code=code,
        item=arrival.item,
        supplier=supplier,
        supplier_lot=arrival.supplier_lot,
        arrived_at=signature.happened_at,
        expires_on=expires_on,
        place=arrival.place or arrival.item.place,
    )


def _keep_lines(
    delivery: Delivery, arrivals: Sequence[Arrival], freights: list[int], counts: list[int], lots: list[Lot]
) -> None:
    """Keep the invoice's lines as typed, and tell each lot which line it came on."""
    lines = DeliveryLine.objects.bulk_create(
        DeliveryLine(
            delivery=delivery,
            item=arrival.item,
            order_line_id=arrival.order_line_id,
            packs=arrival.packs,
            pack_quantity=arrival.pack_quantity,
            typed_quantity=arrival.typed_quantity,
            typed_price=arrival.typed_price,
            goods_value=arrival.goods_value,
            freight_value=carried,
        )
        for arrival, carried in zip(arrivals, freights, strict=True)
    )
    remaining = iter(lots)
    for line, count in zip(lines, counts, strict=True):
        for _ in range(count):
            next(remaining).delivery_line = line
    Lot.objects.bulk_update(lots, ["delivery_line"])
