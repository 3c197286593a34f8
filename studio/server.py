"""Running the studio: make ready once, then answer requests until told to stop."""

import errno
import io
import multiprocessing
import os
import signal
import socket
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module

from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection, connections
from granian import Granian
from granian.constants import HTTPModes, Interfaces
from granian.log import LogLevels

from studio import guards, storage

# Enough to answer every bench of a small studio at once; each thread keeps its own database connection.
THREADS_ALONE = 8
THREADS_PER_WORKER = 4
# A request that has not finished by then is cut off, so that stopping always ends.
SECONDS_TO_FINISH = 30
# Any constant will do; it names this lock among the database's advisory locks.
SET_UP_LOCK = 746_210_395


def claim(host: str, port: int) -> str:
    """The numeric address of `host`, once it is sure that `port` is free there.

    Raises CommandError with a sentence to act on when the port is taken or the host is not this machine's.
    """
    if not 1 <= port <= 65535:
        raise CommandError(f"There is no port {port}; choose one from 1 to 65535, e.g. --port 8000.")
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        if sys.platform == "win32":
            # There, "reuse" would let two servers share the port in silence.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            # Without it the port counts as busy for a minute after every stop.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            where = socket.getaddrinfo(host, port, family, socket.SOCK_STREAM)[0][4]
            probe.bind(where)
        except (OSError, UnicodeError) as error:
            if getattr(error, "errno", None) == errno.EADDRINUSE:
                raise CommandError(
                    f"Port {port} on {host} is taken by another program. Stop that one, or choose another "
                    f"port, e.g. --port {port + 1 if port < 65535 else 8000}."
                ) from error
            raise CommandError(
                f"The studio cannot listen on {host}, port {port}: {getattr(error, 'strerror', error)}. "
                "Use --host 127.0.0.1 for this machine alone or --host 0.0.0.0 for its network."
            ) from error
    return str(where[0])


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Let one of several starting processes set up the shared database; the others wait and find it done."""
    if connection.vendor != "postgresql":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_lock(%s)", [SET_UP_LOCK])
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [SET_UP_LOCK])


def prepare() -> None:
    """Make ready to serve: check the settings, bring the database up to date, gather the static files.

    Safe to call again and from several processes at once. Raises CommandError with a sentence to act on.
    """
    call_command("check", deploy=settings.MODE == "https", fail_level="ERROR", stdout=io.StringIO())
    try:
        connection.ensure_connection()
    except OperationalError as error:
        raise CommandError(
            "The database does not answer. Check DATABASE_URL and that PostgreSQL is running."
            if connection.vendor == "postgresql"
            else f"The books cannot be opened. Check that {settings.DATA_DIR} may be written to."
        ) from error
    with one_at_a_time():
        storage.choose_journal()
        call_command("migrate", interactive=False, verbosity=0)
        if not settings.DEBUG:
            call_command("collectstatic", interactive=False, verbosity=0)
    if gone := guards.missing():
        raise CommandError(f"The database lacks its guards: {', '.join(gone)}. Run: manage.py migrate")


def load() -> WSGIHandler:
    """The application, for a worker; one whose parent was killed follows it rather than keep the port."""
    parent = multiprocessing.parent_process()
    if parent is not None:

        def follow() -> None:
            parent.join()
            os.kill(os.getpid(), signal.SIGTERM)

        threading.Thread(target=follow, daemon=True).start()
    application: WSGIHandler = import_module("studio.wsgi").application
    return application


def serve(host: str, port: int) -> None:
    """Answer requests at `host`:`port` until SIGTERM, SIGHUP or Ctrl+C; then finish those under way, return.

    One process with threads on SQLite, which has one writer at a time; STUDIO_WORKERS of them on PostgreSQL.
    Call `prepare` first. Raises CommandError when the port is taken.
    """
    address = claim(host, port)
    alone = connection.vendor == "sqlite"
    # Workers read the settings afresh; they must come to the same ones.
    os.environ["DJANGO_SETTINGS_MODULE"] = os.environ.get("DJANGO_SETTINGS_MODULE", "studio.settings")
    os.environ["STUDIO_DEMO"] = "true" if settings.DEMO else "false"
    # The one way to start a worker that all systems share, and that carries no open connection over.
    connections.close_all()
    multiprocessing.set_start_method("spawn", force=True)
    studio = Granian(
        "studio.wsgi:application",
        address=address,
        port=port,
        interface=Interfaces.WSGI,
        http=HTTPModes.http1,
        websockets=False,
        workers=1 if alone else settings.WORKERS,
        blocking_threads=THREADS_ALONE if alone else THREADS_PER_WORKER,
        respawn_failed_workers=True,
        workers_kill_timeout=SECONDS_TO_FINISH,
        log_level=LogLevels.error,
    )
    if sys.platform != "win32":
        # A closed terminal stops the studio, unless told otherwise (nohup); the server alone would start its
        # workers anew and go on unseen.
        ignored = signal.getsignal(signal.SIGHUP) is signal.SIG_IGN
        at_hangup = signal.SIG_IGN if ignored else studio.signal_handler_interrupt
        studio.on_startup(lambda: signal.signal(signal.SIGHUP, at_hangup))
    studio.serve(target_loader=load, wrap_loader=False)
