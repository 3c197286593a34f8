"""Where Chromium lies on this machine."""

import os
from pathlib import Path

from playwright.sync_api import Browser, BrowserType, Error

USUAL_PLACES = (
    "/usr/bin/chromium",
    os.environ.get("CHROMIUM", ""),
    "/usr/bin/chromium-browser",
    "/usr/bin/google-chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)
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
