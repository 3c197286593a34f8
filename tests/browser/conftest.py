"""A browser, a studio that answers it, and people who sit in front of it.

The server runs in a thread of the test's own process, on a database whose rows are real and are swept away
after each test.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Condition
from time import sleep
from unittest.mock import patch

import pytest
from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.test import Client

from tests.browser.chromium import PATIENCE_MS, started
from tests.browser.person import Person

HERE = Path(__file__).parent


def pytest_collection_modifyitems(items):
    """Every test beside this file drives a browser."""
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="module")
def browser():
    """Chromium."""
    with started() as chromium:
        yield chromium


class Answering:
    """How many requests the server is answering just now."""

    ON_THE_WAY_S = 0.02

    def __init__(self) -> None:
        self.now, self.changed = 0, Condition()

    @contextmanager
    def one_more(self) -> Iterator[None]:
        self._count(1)
        try:
            yield
        finally:
            self._count(-1)

    def _count(self, change: int) -> None:
        with self.changed:
            self.now += change
            self.changed.notify_all()

    def wait(self) -> None:
        """Until what a page sent before it was closed is written, or refused: rows must not be swept away beneath it."""
        sleep(self.ON_THE_WAY_S)
        with self.changed:
            assert self.changed.wait_for(lambda: not self.now, timeout=PATIENCE_MS / 1000)


@pytest.fixture(scope="session")
def answering():
    """Counts what the server of the tests is answering."""
    count, answer = Answering(), WSGIHandler.__call__

    def counted(handler, environ, start_response):
        with count.one_more():
            return answer(handler, environ, start_response)

    with patch.object(WSGIHandler, "__call__", counted):
        yield count


@pytest.fixture
def sit_down(answering, browser, live_server):
    """Make a person in front of a browser of their own; `sign_in=user` spares them the sign-in page."""
    contexts = []

    def make(*, sign_in=None, **options) -> Person:
        options = {
            "viewport": {"width": 1280, "height": 800},
            "timezone_id": "UTC",
            "locale": "en-GB",
        } | options
        context = browser.new_context(base_url=live_server.url, reduced_motion="reduce", **options)
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        if sign_in:
            context.add_cookies([_session(sign_in, live_server.url)])
        return Person(context.new_page())

    yield make
    for context in contexts:
        context.close()
    answering.wait()


def _session(user, url):
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    name = settings.SESSION_COOKIE_NAME
    return {"name": name, "value": client.cookies[name].value, "url": url}
