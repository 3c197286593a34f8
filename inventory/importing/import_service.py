"""Bringing a table in: kept while it is looked at, then carried out whole or not at all."""

from collections.abc import Callable, Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from inventory.importing import lots, movements, names, offers
from inventory.importing.cells import Choices
from inventory.importing.columns import count_headings
from inventory.importing.findings import Entry
from inventory.importing.planning import Plan, make_plan
from inventory.importing.shapes import SHAPES
from inventory.models import Import, WaitingTable
from studio.models import Studio, User
from studio.people.signature import Signature
from studio.web.reading_tables import pack, unpack
from studio.web.reading_xlsx import read_table

WAITS = timedelta(days=7)
WAITING_AT_MOST = 20

CARRY_OUT: dict[Import.Table, Callable[[Sequence[Entry], Import, Signature], None]] = {
    Import.Table.SUPPLIERS: names.add_suppliers,
    Import.Table.ITEMS: names.add_items,
    Import.Table.OFFERS: offers.add_offers,
    Import.Table.LOTS: lots.add_lots,
    Import.Table.MOVEMENTS: movements.add_movements,
}


class NotAsShown(Exception):
    """What would be brought in is no longer what was shown, since the books or the file changed. Carries the `plan`
    as it is now."""

    def __init__(self, plan: Plan) -> None:
        super().__init__("The books changed since this was shown. Look at it again.")
        self.plan = plan


@transaction.atomic
def keep(table: Import.Table, name: str, data: bytes, *, by: User, now: datetime) -> WaitingTable:
    """Read a file and keep what was read until it is brought in. Old ones go.

    Raises studio.web.reading_tables.UnreadableTable.
    """
    shape = SHAPES[table]
    read = read_table(data, lambda cells: count_headings(shape, cells))
    WaitingTable.objects.filter(at__lt=now - WAITS).delete()
    newest = WaitingTable.objects.values_list("pk", flat=True)[: WAITING_AT_MOST - 1]
    WaitingTable.objects.exclude(pk__in=list(newest)).delete()
    return WaitingTable.objects.create(table=table, name=name, content=pack(read), by=by, at=now)


def choices_of(waiting: WaitingTable) -> Choices:
    """How its person wants a kept file understood."""
    return Choices(**waiting.choices)


def choose(waiting: WaitingTable, choices: dict[str, Any]) -> None:
    """Keep how its person wants a file understood."""
    waiting.choices = asdict(Choices(**choices))
    waiting.save(update_fields=["choices"])


def look(waiting: WaitingTable, studio: Studio, now: datetime) -> Plan:
    """What bringing a kept file in would do now."""
    read = unpack(bytes(waiting.content))
    return make_plan(Import.Table(waiting.table), read, choices_of(waiting), studio, now)


@transaction.atomic
def bring_in(waiting: WaitingTable, *, shown: str, signature: Signature) -> Import:
    """Bring a kept file in: everything new in it, or nothing at all. `shown` is the fingerprint of the plan its person
    saw.

    The same file again adds nothing, a longer one what is new in it. Raises NotAsShown, BookError.
    """
    # One import at a time: what one finds missing, another cannot be adding.
    studio = Studio.objects.select_for_update().get()
    plan = look(waiting, studio, signature.recorded_at)
    if plan.fingerprint != shown or not plan.ready:
        raise NotAsShown(plan)
    run = Import.objects.create(
        table=waiting.table,
        name=waiting.name,
        rows=plan.rows,
        added=len(plan.new),
        by=signature.by,
        at=signature.recorded_at,
    )
    CARRY_OUT[plan.shape.table](plan.new, run, signature)
    waiting.delete()
    return run
