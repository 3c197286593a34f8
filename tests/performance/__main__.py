"""`.venv/bin/python -m tests.performance [name …] [--rows 10000]`: how long things take against their floor.

Runs on a database of its own, made and taken away again: SQLite, or PostgreSQL where DATABASE_URL names one. Exits 1
when something takes longer than it may.
"""

import argparse
import os
import sys
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django

django.setup()

from django.db import connection  # noqa: E402
from django.test.utils import setup_databases, setup_test_environment, teardown_databases  # noqa: E402

from tests import kept_database  # noqa: E402
from tests.performance import check_books, goods, imports, tracing  # noqa: E402
from tests.performance.figures import Figure  # noqa: E402

BENCHMARKS: dict[str, Callable[[int], list[Figure]]] = {
    "opening-lots": imports.opening_lots,
    "past-movements": imports.past_movements,
    "check-books": check_books.long_history,
    "traces": tracing.traces,
    "goods": goods.reports,
}


def main(arguments: list[str]) -> int:
    """Run what was named, or everything, and print a line for each figure."""
    parser = argparse.ArgumentParser(prog="python -m tests.performance", description=__doc__)
    parser.add_argument("names", nargs="*", help=f"of {', '.join(BENCHMARKS)}; all without a name")
    parser.add_argument("--rows", type=int, default=10_000, help="how many rows (10000)")
    parser.add_argument("--made", type=Path, help="an empty migrated SQLite database to begin with a copy of")
    given = parser.parse_args(arguments)
    if unknown := set(given.names) - BENCHMARKS.keys():
        parser.error(f"there is no {', '.join(sorted(unknown))}; there are {', '.join(BENCHMARKS)}")
    setup_test_environment(debug=False)
    laid = kept_database.lay(given.made)
    made = setup_databases(verbosity=0, interactive=False, keepdb=laid)
    try:
        print(f"{connection.vendor}; seconds of the app, of its floor, and the ratio")
        kept = [
            _told(figure) for name in given.names or BENCHMARKS for figure in BENCHMARKS[name](given.rows)
        ]
    finally:
        teardown_databases(made, verbosity=0, keepdb=laid)
    return 0 if all(kept) else 1


def _told(figure: Figure) -> bool:
    limit = "" if figure.at_most is None else f"  (at most {figure.at_most:g})"
    state = "" if figure.kept else "  TOO SLOW"
    print(
        f"{figure.what:46} {figure.app:8.3f} {figure.floor:8.3f} {figure.ratio:6.2f}{limit}{state}",
        flush=True,
    )
    return figure.kept


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
