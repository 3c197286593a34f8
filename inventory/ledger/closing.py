"""Closing the books up to a day: nothing is posted before it any more, and what was wrong is put right after it.

The first instant at which something may still happen is asked for by everything that posts. On PostgreSQL whoever posts
and whoever closes keep out of each other's way by the lock on the table of postings; SQLite writes one after the other.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.db import connection, transaction
from django.db.models import Max, Sum
from django.utils import timezone

from inventory.models import ClosedStock, Closing, Movement
from studio.core.days import first_instant_after
from studio.people.signature import Signature


class CannotClose(Exception):
    """The books cannot be closed like this. Its text is a sentence."""


def latest() -> Closing | None:
    """The closing that reaches furthest; None while the books were never closed."""
    return Closing.objects.order_by("-until").first()


def open_from() -> datetime | None:
    """The first instant at which something may still happen; None while the books were never closed."""
    until: datetime | None = Closing.objects.aggregate(until=Max("until"))["until"]
    return until


def hold_open() -> datetime | None:
    """`open_from`, and nobody closes the books further until the transaction ends."""
    _lock("ROW EXCLUSIVE")
    return open_from()


def when_open(moment: datetime) -> datetime:
    """The moment itself, or, where the books are closed there, the first moment after the closing."""
    opened = hold_open()
    return moment if opened is None else max(moment, opened)


def closed_sentence(opened: datetime | None) -> str:
    """Up to when the books are closed, as a sentence; empty while they never were."""
    if opened is None:
        return ""
    last = timezone.localtime(opened - timedelta(microseconds=1))
    return f"The books are closed up to {last:%d %b %Y}."


def put_right_when(moment: datetime) -> str:
    """Where what is put right stands when the books are closed at its moment, as a sentence; else empty."""
    opened = open_from()
    if opened is None or moment >= opened:
        return ""
    return (
        f"{closed_sentence(opened)} So this stands at the first moment after, "
        f"{timezone.localtime(opened):%d %b %Y, %H:%M}; what was closed stays as it was."
    )


def _lock(mode: str) -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"LOCK TABLE inventory_posting IN {mode} MODE")


@transaction.atomic
def close(through: date, *, signature: Signature) -> Closing:
    """Close the books through a day that is over, and keep what stood on the shelf at its end.

    Raises CannotClose.
    """
    # Waits for every posting that is under way, and keeps new ones waiting.
    _lock("SHARE ROW EXCLUSIVE")
    until = first_instant_after(through)
    if until > signature.recorded_at:
        raise CannotClose("This day is not over yet. Give an earlier one.")
    before = latest()
    if before and (through <= before.through or until <= before.until):
        raise CannotClose(
            f"The books are closed through {before.through:%d %b %Y} already. Give a later day."
        )
    if not signature.reason:
        raise CannotClose("Say why the books are closed.")
    closing = Closing.objects.create(
        through=through,
        until=until,
        reason=signature.reason,
        by=signature.by,
        at=signature.recorded_at,
    )
    ClosedStock.objects.bulk_create(
        ClosedStock(closing=closing, item_id=item_id, quantity=quantity, value=value)
        for item_id, quantity, value in stock_before(until)
    )
    return closing


def stock_before(until: datetime) -> Iterable[tuple[int, int, int]]:
    """What there was of each item before an instant: its key, base units and millionths; what was all gone left out."""
    rows = Movement.objects.filter(posting__happened_at__lt=until).order_by().values_list("lot__item")
    sums = rows.annotate(quantity=Sum("quantity"), worth=Sum("value")).order_by("lot__item")
    return [(item_id, quantity, worth) for item_id, quantity, worth in sums if quantity or worth]
