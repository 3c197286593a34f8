"""A vessel that cracked, and a jar that came back: complaints that are answered and wait for their cause.

Both go by what was sent and taken back before, and draw nothing of chance.
"""

from datetime import datetime, timedelta

from batches.complaints import complaining
from batches.models import Complaint
from inventory.models import Customer, Kind, Lot, Movement, ReturnLine
from studio.demonstration.stage import Stage
from studio.people.signature import Signature

CRACKED = (
    "The glass cracked right round in the third hour, and hot wax ran over the tray. Nobody was hurt. "
    "We put it out and took photos."
)
CRACKED_ANSWER = "We are sorry. Please do not burn it again and keep the pieces: we send a box for them."
CAME_BACK = "It went out by itself on the second evening, half burned, and would not light again. The jar is on its way."
CAME_BACK_ANSWER = "Thank you for sending it back. We look at the wick here and write to you what we find."


def answer_two_more(shop: Stage, now: datetime) -> None:
    """Take down and answer both; each only where the books have something it can be about."""
    _cracked_vessel(shop, now)
    _returned_jar(shop, now)


def _cracked_vessel(shop: Stage, now: datetime) -> None:
    sent = Movement.objects.standing().filter(
        kind=Movement.Kind.DISPATCHED,
        lot__item__kind=Kind.FINISHED,
        lot__outcome__isnull=False,
        lot__complaints__isnull=True,
        posting__dispatch__customer__erased_at__isnull=True,
        posting__dispatch__customer__is_person=True,
        posting__happened_at__lt=now - timedelta(days=6),
    )
    rows = sent.select_related(
        "lot__outcome__batch", "posting__dispatch__customer", "posting__dispatch__channel"
    )
    row = rows.order_by("-posting__happened_at", "pk").first()
    if row is None:
        return
    dispatch, told = row.posting.dispatch, now - timedelta(days=1, hours=2)
    known = {"batch": row.lot.outcome.batch, "channel": dispatch.channel, "reference": dispatch.reference}
    kind = Complaint.Kind.GLASS
    _answered(shop, row.lot, dispatch.customer, told, kind, CRACKED, CRACKED_ANSWER, **known)


def _returned_jar(shop: Stage, now: datetime) -> None:
    lines = ReturnLine.objects.filter(
        goods_return__posting__reversal__isnull=True,
        goods_return__dispatch__customer__erased_at__isnull=True,
        lot__item__kind=Kind.FINISHED,
        lot__on_hand__gt=0,
    )
    line = lines.select_related("lot", "goods_return__dispatch__customer", "goods_return__posting").last()
    if line is None:
        return
    told = min(line.goods_return.posting.happened_at + timedelta(hours=1), now - timedelta(hours=2))
    customer = line.goods_return.dispatch.customer
    _answered(shop, line.lot, customer, told, Complaint.Kind.BURN, CAME_BACK, CAME_BACK_ANSWER)


def _answered(
    shop: Stage,
    lot: Lot,
    customer: Customer | None,
    told: datetime,
    kind: Complaint.Kind,
    what: str,
    answer: str,
    **known: object,
) -> None:
    complaint = complaining.take(
        signature=Signature(shop.people.maker, told, told + timedelta(minutes=4)),
        kind=kind,
        what=what,
        item=lot.item,
        lot=lot,
        customer=customer,
        **known,
    )
    answered = told + timedelta(minutes=50)
    complaining.change(
        complaint.pk,
        signature=Signature(shop.people.owner, answered, answered),
        answer=answer,
        state=Complaint.State.ANSWERED,
    )
