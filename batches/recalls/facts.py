"""What a recall of some lots reaches, read from the books at a moment: lots with their balances, batches, who has what."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from batches.lineage import lineage
from batches.lineage.lineage import Flow, Lineage, descendants
from batches.models import Batch, RecallSent
from inventory.models import Dispatch, Lot, ReturnLine


@dataclass(frozen=True)
class Stood:
    """Where a lot's quantity stood, in base units: all that came is used, decanted, sent, lost or here."""

    came: int = 0
    used: int = 0
    decanted: int = 0
    sent: int = 0
    lost: int = 0
    on_hand: int = 0

    @property
    def unexplained(self) -> int:
        """Nothing when the books agree."""
        return self.came - self.used - self.decanted - self.sent - self.lost - self.on_hand


@dataclass(frozen=True)
class ShippedQuantity:
    """So much of a lot, in base units, went out by a dispatch and has not come back."""

    lot_id: int
    dispatch: Dispatch
    quantity: int


@dataclass(frozen=True)
class Reach:
    """All that carries some of the suspect lots: lots with where they stood, batches, and what went out."""

    lots: list[Lot]
    stood: dict[int, Stood]
    batches: list[Batch]
    went: list[ShippedQuantity]


def reach(suspects: Collection[int], *, lock: bool = False) -> Reach:
    """What these lots reached by now; with `lock` the lots are held still until the transaction ends.

    The number of queries grows with how deep material was passed on, never with how much there is.
    """
    found = descendants(suspects)
    lots = list(_lots(found).select_for_update(of=("self",)) if lock else _lots(found))
    # What was drawn, poured or made while the locks were waited for is reached as well. What came of it meanwhile is
    # younger than all that are locked, so the order is kept.
    while lock and (grown := descendants(suspects)).keys() != found.keys():
        found = grown
        lots = list(_lots(found).select_for_update(of=("self",)))
    batches = Batch.objects.with_product().filter(pk__in=found.batches).exclude(state="called_off")
    return Reach(lots, stood(lots), list(batches.order_by("pk")), _went(found.lots))


def _lots(found: Lineage) -> QuerySet[Lot]:
    return Lot.objects.filter(pk__in=found.lots).select_related("item").order_by("pk")


def stood(lots: Iterable[Lot]) -> dict[int, Stood]:
    """Where the quantity of each of these lots stands, from its movements; one query."""
    every = {lot.pk: lot.on_hand for lot in lots}
    known = lineage.flows(every)
    return {pk: _stood(known.get(pk, Flow({}, {})), on_hand) for pk, on_hand in every.items()}


def _stood(flow: Flow, on_hand: int) -> Stood:
    def gone(*kinds: str) -> int:
        return sum(flow.went.get(kind, 0) for kind in kinds)

    return Stood(
        came=sum(flow.came.values()) - gone("corrected", "counted"),
        used=gone("drawn", "used before"),
        decanted=gone("decanted"),
        sent=gone("dispatched", "sent before"),
        lost=gone("scrapped", "sampled", "sent_back"),
        on_hand=on_hand,
    )


def _went(lots: Collection[int]) -> list[ShippedQuantity]:
    """What of these lots went out by which dispatch and has not come back, the earliest first; two queries.

    What earlier records say was sent out names no dispatch, and nobody.
    """
    gone = lineage.sent(lots)
    heads = Dispatch.objects.select_related("posting", "customer", "channel").in_bulk(
        {row.dispatch for row in gone}
    )
    return [ShippedQuantity(row.lot, heads[row.dispatch], row.quantity) for row in gone]


def came_back(sent: Iterable[RecallSent], since: datetime) -> dict[int, int]:
    """What came back by the books of goods that a recall has as sent, recorded since an instant: by item; one query."""
    pairs = {(row.dispatch_id, row.lot_id) for row in sent}
    lines = ReturnLine.objects.filter(
        goods_return__dispatch__in={dispatch for dispatch, _ in pairs},
        goods_return__posting__reversal__isnull=True,
        goods_return__posting__recorded_at__gt=since,
    )
    sums: dict[int, int] = {}
    rows = lines.values_list("goods_return__dispatch", "source", "source__item", "quantity")
    for dispatch_id, lot_id, item_id, quantity in rows:
        if (dispatch_id, lot_id) in pairs:
            sums[item_id] = sums.get(item_id, 0) + quantity
    return sums
