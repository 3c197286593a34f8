"""What customers of the demonstration complain of: three sooting candles with one lot in common, one of them still open.

Two wrote weeks ago and were answered one by one; the third has thrown the code away. And half a year ago somebody
practised a recall with a clock.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from batches.complaints import complaining
from batches.lineage.lineage import Key, descendants
from batches.models import Complaint
from batches.recalls import recalling
from batches.recalls.facts import reach
from inventory.models import Dispatch, Item, Kind, Lot, Movement
from studio.demonstration.stage import Stage
from studio.people.signature import Signature

COMPLAINTS = 3
SENT_AT_MOST = 220  # of thousands: few enough that three complaints about it are no chance
ABOUT = (
    "The rim of the jar was black after the second evening, and the flame flickered.",
    "It smokes whenever the flame is put out, and leaves grey streaks on the wall behind it.",
    "Soot on the glass from the first hour. The underside with the code went out with the carton.",
)
FIRST_CAUSES = (
    "Nothing found: the wick was not trimmed, as far as the photo shows.",
    "Perhaps a draught; the customer was told to trim the wick.",
)


@dataclass(frozen=True)
class _Sold:
    """A candle that went to somebody by the web shop."""

    lot: Lot
    dispatch: Dispatch
    at: datetime


def complain(shop: Stage, now: datetime) -> None:
    """Two complaints that are closed and one that is open; none where no lot is narrow enough."""
    sold = _share_a_lot(now)
    if len(sold) < COMPLAINTS:
        return
    *earlier, last = sorted(sold[:COMPLAINTS], key=lambda each: each.at)
    for each, words, cause in zip(earlier, ABOUT, FIRST_CAUSES, strict=False):
        told = each.at + timedelta(days=3, hours=2)
        complaint = _take(shop, each, words, told, lot=each.lot, batch=each.lot.outcome.batch)
        closed = Signature(
            shop.people.owner, told + timedelta(days=2, hours=5), told + timedelta(days=2, hours=5)
        )
        complaining.change(
            complaint.pk,
            signature=closed,
            cause=cause,
            answer="We are sorry, and send you another one.",
            outcome=Complaint.Outcome.REPLACED,
            state=Complaint.State.CLOSED,
        )
    _take(shop, last, ABOUT[-1], now - timedelta(minutes=25), sold_from=last.at.date())


def _take(shop: Stage, each: _Sold, words: str, told: datetime, **known: object) -> Complaint:
    return complaining.take(
        signature=Signature(shop.people.maker, told, told + timedelta(minutes=4)),
        kind=Complaint.Kind.SMOKE,
        what=words,
        item=Item.objects.get(pk=each.lot.item_id),
        channel=each.dispatch.channel,
        customer=each.dispatch.customer,
        reference=each.dispatch.reference,
        **known,
    )


def _share_a_lot(now: datetime) -> list[_Sold]:
    """Candles of different lots that went to different customers and have one bottle of scent in common.

    The bottle is one of which something is left, so that there is something to be held.
    """
    bottles = Lot.objects.on_shelf().filter(item__kind=Kind.FRAGRANCE, held=False).order_by("-pk")
    lineage = descendants(bottles.values_list("pk", flat=True))
    sent = Movement.objects.standing().filter(
        kind=Movement.Kind.DISPATCHED, lot__in=lineage.lots, lot__item__kind=Kind.FINISHED
    )
    rows = list(
        sent.select_related(
            "lot__outcome__batch", "posting__dispatch__channel", "posting__dispatch__customer"
        )
        .order_by("-posting__happened_at", "pk")
        .filter(posting__happened_at__lt=now - timedelta(days=1))
    )
    for bottle in bottles:
        reached = {key.pk for key in lineage.carrying(Key("lot", bottle.pk)) if key.what == "lot"}
        of_it = [row for row in rows if row.lot_id in reached]
        if not 0 < -sum(row.quantity for row in of_it) <= SENT_AT_MOST:
            continue
        found: list[_Sold] = []
        for row in of_it:
            told = now - timedelta(days=7 if found else 1)
            dispatch = row.posting.dispatch
            new = row.lot_id not in {each.lot.pk for each in found}
            if (
                dispatch.customer
                and dispatch.reference.startswith("W")
                and new
                and row.posting.happened_at < told
            ):
                found.append(_Sold(row.lot, dispatch, row.posting.happened_at))
        if len(found) >= COMPLAINTS:
            return found
    return []


def practise(shop: Stage) -> None:
    """A drill with the last bottle of scent of which something was sold: two hours and a quarter, and a lesson."""
    bottles = Lot.objects.filter(item__kind=Kind.FRAGRANCE, movements__draw__isnull=False).distinct()
    lot = next(lot for lot in bottles.order_by("-pk") if reach({lot.pk}).went)
    begun = shop.sign(shop.people.owner, 9 * 60 + 10)
    recall = recalling.start(
        [lot.pk],
        why="Practice: the supplier calls this bottle back because it was filled from the wrong drum.",
        is_drill=True,
        signature=begun,
    )
    ended = shop.sign(shop.people.owner, 11 * 60 + 25)
    recalling.close(
        recall.pk,
        finding="Every gram was found. The market stalls sell to people nobody knows: a sign at the stall would have to "
        "do. Telephone numbers of two shops were missing and are written down now.",
        signature=ended,
    )
