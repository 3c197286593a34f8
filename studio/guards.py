"""Rules the database itself keeps: rows that may not be changed or taken away, on SQLite and PostgreSQL alike.

Packages name their guards while Django starts; the triggers are put in place after every migration, because
SQLite drops a table's triggers without a word whenever a migration rebuilds the table, and refuses to drop a column
that one of them names. `manage.py check_books` and the health page report a guard that is missing.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.apps import AppConfig
from django.db import connections, transaction


@dataclass(frozen=True)
class Guard:
    """One refusal: `event` (INSERT, UPDATE, DELETE) on `table` when `when` holds, in SQL over OLD and NEW.

    `{differs}` in `when` stands for the database's comparison that treats NULL as a value.
    """

    table: str
    event: str
    message: str
    when: str = "1 = 1"
    name: str = ""

    @property
    def trigger(self) -> str:
        """The trigger's name, unique in the database."""
        return f"guard_{self.table}_{self.name or self.event}".lower()

    @property
    def columns(self) -> set[str]:
        """The columns of the table it speaks of."""
        return set(re.findall(r"\b(?:NEW|OLD)\.(\w+)", self.when))


GUARDS: list[Guard] = []


def guard(*guards: Guard) -> None:
    """Register guards; called from each package's AppConfig.ready."""
    GUARDS.extend(each for each in guards if each not in GUARDS)


def append_only(table: str, what: str, *unique: str, key: str = "id") -> list[Guard]:
    """Guards that let rows be added to `table` and never changed, replaced or taken away.

    `key` is its primary key; `unique` are its columns besides that hold a value once.
    """
    return [
        Guard(table, "UPDATE", f"{what} are never changed; reverse and post again"),
        *kept(table, what, *unique, key=key, instead="reverse and post again"),
    ]


def kept(table: str, what: str, *unique: str, key: str = "id", instead: str) -> list[Guard]:
    """Guards that let rows of `table` be added and changed, but never taken away or replaced by others.

    `instead` is what to do for deleting one; the rest as for `append_only`.
    """
    return [
        Guard(table, "DELETE", f"{what} are never deleted; {instead}"),
        # INSERT OR REPLACE would otherwise walk past the trigger on DELETE.
        Guard(
            table,
            "INSERT",
            f"{what} are never replaced",
            when=" OR ".join(
                f"EXISTS (SELECT 1 FROM {table} AS kept WHERE kept.{column} = NEW.{column})"
                for column in (key, *unique)
            ),
        ),
    ]


def differs(*columns: str) -> str:
    """Whether a row would get another value in any of these columns, in SQL."""
    return " OR ".join(f"NEW.{column} {{differs}} OLD.{column}" for column in columns)


def statements(each: Guard, vendor: str) -> list[str]:
    """The SQL that puts one guard in place."""
    when = each.when.replace("{differs}", "IS NOT" if vendor == "sqlite" else "IS DISTINCT FROM")
    message = each.message.replace("'", "''")
    if vendor == "sqlite":
        return [
            f"DROP TRIGGER IF EXISTS {each.trigger}",
            f"CREATE TRIGGER {each.trigger} BEFORE {each.event} ON {each.table} WHEN {when} "
            f"BEGIN SELECT RAISE(ABORT, '{message}'); END",
        ]
    row = "OLD" if each.event == "DELETE" else "NEW"
    made = [
        f"CREATE OR REPLACE FUNCTION {each.trigger}() RETURNS trigger LANGUAGE plpgsql AS $guard$ BEGIN "
        f"IF {when} THEN RAISE EXCEPTION '{message}' USING ERRCODE = 'restrict_violation'; END IF; "
        f"RETURN {row}; END $guard$",
        f"DROP TRIGGER IF EXISTS {each.trigger} ON {each.table}",
        f"CREATE TRIGGER {each.trigger} BEFORE {each.event} ON {each.table} "
        f"FOR EACH ROW EXECUTE FUNCTION {each.trigger}()",
    ]
    if each.event == "DELETE":
        made += [
            f"CREATE OR REPLACE FUNCTION {each.trigger}_all() RETURNS trigger LANGUAGE plpgsql AS $guard$ BEGIN "
            f"RAISE EXCEPTION '{message}' USING ERRCODE = 'restrict_violation'; END $guard$",
            f"DROP TRIGGER IF EXISTS {each.trigger}_all ON {each.table}",
            f"CREATE TRIGGER {each.trigger}_all BEFORE TRUNCATE ON {each.table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {each.trigger}_all()",
        ]
    return made


def _removal(each: Guard, vendor: str) -> list[str]:
    """The SQL that takes one guard away."""
    if vendor == "sqlite":
        return [f"DROP TRIGGER IF EXISTS {each.trigger}"]
    return [f"DROP TRIGGER IF EXISTS {each.trigger}{rows} ON {each.table}" for rows in ("", "_all")]


def install(sender: AppConfig | None = None, using: str = "default", **kwargs: Any) -> None:
    """Put every guard in place on the tables that exist (a post_migrate receiver)."""
    columns = columns_of_tables(connections[using])
    # Migrated back, a table may lack a column a guard speaks of; the older guards come with the older program.
    placed = [each for each in GUARDS if each.table in columns and each.columns <= columns[each.table]]
    _execute(connections[using], placed, statements)


def columns_of_tables(connection: Any) -> dict[str, set[str]]:
    """The columns of every table, by name, in one question."""
    columns: dict[str, set[str]] = {}
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT m.name, c.name FROM sqlite_master AS m JOIN pragma_table_info(m.name) AS c "
            "WHERE m.type = 'table'"
            if connection.vendor == "sqlite"
            else "SELECT table_name, column_name FROM information_schema.columns "
            "WHERE table_schema = current_schema()"
        )
        for table, column in cursor.fetchall():
            columns.setdefault(table, set()).add(column)
    return columns


def _execute(connection: Any, guards: Iterable[Guard], of: Callable[[Guard, str], list[str]]) -> None:
    """Run what `of` says for each guard: on SQLite in one transaction, since each would wait for the disk; on PostgreSQL
    a table at a time, since one that holds several tables could meet a posting that holds them the other way round."""
    if connection.vendor == "sqlite":
        with transaction.atomic(connection.alias), connection.cursor() as cursor:
            for statement in [sql for each in guards for sql in of(each, "sqlite")]:
                cursor.execute(statement)
        return
    tables: dict[str, list[str]] = {}
    for each in guards:
        tables.setdefault(each.table, []).extend(of(each, connection.vendor))
    with connection.cursor() as cursor:
        for several in tables.values():
            cursor.execute("; ".join(several))


def make_way(sender: AppConfig, plan: Sequence[object], using: str = "default", **kwargs: Any) -> None:
    """Take the guards away where something is about to be migrated (a pre_migrate receiver)."""
    if plan:
        remove(using)


def remove(using: str = "default") -> None:
    """Take every guard away: for migrations, and for tests that must empty their database afterwards."""
    _execute(connections[using], GUARDS, _removal)


def missing(using: str = "default") -> list[str]:
    """The names of guards that should be in the database and are not, or are switched off."""
    connection = connections[using]
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        present = {row[0] for row in cursor.fetchall()}
    wanted = {each.trigger for each in GUARDS}
    if connection.vendor != "sqlite":
        wanted |= {f"{each.trigger}_all" for each in GUARDS if each.event == "DELETE"}
    return sorted(wanted - present)
