"""A studio that answers from within a transaction which is never kept: a long history is told once and walked through."""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock, Thread
from unittest.mock import patch

from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, connections
from django.db.backends.base.base import BaseDatabaseWrapper


class _OneAtATime(StaticFilesHandler):
    """Answers one request after the other, since they share one connection."""

    turn = Lock()

    def __call__(self, environ, start_response):
        with self.turn:
            return super().__call__(environ, start_response)


class _Server(ThreadedWSGIServer):
    def _close_connections(self):
        """The connection is the test's."""


class _Quiet(WSGIRequestHandler):
    def log_message(self, *words):
        """The test says what matters."""


@contextmanager
def served(connection: BaseDatabaseWrapper) -> Iterator[str]:
    """The address of the studio as the open transaction of `connection` has it.

    Beside a running browser, whose loop would otherwise ask for a connection of its own, this thread uses it too.
    """
    shared = {connection.alias: connection}
    connections[connection.alias] = connection
    server = _Server(("localhost", 0), _Quiet, connections_override=shared)
    server.set_app(_OneAtATime(get_wsgi_application()))
    thread = Thread(target=server.serve_forever, daemon=True)
    # Between two requests an open transaction looks like a connection that nobody needs any more.
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    connection.inc_thread_sharing()
    thread.start()
    try:
        with patch("django.conf.settings.ALLOWED_HOSTS", ["localhost"]):
            yield f"http://localhost:{server.server_address[1]}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
        connection.dec_thread_sharing()
        for signal in signals:
            signal.connect(close_old_connections)
