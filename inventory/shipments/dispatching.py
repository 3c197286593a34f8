"""Goods leave to somebody by lot, and come back: each return a lot of its own, on hold, worth what it left with.

A jar that came back does not put the unsold rest of its lot on hold, nor does the rest release the jar. Locking: the
customer's order, the dispatch, the customer, then the lots, codes last.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Sum

from inventory.customers.customers import Contact, channel_named, customer_named, one_line
from inventory.ledger import books, closing
from inventory.lots import holding
from inventory.lots.moving import Taking, leaving
from inventory.models import (
    Customer,
    Dispatch,
    DispatchChange,
    HoldRecord,
    Lot,
    Movement,
    Posting,
    Return,
    ReturnLine,
)
from studio.core.money import share
from studio.numbering import next_codes
from studio.people.signature import Signature

LOT_PREFIX = "L"
CAME_BACK = "Came back"


class CannotReturn(Exception):
    """This cannot have come back. Its text is a sentence; `lot_id` names the lot it is about, where there is one."""

    def __init__(self, sentence: str, lot_id: int | None = None) -> None:
        super().__init__(sentence)
        self.lot_id = lot_id


@dataclass(frozen=True)
class Back:
    """So many base units of a lot that was sent, by its key; `place` is where they were put."""

    lot_id: int
    quantity: int
    place: str = ""


@transaction.atomic
def send(
    takings: Sequence[Taking],
    *,
    signature: Signature,
    to: Contact | Customer | None = None,
    kind: Dispatch.Kind = Dispatch.Kind.SALE,
    channel: str = "",
    reference: str = "",
) -> Dispatch:
    """Goods leave, to somebody where one is known. Raises LotShort, LotNotUsable, WrongTime, BookError."""
    lines = leaving(Movement.Kind.DISPATCHED, takings)
    known = to if isinstance(to, Customer) else customer_named(to, at=signature.recorded_at)
    by_channel = channel_named(channel)
    posting = books.post(Posting.Kind.DISPATCH, signature, lines, usable_only=True)
    return Dispatch.objects.create(
        posting=posting, kind=kind, customer=known, channel=by_channel, reference=reference.strip()
    )


@transaction.atomic
def write_head(
    dispatch_id: int,
    *,
    signature: Signature,
    to: Contact | None,
    kind: Dispatch.Kind,
    channel: str,
    reference: str,
) -> Dispatch:
    """Put right to whom a dispatch went, why, by which channel and order; what left stays as it is.

    What stood there before is kept with the name of who changed it, customers by their number. Raises books.BookError
    where it left while the books are closed by now and would become something else: a gift is no cost of what was sold.
    """
    dispatch = _locked(dispatch_id)
    before = _head(dispatch)
    opened = closing.hold_open() if kind != dispatch.kind else None
    if opened and dispatch.posting.happened_at < opened:
        raise books.BookError(f"{closing.closed_sentence(opened)} What left before stays what it was.")
    if to is None or dispatch.customer is None or one_line(to.name) != dispatch.customer.name:
        dispatch.customer = customer_named(to, at=signature.recorded_at)
    dispatch.kind, dispatch.reference = kind, reference.strip()
    dispatch.channel = channel_named(channel)
    after = _head(dispatch)
    changed = [name for name in after if after[name] != before[name]]
    if changed:
        dispatch.save(update_fields=["customer", "kind", "channel", "reference"])
    DispatchChange.objects.bulk_create(
        DispatchChange(
            dispatch=dispatch,
            what=name,
            before=before[name],
            after=after[name],
            by=signature.by,
            at=signature.recorded_at,
        )
        for name in changed
    )
    return dispatch


def _locked(dispatch_id: int) -> Dispatch:
    """The dispatch, locked until the transaction ends. What belongs to it is read only then: joined to the row, PostgreSQL
    would show it as it was before the lock was waited for."""
    return Dispatch.objects.select_for_update(no_key=True).get(pk=dispatch_id)


def _head(dispatch: Dispatch) -> dict[str, str]:
    return {
        "customer": dispatch.to,
        "what it was": dispatch.get_kind_display(),
        "channel": str(dispatch.channel or ""),
        "order reference": dispatch.reference,
    }


@dataclass(frozen=True)
class Out:
    """What of a lot is still out by a dispatch: base units, and what they are worth in millionths."""

    quantity: int
    value: int


def still_out(dispatch: Dispatch) -> dict[int, Out]:
    """What left by a dispatch less what came back of it, by lot; two queries."""
    gone = (
        dispatch.posting.movements.filter(kind=Movement.Kind.DISPATCHED)
        .order_by()
        .values_list("lot")
        .annotate(Sum("quantity"), Sum("value"))
    )
    out = {lot_id: [-quantity, -value] for lot_id, quantity, value in gone}
    for source_id, quantity, value in _came_back(dispatch):
        out[source_id][0] -= quantity
        out[source_id][1] -= value
    return {lot_id: Out(*figures) for lot_id, figures in out.items()}


def _came_back(dispatch: Dispatch) -> list[tuple[int, int, int]]:
    """Lot that was sent, base units and value of every return that stands."""
    lines = ReturnLine.objects.filter(
        goods_return__dispatch=dispatch,
        goods_return__posting__reversal__isnull=True,
        lot__movements__kind=Movement.Kind.RETURNED,
    )
    return list(lines.values_list("source", "quantity", "lot__movements__value"))


@transaction.atomic
def take_back(dispatch_id: int, backs: Sequence[Back], *, signature: Signature) -> list[Lot]:
    """Goods of a dispatch came back, for the signature's reason; the lots they are now, in the order of `backs`.

    Each is a lot of its own with a new code, on hold until somebody looked at it (the owner, where the lot it came from
    is on the owner's hold), worth what it left with. The lot it came from may be used up by then. Raises CannotReturn,
    WrongTime.
    """
    dispatch = _locked(dispatch_id)
    _check_back(dispatch, backs, signature)
    out = still_out(dispatch)
    sources = Lot.objects.select_related("item").in_bulk([back.lot_id for back in backs])
    worth = [_worth(back, out.get(back.lot_id), sources) for back in backs]
    made = _lots(backs, sources, signature)
    lines = [
        books.Line(lot.pk, Movement.Kind.RETURNED, back.quantity, value)
        for lot, back, value in zip(made, backs, worth, strict=True)
    ]
    posting = books.post(Posting.Kind.RETURN, signature, lines)
    goods_return = Return.objects.create(posting=posting, dispatch=dispatch)
    ReturnLine.objects.bulk_create(
        ReturnLine(goods_return=goods_return, source_id=back.lot_id, lot=lot, quantity=back.quantity)
        for lot, back in zip(made, backs, strict=True)
    )
    _hold(made, backs, dispatch, signature)
    return made


def _check_back(dispatch: Dispatch, backs: Sequence[Back], signature: Signature) -> None:
    if hasattr(dispatch.posting, "reversal"):
        raise CannotReturn("This dispatch was reversed: nothing left by it.")
    if not backs or any(back.quantity <= 0 for back in backs):
        raise CannotReturn("Say how many came back of at least one lot.")
    if len({back.lot_id for back in backs}) < len(backs):
        raise CannotReturn("Each lot can be named once. Add the two quantities together.")
    if signature.happened_at < dispatch.posting.happened_at:
        left = books.local(dispatch.posting.happened_at)
        raise books.WrongTime(f"It left on {left:%d %b %Y, %H:%M}; it cannot have come back before.")
    if signature.happened_at > signature.recorded_at:
        raise books.WrongTime("This lies in the future. Give a time that has passed.")


def _worth(back: Back, out: Out | None, sources: dict[int, Lot]) -> int:
    """What is coming back carries of what it left with, in millionths. Raises CannotReturn."""
    lot = sources.get(back.lot_id)
    if lot is None or out is None:
        raise CannotReturn("That lot is not part of this dispatch.", back.lot_id)
    if back.quantity > out.quantity:
        there = f"{lot.item.quantity(out.quantity)} can" if out.quantity else "nothing more can"
        raise CannotReturn(
            f"Of lot {lot.spaced_code}, {there} come back of this dispatch, and "
            f"{lot.item.quantity(back.quantity)} are entered. Look for the other dispatch it may belong to.",
            lot.pk,
        )
    return out.value if back.quantity == out.quantity else share(out.value, back.quantity, out.quantity)


def _lots(backs: Sequence[Back], sources: dict[int, Lot], signature: Signature) -> list[Lot]:
    """What came back as lots, still empty."""
    codes = next_codes(LOT_PREFIX, len(backs))
    return Lot.objects.bulk_create(
        Lot(
            code=code,
            item=sources[back.lot_id].item,
            grade=sources[back.lot_id].grade,
            supplier_id=sources[back.lot_id].supplier_id,
            supplier_lot=sources[back.lot_id].supplier_lot,
            arrived_at=signature.happened_at,
            expires_on=sources[back.lot_id].expires_on,
            ready_on=sources[back.lot_id].ready_on,
            place=back.place.strip() or sources[back.lot_id].item.place,
            held=True,
        )
        for back, code in zip(backs, codes, strict=True)
    )


def _hold(made: Sequence[Lot], backs: Sequence[Back], dispatch: Dispatch, signature: Signature) -> None:
    """What came back is looked at first; where its lot is on the owner's hold, it is the owner who decides here too."""
    why = f"{CAME_BACK}, dispatch {dispatch.pk}"
    reason = f"{why}: {signature.reason}"[:300] if signature.reason else why
    HoldRecord.objects.bulk_create(
        HoldRecord(lot=lot, held=True, reason=reason, by=signature.by, at=signature.recorded_at)
        for lot in made
    )
    stands = holding.standing_on(back.lot_id for back in backs)
    owners = {
        lot.pk: holding.owners(stands.get(back.lot_id, ())) for lot, back in zip(made, backs, strict=True)
    }
    holding.pass_on(owners, signature=signature)
