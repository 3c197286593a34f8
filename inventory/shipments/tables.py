"""What left and what came back, as tables: on pages, and in files line by line."""

from collections.abc import Collection
from datetime import date
from typing import NamedTuple

from inventory.models import Customer, Dispatch, Item, Lot, Movement, ReturnLine
from inventory.sales_orders.designs import design_cell
from studio.models import User
from studio.web.tables import Column, Format, Table


class SentLine(NamedTuple):
    """A lot of a dispatch; `to` is the customer as far as the visitor may know them, `back` in base units."""

    line: Movement
    to: str
    back: int
    unapproved: bool

    @property
    def dispatch(self) -> Dispatch:
        """What it left by."""
        return self.line.posting.dispatch

    @property
    def customer(self) -> Customer | None:
        """Who got it."""
        return self.dispatch.customer

    @property
    def lot(self) -> Lot:
        """Of which it left."""
        return self.line.lot

    @property
    def item(self) -> Item:
        """What left."""
        return self.lot.item


def _sent_or_reversed(row: SentLine) -> str:
    return "Reversed" if hasattr(row.line.posting, "reversal") else "Sent"


SENT_LINES = Table(
    "sent-out",
    "Sent out, line by line",
    [
        Column("Dispatch", "dispatch.pk"),
        Column("State", _sent_or_reversed),
        Column("What", "dispatch.get_kind_display"),
        Column("Left", "line.posting.happened_at", Format.TIME),
        Column("By", "line.posting.by"),
        Column("Channel", "dispatch.channel"),
        Column("Reference", "dispatch.reference"),
        Column("Customer no.", "dispatch.customer_id"),
        Column("Customer", "to"),
        Column("Product", "item.name"),
        Column("Lot", "lot.code"),
        Column("Design", lambda row: design_cell(row.unapproved)),
        Column("Quantity", lambda row: -row.line.quantity, Format.QUANTITY),
        Column("Unit", "item.unit"),
        Column("Came back", "back", Format.QUANTITY),
        Column("Whom to ask for", "customer.contact", may="makes"),
        Column("How to reach them", "customer.reach", may="makes"),
    ],
)


def returns_table(user: User, day: date, unapproved: Collection[int] = ()) -> Table:
    """What came back; `unapproved` are the keys of lots whose design is not approved, which files tell."""

    def state(line: ReturnLine) -> str:
        reversed_ = hasattr(line.goods_return.posting, "reversal")
        return "Reversed" if reversed_ else line.lot.state(day)[1]

    return Table(
        "came-back",
        "What came back",
        [
            Column("Came back", "goods_return.posting.happened_at", Format.TIME, css="nowrap"),
            Column("By", "goods_return.posting.by"),
            Column("Why", "goods_return.posting.reason", css="words"),
            Column("Dispatch", "goods_return.dispatch.pk"),
            Column("Customer", lambda line: line.goods_return.dispatch.to_for(user)),
            Column("Product", "lot.item.name", css="words"),
            Column("Lot it was sent of", "source.code", title="Of", css="words"),
            Column("Lot it is now", "lot.code", Format.CODE, "Is now", link="lot.get_absolute_url"),
            Column("Design", lambda line: design_cell(line.lot_id in unapproved)),
            Column("Quantity", "quantity", Format.QUANTITY, "How many", item="lot.item"),
            Column("Unit", "lot.item.unit"),
            Column("On hand", "lot.on_hand", Format.QUANTITY, item="lot.item"),
            Column("State", state),
        ],
        page=("came_back", "product", "quantity", "lot_it_is_now", "lot_it_was_sent_of", "why", "state"),
    )
