"""What the books say of a set of complaints: which lots are in their candles, and how many units sent carry each."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from batches.complaints import units_had
from batches.complaints.common_lot import LotCount, Shared, in_words, shared_lots
from batches.complaints.pointing import place
from batches.lineage.lineage import Key, ancestors, descendants
from batches.models import Complaint, Draw
from inventory.models import Kind, Lot

SHOWN = 30


@dataclass(frozen=True)
class CommonLotRow:
    """A line of the table: what was counted, the lots it is about with their items, and which complaints carry them."""

    shared: Shared
    lots: Sequence[Lot]
    complaints: Sequence[Complaint]


@dataclass(frozen=True)
class Common:
    """What a set of complaints has in common. `unknown` are those whose candle is not known, left out."""

    compared: Sequence[Complaint]
    unknown: Sequence[Complaint]
    sent: int
    looked_at: int
    rows: Sequence[CommonLotRow]

    @property
    def sentence(self) -> str:
        """What it comes to, small numbers said as such."""
        found = [row.shared for row in self.rows]
        return in_words(found, complaints=len(self.compared), looked_at=self.looked_at)


def common(complaints: Iterable[Complaint], *, same_products: bool) -> Common:
    """Every lot in these complaints' candles, held against all units sent, or those of the same products alone.

    The number of queries grows with how deep material was passed on, not with how many complaints or lots there are.
    """
    every = list(complaints)
    known = [complaint for complaint in every if complaint.is_known]
    carried = _carried(known)
    items = {complaint.item_id for complaint in known} if same_products else None
    by_lot: dict[int, list[Complaint]] = {}
    for complaint in known:
        for lot_id in carried[complaint.pk]:
            by_lot.setdefault(lot_id, []).append(complaint)
    sent = _sent(by_lot, items)
    counts = _together(by_lot, sent)
    looked_at = max(_could_stand_out(items), len(counts))
    found = shared_lots(counts, complaints=len(known), sent=sent.every, looked_at=looked_at)[:SHOWN]
    lots = Lot.objects.select_related("item", "supplier").in_bulk([pk for row in found for pk in row.lots])
    rows = [CommonLotRow(row, [lots[pk] for pk in row.lots], by_lot[row.lots[0]]) for row in found]
    unknown = [complaint for complaint in every if not complaint.is_known]
    return Common(known, unknown, sent.every, looked_at, rows)


def stands_out(found: Common, complaint: Complaint) -> CommonLotRow | None:
    """The row of this complaint's candle that chance explains least; None where no row is about it.

    Where chance tells several apart as little, or lots always went together, those its kind points to come first.
    """
    own = [row for row in found.rows if complaint in row.complaints]
    if not own:
        return None

    def order(lot: Lot) -> tuple[int, int]:
        return place(complaint.kind, lot.item.kind), lot.pk

    alike = [row for row in own if row.shared.chance == own[0].shared.chance]
    best = min(alike, key=lambda row: min(map(order, row.lots)))
    return replace(best, lots=sorted(best.lots, key=order))


def lots_in(complaint: Complaint) -> list[Lot]:
    """The lots in this complaint's candle, finished goods left out, those first that its kind points to.

    A fixed number of queries for each level at which material was passed on.
    """
    carried = _carried([complaint])[complaint.pk]
    lots = Lot.objects.filter(pk__in=carried).select_related("item", "supplier")
    return sorted(lots, key=lambda lot: (place(complaint.kind, lot.item.kind), lot.pk))


def _carried(complaints: Sequence[Complaint]) -> dict[int, set[int]]:
    """The lots in each complaint's candle, finished goods left out."""
    lots = {complaint.lot_id for complaint in complaints if complaint.lot_id}
    batches = {complaint.batch_id for complaint in complaints if complaint.batch_id and not complaint.lot_id}
    lineage = ancestors(lots, batches)
    goods = set(
        Lot.objects.filter(pk__in=lineage.lots, item__kind=Kind.FINISHED).values_list("pk", flat=True)
    )
    return {
        complaint.pk: {
            key.pk for key in lineage.carried_by(_key(complaint)) if key.what == "lot" and key.pk not in goods
        }
        for complaint in complaints
    }


def _key(complaint: Complaint) -> Key:
    return Key("lot", complaint.lot_id) if complaint.lot_id else Key("batch", complaint.batch_id or 0)


def _together(by_lot: dict[int, list[Complaint]], sent: "_Sent") -> list[LotCount]:
    """Lots that were in the same candles, sent and complained of, as one: nothing can tell them apart."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for lot_id, complaints in by_lot.items():
        alike = (frozenset(complaint.pk for complaint in complaints), sent.reached[lot_id])
        groups.setdefault(alike, []).append(lot_id)
    return [
        LotCount(
            tuple(sorted(lots)), len(by_lot[lots[0]]), sum(sent.units[pk] for pk in sent.reached[lots[0]])
        )
        for lots in groups.values()
    ]


@dataclass(frozen=True)
class _Sent:
    """Units sent of each finished lot, the finished lots each lot went into that were sent, and all units sent."""

    units: dict[int, int]
    reached: dict[int, frozenset[int]]
    every: int


def _sent(lots: Collection[int], items: Collection[int] | None) -> _Sent:
    lineage = descendants(lots)
    goods = Lot.objects.filter(pk__in=lineage.lots, item__kind=Kind.FINISHED)
    if items is not None:
        goods = goods.filter(item__in=items)
    had = units_had.by_lot(goods.values_list("pk", flat=True))
    units = {lot_id: quantity for lot_id, quantity in had.items() if quantity}
    reached = {
        lot_id: frozenset(
            key.pk for key in lineage.carrying(Key("lot", lot_id)) if key.what == "lot" and key.pk in units
        )
        for lot_id in lots
    }
    return _Sent(units, reached, units_had.of_all(items))


def _could_stand_out(items: Collection[int] | None) -> int:
    """How many lots went into what these complaints are held against."""
    draws = Draw.objects.standing()
    if items is not None:
        draws = draws.filter(batch__version__formula__item__in=items)
    return draws.order_by().values("movement__lot").distinct().count()
