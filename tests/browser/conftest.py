"""A browser, a studio that answers it, and people who sit in front of it.

The server runs in a thread of the test's own process, on a database whose rows are real and are swept away
after each test.
"""

from pathlib import Path

import pytest
from django.conf import settings
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


@pytest.fixture
def sit_down(browser, live_server):
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


def _session(user, url):
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    name = settings.SESSION_COOKIE_NAME
    return {"name": name, "value": client.cookies[name].value, "url": url}
