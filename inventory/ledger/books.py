"""The stock books. The only module that writes postings, movements and the balances cached on lots.

Locking: the lots of a posting are locked in one query, ordered by primary key, before anything is read from
them; then nobody closes the books until it is written (`inventory.ledger.closing`); a code is taken last. No verb that
calls `post` may hold a lot from an earlier, separate query.

Rounding: a quantity that leaves a lot carries `value × quantity / on hand` of what the lot is still worth, half
to even; the last quantity carries everything. So values never drift and an empty lot is worth exactly nothing.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from inventory.ledger import closing
from inventory.ledger.reversals import followers_of
from inventory.models import (
    Lot,
    Movement,
    Override,
    OverrideUse,
    PeriodCost,
    Posting,
    StoppedUse,
)
from studio.core.money import share
from studio.people.signature import Signature


class BookError(Exception):
    """The books refuse a posting. Its text is a sentence; `lot_id` names the lot it is about, where there is one."""

    def __init__(self, sentence: str, lot_id: int | None = None) -> None:
        super().__init__(sentence)
        self.lot_id = lot_id


class LotShort(BookError):
    """A lot holds less than was asked of it: `short` base units are missing of `asked`."""

    def __init__(self, lot: Lot, asked: int) -> None:
        quantity = lot.item.quantity
        super().__init__(
            f"Lot {lot.spaced_code} holds {quantity(lot.on_hand)} by the books; {quantity(asked)} was asked of it.",
            lot.pk,
        )
        self.lot, self.asked, self.short = lot, asked, asked - lot.on_hand


class LotNotUsable(BookError):
    """A lot may not be used: it is on hold, expired, or not ready."""


class LotStopped(LotNotUsable):
    """A lot may not be used as it is; `stop` says what stands against it. What went in already takes a reason."""

    def __init__(self, sentence: str, lot_id: int, stop: StoppedUse.Stop) -> None:
        super().__init__(sentence, lot_id)
        self.stop = stop


class WrongTime(BookError):
    """The event lies in the future, or before the lot arrived, or where the lot held too little."""


class BooksClosed(WrongTime):
    """The event lies where the books are closed: it can only be posted after the closing."""

    def __init__(self, opened: datetime, lot_id: int | None = None) -> None:
        super().__init__(
            f"{closing.closed_sentence(opened)} Give a later time; what was wrong before is put right after it.",
            lot_id,
        )


class CannotReverse(BookError):
    """A posting was reversed before, or something that happened later depends on it."""


@dataclass(frozen=True)
class Line:
    """One movement to be posted. `value` None: what the quantity carries with it, for what leaves a lot."""

    lot_id: int
    kind: Movement.Kind
    quantity: int
    value: int | None = None


@transaction.atomic
def post(
    kind: Posting.Kind,
    signature: Signature,
    lines: Sequence[Line],
    *,
    usable_only: bool = False,
    used: Collection[int] = (),
    book_found: bool = False,
    despite: str = "",
    reverses: Posting | None = None,
    period_costs: Iterable[tuple[int, int]] = (),
) -> Posting:
    """Write one event into the books: its movements, and the balances they leave, or nothing at all.

    `usable_only` refuses lots on hold, expired or still curing on the day of the event, except those in `used`
    (by key), which had been taken by then; where the owner allowed one on hold or expired, the posting keeps that.
    `despite` says why such a lot went in nevertheless: it is taken, and the posting keeps the reason for review.
    `book_found` books the difference as found, worth nothing, where a line takes more than its lot holds.
    `period_costs` are pairs of lot id and value that no stock is left to carry.

    Raises LotShort, LotNotUsable, WrongTime, BooksClosed.
    """
    lots = lock((line.lot_id for line in lines), with_items=False)
    _check_times(signature, lots, lines)
    check_open(signature.happened_at)
    fresh = [lot for lot in lots.values() if usable_only and lot.pk not in used]
    allowed, stopped = _against(fresh, signature.happened_at, despite)
    movements = _apply(lots, lines, book_found)
    posting = Posting.objects.create(
        kind=kind,
        happened_at=signature.happened_at,
        recorded_at=signature.recorded_at,
        by=signature.by,
        reason=signature.reason,
        reverses=reverses,
    )
    for movement in movements:
        movement.posting = posting
    Movement.objects.bulk_create(movements)
    _keep_balances(lots.values())
    PeriodCost.objects.bulk_create(
        PeriodCost(posting=posting, lot_id=lot_id, value=value) for lot_id, value in period_costs if value
    )
    _check_past(signature, lots, movements)
    StoppedUse.objects.bulk_create(
        StoppedUse(posting=posting, lot_id=lot_id, stop=stop, reason=despite)
        for lot_id, stop in stopped.items()
    )
    if allowed:
        latest = {each.lot_id: each for each in Override.objects.filter(lot__in=allowed).order_by("pk")}
        OverrideUse.objects.bulk_create(
            OverrideUse(posting=posting, override=each) for each in latest.values()
        )
    return posting


def _against(
    lots: Iterable[Lot], moment: datetime, despite: str
) -> tuple[list[int], dict[int, StoppedUse.Stop]]:
    """The keys of lots that only the owner's word allows, and what stands against those taken `despite` it.

    Raises LotNotUsable.
    """
    allowed: list[int] = []
    stopped: dict[int, StoppedUse.Stop] = {}
    for lot in lots:
        try:
            if not check_usable(lot, moment):
                allowed.append(lot.pk)
        except LotStopped as error:
            if not despite:
                raise
            stopped[lot.pk] = error.stop
    return allowed, stopped


def _keep_balances(lots: Collection[Lot]) -> None:
    """Write what the lots hold now. Most postings are of one lot, for which a plain update is several times quicker."""
    if len(lots) > 1:
        Lot.objects.bulk_update(lots, ["on_hand", "value"])
    for lot in lots if len(lots) == 1 else ():
        Lot.objects.filter(pk=lot.pk).update(on_hand=lot.on_hand, value=lot.value)


def carry_overrides(earlier: Posting, later: Posting) -> None:
    """What the owner had allowed for a posting stands for the one that puts it right too, for the lots in both; so does
    why a lot that was stopped went in."""
    lots = later.movements.values("lot")
    StoppedUse.objects.bulk_create(
        StoppedUse(posting=later, lot_id=use.lot_id, stop=use.stop, reason=use.reason)
        for use in earlier.stopped_uses.filter(lot__in=lots).exclude(lot__in=later.stopped_uses.values("lot"))
    )
    uses = earlier.override_uses.filter(override__lot__in=lots)
    OverrideUse.objects.bulk_create(OverrideUse(posting=later, override_id=each.override_id) for each in uses)


def lock(lot_ids: Iterable[int], *, with_items: bool = True) -> dict[int, Lot]:
    """The lots by key, locked in the order of their keys until the transaction ends."""
    wanted = set(lot_ids)
    lots = Lot.objects.filter(pk__in=wanted).order_by("pk")
    if with_items:
        lots = lots.select_related("item")
    found = {lot.pk: lot for lot in lots.select_for_update(of=("self",), no_key=True)}
    if missing := wanted - found.keys():
        raise BookError("A lot that was chosen is no longer there. Choose another.", min(missing))
    return found


def _check_times(signature: Signature, lots: dict[int, Lot], lines: Sequence[Line]) -> None:
    """Nothing happens after now, nor to a lot before it arrived."""
    if signature.happened_at > signature.recorded_at:
        raise WrongTime("This lies in the future. Give a time that has passed.")
    for line in lines:
        lot = lots[line.lot_id]
        if signature.happened_at < lot.arrived_at:
            arrived = f"{local(lot.arrived_at):%d %b %Y, %H:%M}"
            raise WrongTime(
                f"Lot {lot.spaced_code} arrived on {arrived}; nothing can have happened to it before.", lot.pk
            )


def check_open(moment: datetime) -> None:
    """Raise BooksClosed where the books are closed at this moment; nobody closes them until the transaction ends."""
    opened = closing.hold_open()
    if opened is not None and moment < opened:
        raise BooksClosed(opened)


def check_day_open(on: date) -> None:
    """`check_open` for what is known by its day. Raises BooksClosed."""
    opened = closing.hold_open()
    closed = closing.latest()
    if opened is not None and closed is not None and on <= closed.through:
        raise BooksClosed(opened)


def local(moment: datetime) -> datetime:
    """The instant in the zone of whoever is being told."""
    return timezone.localtime(moment)


def check_usable(lot: Lot, moment: datetime) -> bool:
    """Whether the lot may be used or sent out at that moment as it is; False where only the owner's word allows it.

    Raises LotNotUsable when it may not at all.
    """
    return check_usable_on(lot, local(moment).date())


def check_usable_on(lot: Lot, day: date) -> bool:
    """`check_usable` on a day that may still be to come. Raises LotNotUsable."""
    if lot.ready_on and lot.ready_on > day:
        raise LotStopped(
            f"Lot {lot.spaced_code} cures until {lot.ready_on:%d %b %Y}. Wait until then, or choose another lot.",
            lot.pk,
            StoppedUse.Stop.CURING,
        )
    if lot.awaits_release:
        raise LotStopped(
            f"Lot {lot.spaced_code} waits to be looked at and released. Release it on its page, or choose another lot.",
            lot.pk,
            StoppedUse.Stop.UNRELEASED,
        )
    if not lot.held and not lot.expired(day):
        return True
    if lot.allowed(day):
        return False
    if lot.held:
        raise LotStopped(
            f"Lot {lot.spaced_code} is on hold. Choose another lot, release it on its page, or have the owner allow its "
            "use there.",
            lot.pk,
            StoppedUse.Stop.HELD,
        )
    raise LotStopped(
        f"Lot {lot.spaced_code} expired on {lot.expires_on:%d %b %Y}. Choose another lot, correct the date on its page, "
        "or have the owner allow its use there.",
        lot.pk,
        StoppedUse.Stop.EXPIRED,
    )


def carried(lot: Lot, quantity: int) -> int:
    """The value, in millionths, that `quantity` base units take along when they leave a lot: everything, with the
    last of it."""
    return lot.value if quantity >= lot.on_hand else share(lot.value, quantity, lot.on_hand)


def _apply(lots: dict[int, Lot], lines: Sequence[Line], book_found: bool) -> list[Movement]:
    """Carry the lines out on the locked lots and give back the movements to be written."""
    movements = []
    for line in lines:
        lot = lots[line.lot_id]
        if lot.on_hand + line.quantity < 0:
            if not book_found:
                raise LotShort(lot, -line.quantity)
            found = -(lot.on_hand + line.quantity)
            lot.on_hand += found
            movements.append(Movement(lot=lot, kind=Movement.Kind.FOUND, quantity=found, value=0))
        value = line.value
        if value is None:
            value = -carried(lot, -line.quantity)
        lot.on_hand += line.quantity
        lot.value += value
        if lot.value < 0 or (lot.on_hand == 0 and lot.value):
            raise BookError(
                f"Lot {lot.spaced_code} would be left with a value that does not fit its quantity.", lot.pk
            )
        movements.append(Movement(lot=lot, kind=line.kind, quantity=line.quantity, value=value))
    return movements


def _check_past(signature: Signature, lots: dict[int, Lot], movements: Sequence[Movement]) -> None:
    """A back-dated event must leave every later moment possible too: no lot below zero at any time."""
    taken = {movement.lot_id for movement in movements if movement.quantity < 0}
    latest = (
        Movement.objects.filter(lot__in=taken)
        .order_by()
        .values("lot")
        .annotate(last=Max("posting__happened_at"))
        .filter(last__gt=signature.happened_at)
    )
    for lot_id in [row["lot"] for row in latest]:
        level = 0
        rows = Movement.objects.filter(lot=lot_id).order_by().values_list("posting__happened_at", "quantity")
        # At one instant what came in counts before what went out.
        for moment, quantity in sorted(rows, key=lambda row: (row[0], -row[1])):
            level += quantity
            if level < 0:
                lot = lots[lot_id]
                raise WrongTime(
                    f"Lot {lot.spaced_code} would have been below nothing on {local(moment):%d %b %Y, %H:%M}. "
                    "Give a later time, or choose another lot.",
                    lot_id,
                )


def _check_unused_since(posting: Posting, movements: Sequence[Movement]) -> None:
    """Raise CannotReverse when a lot whose cost was corrected has since given some of that cost away."""
    lots = {movement.lot_id: movement.lot for movement in movements}
    since = Movement.objects.standing().filter(lot__in=lots, quantity__lt=0, posting__gt=posting.pk)
    if used := since.order_by("pk").first():
        lot = lots[used.lot_id]
        raise CannotReverse(
            f"Some of lot {lot.spaced_code} has left since and took its share of this cost along. "
            "Reverse what took it first, the latest first.",
            lot.pk,
        )


@transaction.atomic
def reverse(posting: Posting, signature: Signature) -> Posting:
    """Undo a posting by its mirror image, recorded now, with a reason: at the time the posting happened, or, where the
    books are closed there, at the first moment after.

    Raises CannotReverse when it was reversed before, is a reversal itself, or something later depends on it.
    """
    movements = list(posting.movements.select_related("lot__item"))
    followers = followers_of(posting)
    for follower in followers:
        follower.lock_first()
    lock(movement.lot_id for movement in movements)
    if posting.kind == Posting.Kind.REVERSAL:
        raise CannotReverse("A reversal is not reversed. Post what is right instead.")
    if Posting.objects.filter(reverses=posting).exists():
        raise CannotReverse("This was reversed before. Reload the page to see by whom.")
    if said := next((said for follower in followers if (said := follower.objection())), ""):
        raise CannotReverse(said)
    if posting.kind == Posting.Kind.REVALUATION:
        _check_unused_since(posting, movements)
    lines = [
        Line(movement.lot_id, Movement.Kind(movement.kind), -movement.quantity, -movement.value)
        for movement in reversed(movements)
    ]
    periods = [(cost.lot_id, -cost.value) for cost in posting.period_costs.all()]
    try:
        reversal = post(
            Posting.Kind.REVERSAL,
            signature.at(closing.when_open(posting.happened_at)),
            lines,
            reverses=posting,
            period_costs=periods,
        )
    except LotShort as error:
        raise CannotReverse(
            f"Of lot {error.lot.spaced_code}, {error.lot.item.quantity(error.short)} was used since. "
            "Reverse what used it first, the latest first.",
            error.lot_id,
        ) from error
    except WrongTime as error:
        raise CannotReverse(f"What happened later depends on this. {error}", error.lot_id) from error
    except BookError as error:
        raise CannotReverse(
            f"{error} Its cost was corrected since; reverse that correction first.", error.lot_id
        ) from error
    for follower in followers:
        follower.follow(movements, signature)
    return reversal
