"""A trace on a short, a long and a very long history, against the least it could take by hand: in families of lots that
are as deep and as wide in each (`families`).

The floor asks, level by level, for the same lots, batches, steps and quantities, and does nothing with them. Statistics
are kept, as they are in use, since with them the obvious recursive statement reads whole tables on SQLite. A trace and its
floor are timed in turn, and the best of each counts. What a trace takes on the longest history is held against what it
takes on the shortest.
"""

from collections.abc import Callable
from time import perf_counter

from django.core.management import call_command
from django.db import connection

from batches.lineage.lineage import ancestors, descendants
from studio import guards
from tests.performance import families
from tests.performance.figures import Figure

SIZES = (0.4, 4, 100)
ROOTS, ROUNDS = 25, 5
NOT_UNDONE = "NOT EXISTS (SELECT 1 FROM inventory_posting u WHERE u.reverses_id = {}.posting_id)"


def by_hand_onward(pk: int) -> int:
    """Level by level, each statement as short as it can be for one level; how many rows were met."""
    lots, known, met = [pk], {pk}, 0
    with connection.cursor() as cursor:
        while lots:
            marks = ", ".join(map(str, lots))
            cursor.execute(
                "SELECT d.batch_id, -m.quantity, l.basis FROM inventory_movement m "
                "JOIN batches_draw d ON d.movement_id = m.id JOIN batches_formulaline l ON l.id = d.line_id "
                f"WHERE m.lot_id IN ({marks}) AND {NOT_UNDONE.format('m')}"
            )
            drawn = cursor.fetchall()
            cursor.execute(
                "SELECT o.lot_id, i.lot_id, o.quantity, i.quantity FROM inventory_movement o "
                "JOIN inventory_movement i ON i.posting_id = o.posting_id AND i.kind = 'decanted' AND i.quantity > 0 "
                "JOIN inventory_posting p ON p.id = o.posting_id AND p.reverses_id IS NULL "
                f"WHERE o.lot_id IN ({marks}) AND o.kind = 'decanted' AND o.quantity < 0 AND {NOT_UNDONE.format('o')}"
            )
            poured = cursor.fetchall()
            met += len(drawn) + len(poured)
            found = {row[1] for row in poured}
            if drawn:
                marks = ", ".join({str(row[0]) for row in drawn})
                cursor.execute(
                    "SELECT o.batch_id, o.lot_id, o.result, o.quantity FROM batches_outcome o "
                    f"WHERE o.batch_id IN ({marks}) AND {NOT_UNDONE.format('o')}"
                )
                made = cursor.fetchall()
                met += len(made)
                found |= {row[1] for row in made if row[1]}
            lots = list(found - known)
            known |= found
    return met


def by_hand_back(pk: int) -> int:
    """The same the other way."""
    lots, known, met = [pk], {pk}, 0
    with connection.cursor() as cursor:
        while lots:
            marks = ", ".join(map(str, lots))
            cursor.execute(
                "SELECT o.lot_id, i.lot_id, o.quantity, i.quantity FROM inventory_movement i "
                "JOIN inventory_movement o ON o.posting_id = i.posting_id AND o.kind = 'decanted' AND o.quantity < 0 "
                "JOIN inventory_posting p ON p.id = i.posting_id AND p.reverses_id IS NULL "
                f"WHERE i.lot_id IN ({marks}) AND i.kind = 'decanted' AND i.quantity > 0 AND {NOT_UNDONE.format('i')}"
            )
            poured = cursor.fetchall()
            cursor.execute(
                "SELECT o.batch_id, o.lot_id, o.result, o.quantity FROM batches_outcome o WHERE o.batch_id IN "
                f"(SELECT batch_id FROM batches_outcome WHERE lot_id IN ({marks})) AND {NOT_UNDONE.format('o')}"
            )
            made = cursor.fetchall()
            met += len(poured) + len(made)
            found = {row[0] for row in poured}
            if made:
                marks = ", ".join({str(row[0]) for row in made})
                cursor.execute(
                    "SELECT m.lot_id, -m.quantity, l.basis FROM batches_draw d "
                    "JOIN inventory_movement m ON m.id = d.movement_id JOIN batches_formulaline l ON l.id = d.line_id "
                    f"WHERE d.batch_id IN ({marks}) AND {NOT_UNDONE.format('m')}"
                )
                drawn = cursor.fetchall()
                met += len(drawn)
                found |= {row[0] for row in drawn}
            lots = list(found - known)
            known |= found
    return met


def _history(movements: int) -> tuple[list[int], list[int]]:
    """A history of so many movements in place of whatever there was; first and last lots of some of its families."""
    guards.remove()
    call_command("flush", interactive=False, verbosity=0)
    firsts = families.write(movements)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    step = max(len(firsts) // ROOTS, 1)
    roots = firsts[:-1:step][:ROOTS]
    return roots, [following - 1 for following in firsts[1::step][:ROOTS]]


def _timed(
    roots: list[int], app: Callable[[int], object], floor: Callable[[int], object]
) -> tuple[float, float]:
    """Seconds for all roots, of the app and of the floor: the best of some rounds, each root asked once before."""
    best = [float("inf"), float("inf")]
    for number in range(ROUNDS + 1):
        for place, act in enumerate((app, floor)):
            before = perf_counter()
            for root in roots:
                act(root)
            if number:
                best[place] = min(best[place], perf_counter() - before)
    return best[0], best[1]


def traces(rows: int) -> list[Figure]:
    """Onward from a pail and back from a tin, in histories of `rows` times 0.4, 4 and 100 movements."""
    ways = {
        "onward": (lambda pk: descendants([pk]), by_hand_onward),
        "back": (lambda pk: ancestors([pk]), by_hand_back),
    }
    figures, taken = [], {}
    for size in SIZES:
        movements = int(rows * size)
        first, last = _history(movements)
        for (way, (app, floor)), roots in zip(ways.items(), (first, last), strict=True):
            seconds, least = _timed(roots, app, floor)
            taken.setdefault(way, []).append(seconds / len(roots))
            figures.append(Figure(f"{movements:,} movements: traced {way}", seconds, least, at_most=1.3))
    return figures + [
        Figure(f"traced {way}: longest history, shortest", times[-1], times[0], at_most=1.3)
        for way, times in taken.items()
    ]
