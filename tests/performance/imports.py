"""Bringing tables in: seconds from the file's bytes to the books, against a bare bulk_create of the very same rows.

The floor begins with the values of the rows, as the app begins with the text of the file: it makes the model rows and
writes them, and does nothing else. It does not even write the lots' new balances, which past movements must.
The rows are invented, and the same every time. Both sides are rolled back, and each is timed three times in turn; the
best of each counts, since everything else is what the machine was doing besides.
"""

import csv
import io
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from time import perf_counter

from django.db import transaction
from django.db.models import Model

from inventory.importing.import_service import bring_in, keep, look
from inventory.models import Import, ImportedRow, Item, Lot, Movement, Posting, Supplier
from studio.models import Role, Studio, User
from studio.people.signature import Signature
from tests.performance.figures import Figure

NOW = datetime(2026, 3, 20, 12, tzinfo=UTC)
FIRST = date(2024, 1, 1)
ROUNDS = 3
ITEMS, SUPPLIERS = 60, 5
LOTS_OF_MOVEMENTS = 1_000


class _Undo(Exception):
    """Takes back what a round wrote."""


def _furnish() -> tuple[Studio, User]:
    studio, _ = Studio.objects.get_or_create(pk=1, defaults={"name": "Ninefold Lane"})
    by, _ = User.objects.get_or_create(username="long", defaults={"role": Role.OWNER})
    if not Item.objects.exists():
        Item.objects.bulk_create(Item(name=f"Wax {number}", kind="wax", unit="g") for number in range(ITEMS))
        Supplier.objects.bulk_create(Supplier(name=f"Invented Works {number}") for number in range(SUPPLIERS))
    return studio, by


def _file(rows: Iterator[list[str]]) -> bytes:
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue().encode()


def _lots(rows: int) -> Iterator[list[str]]:
    yield ["Item", "Quantity", "Cost", "Supplier", "Supplier's lot", "Arrived", "Place", "Container"]
    for number in range(rows):
        quantity = f"{20 + number % 900}.{number % 10} {('kg', 'lb', 'oz', 'g')[number % 4]}"
        yield [
            f"wax {number % ITEMS}",
            quantity,
            f"{10 + number % 4000}.{number % 100:02d}",
            f"Invented Works {number % SUPPLIERS}",
            f"IW-{number}",
            (FIRST + timedelta(days=number % 500)).isoformat(),
            f"Shelf {number % 40}",
            "pail",
        ]


def _movements(rows: int) -> Iterator[list[str]]:
    yield ["Date", "Lot", "Item", "What", "Quantity", "Note"]
    for number in range(rows):
        lot = number % LOTS_OF_MOVEMENTS
        yield [
            (FIRST + timedelta(days=510 + number % 200)).isoformat(),
            f"IW-{lot}",
            f"Wax {lot % ITEMS}",
            ("used", "sold", "scrapped", "sample")[number % 4],
            f"0.{1 + number % 9} g",
            "",
        ]


def _rolled_back(act: Callable[[], object]) -> float:
    """Seconds that `act` takes, taken back afterwards."""
    try:
        with transaction.atomic():
            before = perf_counter()
            act()
            seconds = perf_counter() - before
            raise _Undo
    except _Undo:
        return seconds


def _bring(table: Import.Table, data: bytes, by: User, studio: Studio) -> None:
    """Everything between the file's bytes and the books: read, kept, checked, written."""
    waiting = keep(table, "long.csv", data, by=by, now=NOW)
    plan = look(waiting, studio, NOW)
    bring_in(waiting, shown=plan.fingerprint, signature=Signature(by, NOW, NOW))


def _once(table: Import.Table, data: bytes, by: User, studio: Studio) -> None:
    """The same with the check that is part of bringing in alone, as when the page shown before is left out."""
    waiting = keep(table, "long.csv", data, by=by, now=NOW)
    shown = _fingerprints[table]
    bring_in(waiting, shown=shown, signature=Signature(by, NOW, NOW))


_fingerprints: dict[Import.Table, str] = {}


def _measure(what: str, table: Import.Table, data: bytes, rows: int) -> list[Figure]:
    studio, by = _furnish()
    waiting = keep(table, "long.csv", data, by=by, now=NOW)
    plan = look(waiting, studio, NOW)
    assert plan.ready, plan.problems[:3]
    assert plan.new_rows == rows
    _fingerprints[table] = plan.fingerprint
    written = _written(table, data, by, studio)
    once, whole, floor = [], [], []
    for _ in range(ROUNDS):
        floor.append(_rolled_back(lambda: _bare(written)))
        once.append(_rolled_back(lambda: _once(table, data, by, studio)))
        whole.append(_rolled_back(lambda: _bring(table, data, by, studio)))
    return [
        Figure(f"{what}: read, checked, written", min(once), min(floor), at_most=4),
        Figure(f"{what}: and shown before", min(whole), min(floor)),
    ]


def _bare(written: list[tuple[type[Model], list[dict[str, object]]]]) -> None:
    for model, rows in written:
        model._default_manager.bulk_create([model(**row) for row in rows])


def _written(
    table: Import.Table, data: bytes, by: User, studio: Studio
) -> list[tuple[type[Model], list[dict[str, object]]]]:
    """The values of the rows an import writes, in the order they may be written again; nothing of them stays."""
    kept: list[tuple[type[Model], list[dict[str, object]]]] = []
    there = {
        model: set(model.objects.values_list("pk", flat=True)) for model in (Lot, Movement, Posting, Import)
    }

    def act() -> None:
        _bring(table, data, by, studio)
        for model in (Import, Lot, Posting, Movement):
            kept.append((model, [row for row in model.objects.values() if row["id"] not in there[model]]))
        run = kept[0][1][0]["id"]
        kept.append((ImportedRow, list(ImportedRow.objects.filter(run=run).values())))

    _rolled_back(act)
    return kept


def opening_lots(rows: int) -> list[Figure]:
    """A table of opening lots."""
    return _measure(f"{rows:,} opening lots", Import.Table.LOTS, _file(_lots(rows)), rows)


def past_movements(rows: int) -> list[Figure]:
    """A table of past movements of a thousand lots."""
    studio, by = _furnish()
    if not Lot.objects.exists():
        _bring(Import.Table.LOTS, _file(_lots(LOTS_OF_MOVEMENTS)), by, studio)
    return _measure(f"{rows:,} past movements", Import.Table.MOVEMENTS, _file(_movements(rows)), rows)
