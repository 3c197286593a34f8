"""`manage.py demo`: open the demonstration studio, an invented workshop with eighteen months behind it."""

import webbrowser
from datetime import timedelta
from pathlib import Path
from threading import Timer
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone

from studio import server
from studio.demonstration import building

HOST = "127.0.0.1"
SECONDS_BEFORE_BROWSER = 1.5


class Command(BaseCommand):
    """Build the demonstration when it is not there yet, say who to sign in as, and answer until stopped."""

    help = "Open the demonstration studio, in a database of its own. Stop with Ctrl+C."

    def add_arguments(self, parser: CommandParser) -> None:
        """Where to listen, and how much to do."""
        port = settings.PORT
        parser.add_argument("--port", type=int, default=port, help=f"port to listen on ({port})")
        parser.add_argument("--no-browser", action="store_true", help="do not open a browser")
        parser.add_argument("--fresh", action="store_true", help="throw it away and build it again")
        parser.add_argument("--build-only", action="store_true", help="build it and stop")

    def handle(
        self, *args: Any, port: int, fresh: bool, no_browser: bool, build_only: bool, **options: Any
    ) -> None:
        """Refuse anything but the demonstration's own database, then build, tell, and serve."""
        if not settings.DEMO:
            raise CommandError("This is not the demonstration's database. Start it with: manage.py demo")
        if not build_only:
            server.claim(HOST, port)
        if fresh:
            self._throw_away()
        server.prepare()
        self._build_or_say_how_old()
        if build_only:
            return
        url = f"http://{HOST}:{port}"
        self.stdout.write("\n".join(["", *sign_in_lines(), "", f"Open {url} in a browser. Ctrl+C stops it."]))
        self.stdout.flush()
        if not no_browser:
            opener = Timer(SECONDS_BEFORE_BROWSER, open_browser, [url])
            opener.daemon = True
            opener.start()
        server.serve(HOST, port)

    def _throw_away(self) -> None:
        """Remove the demonstration's database file with its journals."""
        connection.close()
        name = Path(settings.DATABASES["default"]["NAME"])
        for path in (name, *(name.with_name(name.name + end) for end in ("-wal", "-shm", "-journal"))):
            try:
                path.unlink(missing_ok=True)
            except OSError as error:
                raise CommandError(
                    "The demonstration is still open somewhere. Stop it there, then try again."
                ) from error

    def _build_or_say_how_old(self) -> None:
        now = timezone.now()
        if building.is_empty():
            self.stdout.write("Building eighteen months of Ninefold Lane…", ending=" ")
            self.stdout.flush()
            building.build(now, progress=self._dot)
            self.stdout.write(" done.")
            return
        last = building.last_day()
        if last and last < timezone.localtime(now).date() - timedelta(days=1):
            self.stdout.write(
                f"This demonstration ends on {last:%d %b %Y}, so what was due this week is late by now. "
                "To bring it up to today: manage.py demo --fresh"
            )

    def _dot(self) -> None:
        self.stdout.write(".", ending="")
        self.stdout.flush()


def sign_in_lines() -> list[str]:
    """Who to sign in as, as a table."""
    rows = [("Name", "Password", "Role")]
    rows += [(person.username, person.password, person.role.label) for person in building.PEOPLE]
    widths = [max(len(row[column]) for row in rows) for column in range(3)]
    lines = ["  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)) for row in rows]
    return [f"  {line.rstrip()}" for line in lines]


def open_browser(url: str) -> None:
    """Open the page; a machine without a browser is no mistake."""
    try:
        webbrowser.open(url)
    except (OSError, webbrowser.Error):
        return
