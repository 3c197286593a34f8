"""The stage of the demonstration: its days, its chances, its people, and what it writes down and buys.

Everything is drawn from one seeded generator and counted in whole numbers, so that the same seed and the same
day give the same books to the last microgram.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.db.models import prefetch_related_objects

from batches.formulas import approving
from batches.formulas import writing as formulas
from batches.formulas.writing import Ingredient
from batches.models import Formula, FormulaVersion
from inventory.deliveries.receiving import Arrival, receive
from inventory.items.stock import items_with_stock
from inventory.models import Delivery, Item, Kind, Order, Supplier
from inventory.purchasing import ordering
from inventory.purchasing.ordering import LineRequest
from studio.core.money import parse_price
from studio.core.quantities import Dimension, parse_quantity
from studio.demonstration import goods, story
from studio.models import User
from studio.people.signature import Signature


def working_day(day: date) -> date:
    """The day itself, or the Monday after."""
    return day + timedelta(days=max(7 - day.weekday(), 0) % 7 if day.weekday() >= 5 else 0)


@dataclass(frozen=True)
class People:
    """The three who work at Ninefold Lane."""

    owner: User
    maker: User
    bookkeeper: User


@dataclass
class Product:
    """A product with its formula, and the version poured now."""

    story: story.ProductStory
    item: Item
    formula: Formula
    version: FormulaVersion | None = None

    def current(self) -> FormulaVersion:
        """The version poured now, once there is one."""
        if self.version is None:
            raise LookupError(f"No version of {self.formula} is written yet.")
        return self.version


@dataclass(frozen=True)
class Coming:
    """An order on its way: what will arrive, by item, offers and packs of each."""

    day: date
    supplier: str
    lines: tuple[tuple[str, goods.Offer, int], ...]
    order: Order


class Stage:
    """The state of one telling: the day, the people, the tables by key, and what is under way."""

    def __init__(self, *, people: People, today: date, zone: ZoneInfo, seed: int) -> None:
        self.people, self.today, self.zone = people, today, zone
        self.rng = Random(seed)  # noqa: S311 — a story, not a secret
        self.first_day = today - timedelta(days=story.DAYS)
        self.day = self.first_day
        self.suppliers: dict[str, Supplier] = {}
        self.items: dict[str, Item] = {}
        self.products: dict[str, Product] = {}
        self.coming: list[Coming] = []
        self.paused: set[str] = set()
        self.asked: dict[tuple[str, str], list[tuple[int, int]]] = {}  # cents of a pack by item and pack
        self._offers_taken: dict[str, int] = {}
        self._invoice, self._order = 4100, 1000

    # Time and chance

    def sign(self, by: User, minute: int, reason: str = "") -> Signature:
        """A signature at a minute of the day's clock, written down two minutes later."""
        happened_at = datetime.combine(self.day, time(minute // 60, minute % 60), self.zone)
        return Signature(by, happened_at, happened_at + timedelta(minutes=2), reason)

    def percent_on(self, day: date, product: story.ProductStory | None = None) -> int:
        """How busy a day is, in percent of an even one: the season, and a studio that grows by a third."""
        season = story.SEASON[day.month]
        if product and product.months is not None:
            season = product.months.get(day.month, 0)
        return season * (85 + 30 * (day - self.first_day).days // story.DAYS) // 100

    def roughly(self, hundredths: int) -> int:
        """A whole number near `hundredths`/100, a fifth up or down, the rest left to chance."""
        return (hundredths * self.rng.randint(80, 120) // 100 + self.rng.randint(0, 99)) // 100

    # Setting up

    def furnish(self) -> None:
        """Suppliers, items and formulas with their first versions."""
        for each in goods.SUPPLIERS:
            self.suppliers[each.key] = Supplier.objects.create(
                name=each.name, lead_days=each.lead_days, email=each.email, notes=each.notes
            )
        for item in goods.ITEMS:
            self.items[item.key] = Item.objects.create(
                name=item.name, kind=item.kind, unit=item.unit, place=item.place, **item.details
            )
        for product in story.PRODUCTS:
            self.products[product.key] = self._product(product)

    def _product(self, product: story.ProductStory) -> Product:
        if product.blend_of:
            item = self.items[product.key]
        else:
            item = Item.objects.create(
                name=product.name, kind=Kind.FINISHED, unit=product.unit, place="Cure rack"
            )
        return Product(product, item, Formula.objects.create(name=product.formula, item=item))

    def write_due_versions(self) -> None:
        """Write the versions whose day has come; the one before is retired."""
        elapsed = (self.day - self.first_day).days
        for product in self.products.values():
            for version in product.story.versions:
                if version.after_percent * story.DAYS // 100 == elapsed:
                    self._write(product, version)

    def _write(self, product: Product, told: story.VersionStory) -> None:
        ingredients = [
            Ingredient(self.items[key], basis, amount, spare, self._tolerance(key))
            for key, basis, amount, spare in told.lines
        ]
        process = dict(told.process) | {"what_changed": told.what_changed}
        today = self.sign(self.people.owner, 8 * 60)
        earlier = today.recorded_at - timedelta(days=story.WRITTEN_BEFORE)
        version = formulas.write_version(
            product.formula, process, ingredients, signature=Signature(today.by, earlier, earlier)
        )
        prefetch_related_objects([version], "lines__item")  # read for every run planned from it
        if product.version:
            self.retire(product.version, f"Version {version.number} takes its place.")
        product.version = version
        if product.story.key not in story.AT_TRIAL:
            self.approve(product, version)

    def _tolerance(self, key: str) -> int | None:
        """How far off a weight may be, by what is weighed; dyes and powders by a step of the scale."""
        return story.TOLERANCES_PPM.get(self.items[key].kind)

    def approve(self, product: Product, version: FormulaVersion) -> None:
        """Have a version approved on the day it is first poured for sale."""
        raise NotImplementedError

    def retire(self, version: FormulaVersion, reason: str) -> None:
        """No longer to be poured."""
        signature = self.sign(self.people.owner, 7 * 60 + 55, reason)
        approving.change_state(version.pk, FormulaVersion.State.RETIRED, signature=signature)

    # Buying

    def order_what_is_low(self) -> None:
        """Order what is below its mark, counting usable stock, less promises, plus orders on the way."""
        stock = {item.pk: item for item in items_with_stock(self.day)}
        wanted: dict[str, list[tuple[str, goods.Offer, int]]] = {}
        busy = self.percent_on(self.day + timedelta(days=21))
        for each in goods.ITEMS:
            if not each.offers or each.key in self.paused:
                continue
            item = self.items[each.key]
            position = stock[item.pk].usable - stock[item.pk].committed + self._on_the_way(each.key)
            gap = max(each.reorder_at * max(busy, 70) // 100, 0) - position
            if gap > 0:
                offer = self._next_offer(each)
                packs = max(each.packs, -(-gap // parse_quantity(offer.holds, item.dimension)))
                wanted.setdefault(each.supplier, []).append((each.key, offer, packs))
        for supplier, lines in wanted.items():
            lead = self.suppliers[supplier].lead_days or 5
            arrives = working_day(self.day + timedelta(days=max(lead + self.rng.randint(-2, 3), 1)))
            order = self.send_order(supplier, [self._wanted(*line) for line in lines], minute=8 * 60 + 40)
            self.coming.append(Coming(arrives, supplier, tuple(lines), order))

    def _wanted(self, key: str, offer: goods.Offer, packs: int) -> LineRequest:
        item = self.items[key]
        return LineRequest(item, packs, parse_quantity(offer.holds, item.dimension), offer.holds)

    def send_order(
        self, supplier: str, wanted: Sequence[LineRequest], *, minute: int, expected_on: date | None = None
    ) -> Order:
        """Write an order and mark it as sent within a few minutes."""
        order = ordering.draft(
            supplier=self.suppliers[supplier],
            wanted=wanted,
            expected_on=expected_on,
            signature=self.sign(self.people.owner, minute),
        )
        sent = self.sign(self.people.owner, minute + 6)
        return ordering.send(order.pk, signature=sent, expected_on=order.expected_on)

    def _on_the_way(self, key: str) -> int:
        return sum(
            packs * parse_quantity(offer.holds, self.items[key].dimension)
            for order in self.coming
            for name, offer, packs in order.lines
            if name == key
        )

    def _next_offer(self, each: goods.ItemStory) -> goods.Offer:
        taken = self._offers_taken.get(each.key, 0)
        self._offers_taken[each.key] = taken + 1
        return each.offers[taken % len(each.offers)]

    def take_in_deliveries(self) -> None:
        """Receive every order that arrives today."""
        due = [order for order in self.coming if order.day <= self.day]
        self.coming = [order for order in self.coming if order.day > self.day]
        for place, order in enumerate(due):
            ordered = order.order.lines.order_by("pk").values_list("pk", flat=True)
            arrivals = [
                replace(self.arrival(*line), order_line_id=line_id)
                for line, line_id in zip(order.lines, ordered, strict=True)
            ]
            self.receive(order.supplier, arrivals, minute=9 * 60 + 5 * place)

    def arrival(self, key: str, offer: goods.Offer, packs: int, expires_on: date | None = None) -> Arrival:
        """A line of an invoice: the pack as written, at the price the supplier quoted for so many."""
        item = self.items[key]
        reached = [cents for least, cents in self.asked.get((key, offer.holds), []) if least <= packs]
        cents = reached[-1] if reached else offer.cents
        if reached and offer.per != "pack":
            cents //= int(offer.holds.split()[0])
        sum_of = f"{cents // 100}.{cents % 100:02d}"
        price = f"{sum_of} per pack" if offer.per == "pack" else f"{sum_of}/{offer.per}"
        quantity = parse_quantity(offer.holds, item.dimension)
        return Arrival(
            item=item,
            packs=packs,
            pack_quantity=quantity,
            goods_value=parse_price(price, item.dimension, currency="USD").total(packs, quantity),
            typed_quantity=offer.holds,
            typed_price=price,
            supplier_lot=f"{key[:2].upper()}{self.rng.randint(10_000, 99_999)}"
            if item.dimension is Dimension.MASS
            else "",
            expires_on=expires_on,
        )

    def receive(self, supplier: str, arrivals: Sequence[Arrival], *, minute: int) -> Delivery:
        """Put a delivery on the shelf with its usual freight."""
        self._invoice += self.rng.randint(1, 9)
        told = next(each for each in goods.SUPPLIERS if each.key == supplier)
        return receive(
            supplier=self.suppliers[supplier],
            reference=f"INV-{self._invoice}",
            arrivals=arrivals,
            freight=told.freight_cents * 10_000,
            spread=Delivery.Spread.VALUE,
            signature=self.sign(self.people.maker if supplier != "paper" else self.people.owner, minute),
        )
