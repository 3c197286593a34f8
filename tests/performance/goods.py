"""Stock value and cost of goods on a long history with its labour and overhead, against the least they could take by hand.

The floor reads once, in the plainest SQL, what the answer cannot do without: what each item came to by then, and what each
batch drew, gave, lost and was worked on, and what each lot made here took in; it adds nothing up beyond that. Both ends of
a period read it twice. A report and its floor are timed in turn, and the best of each counts.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from time import perf_counter

from django.core.management import call_command
from django.db import connection

from costing.models import LabourRate, OverheadRate
from costing.valuation.compared import compare
from costing.valuation.cost_of_goods import cost_of_goods
from costing.valuation.goods import USUAL, goods_at
from costing.valuation.ledger_as_of import Instant
from inventory.models import Posting
from studio import guards
from studio.models import User
from tests.performance import families
from tests.performance.figures import Figure

ROUNDS = 3
MOVEMENTS_A_ROW = 4
BY_THEN = "JOIN inventory_posting p ON p.id = {}.posting_id AND p.happened_at < %s"
NOT_UNDONE = (
    "NOT EXISTS (SELECT 1 FROM inventory_posting u WHERE u.reverses_id = p.id AND u.happened_at < %s)"
)
MADE_HERE = "(SELECT id FROM inventory_item WHERE made_here OR kind = 'finished')"
FLOOR = (
    # What there was of each item.
    f"SELECT l.item_id, SUM(m.quantity), SUM(m.value) FROM inventory_movement m {BY_THEN.format('m')} "
    "JOIN inventory_lot l ON l.id = m.lot_id GROUP BY l.item_id",
    # What each batch drew, and of which lot; what came of it; who worked on it.
    f"SELECT d.batch_id, m.lot_id, SUM(m.quantity), SUM(m.value) FROM batches_draw d "
    f"JOIN inventory_movement m ON m.id = d.movement_id {BY_THEN.format('m')} WHERE {NOT_UNDONE} "
    "GROUP BY d.batch_id, m.lot_id",
    f"SELECT o.batch_id, o.result, o.quantity, o.lot_id FROM batches_outcome o {BY_THEN.format('o')} "
    f"WHERE {NOT_UNDONE}",
    "SELECT batch_id, person_id, step, worked_on, SUM(minutes) FROM batches_labour WHERE worked_on < %s "
    "GROUP BY batch_id, person_id, step, worked_on",
    # What each lot made here took in and gave.
    f"SELECT m.lot_id, m.kind, SUM(m.quantity), SUM(m.value) FROM inventory_movement m {BY_THEN.format('m')} "
    f"JOIN inventory_lot l ON l.id = m.lot_id WHERE l.item_id IN {MADE_HERE} GROUP BY m.lot_id, m.kind",
)


def by_hand(until: datetime) -> int:
    """Every question of the floor, its answers fetched and left lying; how many rows there were."""
    rows = 0
    with connection.cursor() as cursor:
        for statement in FLOOR:
            cursor.execute(statement, [until] * statement.count("%s"))
            rows += len(cursor.fetchall())
    return rows


def stream_by_hand(start: datetime, until: datetime) -> int:
    """What each lot held at the beginning, and every movement from then to the end, in order."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT m.lot_id, SUM(m.quantity), SUM(m.value) FROM inventory_movement m {BY_THEN.format('m')} "
            "GROUP BY m.lot_id",
            [start],
        )
        rows = len(cursor.fetchall())
        cursor.execute(
            f"SELECT l.item_id, m.quantity, m.value FROM inventory_movement m {BY_THEN.format('m')} "
            "JOIN inventory_lot l ON l.id = m.lot_id WHERE p.happened_at >= %s ORDER BY p.happened_at, p.id, m.id",
            [until, start],
        )
        return rows + len(cursor.fetchall())


def _history(movements: int) -> None:
    """A history of so many movements in place of whatever there was; every batch was worked on, and overhead has a rule."""
    guards.remove()
    call_command("flush", interactive=False, verbosity=0)
    families.write(movements)
    by, since = User.objects.get(), {"from_on": families.FIRST.date(), "set_at": families.FIRST}
    LabourRate.objects.create(per_hour=21_000_000, set_by=by, **since)
    OverheadRate.objects.create(basis="per_labour_hour", amount=6_500_000, set_by=by, **since)
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO batches_labour (batch_id, person_id, step, minutes, worked_on, by_owner, recorded_by_id, "
            "recorded_at, reason) SELECT id, planned_by_id, 'pour', 30 + id % 60, planned_on, id % 2 = 0, "
            "planned_by_id, planned_at, '' FROM batches_batch"
        )
        cursor.execute("ANALYZE")


def _timed(app: Callable[[], object], floor: Callable[[], object]) -> tuple[float, float]:
    """Seconds of the app and of its floor: the best of some rounds, each asked once before."""
    best = [float("inf"), float("inf")]
    for number in range(ROUNDS + 1):
        for place, act in enumerate((app, floor)):
            before = perf_counter()
            act()
            if number:
                best[place] = min(best[place], perf_counter() - before)
    return best[0], best[1]


def reports(rows: int) -> list[Figure]:
    """Four movements for each of `rows`: stock value now and half-way back, cost of goods and other methods of a month."""
    movements = rows * MOVEMENTS_A_ROW
    _history(movements)
    end = Posting.objects.latest("happened_at").happened_at + timedelta(days=1)
    half = families.FIRST + (end - families.FIRST) / 2
    last = half.astimezone(UTC).date()
    first = last - timedelta(days=30)
    start = half - timedelta(days=30)
    timed = {
        "stock value now": _timed(lambda: goods_at(Instant(end), USUAL), lambda: by_hand(end)),
        "stock value half-way back": _timed(lambda: goods_at(Instant(half), USUAL), lambda: by_hand(half)),
        "cost of goods of a month": _timed(
            lambda: cost_of_goods(first, last, USUAL), lambda: (by_hand(start), by_hand(half))
        ),
        "other methods of a month": _timed(lambda: compare(first, last), lambda: stream_by_hand(start, half)),
    }
    return [
        Figure(f"{movements:,} movements: {what}", app, floor, at_most=15 if "methods" in what else 10)
        for what, (app, floor) in timed.items()
    ]
