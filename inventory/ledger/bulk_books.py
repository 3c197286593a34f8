"""The stock books, second half: many lots or many movements written at once, for tables brought in from before.

Holds to the rules of `inventory.ledger.books`: lots are locked in one query, what leaves a lot carries its share of the
value, nothing happens to a lot before it arrived, after now, where the books are closed, or beyond what it held then.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import TypeVar

from django.db import connection, transaction
from django.db.models import Max

from inventory.ledger import books, closing
from inventory.ledger.books import BookError, BooksClosed, LotShort, WrongTime
from inventory.models import Lot, Movement, Posting
from studio.people.signature import Signature

LINES_AT_MOST = 500
"""Movements of one posting. A day with more has several, so that each can be looked at, and reversed, as a whole."""

Line = TypeVar("Line")


@dataclass(frozen=True)
class Opening:
    """A lot that was there before these books: `lot` is new, with its code, and holds `quantity` base units worth
    `value` millionths from the moment it arrived."""

    lot: Lot
    quantity: int
    value: int


@dataclass(frozen=True)
class Event:
    """Something that happened to a lot before these books. `quantity` in base units, below zero for what left it."""

    lot_id: int
    kind: Movement.Kind
    quantity: int
    happened_at: datetime
    note: str = ""


@transaction.atomic
def open_lots(openings: Sequence[Opening], signature: Signature) -> list[Posting]:
    """Put lots on the shelf as they stood before: one posting for each moment of arrival. Gives back the posting of
    each, in their order.

    The signature's own time does not count; each happened when its lot arrived. Raises WrongTime, BookError.
    """
    opened = closing.hold_open()
    for opening in openings:
        if opened and opening.lot.arrived_at < opened:
            raise BooksClosed(opened)
        if opening.quantity <= 0 or opening.value < 0:
            raise BookError("A lot opens with a quantity above zero, worth nothing or more.")
        if opening.lot.arrived_at > signature.recorded_at:
            raise WrongTime("A lot cannot have arrived in the future.")
        opening.lot.on_hand, opening.lot.value = opening.quantity, opening.value
    Lot.objects.bulk_create([opening.lot for opening in openings])
    return _write(
        Posting.Kind.OPENING,
        signature,
        openings,
        when=lambda opening: (opening.lot.arrived_at, signature.reason),
        as_movement=lambda opening, posting: Movement(
            posting_id=posting.pk,
            lot_id=opening.lot.pk,
            kind=Movement.Kind.RECEIVED,
            quantity=opening.quantity,
            value=opening.value,
        ),
    )


@transaction.atomic
def post_earlier(events: Sequence[Event], signature: Signature) -> list[Posting]:
    """Write what happened to lots before these books: one posting for each moment and note. Gives back the posting
    of each event, in their order.

    Raises LotShort, WrongTime or BookError for the first event the books refuse; see `weigh`.
    """
    lots = books.lock(event.lot_id for event in events)
    values, refused = weigh(lots, events, signature.recorded_at, closing.hold_open())
    if refused:
        raise refused[min(refused)]
    postings = _write(
        Posting.Kind.EARLIER,
        signature,
        list(zip(events, values, strict=True)),
        when=lambda line: (line[0].happened_at, line[0].note),
        as_movement=lambda line, posting: Movement(
            posting_id=posting.pk,
            lot_id=line[0].lot_id,
            kind=line[0].kind,
            quantity=line[0].quantity,
            value=line[1],
        ),
    )
    with connection.cursor() as cursor:
        cursor.executemany(
            f"UPDATE {Lot._meta.db_table} SET on_hand = %s, value = %s WHERE id = %s",
            [(lot.on_hand, lot.value, lot.pk) for lot in lots.values()],
        )
    return postings


def weigh(
    lots: dict[int, Lot], events: Sequence[Event], now: datetime, opened: datetime | None
) -> tuple[list[int], dict[int, BookError]]:
    """Carry events out on these lots, by key, in the order they happened, and write nothing. The books are open from
    `opened` on.

    Gives back the value each event carries, in the order of the events, and what the books refuse, by the event's
    place. The lots are left as they would be afterwards.
    """
    values = [0] * len(events)
    refused: dict[int, BookError] = {}
    # At one instant what came in counts before what went out.
    order = sorted(
        range(len(events)), key=lambda place: (events[place].happened_at, -events[place].quantity, place)
    )
    for place in order:
        event = events[place]
        try:
            values[place] = _carry_out(lots[event.lot_id], event, now, opened)
        except BookError as error:
            refused[place] = error
    refused |= _below_nothing(lots, events, [place for place in order if place not in refused])
    return values, refused


def _carry_out(lot: Lot, event: Event, now: datetime, opened: datetime | None) -> int:
    """The value an event carries; the lot holds it afterwards, or no longer."""
    if event.happened_at > now:
        raise WrongTime("This lies in the future. Give a day that has passed.", lot.pk)
    if opened and event.happened_at < opened:
        raise BooksClosed(opened, lot.pk)
    if event.happened_at < lot.arrived_at:
        arrived = f"{books.local(lot.arrived_at):%d %b %Y, %H:%M}"
        raise WrongTime(
            f"Lot {lot.spaced_code} arrived on {arrived}; nothing can have happened to it before.", lot.pk
        )
    if event.quantity > 0:
        # Found stock is worth nothing: the books carry what was paid.
        lot.on_hand += event.quantity
        return 0
    if lot.on_hand + event.quantity < 0:
        raise LotShort(lot, -event.quantity)
    value = books.carried(lot, -event.quantity)
    lot.on_hand += event.quantity
    lot.value -= value
    return -value


def _below_nothing(
    lots: dict[int, Lot], events: Sequence[Event], order: Sequence[int]
) -> dict[int, BookError]:
    """What would have left a lot below nothing at a later moment, by the place of the event that did it."""
    first: dict[int, datetime] = {}
    for place in order:
        first.setdefault(events[place].lot_id, events[place].happened_at)
    latest = (
        Movement.objects.filter(lot__in=first)
        .order_by()
        .values("lot")
        .annotate(last=Max("posting__happened_at"))
        .values_list("lot", "last")
    )
    # Where nothing happened afterwards, what the lot holds now is what it held.
    crossed: dict[int, list[tuple[datetime, int, int]]] = {
        lot_id: [] for lot_id, last in latest if last > first[lot_id]
    }
    if not crossed:
        return {}
    written = Movement.objects.filter(lot__in=crossed).order_by()
    for lot_id, moment, quantity in written.values_list("lot", "posting__happened_at", "quantity"):
        crossed[lot_id].append((moment, -quantity, -1))
    for place in order:
        event = events[place]
        if event.lot_id in crossed:
            crossed[event.lot_id].append((event.happened_at, -event.quantity, place))
    refused: dict[int, BookError] = {}
    for lot_id, rows in crossed.items():
        level, taker = 0, -1
        for moment, taken, place in sorted(rows):
            level -= taken
            if taken > 0 and place >= 0:
                taker = place
            if level < 0 and taker >= 0:
                refused[taker] = WrongTime(
                    f"Lot {lots[lot_id].spaced_code} would have been below nothing on "
                    f"{books.local(moment):%d %b %Y, %H:%M}.",
                    lot_id,
                )
                break
    return refused


def _write(
    kind: Posting.Kind,
    signature: Signature,
    lines: Sequence[Line],
    *,
    when: Callable[[Line], tuple[datetime, str]],
    as_movement: Callable[[Line, Posting], Movement],
) -> list[Posting]:
    """Write lines under postings of one kind, one for each moment and reason, and give back each line's posting."""
    moments = [when(line) for line in lines]
    groups = list(_in_groups(sorted(range(len(lines)), key=lambda place: (*moments[place], place)), moments))
    postings = Posting.objects.bulk_create(
        Posting(
            kind=kind,
            happened_at=moments[group[0]][0],
            recorded_at=signature.recorded_at,
            by=signature.by,
            reason=moments[group[0]][1],
        )
        for group in groups
    )
    of_line: list[Posting] = [postings[0]] * len(lines) if lines else []
    movements = []
    for posting, group in zip(postings, groups, strict=True):
        for place in group:
            of_line[place] = posting
            movements.append(as_movement(lines[place], posting))
    Movement.objects.bulk_create(movements)
    return of_line


def _in_groups(places: Iterable[int], moments: Sequence[tuple[datetime, str]]) -> Iterable[list[int]]:
    """Places of one moment and reason together, at most LINES_AT_MOST of them."""
    for _, same in groupby(places, key=lambda place: moments[place]):
        together = list(same)
        for start in range(0, len(together), LINES_AT_MOST):
            yield together[start : start + LINES_AT_MOST]
