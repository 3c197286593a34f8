"""What bringing a shop's file in would do now: which orders are new, known, changed meanwhile, and by which lots."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time

from django.utils import timezone

from inventory.importing.cells import Problem
from inventory.importing.days import Order
from inventory.ledger.closing import closed_sentence, open_from
from inventory.lots.moving import Taking
from inventory.lots.shelves import as_shelf
from inventory.lots.suggestion import Shelf, suggest_lots
from inventory.models import (
    CustomerOrder,
    Grade,
    Item,
    Kind,
    Lot,
    Shop,
    ShopOrder,
    ShopProduct,
    WaitingOrders,
)
from inventory.sales_orders.order_standing import ready_lots
from inventory.shop_files.reading import NEEDED, Product, ReadOrder, ShopFile, heading_row, places, read
from studio.web.reading_tables import unpack

CLOSED = "Take these orders out of the file, or leave their day out: then they leave today."


@dataclass
class NewOrder:
    """An order that would come in, and, where it left already, the lots picked for it."""

    order: ReadOrder
    picks: list[tuple[str, Taking]] = field(default_factory=list)
    why: list[str] = field(default_factory=list)


@dataclass
class OrderPlan:
    """All that a page says of a shop's file before anything happens."""

    headings: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)  # needed things no column stands for
    read: ShopFile = field(default_factory=ShopFile)
    items: Mapping[int, Item] = field(default_factory=dict)
    new: list[NewOrder] = field(default_factory=list)
    known: int = 0
    not_ours: int = 0
    changed: list[tuple[ReadOrder, ShopOrder]] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def ready(self) -> bool:
        """Whether it may be brought in as it stands."""
        return bool(self.new) and not (self.missing or self.problems or self.read.unknown)

    @property
    def fingerprint(self) -> str:
        """What would come in, in short: a page that carries it notices when that changed."""
        said = [
            [
                each.order.digest,
                str(each.order.day),
                each.order.customer,
                each.order.reach,
                sorted(each.order.wanted.items()),
                [[taking.lot_id, taking.quantity] for _, taking in each.picks],
            ]
            for each in self.new
        ]
        return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def plan_of(waiting: WaitingOrders, today: date) -> OrderPlan:
    """What bringing a kept file in would do; a handful of queries for any number of orders."""
    shop, table = waiting.shop, unpack(bytes(waiting.content))
    sheet = max(table.sheets, key=lambda each: len(each.rows))
    head = heading_row(sheet)
    plan = OrderPlan(headings=[text for text in (head[1] if head else []) if text], notes=list(table.notes))
    there = places(plan.headings, shop.columns)
    plan.missing = [name for name in NEEDED if name not in there]
    if head is None or plan.missing:
        return plan
    plan.items = {item.pk: item for item in Item.objects.filter(kind=Kind.FINISHED)}
    days: Order = "day" if shop.days == "day" else "month" if shop.days == "month" else ""
    named = shop.becomes == Shop.Becomes.ORDER
    plan.read = read(sheet, shop.columns, products_of(shop), days=days, today=today, named=named)
    plan.problems = list(plan.read.problems)
    _sort_out(plan, shop)
    if not plan.problems and not plan.read.unknown:
        _check_sizes(plan)
        if shop.becomes == Shop.Becomes.SENT:
            _pick(plan, today)
    return plan


def products_of(shop: Shop) -> dict[str, Product]:
    """What the shop's words stand for, by the words in small letters."""
    rows = ShopProduct.objects.filter(shop=shop)
    return {row.words.casefold(): Product(row.item_id, row.pieces) for row in rows}


def _sort_out(plan: OrderPlan, shop: Shop) -> None:
    """Which orders are new, and which came in before; of those whether they changed in the shop meanwhile."""
    came = {
        row.reference: row
        for row in ShopOrder.objects.filter(shop=shop).select_related("order", "dispatch__posting")
    }
    unknown = {words.casefold() for words in plan.read.unknown}
    for order in plan.read.orders:
        if before := came.get(order.reference):
            plan.known += 1
            if before.digest != order.digest:
                plan.changed.append((order, before))
        elif order.wanted or any(line.words.casefold() in unknown for line in order.lines):
            plan.new.append(NewOrder(order))
        elif order.lines:
            plan.not_ours += 1
    fresh = {each.order.reference for each in plan.new}
    by_hand = CustomerOrder.objects.filter(from_shop=None).exclude(reference="")
    for code, reference in by_hand.values_list("code", "reference"):
        if reference in fresh:
            plan.notices.append(f"Order {code} was taken by hand with the reference {reference}.")


def _check_sizes(plan: OrderPlan) -> None:
    for each in plan.new:
        for item_id, quantity in each.order.wanted.items():
            item = plan.items.get(item_id)
            if item and quantity > item.plausible_limit:
                plan.problems.append(
                    Problem(each.order.row, "", item.quantity(quantity), f"So many {item} are not expected.")
                )


def moment_of(order: ReadOrder, now: datetime) -> datetime:
    """When goods of an order left: at noon of its day on the studio's clock, now where that is still to come."""
    if order.day is None:
        return now
    return min(_noon(order.day), now)


def _pick(plan: OrderPlan, today: date) -> None:
    """Lots for orders that left already, in the order of their days; the shelf goes down from one to the next."""
    items = {item_id for each in plan.new for item_id in each.order.wanted}
    lots: dict[int, list[Lot]] = {item_id: [] for item_id in items}
    for lot in ready_lots(today).filter(item__in=items, grade=Grade.FIRST).select_related("item"):
        lots[lot.item_id].append(lot)
    left = {lot.pk: lot.on_hand for mine in lots.values() for lot in mine}
    opened = open_from()
    for each in sorted(plan.new, key=lambda new: (new.order.day or today, new.order.row)):
        day = each.order.day or today
        if opened and each.order.day and _noon(day) < opened:
            plan.problems.append(
                Problem(each.order.row, "", f"{day.day} {day:%b %Y}", closed_sentence(opened), CLOSED)
            )
            continue
        for item_id, wanted in each.order.wanted.items():
            shelf = [_as_left(lot, left) for lot in lots[item_id] if _was_there(lot, day)]
            suggestion = suggest_lots(wanted, shelf)
            if suggestion.short:
                _short(plan, each.order, plan.items[item_id], wanted, suggestion.short)
                continue
            for pick in suggestion.picks:
                left[pick.lot_id] -= pick.quantity
                each.picks.append((pick.code, Taking(pick.lot_id, pick.quantity)))
            each.why.append(suggestion.reason)


def _noon(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time(12)))


def _was_there(lot: Lot, day: date) -> bool:
    """Whether a lot could leave at noon of a day."""
    return lot.arrived_at <= _noon(day) and (lot.ready_on is None or lot.ready_on <= day)


def _as_left(lot: Lot, left: Mapping[int, int]) -> Shelf:
    return replace(as_shelf(lot), on_hand=left[lot.pk])


def _short(plan: OrderPlan, order: ReadOrder, item: Item, wanted: int, short: int) -> None:
    day = order.day
    when = f" on {day.day} {day:%b %Y}" if day else ""
    plan.problems.append(
        Problem(
            order.row,
            "",
            f"{item.quantity(wanted)} × {item}",
            f"{item.quantity(short)} of them were not on the shelf{when}, released and free.",
            "Release or enter what is missing, or bring the orders in as orders to be sent.",
        )
    )


def sample_of(plan: OrderPlan, at_most: int) -> Sequence[NewOrder]:
    """The first orders, to be looked at."""
    return plan.new[:at_most]
