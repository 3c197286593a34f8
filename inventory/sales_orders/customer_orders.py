"""Customers' orders: taken, changed while nothing was sent, sent against, called off. Their only writer.

An order closes by itself in the transaction that sends the last of it, and opens again when that dispatch is
reversed; see `inventory.sales_orders.order_progress`. Locking: the order's row, then the lots, codes last.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import astuple, dataclass
from datetime import date

from django.db import transaction
from django.db.models import ProtectedError

from inventory.customers.customers import Contact, channel_named, customer_named, one_line, write_customer
from inventory.models import (
    Customer,
    CustomerOrder,
    CustomerOrderLine,
    Item,
    Kind,
)
from inventory.sales_orders.order_progress import end, lock, progress_of, settle
from studio.numbering import next_codes
from studio.people.signature import Signature

CUSTOMER_ORDER_PREFIX = "C"


class CustomerOrderError(Exception):
    """The order does not allow what was asked of it. Its text is a sentence; `item_id` names what it is about."""

    def __init__(self, sentence: str, item_id: int | None = None) -> None:
        super().__init__(sentence)
        self.item_id = item_id


@dataclass(frozen=True)
class OrderHead:
    """What a customer said: who, how to reach them, through which channel, by when, and whatever else."""

    customer: str
    wanted_on: date
    contact: str = ""
    reach: str = ""
    channel: str = ""
    reference: str = ""
    note: str = ""

    @property
    def who(self) -> Contact:
        """The customer as said."""
        return Contact(self.customer, self.contact, self.reach)


WRITTEN = ("reference", "wanted_on", "note")


def said_of(order: CustomerOrder) -> OrderHead:
    """What stands on an order. Wants its customer and channel read along."""
    customer = order.customer
    return OrderHead(
        customer.name,
        order.wanted_on,
        customer.contact,
        customer.reach,
        order.channel.name if order.channel else "",
        order.reference,
        order.note,
    )


@transaction.atomic
def take(said: OrderHead, wanted: Mapping[int, int], *, signature: Signature) -> CustomerOrder:
    """Take an order of so many base units by item id, and commit them. Raises CustomerOrderError."""
    _check(wanted)
    customer = _customer(said, signature)
    (code,) = next_codes(CUSTOMER_ORDER_PREFIX, 1)
    order = CustomerOrder.objects.create(
        code=code,
        customer=customer,
        channel=channel_named(said.channel),
        **{name: getattr(said, name) for name in WRITTEN},
        taken_by=signature.by,
        taken_at=signature.happened_at,
    )
    CustomerOrderLine.objects.bulk_create(
        CustomerOrderLine(order=order, item_id=item_id, quantity=quantity)
        for item_id, quantity in wanted.items()
    )
    settle(order, signature)
    return order


@transaction.atomic
def change(
    order_id: int, said: OrderHead, wanted: Mapping[int, int], *, signature: Signature
) -> CustomerOrder:
    """Write an open order anew of which nothing was sent. Lines keep their rows, since runs may be planned for them.

    Raises CustomerOrderError.
    """
    order = open_order(order_id)
    if any(each.sent for each in progress_of([order.pk])[order.pk]):
        raise CustomerOrderError(
            "Some of it was sent, so its lines stay as they are. Call off what is not wanted any more, and take a new "
            "order for what is wanted besides."
        )
    _check(wanted)
    if one_line(said.customer).casefold() == order.customer.name.casefold():
        write_customer(order.customer_id, said.who, is_person=order.customer.is_person)
    else:
        order.customer = _customer(said, signature)
    order.channel = channel_named(said.channel)
    for name in WRITTEN:
        setattr(order, name, getattr(said, name))
    order.save(update_fields=["customer", "channel", *WRITTEN])
    _write_lines(order, wanted)
    settle(order, signature)
    return order


def _write_lines(order: CustomerOrder, wanted: Mapping[int, int]) -> None:
    lines = {line.item_id: line for line in order.lines.select_related("item")}
    for item_id, quantity in wanted.items():
        line = lines.pop(item_id, None)
        if line is None:
            CustomerOrderLine.objects.create(order=order, item_id=item_id, quantity=quantity)
        elif line.quantity != quantity:
            line.quantity = quantity
            line.save(update_fields=["quantity"])
    for line in lines.values():
        try:
            line.delete()
        except ProtectedError as error:
            raise CustomerOrderError(
                f"A run of {line.item} was planned for this order, so its line stays. Lower its quantity, or call the "
                "order off and take it anew."
            ) from error


@transaction.atomic
def call_off(order_id: int, *, signature: Signature) -> CustomerOrder:
    """Nothing more of an open order is wanted, for the signature's reason; what was sent stays.

    Raises CustomerOrderError.
    """
    order = open_order(order_id)
    if not signature.reason.strip():
        raise CustomerOrderError("Say why.")
    end(order, CustomerOrder.State.CALLED_OFF, signature)
    settle(order, signature)
    return order


def _customer(said: OrderHead, signature: Signature) -> Customer:
    customer = customer_named(said.who, at=signature.recorded_at)
    if customer is None:
        raise CustomerOrderError("Say whose order it is.")
    return customer


def open_order(order_id: int) -> CustomerOrder:
    """The order, locked. Raises CustomerOrderError when it is over."""
    order = lock(order_id)
    if not order.is_open:
        raise CustomerOrderError(
            f"Order {order.spaced_code} is {order.get_state_display().lower()}; nothing on it changes now."
        )
    return order


def _check(wanted: Mapping[int, int]) -> None:
    if not wanted:
        raise CustomerOrderError("Order at least one thing.")
    if any(quantity <= 0 for quantity in wanted.values()):
        raise CustomerOrderError("Enter quantities above zero.")
    made = Item.objects.filter(pk__in=wanted, kind=Kind.FINISHED)
    if made.count() != len(wanted):
        raise CustomerOrderError("Only finished goods are ordered by customers.")


def fingerprint(order: CustomerOrder) -> str:
    """What an order says, in short: a page that carries it notices that somebody changed it meanwhile."""
    said = [str(value) for value in astuple(said_of(order))]
    lines = [list(line) for line in order.lines.order_by("pk").values_list("item_id", "quantity")]
    return hashlib.sha256(json.dumps([said, lines]).encode()).hexdigest()[:32]
