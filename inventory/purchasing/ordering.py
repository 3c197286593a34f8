"""Purchase orders: drafted, sent, received in parts, closed or called off.

An order that is no longer a draft never changes in what it asks for. It closes by itself when a delivery brings the
last of it, and opens again when that delivery is reversed: `settle` compares what was ordered with what the standing
deliveries brought, so the state always follows the books.

Locking: the order's row first, then whatever else; `deliveries.receive` takes its orders before it takes codes.
"""

import hashlib
import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from inventory.models import DeliveryLine, Item, Order, OrderLine, Supplier
from inventory.purchasing import lead_times
from inventory.purchasing.lead_time import LeadTime
from inventory.purchasing.offers import by_pack, price_at
from studio.core.money import MONEY_LIMIT, round_to_cent
from studio.numbering import next_codes
from studio.people.signature import Signature

ORDER_PREFIX = "P"


class OrderError(Exception):
    """The order does not allow what was asked of it. Its text is a sentence for a person."""


@dataclass(frozen=True)
class LineRequest:
    """One line to be ordered: packs × `pack_quantity` base units, `price` in millionths for one pack.

    Price None: taken from the supplier's standing offer of that pack at that quantity, where there is one.
    """

    item: Item
    packs: int
    pack_quantity: int
    typed_pack: str
    price: int | None = None
    supplier_code: str = ""


@dataclass(frozen=True)
class Total:
    """What an order comes to: the lines whose price is known, in millionths, and how many lines have none."""

    known: int
    lacking: int


def total_of(lines: Iterable[OrderLine]) -> Total:
    """The lines added up, each rounded to the cent as on any document."""
    known, lacking = 0, 0
    for line in lines:
        if line.total is None:
            lacking += 1
        else:
            known += round_to_cent(line.total)
    return Total(known, lacking)


def lock(order_id: int) -> Order:
    """The order, locked until the transaction ends. Its supplier is read only then; see `order_progress.lock`."""
    return Order.objects.select_for_update(no_key=True).get(pk=order_id)


def standing_words(order: Any, on: date) -> tuple[str, str]:
    """Tone and word for where an order with its progress stands on a day."""
    if order.state == Order.State.DRAFT:
        return "plain", "Draft"
    if order.state == Order.State.CLOSED:
        return "good", "Closed"
    if order.state == Order.State.CALLED_OFF:
        return "plain", "Called off"
    if order.expected_on and order.expected_on < on:
        return "problem", "Overdue, part received" if order.arrival_count else "Overdue"
    return ("attention", "Part received") if order.arrival_count else ("plain", "Sent")


# Writing it


@transaction.atomic
def draft(
    *,
    supplier: Supplier,
    wanted: Sequence[LineRequest],
    signature: Signature,
    note: str = "",
    expected_on: date | None = None,
) -> Order:
    """Write an order that is not sent yet. Without `expected_on` the day follows from the lead time, where one is known.

    Raises OrderError.
    """
    lines = _lines(supplier, wanted, _day(signature))
    (code,) = next_codes(ORDER_PREFIX, 1)
    order = Order.objects.create(
        code=code,
        supplier=supplier,
        note=note,
        expected_on=expected_on or day_expected(supplier, lines, _day(signature)),
        made_by=signature.by,
        made_at=signature.happened_at,
    )
    _put(order, lines)
    return order


@transaction.atomic
def change(
    order_id: int,
    *,
    supplier: Supplier,
    wanted: Sequence[LineRequest],
    signature: Signature,
    note: str = "",
    expected_on: date | None = None,
) -> Order:
    """Write a draft anew: its supplier, lines, note and day. Raises OrderError when it is no draft any more."""
    order = lock(order_id)
    if not order.is_draft:
        raise OrderError(
            f"Order {order.spaced_code} was sent or called off meanwhile; nothing on it changes now."
        )
    lines = _lines(supplier, wanted, _day(signature))
    order.supplier, order.note = supplier, note
    order.expected_on = expected_on or day_expected(supplier, lines, _day(signature))
    order.save(update_fields=["supplier", "note", "expected_on"])
    order.lines.all().delete()
    _put(order, lines)
    return order


def _day(signature: Signature) -> date:
    return timezone.localtime(signature.happened_at).date()


def _lines(supplier: Supplier, wanted: Sequence[LineRequest], on: date) -> list[OrderLine]:
    """The lines with what the supplier's standing offers add to them; not yet tied to an order."""
    if not wanted:
        raise OrderError("Order at least one thing.")
    offers = by_pack(supplier, {each.item.pk for each in wanted}, on)
    lines = []
    for each in wanted:
        offer = offers.get((each.item.pk, each.pack_quantity))
        price, source = each.price, None
        if offer and price is None:
            price = price_at(offer.breaks.all(), each.packs)
            source = offer if price is not None else None
        if price is not None and price * each.packs > MONEY_LIMIT:
            raise OrderError(
                f"The line of {each.item} comes to more than 1,000,000,000. Check price and packs."
            )
        lines.append(
            OrderLine(
                item=each.item,
                offer=source,
                packs=each.packs,
                pack_quantity=each.pack_quantity,
                typed_pack=each.typed_pack,
                price=price,
                supplier_code=each.supplier_code or (offer.supplier_code if offer else ""),
            )
        )
    return lines


def _put(order: Order, lines: Sequence[OrderLine]) -> None:
    for line in lines:
        line.order = order
    OrderLine.objects.bulk_create(lines)


def lead_for(supplier: Supplier, lines: Iterable[OrderLine], on: date) -> tuple[Item, LeadTime] | None:
    """The slowest thing on an order and how long it takes, really or as stated; None where nothing is known."""
    lines = list(lines)
    offers = by_pack(supplier, {line.item_id for line in lines}, on)
    known = lead_times.read(on)
    found = []
    for line in lines:
        offer = offers.get((line.item_id, line.pack_quantity))
        if lead := known.lead_of(line.item_id, supplier, offer.lead_days if offer else None):
            found.append((line.item, lead))
    return max(found, key=lambda each: each[1].days, default=None)


def day_expected(supplier: Supplier, lines: Iterable[OrderLine], on: date) -> date | None:
    """The day an order sent on a day should arrive; None where no lead time is known."""
    found = lead_for(supplier, lines, on)
    return on + timedelta(days=found[1].days) if found else None


def fingerprint(order: Order) -> str:
    """What a draft says, in short: a page that carries it notices that somebody changed the draft meanwhile."""
    lines = order.lines.order_by("pk").values_list(
        "item_id", "packs", "pack_quantity", "price", "supplier_code"
    )
    said = [order.supplier_id, order.note, str(order.expected_on), [list(line) for line in lines]]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:32]


# What happens to it


@transaction.atomic
def send(order_id: int, *, signature: Signature, expected_on: date | None = None) -> Order:
    """The order went to the supplier, by whatever way; from now on nothing on it changes. Raises OrderError."""
    order = lock(order_id)
    if not order.is_draft:
        raise OrderError(
            f"Order {order.spaced_code} is {order.get_state_display().lower()}; only a draft is sent."
        )
    if signature.happened_at > signature.recorded_at:
        raise OrderError("This lies in the future. Give a time that has passed.")
    if expected_on and expected_on < _day(signature):
        raise OrderError("It cannot arrive before it was sent. Check the day it is expected.")
    order.state, order.expected_on = Order.State.SENT, expected_on
    order.sent_by, order.sent_at = signature.by, signature.happened_at
    order.save(update_fields=["state", "expected_on", "sent_by", "sent_at"])
    return order


@transaction.atomic
def close(order_id: int, *, signature: Signature) -> Order:
    """What is still outstanding is not coming, for the signature's reason. Raises OrderError."""
    order = lock(order_id)
    if not order.is_sent:
        raise OrderError(
            f"Order {order.spaced_code} is {order.get_state_display().lower()}; only a sent one is closed."
        )
    if not _standing_arrivals([order.pk]):
        raise OrderError("Nothing of it came. Call it off instead.")
    _check_reason(signature)
    return _end(order, Order.State.CLOSED, signature)


@transaction.atomic
def call_off(order_id: int, *, signature: Signature) -> Order:
    """Give up a draft, or a sent order of which nothing came, for the signature's reason. Raises OrderError."""
    order = lock(order_id)
    if not (order.is_draft or order.is_sent):
        raise OrderError(f"Order {order.spaced_code} is {order.get_state_display().lower()} already.")
    if _standing_arrivals([order.pk]):
        raise OrderError(
            "Some of it came, so it cannot be called off. Close it, and say why the rest is not coming."
        )
    _check_reason(signature)
    return _end(order, Order.State.CALLED_OFF, signature)


@transaction.atomic
def reopen(order_id: int, *, signature: Signature) -> Order:
    """What was given up as not coming is expected after all. Raises OrderError."""
    order = lock(order_id)
    if order.state != Order.State.CLOSED or not order.ended_because:
        raise OrderError("Only an order that was closed by hand is opened again.")
    if order.pk not in lacking([order.pk]):
        raise OrderError("Everything on it arrived; there is nothing left to expect.")
    return _open(order)


def _check_reason(signature: Signature) -> None:
    # An order that was closed without a reason is one that closed by itself.
    if not signature.reason.strip():
        raise OrderError("Say why.")


def _end(order: Order, state: Order.State, signature: Signature) -> Order:
    order.state, order.ended_by, order.ended_at = state, signature.by, signature.recorded_at
    order.ended_because = signature.reason
    order.save(update_fields=["state", "ended_by", "ended_at", "ended_because"])
    return order


def _open(order: Order) -> Order:
    order.state, order.ended_by, order.ended_at, order.ended_because = Order.State.SENT, None, None, ""
    order.save(update_fields=["state", "ended_by", "ended_at", "ended_because"])
    return order


# Goods coming in


def expecting(supplier: Supplier, arriving: Collection[tuple[int, int]]) -> set[int]:
    """The keys of the orders that these pairs of order line and item are of, locked until the transaction ends.

    Raises OrderError when a line is of another supplier or item, or its order does not wait for goods.
    """
    if not arriving:
        return set()
    lines = OrderLine.objects.select_related("item").in_bulk({line_id for line_id, _ in arriving})
    wanted = sorted({line.order_id for line in lines.values()})
    orders = {
        order.pk: order
        for order in Order.objects.filter(pk__in=wanted)
        .order_by("pk")
        .select_for_update(of=("self",), no_key=True)
    }
    for line_id, item_id in arriving:
        line = lines.get(line_id)
        if line is None:
            raise OrderError("A line of the order is no longer there. Open the page anew from the order.")
        order = orders[line.order_id]
        if not order.is_sent:
            raise OrderError(
                f"Order {order.spaced_code} is {order.get_state_display().lower()} and expects nothing. Enter the "
                "delivery without it, or open the order again first."
            )
        if order.supplier_id != supplier.pk:
            raise OrderError(f"Order {order.spaced_code} went to another supplier.")
        if line.item_id != item_id:
            raise OrderError(
                f"Order {order.spaced_code} asks for {line.item} there. Enter what else came on a line of its own."
            )
    return set(orders)


def settle(order_ids: Collection[int], signature: Signature) -> None:
    """Close the sent orders of which everything came; open again those closed by themselves that lack something now."""
    if not order_ids:
        return
    orders = list(
        Order.objects.filter(pk__in=order_ids).order_by("pk").select_for_update(of=("self",), no_key=True)
    )
    wanting = lacking(order_ids)
    for order in orders:
        if order.is_sent and order.pk not in wanting:
            _end(order, Order.State.CLOSED, signature.because(""))
        elif order.state == Order.State.CLOSED and not order.ended_because and order.pk in wanting:
            _open(order)


def settle_after(posting_id: int, signature: Signature) -> None:
    """`settle` the orders that a delivery, by its posting, brought something of."""
    settle(
        set(
            DeliveryLine.objects.filter(delivery__posting=posting_id, order_line__isnull=False).values_list(
                "order_line__order", flat=True
            )
        ),
        signature,
    )


def lacking(order_ids: Collection[int]) -> set[int]:
    """Those of these orders of which standing deliveries have not brought everything."""
    lines = OrderLine.objects.filter(order__in=order_ids).with_received()
    short = lines.filter(received__lt=F("packs") * F("pack_quantity"))  # type: ignore[misc]  # annotated above
    return set(short.values_list("order_id", flat=True))


def _standing_arrivals(order_ids: Collection[int]) -> bool:
    arrivals = DeliveryLine.objects.filter(order_line__order__in=order_ids)
    return arrivals.filter(delivery__posting__reversal__isnull=True).exists()


def more_than_ordered(line_ids: Collection[int]) -> list[str]:
    """A sentence for each of these lines of which more came than was ordered."""
    lines: Any = OrderLine.objects.filter(pk__in=line_ids).with_received().select_related("item")
    over = lines.filter(received__gt=F("packs") * F("pack_quantity"))
    return [
        f"More came than was ordered: {line.item.quantity(line.received)} of {line.item} "
        f"for {line.item.quantity(line.quantity)}."
        for line in over.order_by("pk")
    ]


def expected_lines(item_ids: Collection[int]) -> dict[int, list[OrderLine]]:
    """Lines of sent orders still to come, with `received`, by item, the first to arrive first; one query."""
    found: dict[int, list[OrderLine]] = {item_id: [] for item_id in item_ids}
    lines = OrderLine.objects.expected().filter(item__in=found).select_related("order__supplier", "item")
    for line in lines.order_by(F("order__expected_on").asc(nulls_last=True), "order_id", "pk"):
        found[line.item_id].append(line)
    return found
