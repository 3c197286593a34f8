"""One address that says whether the studio can work: for the container, a proxy or whoever looks after it."""

import logging
from functools import cache

from django.db import DEFAULT_DB_ALIAS, Error, connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.http import HttpRequest, HttpResponse

from studio import guards
from studio.people.access import public

log = logging.getLogger(__name__)


@cache
def known_migrations() -> frozenset[tuple[str, str]]:
    """The migrations this release brings along; they do not change while it runs."""
    return frozenset(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)


def trouble() -> str:
    """One word for what keeps the studio from working: "database", "migrations", "guards"; "" for nothing."""
    try:
        connection = connections[DEFAULT_DB_ALIAS]
        if known_migrations() - set(MigrationRecorder(connection).applied_migrations()):
            return "migrations"
        return "guards" if guards.missing() else ""
    except Error as error:
        # The message may name hosts and people; strangers get the word alone, the log the kind of error.
        log.warning("The database does not answer: %s", type(error).__name__)
        return "database"


@public("GET", "HEAD")
def health(request: HttpRequest) -> HttpResponse:
    """200 "ok" when the studio can work; 503 with one word for what is wrong."""
    word = trouble()
    return HttpResponse(
        word or "ok",
        status=503 if word else 200,
        content_type="text/plain; charset=utf-8",
        headers={"Cache-Control": "no-store"},
    )
