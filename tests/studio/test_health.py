"""The address that says whether the studio can work."""

import pytest
from django.db import OperationalError, connection
from django.db.migrations.recorder import MigrationRecorder

from studio import guards


def asked(client) -> tuple[int, str]:
    answer = client.get("/health/")
    return answer.status_code, answer.content.decode()


@pytest.mark.django_db
def test_a_studio_that_can_work_says_ok(client):
    assert asked(client) == (200, "ok")


@pytest.mark.django_db
def test_the_answer_is_never_kept(client):
    assert client.get("/health/")["Cache-Control"] == "no-store"


@pytest.mark.django_db
def test_a_missing_guard_is_told(client):
    each = guards.GUARDS[0]
    with connection.cursor() as cursor:
        cursor.execute(
            f"DROP TRIGGER {each.trigger}"
            + (f" ON {each.table}" if connection.vendor == "postgresql" else "")
        )

    assert asked(client) == (503, "guards")


@pytest.mark.django_db
def test_a_migration_still_to_come_is_told(client):
    MigrationRecorder(connection).record_unapplied("studio", "0001_initial")

    assert asked(client) == (503, "migrations")


@pytest.mark.django_db
def test_a_database_that_does_not_answer_is_told_without_its_secrets(client, monkeypatch, caplog):
    def gone(recorder):
        raise OperationalError("connection to db.example failed for user candlemaker")

    monkeypatch.setattr(MigrationRecorder, "applied_migrations", gone)

    assert asked(client) == (503, "database")
    assert "OperationalError" in caplog.text
    assert "candlemaker" not in caplog.text


@pytest.mark.django_db
def test_only_looking_is_allowed(client):
    assert client.head("/health/").status_code == 200
    assert client.post("/health/").status_code == 405


@pytest.mark.django_db
def test_a_host_that_is_not_ours_is_refused(client):
    assert client.get("/health/", headers={"host": "elsewhere.example"}).status_code == 400
