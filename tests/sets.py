"""Which tests run when: every day on SQLite, every day on PostgreSQL too, or in the night alone.

- `pytest` runs everything but the tests marked `nightly`, which repeat on more pages, sizes, roles or rows what one that
  runs every day holds to already. `pytest --nightly` runs those too.
- `pytest -m postgres`, with DATABASE_URL, runs what PostgreSQL could answer otherwise than SQLite: the tests of the files
  below, and those marked `postgres` elsewhere. Without `-m` it runs all of them there.
- `.ci/nightly` runs everything on both.
"""

from fnmatch import fnmatch

# Files whose tests run on PostgreSQL every day, and what of them the database decides.
ON_POSTGRES = {
    "*concurrency*": "who waits for whom",
    "*_at_once.py": "who waits for whom",
    "studio/test_submissions.py": "one press, one posting",
    "inventory/test_constraints.py": "what the database refuses",
    "web/test_guards.py": "what the database refuses",
    "batches/test_used_versions.py": "what the database refuses",
    "studio/test_health.py": "guards and migrations that are missing",
    "studio/test_migrations.py": "tables, guards and first rows",
    "inventory/test_books.py": "the ledger's SQL",
    "inventory/test_checks.py": "the ledger's SQL, in sums over everything",
    "inventory/test_levels.py": "the ledger's SQL, of a past day",
    "inventory/test_late_costs.py": "the ledger's SQL, along decantings",
    "costing/test_goods.py": "the ledger's SQL, as of a moment; closing",
    "batches/test_closed_books.py": "closing",
    "batches/test_lineage.py": "tracing's SQL",
    "batches/test_trace.py": "tracing's SQL",
    "batches/test_shares.py": "tracing's SQL",
    "batches/test_composition.py": "tracing's SQL",
    "inventory/reorder/test_demand.py": "moments read as days in SQL",
    "studio/test_leaving.py": "every table read out",
}


def on_postgres(path: str) -> bool:
    """Whether the tests of a file, named from tests/, run on PostgreSQL every day."""
    return any(fnmatch(path, pattern) for pattern in ON_POSTGRES)
