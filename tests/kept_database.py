"""An empty database with every migration in it: what a test with real transactions leaves behind is put back to it.

On SQLite, whose database is one file, it is kept between runs too, so that tests begin at once; another file for every
state of the migrations.
"""

import hashlib
import sqlite3
from pathlib import Path

import django
from django.db import connection, transaction

from studio import guards

ROOT = Path(__file__).parents[1]
# What Django writes into the tables while it migrates, and nobody afterwards.
FRAMEWORK = {"django_migrations", "django_content_type", "auth_permission"}
AS_MADE, FILLED = ".made", ".filled"
# Where PostgreSQL keeps copies of the tables the migrations wrote rows into; no search path leads there.
FIRST_ROWS = "first_rows"


def place(folder: Path) -> Path | None:
    """Where the kept database lies for the migrations as they stand; None where it is no file."""
    if connection.vendor != "sqlite":
        return None
    digest = hashlib.sha256(f"{django.__version__} {sqlite3.sqlite_version}".encode())
    for path in sorted(ROOT.glob("*/migrations/*.py")):
        digest.update(f"{path.relative_to(ROOT)}\n".encode() + path.read_bytes())
    return folder / f"{digest.hexdigest()[:24]}.sqlite3"


def lay(kept: Path | None) -> bool:
    """Begin with the kept database; whether there was one."""
    if not kept or not kept.exists():
        return False
    _copy(kept, Path(connection.settings_dict["TEST"]["NAME"]))
    return True


def keep(kept: Path | None) -> None:
    """Keep the database that was just made, in one step, so that nobody meets half of it."""
    if not kept:
        return
    made = Path(connection.settings_dict["NAME"])
    half = kept.with_suffix(f".{made.name}")
    _copy(made, half)
    half.replace(kept)


def remember() -> None:
    """Keep how the database was made beside it, for `begin_again`."""
    if connection.vendor == "sqlite":
        put_aside(AS_MADE)
        return
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"DROP SCHEMA IF EXISTS {FIRST_ROWS} CASCADE; CREATE SCHEMA {FIRST_ROWS}")
        for table in _tables_with_rows(cursor):
            cursor.execute(f"CREATE TABLE {FIRST_ROWS}.{table} AS TABLE {table}")


def put_aside(suffix: str) -> None:
    """Keep a copy of the database file, as it stands, under another suffix (SQLite)."""
    made = Path(connection.settings_dict["NAME"])
    _copy(made, made.with_suffix(suffix))


def put_back(suffix: str) -> None:
    """Fill the database from a copy that was put aside; the file itself stays, since other threads may hold it open."""
    made = Path(connection.settings_dict["NAME"])
    _fill(made, made.with_suffix(suffix))


def begin_again() -> None:
    """Put back the database as it was made: no rows but the migrations' own, every guard in its place."""
    if connection.vendor == "sqlite":
        put_back(AS_MADE)
        return
    with transaction.atomic(), connection.cursor() as cursor:
        used = _tables_with_rows(cursor)
        cursor.execute(
            "SELECT tablename FROM pg_tables WHERE schemaname = %s ORDER BY tablename", [FIRST_ROWS]
        )
        first = [row[0] for row in cursor.fetchall()]
        guarded = sorted({each.table for each in guards.GUARDS} & {*used, *first})
        for table in guarded:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        # Few rows: emptying a table as a whole would write all its indexes anew, and those of what refers to it.
        for table in used:
            cursor.execute(f"DELETE FROM {table}")
        for table in first:
            columns = ", ".join(_columns(cursor, table))
            cursor.execute(f"INSERT INTO {table} ({columns}) SELECT {columns} FROM {FIRST_ROWS}.{table}")
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for table in guarded:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
    if guards.missing():
        guards.install()


def _tables_with_rows(cursor) -> list[str]:
    """The product's own tables that hold rows, by name."""
    tables = sorted(set(connection.introspection.table_names(cursor)) - FRAMEWORK)
    cursor.execute(" UNION ALL ".join(f"SELECT '{t}' WHERE EXISTS (SELECT 1 FROM {t})" for t in tables))
    return sorted(row[0] for row in cursor.fetchall())


def _columns(cursor, table: str) -> list[str]:
    """The columns of a table, quoted: a migration test may have added one again at the end."""
    return [
        connection.ops.quote_name(col.name)
        for col in connection.introspection.get_table_description(cursor, table)
    ]


def _copy(source: Path, target: Path) -> None:
    target.unlink(missing_ok=True)
    _fill(target, source)


def _fill(target: Path, source: Path) -> None:
    there, here = sqlite3.connect(source), sqlite3.connect(target)
    with here:
        there.backup(here)
    there.close()
    here.close()
