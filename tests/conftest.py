"""What every test may ask for: the people of Ninefold Lane, a moment, and the books."""

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.test import TransactionTestCase
from hypothesis import HealthCheck, settings

from studio.models import Role, Studio, User
from studio.people.signature import Signature
from tests import kept_database
from tests.house import NOW, Books

# A busy machine makes an example slow, not wrong. What CI asks for besides stays.
settings.register_profile("patient", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("patient")
HERE = Path(__file__).parent
LONG = {
    "browser/test_look.py",
    "studio/test_demonstration.py",
    "studio/test_migrations.py",
    "browser/test_whole_job.py",
    "browser/test_without_scripts.py",
    "inventory/test_books_machine.py",
    "web/test_queries.py",
}
TransactionTestCase._fixture_teardown = lambda self: kept_database.begin_again()


def pytest_collection_modifyitems(items):
    """Mark what asks the database: the rest need not be run once more on another one. Files that take minutes come
    first, so that at the end no core waits for the other."""
    for item in items:
        if {"db", "transactional_db"} & set(item.fixturenames) or item.get_closest_marker("django_db"):
            item.add_marker(pytest.mark.database)
    items.sort(key=lambda item: item.path.relative_to(HERE).as_posix() not in LONG)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Where CI is set nothing is left out in silence: a skipped test fails."""
    return _no_skips(item.nodeid, (yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector):
    """The same for a file that skips itself while it is read."""
    return _no_skips(collector.nodeid, (yield))


def _no_skips(name, report):
    if os.environ.get("CI") == "true" and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{name} was skipped; in CI everything runs. {report.longrepr}"
    return report


@pytest.fixture(scope="session")
def database_place(request):
    """Where the migrated database is kept between runs."""
    return kept_database.place(request.config.cache.mkdir("databases"))


@pytest.fixture(scope="session")
def django_db_keepdb(database_place, django_db_modify_db_settings) -> bool:
    """Begin with the kept database, where there is one of these migrations."""
    return kept_database.lay(database_place)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_keepdb, django_db_blocker, database_place) -> None:
    """Make the database, and keep it where it is new."""
    with django_db_blocker.unblock():
        if not django_db_keepdb:
            kept_database.keep(database_place)
        kept_database.remember()


@pytest.fixture
def now() -> datetime:
    """Noon, 20 March 2026, UTC: the moment everything is recorded."""
    return NOW


@pytest.fixture
def studio(db) -> Studio:
    return Studio.objects.create(pk=1, name="Ninefold Lane")


@pytest.fixture
def owner(db) -> User:
    return User.objects.create_user(
        "maren", first_name="Maren", password="nine paper lanterns", role=Role.OWNER
    )


@pytest.fixture
def maker(db) -> User:
    return User.objects.create_user(
        "tobin", first_name="Tobin", password="nine paper lanterns", role=Role.MAKER
    )


@pytest.fixture
def bookkeeper(db) -> User:
    return User.objects.create_user(
        "isolde", first_name="Isolde", password="nine paper lanterns", role=Role.BOOKKEEPER
    )


@pytest.fixture
def sign(owner):
    """Make signatures: `sign()` now, `sign(at=…, reason=…)` for another instant of the event."""

    def make(*, by=None, at=NOW, recorded=NOW, reason="") -> Signature:
        return Signature(by=by or owner, happened_at=at.astimezone(UTC), recorded_at=recorded, reason=reason)

    return make


@pytest.fixture
def books(owner) -> Books:
    return Books(owner)
