"""Counting the shelf: a sheet is started, lots are looked at one by one, and what differs is posted as one event.

Locking: the count's row, then lots in one query ordered by primary key.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Max

from inventory.counting.figures import Finding, classes, findings, with_book
from inventory.counting.rules import beyond
from inventory.ledger import books, closing
from inventory.lots import holding
from inventory.models import Count, CountLine, Lot, Movement, Posting, Reason
from inventory.querysets import CountLineQuerySet
from studio.people.signature import Signature

# What a look writes on its line.
LOOKED_AT = (
    "counted",
    "typed",
    "gross_ug",
    "tare_ug",
    "counted_at",
    "by",
    "tolerance_ppm",
    "first_counted",
    "looked_twice",
)


class CannotCount(Exception):
    """What was asked of a count cannot be done. Its text is a sentence; `lot_id` names the lot it is about."""

    def __init__(self, sentence: str, lot_id: int | None = None) -> None:
        super().__init__(sentence)
        self.lot_id = lot_id


class CountEnded(CannotCount):
    """The count is in the books or was called off: somebody else was first."""


class CountedMeanwhile(CannotCount):
    """A colleague looked at the lot since the page was opened, or a difference changed since it was shown."""


@dataclass(frozen=True)
class Look:
    """What somebody found of a lot: `counted` base units net, as typed, and how it was weighed, where it was.

    `seen` is the figure the page showed before, None where the lot was still to be counted.
    """

    lot_id: int
    counted: int
    typed: str = ""
    gross_ug: int | None = None
    tare_ug: int | None = None
    seen: int | None = None


@transaction.atomic
def start(
    *,
    scope: Count.Scope,
    signature: Signature,
    of: str = "",
    item_ids: Iterable[int] | None = None,
    blind: bool = False,
) -> Count:
    """Begin a count of what is on the shelf: at the place `of`, of certain items, or of everything.

    `of` says what is counted, in words, where it is not a place. Lots on another open count are left to that one, so
    that no difference is found twice. Raises CannotCount.
    """
    lots = Lot.objects.on_shelf()
    if scope == Count.Scope.PLACE:
        lots = lots.filter(place=of)
    if item_ids is not None:
        lots = lots.filter(item__in=list(item_ids))
    held = books.lock(lots.values_list("pk", flat=True))
    taken = set(_open_lines().filter(lot__in=held).values_list("lot_id", flat=True))
    free = [lot_id for lot_id, lot in held.items() if lot.on_hand and lot_id not in taken]
    if not free:
        raise CannotCount(
            "All of this is being counted already. Go on with the open count, or call it off."
            if taken
            else "Nothing of this is on the shelf. Choose something else to count."
        )
    count = Count.objects.create(
        scope=scope, of=of, blind=blind, started_by=signature.by, started_at=signature.recorded_at
    )
    CountLine.objects.bulk_create(CountLine(count=count, lot_id=lot_id) for lot_id in free)
    return count


def _open_lines() -> CountLineQuerySet:
    return CountLine.objects.filter(count__state=Count.State.OPEN)


def _open(count_id: int) -> Count:
    """The count, locked and still open. Raises CountEnded."""
    count = Count.objects.select_for_update(of=("self",), no_key=True).get(pk=count_id)
    if not count.is_open:
        how = "in the books" if count.state == Count.State.POSTED else "called off"
        raise CountEnded(f"This count is {how} already, by {count.ended_by}.")
    return count


@transaction.atomic
def add_lot(count_id: int, lot_id: int, *, signature: Signature) -> CountLine:
    """Put a lot on the sheet that stands on the shelf and is not on it, empty by the books or not; its line.

    Raises CannotCount where another open count has it.
    """
    count = _open(count_id)
    lot = books.lock([lot_id])[lot_id]
    if line := count.lines.filter(lot=lot).first():
        return line
    if other := _open_lines().filter(lot=lot).select_related("count").first():
        raise CannotCount(
            f"Lot {lot.spaced_code} is on another open count, {other.count.what}. Count it there.", lot_id
        )
    return CountLine.objects.create(count=count, lot=lot)


@transaction.atomic
def count_lots(count_id: int, looks: Sequence[Look], *, signature: Signature) -> list[CountLine]:
    """Write down what was found of lots of a count, all looked at when the signature says; all of it or nothing.

    A lot that was counted before is replaced, its first figure kept; where that was above the tolerance this is the
    second look, which stands. A new tare is kept on the lot. Raises CannotCount, WrongTime.
    """
    count = _open(count_id)
    lots = books.lock(look.lot_id for look in looks)
    _check_times(lots, signature)
    lines = {line.lot_id: line for line in with_book(count.lines.filter(lot__in=lots).select_related("by"))}
    known = classes(books.local(signature.recorded_at).date())
    written = []
    for look in looks:
        lot = lots[look.lot_id]
        line = lines.get(look.lot_id)
        if line is None:
            raise CannotCount(f"Lot {lot.spaced_code} is not on this sheet. Add it first.", lot.pk)
        _write_look(line, look, lot, known.of(lot.item_id).tolerance_ppm, signature)
        if look.tare_ug is not None:
            holding.note_tare(lot.pk, look.tare_ug, signature=signature)
        written.append(line)
    return written


def _write_look(line: CountLine, look: Look, lot: Lot, tolerance_ppm: int, signature: Signature) -> None:
    """Write one look on its line. Raises CountedMeanwhile."""
    if line.counted != look.seen:
        found = lot.item.quantity(line.counted or 0)
        raise CountedMeanwhile(
            f"{line.by} counted lot {lot.spaced_code} meanwhile and found {found}. "
            "Open the lot on this sheet to look at it again.",
            lot.pk,
        )
    if line.counted is not None:
        if line.first_counted is None:
            line.first_counted = line.counted
        if beyond(line.counted, line.book, line.tolerance_ppm or 0):  # type: ignore[attr-defined]  # by with_book
            line.looked_twice = True
    line.counted, line.typed = look.counted, look.typed
    line.gross_ug, line.tare_ug = look.gross_ug, look.tare_ug
    line.counted_at, line.by, line.tolerance_ppm = signature.happened_at, signature.by, tolerance_ppm
    line.save(update_fields=LOOKED_AT)


def _check_times(lots: Mapping[int, Lot], signature: Signature) -> None:
    """A lot is looked at after it came, not in the future, and not before an earlier count put it right.

    A difference is posted at the end of its count. A look dated before that would find the same difference again.
    """
    at = signature.happened_at
    if at > signature.recorded_at:
        raise books.WrongTime("This lies in the future. Give a time that has passed.")
    counted = Movement.objects.standing().filter(lot__in=lots, kind=Movement.Kind.COUNTED)
    latest: dict[int, datetime] = dict(
        counted.order_by().values_list("lot").annotate(at=Max("posting__happened_at"))
    )
    for lot_id, lot in lots.items():
        if at < lot.arrived_at:
            raise books.WrongTime(
                f"Lot {lot.spaced_code} arrived on {_when(lot.arrived_at)}; it cannot have been counted before.",
                lot_id,
            )
        if lot_id in latest and at < latest[lot_id]:
            raise books.WrongTime(
                f"Lot {lot.spaced_code} was put right by a count on {_when(latest[lot_id])}. Give a later time.",
                lot_id,
            )


def _when(moment: datetime) -> str:
    return f"{books.local(moment):%d %b %Y, %H:%M}"


@transaction.atomic
def explain(count_id: int, reasons: Mapping[int, tuple[Reason | None, str]], *, signature: Signature) -> None:
    """Write the reason and the note on lines, by the key of the line. Raises CountEnded."""
    count = _open(count_id)
    for line in count.lines.looked_at().filter(pk__in=reasons):
        line.reason, line.note = reasons[line.pk]
        line.save(update_fields=["reason", "note"])


@transaction.atomic
def post(count_id: int, *, signature: Signature, shown: Mapping[int, int] | None = None) -> Count:
    """Put a count into the books: one posting, dated when the last lot was looked at (or when the books are open
    again), a movement for each lot that differs; none where all agreed. Lots nobody looked at are left alone.

    What is missing takes its share of the value along; what is too much is worth nothing, as is all found stock.
    `shown` are the differences the page showed, by key of the line: when they are others by now, nothing is posted.

    Raises CannotCount, CountEnded, CountedMeanwhile.
    """
    count = _open(count_id)
    books.lock(count.lines.looked_at().values_list("lot", flat=True))
    found = [each for each in findings(count) if each.is_counted]
    if not found:
        raise CannotCount("Nothing was counted yet. Count a lot, or call the count off.")
    differing = [each for each in found if each.difference]
    if shown is not None and shown != {each.line.pk: each.difference for each in differing}:
        raise CountedMeanwhile(
            "Something was counted or entered meanwhile that changes a difference. Look at them once more, then press "
            "again."
        )
    _check_complete(found)
    agreeing = [each.line.pk for each in found if not each.difference]
    count.lines.filter(pk__in=agreeing, reason__isnull=False).update(reason=None, note="")
    if differing:
        latest = max(each.line.counted_at for each in found if each.line.counted_at)
        count.posting = _write(differing, signature.at(closing.when_open(latest)).because(count.what))
    return _end(count, Count.State.POSTED, signature)


def _check_complete(found: Iterable[Finding]) -> None:
    """Raise CannotCount when a lot is to be looked at again, or a reason is missing."""
    for each in found:
        lot = each.line.lot
        if each.must_look_again:
            raise CannotCount(
                f"Lot {lot.spaced_code} is further off than its tolerance. Count it a second time first.",
                lot.pk,
            )
        if each.needs_reason:
            raise CannotCount(f"Give a reason for the difference of lot {lot.spaced_code}.", lot.pk)


def _write(differing: Sequence[Finding], signature: Signature) -> Posting:
    """Post the differences. Raises CannotCount where a lot does not hold enough any more."""
    lines = [
        books.Line(
            each.line.lot_id, Movement.Kind.COUNTED, each.difference, None if each.difference < 0 else 0
        )
        for each in differing
        if each.difference
    ]
    try:
        return books.post(Posting.Kind.COUNT, signature, lines)
    except (books.LotShort, books.WrongTime) as error:
        each = next((each for each in differing if each.line.lot_id == error.lot_id), None)
        if each is None:
            raise CannotCount(str(error)) from error
        lot = each.line.lot
        raise CannotCount(
            f"Lot {lot.spaced_code} was {lot.item.quantity(-(each.difference or 0))} short when it was counted, and what "
            f"was taken since leaves {lot.item.quantity(lot.on_hand)} by the books. Count it again, or put right what was "
            "taken.",
            lot.pk,
        ) from error


def _end(count: Count, state: Count.State, signature: Signature) -> Count:
    count.state, count.ended_by, count.ended_at = state, signature.by, signature.recorded_at
    count.save(update_fields=["state", "posting", "ended_by", "ended_at"])
    return count


@transaction.atomic
def call_off(count_id: int, *, signature: Signature) -> Count:
    """Give a count up. What was looked at stays on record and changes nothing. Raises CountEnded."""
    return _end(_open(count_id), Count.State.CALLED_OFF, signature)
