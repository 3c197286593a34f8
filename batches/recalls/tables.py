"""Recalls, and how wide a recall of each lot would be, as tables."""

from collections.abc import Sequence
from datetime import timedelta
from typing import NamedTuple

from batches.lineage.recall_scope import Width
from batches.models import Recall, RecallLot
from inventory.models import Lot
from studio.web.tables import Column, Format, Table


class RecallRow(NamedTuple):
    """A recall, the lots it is about, and how long it took or runs."""

    recall: Recall
    suspects: Sequence[RecallLot]
    ran: timedelta | None

    @property
    def minutes(self) -> int | None:
        """How long it took, in whole minutes; None while it runs."""
        ended = self.recall.ended_at
        return int(self.recall.ran(ended).total_seconds()) // 60 if ended else None


RECALLS = Table(
    "recalls",
    "Recalls",
    [
        Column("Recall", "recall.code_words"),
        Column("Kind", "recall.title_words"),
        Column("Suspect"),
        Column("State", "recall.get_state_display"),
        Column("Began", "recall.started_at", Format.TIME),
        Column("Ended", "recall.ended_at", Format.TIME),
        Column("Minutes taken", "minutes", Format.NUMBER, title="Time taken"),
        Column("Why", "recall.why"),
        Column("Found", "recall.finding"),
    ],
    page=("recall", "kind", "suspect", "state", "began", "minutes_taken"),
)


class WidthRow(NamedTuple):
    """A lot, and what its recall would touch."""

    lot: Lot
    width: Width


WIDTHS = Table(
    "recall-width",
    "How wide a recall would be",
    [
        Column("Lot", "lot.code"),
        Column("Item", "lot.item"),
        Column("Supplier", "lot.supplier"),
        Column("Supplier's lot", "lot.supplier_lot"),
        Column("Batches", "width.batches", Format.NUMBER),
        Column("Units", "width.units", Format.NUMBER),
        Column("Sent", "width.units_sent", Format.NUMBER),
        Column("Here", "width.units_here", Format.NUMBER),
        Column("Customers", "width.customers", Format.NUMBER),
        Column("Value here", "width.value_here", Format.MONEY, may="sees_costs"),
        Column("Value sent", "width.value_sent", Format.MONEY, may="sees_costs"),
    ],
)
