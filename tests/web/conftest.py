"""A filled studio behind its pages: one of everything, built through the verbs, and kept.

On SQLite it is built once for all files and kept as a copy of the database; on PostgreSQL inside a transaction that is
taken back after the file. Every test runs in a transaction, or a savepoint, of its own, so that no test sees what another
did. It is noon on 20 March 2026.
"""

from collections.abc import Iterator
from copy import deepcopy
from types import SimpleNamespace

import pytest
import time_machine
from django.contrib.auth.hashers import make_password
from django.db import connection, transaction
from django.test import Client

from studio.models import Role, Studio, User
from tests import kept_database
from tests.house import NOW
from tests.web.filled import fill

PASSWORD = "nine paper lanterns"
ROLES = ("owner", "maker", "costly", "bookkeeper")


@pytest.fixture(autouse=True)
def clock() -> Iterator[None]:
    """The pages read this clock."""
    with time_machine.travel(NOW, tick=False):
        yield


def _people() -> SimpleNamespace:
    """One of each role; `maker` may not see costs, `costly` is a maker who may."""
    password = make_password(PASSWORD)
    named = {
        "owner": ("maren", Role.OWNER, False),
        "maker": ("tobin", Role.MAKER, False),
        "costly": ("wren", Role.MAKER, True),
        "bookkeeper": ("isolde", Role.BOOKKEEPER, False),
    }
    return SimpleNamespace(
        **{
            role: User.objects.create(
                username=name, first_name=name.title(), role=kind, costs_allowed=costs, password=password
            )
            for role, (name, kind, costs) in named.items()
        }
    )


def _build() -> SimpleNamespace:
    with time_machine.travel(NOW, tick=False):
        Studio.objects.create(pk=1, name="Ninefold Lane")
        return fill(_people())


@pytest.fixture(scope="session")
def _built() -> dict[str, SimpleNamespace]:
    """The studio as it was built the first time, which takes two seconds."""
    return {}


@pytest.fixture(scope="module")
def _house(django_db_setup: None, django_db_blocker, _built) -> Iterator[SimpleNamespace]:
    with django_db_blocker.unblock():
        if connection.vendor != "sqlite":
            with transaction.atomic():
                yield _build()
                transaction.set_rollback(True)
            return
        if _built:
            kept_database.put_back(kept_database.FILLED)
        else:
            _built["house"] = _build()
            kept_database.put_aside(kept_database.FILLED)
        # A file's tests may change the objects they share, and leave the next file's as they were.
        yield deepcopy(_built["house"])
        kept_database.begin_again()


@pytest.fixture
def filled(_house: SimpleNamespace, db: None) -> SimpleNamespace:
    """The filled studio; see `fill` for what is in it."""
    return _house


@pytest.fixture
def people(studio: Studio) -> SimpleNamespace:
    """An empty studio with its four people."""
    return _people()


def enter(person: User | None) -> Client:
    """A browser in which this person is signed in; None for a stranger."""
    client = Client()
    if person:
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def browse():
    """`browse(person)`: a browser in which the person is signed in."""
    return enter


@pytest.fixture
def owner_page(filled: SimpleNamespace) -> Client:
    """The owner's browser in the filled studio."""
    return enter(filled.people.owner)
