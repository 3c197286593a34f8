"""A filled studio behind its pages: one of everything, built through the verbs, once for each file of tests.

Everything is built inside one transaction that is taken back after the file, and every test inside a savepoint
of it, so that no test sees what another did. It is noon on 20 March 2026.
"""

from collections.abc import Iterator
from types import SimpleNamespace

import pytest
import time_machine
from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.test import Client

from studio.models import Role, Studio, User
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


@pytest.fixture(scope="module")
def _house(django_db_setup: None, django_db_blocker) -> Iterator[SimpleNamespace]:
    with django_db_blocker.unblock(), transaction.atomic():
        with time_machine.travel(NOW, tick=False):
            Studio.objects.create(pk=1, name="Ninefold Lane")
            house = fill(_people())
        yield house
        transaction.set_rollback(True)


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
