"""How the embedded database keeps its journal: chosen at set-up, then kept in the file itself."""

import sqlite3

from django.db import DEFAULT_DB_ALIAS, OperationalError, connections

# The first release without the write-ahead-log reset race, and the older lines that received the correction
# (sqlite.org, "Write-Ahead Logging", the WAL-reset bug; from memory).
CORRECTED = (3, 51, 3)
CORRECTED_LINES = {(3, 44): 6, (3, 50): 7}


def wal_is_safe(version: tuple[int, int, int]) -> bool:
    """Whether this release of SQLite keeps a write-ahead log without the rare race that damages the file."""
    major, minor, patch = version
    if version >= CORRECTED:
        return True
    first = CORRECTED_LINES.get((major, minor))
    return first is not None and patch >= first


def choose_journal(using: str = DEFAULT_DB_ALIAS) -> str:
    """Put the safest fast journal in force and say which one it is: "wal", "delete"; "" on PostgreSQL.

    The mode stays in the file, so that later starts find it and change nothing. It is never part of the
    connection's own commands: changing it needs the file to oneself. While another process has the file open,
    the journal in force stays and the next start tries again.
    """
    connection = connections[using]
    if connection.vendor != "sqlite":
        return ""
    wanted = "wal" if wal_is_safe(sqlite3.sqlite_version_info) else "delete"
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA journal_mode")
        in_force: str = cursor.fetchone()[0]
        if in_force == wanted:
            return in_force
        try:
            cursor.execute(f"PRAGMA journal_mode={wanted}")
        except OperationalError:
            return in_force
        return str(cursor.fetchone()[0])
