"""What a base unit of an item costs by a chosen basis, on any day: read once, looked up as often as a page likes."""

from bisect import bisect_right
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from fractions import Fraction

from django.db.models import Sum
from django.urls import reverse
from django.utils import timezone

from costing.model.missing import MissingFigure
from costing.standard.cost_sheet import UnitPrice
from inventory.models import DeliveryLine, Grade, Item, Lot, Movement, Offer, Posting
from inventory.purchasing.offers import price_at


class PriceBasis(StrEnum):
    """What a price is taken from."""

    LATEST = "latest"
    AVERAGE = "average"
    OFFER = "offer"
    REPLACEMENT = "replacement"

    @property
    def words(self) -> str:
        """As a choice."""
        return {
            "latest": "Latest receipt",
            "average": "Average on hand",
            "offer": "Offers",
            "replacement": "Replacement today",
        }[self.value]

    @property
    def explained(self) -> str:
        """What it means, in a sentence."""
        return {
            "latest": "What the latest delivery cost, its freight included.",
            "average": "What is on the shelf now cost, on average.",
            "offer": "What suppliers ask now when enough for that many is bought at once, without freight.",
            "replacement": (
                "The cheapest offer that holds now for what this run takes, without freight; "
                "else the latest receipt."
            ),
        }[self.value]


# What came without a delivery, and how that is said.
HERE = {Posting.Kind.OPENING.value: "opening stock", Posting.Kind.YIELD.value: "recovered or made here"}


@dataclass(frozen=True)
class Receipt:
    """What a delivery brought of an item, and for what: base units and micros, freight included."""

    on: date
    quantity: int
    value: int
    said: str
    url: str


@dataclass(frozen=True)
class Buying:
    """What covering a need by one offer means: so many packs at a price each."""

    offer: Offer
    packs: int
    pack_price: int

    @property
    def cash(self) -> int:
        """What has to be paid, in micros."""
        return self.packs * self.pack_price

    @property
    def each(self) -> Fraction:
        """Micros for one base unit."""
        return Fraction(self.pack_price, self.offer.pack_quantity)


def buying_by(offer: Offer, need: int) -> Buying | None:
    """How a need, in base units, is covered by an offer; None below its first break. Expects its breaks."""
    packs = max(-(-need // offer.pack_quantity), offer.minimum_packs, 1)
    price = price_at(offer.breaks.all(), packs)
    return Buying(offer, packs, price) if price is not None else None


def cheapest(offers: Iterable[Offer], need: int) -> Buying | None:
    """The way of covering a need that takes the least money; of equals the one with the lower price each."""
    ways = [way for offer in offers if (way := buying_by(offer, need))]
    return min(ways, key=lambda way: (way.cash, way.each, way.offer.pk), default=None)


@dataclass(frozen=True)
class Prices:
    """Every price of some items: receipts and offers with their days, and the average of what is on hand.

    `average` is micros and base units of what is on the shelf now.
    """

    receipts: Mapping[int, Sequence[Receipt]]
    offers: Mapping[int, Sequence[Offer]]
    average: Mapping[int, tuple[int, int]] = field(default_factory=dict)

    @classmethod
    def read(cls, items: Collection[int]) -> "Prices":
        """The prices of these items, by key: a handful of queries for any number."""
        return cls(_receipts(items), _offers(items), _average(items))

    def latest(self, item_id: int, on: date) -> UnitPrice | None:
        """What the latest receipt on or before a day cost."""
        found = self.receipts.get(item_id, ())
        place = bisect_right(found, on, key=lambda receipt: receipt.on)
        if not place:
            return None
        receipt = found[place - 1]
        return UnitPrice(Fraction(receipt.value, receipt.quantity), receipt.said, url=receipt.url)

    def standing(self, item_id: int, on: date) -> list[Offer]:
        """The offers that hold on a day: of each supplier and pack the latest, unless it is over."""
        latest: dict[tuple[int, int], Offer] = {}
        for offer in self.offers.get(item_id, ()):
            if offer.quoted_on <= on:
                latest[offer.supplier_id, offer.pack_quantity] = offer
        return [offer for offer in latest.values() if offer.valid_until is None or offer.valid_until >= on]

    def price(
        self, item_id: int, need: int, *, on: date, basis: PriceBasis, offer_need: int | None = None
    ) -> UnitPrice | None:
        """What one base unit costs by a basis, when a run takes `need` of it; None where nothing says.

        `offer_need` is how much is bought at once for PriceBasis.OFFER, the need itself unless given.
        """
        if basis is PriceBasis.LATEST:
            return self.latest(item_id, on)
        if basis is PriceBasis.AVERAGE:
            value, quantity = self.average.get(item_id, (0, 0))
            return UnitPrice(Fraction(value, quantity), "average of what is on hand") if quantity else None
        wanted = need if offer_need is None or basis is PriceBasis.REPLACEMENT else offer_need
        if way := cheapest(self.standing(item_id, on), max(wanted, 1)):
            return _offered(way)
        return self.latest(item_id, on) if basis is PriceBasis.REPLACEMENT else None


def _offered(way: Buying) -> UnitPrice:
    offer = way.offer
    said = f"{offer.supplier}: {way.packs} × {offer.typed_pack}, quoted {_day(offer.quoted_on)}"
    return UnitPrice(way.each, said, url=offer.get_absolute_url())


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def _receipts(items: Collection[int]) -> dict[int, list[Receipt]]:
    """What was received of each item, the earliest first: by deliveries, and as stock taken over at the start."""
    lines = (
        DeliveryLine.objects.filter(item__in=items, delivery__posting__reversal__isnull=True)
        .select_related("delivery__posting", "delivery__supplier")
        .order_by("delivery__posting__happened_at", "pk")
    )
    found: dict[int, list[Receipt]] = {}
    for line in lines:
        on = timezone.localtime(line.delivery.posting.happened_at).date()
        said = f"{line.delivery.supplier}, received {_day(on)}"
        receipt = Receipt(on, line.quantity, line.landed_value, said, line.delivery.get_absolute_url())
        found.setdefault(line.item_id, []).append(receipt)
    opened = (
        Movement.objects.standing()
        .filter(lot__item__in=items, posting__kind__in=HERE, quantity__gt=0, value__gt=0)
        .exclude(kind=Movement.Kind.FOUND)
        .order_by("posting__happened_at", "pk")
        .values_list("lot__item", "posting__happened_at", "posting", "posting__kind", "quantity", "value")
    )
    for item_id, at, posting, kind, quantity, value in opened:
        on = timezone.localtime(at).date()
        url = reverse("inventory:posting-detail", args=[posting])
        said = f"{HERE[kind]}, {_day(on)}"
        found.setdefault(item_id, []).append(Receipt(on, quantity, value, said, url))
    for each in found.values():
        each.sort(key=lambda receipt: receipt.on)
    return found


def _offers(items: Collection[int]) -> dict[int, list[Offer]]:
    """What was quoted of each item, the earliest first, with its breaks."""
    rows = (
        Offer.objects.filter(item__in=items, withdrawn=False)
        .select_related("supplier", "item")
        .prefetch_related("breaks")
        .order_by("quoted_on", "pk")
    )
    found: dict[int, list[Offer]] = {}
    for offer in rows:
        found.setdefault(offer.item_id, []).append(offer)
    return found


def _average(items: Collection[int]) -> dict[int, tuple[int, int]]:
    """Micros and base units of what is on the shelf, first quality."""
    rows = (
        Lot.objects.on_shelf()
        .filter(item__in=items, grade=Grade.FIRST)
        .order_by()
        .values_list("item")
        .annotate(worth=Sum("value"), there=Sum("on_hand"))
    )
    return {item_id: (int(worth), int(there)) for item_id, worth, there in rows}


def no_price(item: Item, basis: PriceBasis, on: date) -> MissingFigure:
    """Why an item has no price by a basis, and where one is entered."""
    blocks = f"{item} counts as nothing here."
    if basis is PriceBasis.LATEST:
        sentence = f"{item} was not received by {_day(on)}."
    elif basis is PriceBasis.AVERAGE:
        sentence = f"None of {item} is on hand."
    else:
        both = basis is PriceBasis.REPLACEMENT
        sentence = (
            f"{item} was never received, and no offer of it holds." if both else f"No offer of {item} holds."
        )
        return MissingFigure(
            sentence, blocks, "inventory:offer-add", (), "Enter an offer", f"?item={item.pk}"
        )
    return MissingFigure(sentence, blocks, "inventory:delivery-add", (), "Receive a delivery")
