"""The journal of the embedded database: which one, when, and that it stays."""

import sqlite3

import pytest
from django.conf import settings
from django.db import connection
from django.db.utils import ConnectionHandler

from studio import storage

SAFE, UNSAFE = (3, 51, 3), (3, 40, 1)


@pytest.fixture
def file(tmp_path, monkeypatch):
    """A database file of its own, as the `default` of a set of connections."""
    path = tmp_path / "books.sqlite3"
    ours = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(path), "OPTIONS": {"timeout": 0.1}}
    handler = ConnectionHandler({"default": ours})
    monkeypatch.setattr(storage, "connections", handler)
    yield path
    handler["default"].close()


def mode_in(path) -> str:
    """The journal a newcomer finds in the file."""
    newcomer = sqlite3.connect(path)
    try:
        return newcomer.execute("PRAGMA journal_mode").fetchone()[0]
    finally:
        newcomer.close()


# sqlite.org, "Write-Ahead Logging", the WAL-reset bug: corrected in 3.51.3, and in 3.44.6 and 3.50.7 of the
# older lines (from memory).
@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 7, 0), False),
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 45, 9), False),
        ((3, 50, 6), False),
        ((3, 50, 7), True),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
        ((3, 52, 0), True),
        ((4, 0, 0), True),
    ],
)
def test_the_write_ahead_log_is_used_on_corrected_releases_alone(version, safe):
    assert storage.wal_is_safe(version) is safe


@pytest.mark.django_db
@pytest.mark.parametrize(("version", "journal"), [(SAFE, "wal"), (UNSAFE, "delete")])
def test_the_journal_stays_in_the_file(file, monkeypatch, version, journal):
    monkeypatch.setattr(sqlite3, "sqlite_version_info", version)

    assert storage.choose_journal() == journal
    assert storage.choose_journal() == journal
    storage.connections["default"].close()
    assert mode_in(file) == journal


@pytest.mark.django_db
def test_a_file_taken_to_an_older_release_loses_its_write_ahead_log(file, monkeypatch):
    monkeypatch.setattr(sqlite3, "sqlite_version_info", SAFE)
    storage.choose_journal()
    monkeypatch.setattr(sqlite3, "sqlite_version_info", UNSAFE)

    assert storage.choose_journal() == "delete"
    assert mode_in(file) == "delete"


@pytest.mark.django_db
def test_a_file_in_use_keeps_its_journal_until_the_next_start(file, monkeypatch):
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("CREATE TABLE jar (id integer)")
    other.execute("BEGIN IMMEDIATE")
    monkeypatch.setattr(sqlite3, "sqlite_version_info", SAFE)
    try:
        assert storage.choose_journal() == "delete"
        other.execute("COMMIT")
        assert storage.choose_journal() == "wal"
    finally:
        other.close()


@pytest.mark.django_db
def test_postgresql_is_left_alone():
    if connection.vendor == "postgresql":
        assert storage.choose_journal() == ""


def test_no_connection_changes_the_journal_or_maps_the_file_into_memory():
    commands = settings.DATABASES["default"].get("OPTIONS", {}).get("init_command", "").lower()

    assert "journal_mode" not in commands
    assert "mmap_size" not in commands
