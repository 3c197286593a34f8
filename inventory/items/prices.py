"""What an item cost over time: what was paid on deliveries, and what suppliers quoted."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.urls import reverse
from django.utils import timezone

from inventory.models import DeliveryLine, Item, OfferBreak


@dataclass(frozen=True)
class PricePoint:
    """What an item cost, or would have cost, on a day: `value` millionths for `quantity` base units.

    `value` is the price of the goods alone, so that what was paid and what was quoted lie on one scale; `landed` is
    the same with its freight and duty, as billed with the delivery (what was billed later is not in it), None for a
    quotation. `packs` is how many packs were bought, or from how many on the price holds; `document` names the
    invoice or the quotation and `url` leads to it. `withdrawn` offers are never among the points.
    """

    on: date
    value: int
    quantity: int
    paid: bool
    supplier: str
    url: str
    landed: int | None
    packs: int
    pack: str
    document: str


def price_points(item: Item) -> list[PricePoint]:
    """Every price of an item, the earliest first, in two queries; a quotation gives one point for each break.

    Deliveries that were reversed and offers that were withdrawn are left out. On one day what was quoted stands
    before what was paid.
    """
    points = [*_quoted(item), *_paid(item)]
    return sorted(points, key=lambda point: (point.on, point.paid))


def by_document(points: Iterable[PricePoint]) -> list[list[PricePoint]]:
    """The points as rows of a table: those of one quotation together, everything else by itself."""
    rows: list[list[PricePoint]] = []
    for point in points:
        if rows and not point.paid and rows[-1][0].url == point.url:
            rows[-1].append(point)
        else:
            rows.append([point])
    return rows


def _paid(item: Item) -> list[PricePoint]:
    lines = (
        DeliveryLine.objects.filter(item=item, delivery__posting__reversal__isnull=True)
        .select_related("delivery__supplier", "delivery__posting")
        .order_by("delivery__posting__happened_at", "pk")
    )
    return [
        PricePoint(
            on=timezone.localtime(line.delivery.posting.happened_at).date(),
            value=line.goods_value,
            quantity=line.quantity,
            paid=True,
            supplier=str(line.delivery.supplier),
            url=line.delivery.get_absolute_url(),
            landed=line.landed_value,
            packs=line.packs,
            pack=line.typed_quantity,
            document=str(line.delivery),
        )
        for line in lines
    ]


def _quoted(item: Item) -> list[PricePoint]:
    breaks = (
        OfferBreak.objects.filter(offer__item=item, offer__withdrawn=False)
        .select_related("offer__supplier")
        .order_by("offer__quoted_on", "offer_id", "from_packs")
    )
    return [
        PricePoint(
            on=each.offer.quoted_on,
            value=each.price,
            quantity=each.offer.pack_quantity,
            paid=False,
            supplier=str(each.offer.supplier),
            url=reverse("inventory:offer-detail", args=[each.offer_id]),
            landed=None,
            packs=each.from_packs,
            pack=each.offer.typed_pack,
            document="Offer",
        )
        for each in breaks
    ]
