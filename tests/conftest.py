"""What every test may ask for: the people of Ninefold Lane, a moment, and the books."""

import os
from datetime import UTC, datetime
from importlib import import_module

import pytest
from django.apps import apps
from django.test import TransactionTestCase

from studio import guards
from studio.models import Role, Studio, User
from studio.signature import Signature
from tests.house import NOW, Books

FIRST_ROWS = (
    "inventory.migrations.0003_first_reasons",
    "inventory.migrations.0005_first_label_layouts",
    "inventory.migrations.0007_first_count_classes",
    "batches.migrations.0003_first_defects_and_limits",
)
_flush = TransactionTestCase._fixture_teardown


def _flush_unguarded(self):
    """Empty the database after a test with real transactions; the migrations' signal puts the guards back, and what
    migrations put into the tables is put there again."""
    guards.remove()
    _flush(self)
    for name in FIRST_ROWS:
        import_module(name).add(apps, None)


TransactionTestCase._fixture_teardown = _flush_unguarded


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
