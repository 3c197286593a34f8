"""An empty database with every migration in it: what a test with real transactions leaves behind is put back to it.

On SQLite, whose database is one file, it is kept between runs too, so that tests begin at once; another file for every
state of the migrations.
"""

import hashlib
import sqlite3
from importlib import import_module
from pathlib import Path

import django
from django.apps import apps
from django.db import connection, transaction

from studio import guards

ROOT = Path(__file__).parents[1]
# What Django writes into the tables while it migrates, and nobody afterwards.
FRAMEWORK = {"django_migrations", "django_content_type", "auth_permission"}
AS_MADE = ".made"
FIRST_ROWS = (
    "inventory.migrations.0003_first_reasons",
    "inventory.migrations.0005_first_label_layouts",
    "inventory.migrations.0007_first_count_classes",
    "batches.migrations.0003_first_defects_and_limits",
)


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
        made = Path(connection.settings_dict["NAME"])
        _copy(made, made.with_suffix(AS_MADE))


def begin_again() -> None:
    """Put back the database as it was made: no rows but the migrations' own, every guard in its place."""
    if connection.vendor == "sqlite":
        # The file itself stays, since other threads may hold it open.
        made = Path(connection.settings_dict["NAME"])
        _fill(made, made.with_suffix(AS_MADE))
        return
    with transaction.atomic(), connection.cursor() as cursor:
        tables = sorted(set(connection.introspection.table_names(cursor)) - FRAMEWORK)
        cursor.execute(" UNION ALL ".join(f"SELECT '{t}' WHERE EXISTS (SELECT 1 FROM {t})" for t in tables))
        if used := [row[0] for row in cursor.fetchall()]:
            guarded = sorted({each.table for each in guards.GUARDS} & set(used))
            for table in guarded:
                cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
            # Few rows: emptying a table as a whole would write all its indexes anew, and those of what refers to it.
            cursor.execute("; ".join(f"DELETE FROM {table}" for table in used))
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            for table in guarded:
                cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
    if guards.missing():
        guards.install()
    for name in FIRST_ROWS:
        import_module(name).add(apps, None)


def _copy(source: Path, target: Path) -> None:
    target.unlink(missing_ok=True)
    _fill(target, source)


def _fill(target: Path, source: Path) -> None:
    there, here = sqlite3.connect(source), sqlite3.connect(target)
    with here:
        there.backup(here)
    there.close()
    here.close()
