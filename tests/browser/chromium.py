"""Where Chromium lies on this machine."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserType, Error, expect, sync_playwright

USUAL_PLACES = (
    "/usr/bin/chromium",
    os.environ.get("CHROMIUM", ""),
    "/usr/bin/chromium-browser",
    "/usr/bin/google-chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)
# A shared machine may be busy; a page that takes longer than this is broken.
PATIENCE_MS = 15_000
# Without this what is expected has five seconds, whatever a page has.
expect.set_options(timeout=PATIENCE_MS)
# Installed by their own programs, at places Playwright knows; None is the one Playwright fetched itself.
CHANNELS = ("chrome", "msedge", None)


class NoBrowser(Exception):
    """No browser of the family was found. Its text says what to do."""


def launch(kind: BrowserType) -> Browser:
    """Start the first browser that is found. Raises NoBrowser."""
    # Chromium refuses to run as root inside its sandbox.
    args = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    for place in USUAL_PLACES:
        if place and Path(place).is_file():
            return kind.launch(executable_path=place, args=args)
    for channel in CHANNELS:
        try:
            return kind.launch(channel=channel, args=args)
        except Error:
            continue
    raise NoBrowser("No Chromium, Chrome or Edge was found. Install one, or name its program in CHROMIUM.")


@contextmanager
def started() -> Iterator[Browser]:
    """A browser; without one the tests are skipped, except where CI is set: there everything runs."""
    # Playwright keeps an event loop in this thread, and Django would refuse the database beside it.
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        try:
            browser = launch(playwright.chromium)
        except NoBrowser as missing:
            (pytest.fail if os.environ.get("CI") else pytest.skip)(str(missing))
        yield browser
        browser.close()
