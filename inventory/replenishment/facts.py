"""Everything the books know that buying rests on, for all items or a few, in a fixed number of queries.

Days are ordinals (`date.toordinal`), quantities base units, money millionths.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from datetime import UTC, date, timedelta
from typing import Any

from django.db.models import BooleanField, CharField, Exists, ExpressionWrapper, F, Min, OuterRef, Q
from django.db.models.functions import Cast
from django.utils import timezone

from inventory.models import (
    USES,
    Commitment,
    DeliveryLine,
    Item,
    Lot,
    Movement,
    Offer,
    OfferBreak,
    OneOff,
    OrderLine,
    Supplier,
)
from inventory.neighbors import neighbors
from inventory.purchasing import lead_times
from inventory.querysets import may_be_used
from inventory.replenishment.daily_forecast import Requirement
from inventory.replenishment.demand import YEAR_OF_WEEKS
from inventory.replenishment.projection import UsableStock
from inventory.replenishment.quantity import PackOffer
from studio.core.days import begin, first_instant_after


@dataclass(frozen=True)
class Coming:
    """What an order still has to bring: from whom, when it was sent, and when it is expected, None where nobody said."""

    code: str
    supplier_id: int
    quantity: int
    sent_on: date | None
    expected_on: date | None


@dataclass(frozen=True)
class Source:
    """A pack that can be bought: of a standing offer, or, without one, as it was bought last (`offer_id` None)."""

    quoted: PackOffer
    supplier: Supplier
    typed_pack: str
    offer_id: int | None
    lead_days: int | None = None
    on: date | None = None


@dataclass
class ItemFacts:
    """What is known of one item."""

    item: Item
    # Used by day, today included.
    used: dict[int, int] = field(default_factory=dict)
    known_since: int | None = None
    shelf: list[UsableStock] = field(default_factory=list)
    on_hand: int = 0
    value: int = 0
    expires: dict[date, int] = field(default_factory=dict)
    # By runs, by orders, and by what still has to be poured for orders; of the last, `unplanned` in all.
    wanted: list[Requirement] = field(default_factory=list)
    unplanned: int = 0
    coming: list[Coming] = field(default_factory=list)
    drafted: int = 0
    draft_codes: list[str] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    # The days of real deliveries by supplier.
    took: dict[int, list[int]] = field(default_factory=dict)

    @property
    def usable(self) -> int:
        """What may be used today."""
        return sum(each.quantity for each in self.shelf)

    @property
    def committed(self) -> int:
        """What planned runs and open orders want of it, planned for yet or not."""
        return sum(each.quantity for each in self.wanted)

    @property
    def on_order(self) -> int:
        """What sent orders still have to bring."""
        return sum(each.quantity for each in self.coming)


@dataclass
class Facts:
    """Everything, by item; and how long each supplier's orders took."""

    day: date
    of: dict[int, ItemFacts]
    took: dict[int, list[int]]


def read(day: date, *, window: int, item_ids: Collection[int] | None = None) -> Facts:
    """What is known on a day of all current items, or of these with what takes their place and what they take the place of.

    A fixed number of queries.
    """
    items = Item.objects.current()
    if item_ids is not None:
        asked = list(item_ids)
        items = items.filter(
            Q(pk__in=asked)
            | Q(replaced_by__in=asked)
            | Q(pk__in=Item.objects.filter(pk__in=asked).values("replaced_by"))
        )
    of = {item.pk: ItemFacts(item) for item in items.select_related("replaced_by").order_by("pk")}
    # Of a few, only their rows; of all, no condition, which would name every one of them.
    some = {"item__in": list(of)} if item_ids is not None else {}
    _uses(of, some, day, window)
    _shelves(of, some, day)
    _promises(of, some, day)
    _orders(of, some)
    known = lead_times.read(day)
    for (item_id, supplier_id), days in known.of_item.items():
        if item_id in of:
            of[item_id].took[supplier_id] = days
    took, lines = known.of_orders, known.lines

    def share(supplier: Supplier) -> int:
        return share_of_freight(supplier, len(took.get(supplier.pk, ())), lines.get(supplier.pk, 0))

    _sources(of, some, day, share)
    return Facts(day, of, took)


def _uses(of: dict[int, ItemFacts], some: dict[str, Any], day: date, window: int) -> None:
    first = begin(day - timedelta(days=YEAR_OF_WEEKS + window))
    moved = Movement.objects.standing().filter(
        kind__in=USES,
        posting__happened_at__gte=first,
        posting__happened_at__lt=first_instant_after(day),
    )
    if some:
        moved = moved.filter(lot__item__in=some["item__in"])
    moved = moved.exclude(posting__in=OneOff.objects.standing().values("posting"))
    days = _Days(day - timedelta(days=YEAR_OF_WEEKS + window), day)
    rows = moved.order_by().annotate(moment=Cast("posting__happened_at", CharField()))
    for item_id, moment, quantity in rows.values_list("lot__item", "moment", "quantity").iterator():
        known = of.get(item_id)
        if known is not None:
            on = days.of(moment)
            known.used[on] = known.used.get(on, 0) - quantity
    arrived = Lot.objects.filter(**some).order_by().values_list("item").annotate(first=Min("arrived_at"))
    for item_id, moment in arrived:
        if item_id in of:
            of[item_id].known_since = timezone.localtime(moment).date().toordinal()


class _Days:
    """The day on the studio's clock that a moment falls on, from the moment as the database writes it, in UTC.

    A hundred thousand moments are turned into days; a look-up in the beginnings of the days is many times faster than
    the calendar's own arithmetic on each.
    """

    def __init__(self, first: date, last: date) -> None:
        self.first = first.toordinal()
        days = range(self.first, last.toordinal() + 1)
        begins = (begin(date.fromordinal(day)).astimezone(UTC) for day in days)
        self.begins = [f"{moment:%Y-%m-%d %H:%M}" for moment in begins]

    def of(self, moment: str) -> int:
        """The day's ordinal."""
        return self.first + bisect_right(self.begins, moment[:16]) - 1


def _shelves(of: dict[int, ItemFacts], some: dict[str, Any], day: date) -> None:
    free = ExpressionWrapper(may_be_used(day), output_field=BooleanField())
    lots = Lot.objects.filter(**some).on_shelf().annotate(free=free).order_by("pk")
    columns = ("item", "on_hand", "value", "expires_on", "held", "allowed_until", "free")
    for item_id, on_hand, value, expires_on, held, allowed_until, is_free in lots.values_list(*columns):
        if item_id not in of:
            continue
        known = of[item_id]
        known.on_hand += on_hand
        known.value += value
        if not is_free:
            continue
        last = _last_good_day(expires_on, held, allowed_until)
        known.shelf.append(UsableStock(on_hand, None if last is None else (last - day).days))
        if last is not None:
            known.expires[last] = known.expires.get(last, 0) + on_hand


def _last_good_day(expires_on: date | None, held: bool, allowed_until: date | None) -> date | None:
    """The last day on which a lot that may be used today may be used."""
    if held:
        return allowed_until
    if expires_on is None or allowed_until is None:
        return expires_on
    return max(expires_on, allowed_until)


def _promises(of: dict[int, ItemFacts], some: dict[str, Any], day: date) -> None:
    rows = Commitment.objects.filter(**some).order_by("needed_on", "pk")
    for item_id, needed_on, quantity in rows.values_list("item", "needed_on", "quantity"):
        if item_id in of:
            of[item_id].wanted.append(Requirement(max((needed_on - day).days, 0), quantity))
    for neighbor in neighbors():
        for item_id, needed_on, quantity in neighbor.materials_of_orders(day):
            if item_id in of:
                of[item_id].wanted.append(Requirement(max((needed_on - day).days, 0), quantity))
                of[item_id].unplanned += quantity


def _orders(of: dict[int, ItemFacts], some: dict[str, Any]) -> None:
    """What is on order and on drafts."""
    lines = OrderLine.objects.expected().filter(**some).order_by("order__expected_on", "pk")
    columns = ("item", "order__code", "order__supplier", "order__sent_at", "order__expected_on")
    for item_id, code, supplier_id, sent_at, expected_on, packs, pack, received in lines.values_list(
        *columns, "packs", "pack_quantity", "received"
    ):
        if item_id in of:
            sent_on = timezone.localtime(sent_at).date() if sent_at else None
            left = packs * pack - received
            of[item_id].coming.append(Coming(code, supplier_id, left, sent_on, expected_on))
    drafts = OrderLine.objects.filter(order__state="draft", **some).order_by("pk")
    for item_id, code, packs, pack in drafts.values_list("item", "order__code", "packs", "pack_quantity"):
        if item_id in of:
            of[item_id].drafted += packs * pack
            of[item_id].draft_codes.append(code)


def share_of_freight(supplier: Supplier, orders: int, lines: int) -> int:
    """What one item bears of an order's freight, in millionths, rounded up: orders of a supplier carry several items."""
    freight = supplier.freight_per_order or 0
    return -(-freight * orders // lines) if lines else freight


def _sources(
    of: dict[int, ItemFacts], some: dict[str, Any], day: date, share: Callable[[Supplier], int]
) -> None:
    """Standing offers with their breaks; of an item without one, the pack that came last, at the price paid."""
    suppliers = Supplier.objects.in_bulk()
    offers = list(Offer.objects.standing(day).filter(**some).order_by("pk"))
    breaks: dict[int, list[tuple[int, int]]] = defaultdict(list)
    standing = Offer.objects.standing(day).filter(**some)
    prices = OfferBreak.objects.filter(offer__in=standing.values("pk")).order_by("offer", "from_packs")
    for offer_id, from_packs, price in prices.values_list("offer", "from_packs", "price"):
        breaks[offer_id].append((from_packs, price))
    for offer in offers:
        if offer.item_id not in of or not breaks[offer.pk]:
            continue
        supplier = suppliers[offer.supplier_id]
        quoted = PackOffer(
            offer.pk,
            offer.pack_quantity,
            offer.minimum_packs,
            tuple(breaks[offer.pk]),
            share(supplier),
            supplier.free_freight_from,
        )
        source = Source(quoted, supplier, offer.typed_pack, offer.pk, offer.lead_days, offer.quoted_on)
        of[offer.item_id].sources.append(source)
    _last_bought(of, some, suppliers, share)


def _last_bought(
    of: dict[int, ItemFacts],
    some: dict[str, Any],
    suppliers: dict[int, Supplier],
    share: Callable[[Supplier], int],
) -> None:
    came = DeliveryLine.objects.filter(delivery__posting__reversal__isnull=True, **some)
    later = came.filter(item=OuterRef("item"), pk__gt=OuterRef("pk"))
    latest = came.filter(~Exists(later)).filter(packs__gt=0)
    columns = ("pk", "item", "packs", "pack_quantity", "typed_quantity", "goods_value")
    for pk, item_id, packs, pack, typed, goods, supplier_id, moment in latest.values_list(
        *columns, F("delivery__supplier"), "delivery__posting__happened_at"
    ):
        if item_id not in of or of[item_id].sources:
            continue
        supplier = suppliers[supplier_id]
        price = -(-goods // packs)
        quoted = PackOffer(
            -pk,
            pack,
            1,
            ((1, price),),
            share(supplier),
            supplier.free_freight_from,
        )
        on = timezone.localtime(moment).date()
        of[item_id].sources.append(Source(quoted, supplier, typed, None, None, on))
