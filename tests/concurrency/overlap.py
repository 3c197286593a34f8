"""Two people at the same rows, one a moment after the other: the second begins while the first is not through.

Nothing here depends on who is quicker: the first holds its transaction open until the second waits for it, which
PostgreSQL tells. On SQLite the second waits before it reads anything, so what it then does must be right as well.
"""

from collections.abc import Callable
from threading import Event
from time import monotonic
from typing import Any

from django.db import connection, transaction

from tests.inventory.test_concurrency import at_once

# Who waits cannot be seen on SQLite: the first gives the second this long to come as far as it comes.
SECONDS_ON_SQLITE = 0.05
SECONDS_AT_MOST = 20
WAITED_FOR = """
    SELECT EXISTS (SELECT 1 FROM pg_locks WHERE NOT granted AND pg_backend_pid() = ANY (pg_blocking_pids(pid)))
"""


class Pause:
    """The moment at which the first lets the second begin: where it says so, else when all its work is done."""

    def __init__(self) -> None:
        self.reached, self.second_is_through = Event(), Event()

    def here(self) -> None:
        """Go on once the second waits for this transaction, or is through without having waited. Only the first call
        does anything."""
        if self.reached.is_set():
            return
        self.reached.set()
        if connection.vendor != "postgresql":
            self.second_is_through.wait(timeout=SECONDS_ON_SQLITE)
            return
        limit = monotonic() + SECONDS_AT_MOST
        while not self.second_is_through.wait(timeout=0.005) and monotonic() < limit:
            with connection.cursor() as cursor:
                cursor.execute(WAITED_FOR)
                if cursor.fetchone()[0]:
                    return

    def before(self, act: Callable[..., Any]) -> Callable[..., Any]:
        """The same act, before which the first pauses."""

        def paused(*args: Any, **more: Any) -> Any:
            self.here()
            return act(*args, **more)

        return paused

    def after(self, act: Callable[..., Any]) -> Callable[..., Any]:
        """The same act, after which the first pauses."""

        def paused(*args: Any, **more: Any) -> Any:
            made = act(*args, **more)
            self.here()
            return made

        return paused


def overlapping(
    first: Callable[[], Any], second: Callable[[], Any], pause: Pause | None = None
) -> tuple[Any, Any]:
    """Begin `second` while the transaction of `first` is open; what each gave back or raised."""
    pause = pause or Pause()

    def hold_open() -> Any:
        try:
            with transaction.atomic():
                made = first()
                pause.here()
            return made
        finally:
            pause.reached.set()

    def follow() -> Any:
        pause.reached.wait(timeout=SECONDS_AT_MOST)
        try:
            return second()
        finally:
            pause.second_is_through.set()

    earlier, later = at_once(hold_open, follow)
    return earlier, later


def twice(act: Callable[[], Any]) -> tuple[str, str]:
    """The same by two people; what kind of thing each gave back or raised."""
    return names(overlapping(act, act))


def names(results: tuple[Any, Any]) -> tuple[str, str]:
    """What kind of thing each gave back or raised."""
    return type(results[0]).__name__, type(results[1]).__name__
