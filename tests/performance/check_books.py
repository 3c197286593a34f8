"""`manage.py check_books` on a long history: seconds against a bare pass over the movements, and the memory it took."""

import os
import resource
import subprocess
import sys
import time
from pathlib import Path

from django.core.management import call_command
from django.db import connection

from studio import guards
from tests.performance import history
from tests.performance.figures import Figure

HERE = Path(__file__).resolve().parents[2]
MEBIBYTE = 1024  # ru_maxrss is in kibibytes on Linux


def bare_pass() -> int:
    """The floor: every movement read once in the order of its lot, and its quantity and value added up by hand."""
    lots = 0
    current, quantity, value = None, 0, 0
    with connection.cursor() as cursor:
        cursor.execute("SELECT lot_id, quantity, value FROM inventory_movement ORDER BY lot_id, posting_id")
        while rows := cursor.fetchmany(5000):
            for lot, moved, worth in rows:
                if lot != current:
                    lots, current, quantity, value = lots + 1, lot, 0, 0
                quantity += moved
                value += worth
    return lots


def measure() -> tuple[float, float, float]:
    """Seconds of the command, seconds of the bare pass, and the most memory the command held, in MiB.

    The command runs as a process of its own on the same database, so that its memory is its own. Raises
    CalledProcessError when the books do not agree.
    """
    before = time.perf_counter()
    done = subprocess.Popen(
        [sys.executable, "manage.py", "check_books"],
        cwd=HERE,
        env=os.environ | {"DATABASE_URL": _this_database()},
        stdout=subprocess.PIPE,
        text=True,
    )
    said, _ = done.communicate()
    app = time.perf_counter() - before
    if done.returncode:
        raise subprocess.CalledProcessError(done.returncode, "check_books", said)
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / MEBIBYTE
    before = time.perf_counter()
    bare_pass()
    return app, time.perf_counter() - before, memory


def _this_database() -> str:
    """The address of the database at hand."""
    at = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{at['NAME']}"
    return f"postgres://{at['USER']}:{at['PASSWORD']}@{at['HOST']}:{at['PORT']}/{at['NAME']}"


def long_history(rows: int) -> list[Figure]:
    """A hundred movements for each of `rows`, proved by the command; then its memory against what is promised."""
    # What other benchmarks left behind goes first; the migrations' signal puts the guards back.
    guards.remove()
    call_command("flush", interactive=False, verbosity=0)
    movements = history.write(rows * 100)
    app, floor, memory = measure()
    return [
        Figure(f"{movements:,} movements: check_books", app, floor),
        Figure(f"{movements:,} movements: MiB, of 200", memory, 200, at_most=1),
    ]
