"""A long history, written straight into the tables: for measuring how reading grows, not for judging the books.

Deliveries become lots and every lot leaves in equal parts. Invented, and the same every time.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import count, islice

from django.db import connection, transaction

from inventory.models import Delivery, DeliveryLine, Item, Kind, Lot, Supplier
from studio.core.codes import make_code
from studio.models import Role, User

FIRST = datetime(2024, 1, 1, 8, tzinfo=UTC)
PARTS = 49
RECEIVED, PART, WORTH = 4_900_000_000, 100_000_000, 98_000_000
LOTS_AT_ONCE = 200


@transaction.atomic
def write(movements: int) -> int:
    """Fill an empty, migrated database with at least so many movements; gives back how many it became."""
    by = User.objects.create(username="chronicle", role=Role.OWNER)
    supplier = Supplier.objects.create(name="Tollgate Long Row")
    items = [Item.objects.create(name=f"Long row wax {number}", kind=Kind.WAX) for number in range(60)]
    codes = (code for code in (make_code("L", number) for number in count(1)) if code)
    lots = -(-movements // (PARTS + 1))
    posting = 0
    for start in range(0, lots, LOTS_AT_ONCE):
        size = min(LOTS_AT_ONCE, lots - start)
        posting = _write_lots(size, start, posting, by, supplier, items, islice(codes, size))
    return lots * (PARTS + 1)


def _write_lots(
    size: int, start: int, posting: int, by: User, supplier: Supplier, items: list[Item], codes: Iterator[str]
) -> int:
    """Some lots with everything that happened to them; gives back the last posting's key."""
    keys = range(start + 1, start + size + 1)
    arrived = {key: FIRST + timedelta(minutes=30 * key) for key in keys}
    postings, moves = [], []
    for key in keys:
        for step in range(PARTS + 1):
            posting += 1
            at = arrived[key] + timedelta(hours=step)
            postings.append((posting, "scrap" if step else "receipt", at, at, by.pk))
            amount, value = (-PART, -WORTH // PARTS) if step else (RECEIVED, WORTH)
            moves.append((posting, key, "scrapped" if step else "received", amount, value))
    first = [posting - size * (PARTS + 1) + number * (PARTS + 1) + 1 for number in range(size)]
    _insert("inventory_posting", "id, kind, happened_at, recorded_at, by_id, reason", postings, "''")
    Delivery.objects.bulk_create(
        Delivery(pk=key, supplier=supplier, posting_id=receipt)
        for key, receipt in zip(keys, first, strict=True)
    )
    DeliveryLine.objects.bulk_create(
        DeliveryLine(
            pk=key,
            delivery_id=key,
            item=items[key % len(items)],
            pack_quantity=RECEIVED,
            typed_quantity="4.9 kg",
            typed_price="98.00",
            goods_value=WORTH,
        )
        for key in keys
    )
    Lot.objects.bulk_create(
        Lot(
            pk=key,
            code=code,
            item=items[key % len(items)],
            supplier=supplier,
            delivery_line_id=key,
            arrived_at=arrived[key],
        )
        for key, code in zip(keys, codes, strict=True)
    )
    _insert("inventory_movement", "posting_id, lot_id, kind, quantity, value", moves)
    return posting


def _insert(table: str, columns: str, rows: list[tuple], *constants: str) -> None:
    """Rows by plain SQL, which a million of them need."""
    marks = ", ".join(["%s"] * len(rows[0]) + list(constants))
    if connection.vendor == "sqlite":
        rows = [
            tuple(str(cell.replace(tzinfo=None)) if isinstance(cell, datetime) else cell for cell in row)
            for row in rows
        ]
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", rows)
