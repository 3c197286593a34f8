"""Reads an answer as a strict browser would: its headers, and what its page holds."""

import csv
import io
from html import unescape
from html.parser import HTMLParser

# Written out here, so that a directive that is loosened or left out fails.
POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self'",
    "font-src": "'self'",
    "connect-src": "'self'",
    "manifest-src": "'self'",
    "worker-src": "'self'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
    "base-uri": "'none'",
}


def policy(answer):
    parts = [part.strip().partition(" ") for part in answer.headers["Content-Security-Policy"].split(";")]
    return {name: sources for name, _, sources in parts if name}


def guarded(answer):
    """The headers that keep a page from being framed, sniffed or told about."""
    headers = answer.headers
    assert policy(answer) == POLICY
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"


class Inspector(HTMLParser):
    """Collects what a strict policy forbids, and forms that would be refused for want of their token."""

    def __init__(self):
        super().__init__()
        self.faults, self.links, self.ids = [], [], []
        self._form = None

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.faults += [f"<{tag} {name}>" for name in given if name == "style" or name.startswith("on")]
        self.faults += [f"<{tag} {name}={value}>" for name, value in attrs if _runs(name, value)]
        if "id" in given:
            self.ids.append(given["id"])
        if tag == "style" or (tag == "script" and "src" not in given):
            self.faults.append(f"inline <{tag}>")
        for name in ("src", "href", "action"):
            if (given.get(name) or "").startswith(("http:", "https:", "//")):
                self.faults.append(f"<{tag} {name}={given[name]}>")
        if tag == "form":
            self._form = given.get("method", "get").lower(), given.get("action", ""), [False]
        if (
            tag == "input"
            and self._form
            and given.get("name") == "csrfmiddlewaretoken"
            and given.get("value")
        ):
            self._form[2][0] = True
        if tag == "a" and given.get("href", "").startswith("/"):
            self.links.append(given["href"])

    def handle_endtag(self, tag):
        if tag == "form" and self._form:
            method, action, token = self._form
            if (method == "post") is not token[0]:
                self.faults.append(
                    f"form {method} {action} {'without' if method == 'post' else 'with'} its token"
                )
            self._form = None


def _runs(name, value):
    return name.startswith("hx-on") or "".join((value or "").split()).lower().startswith(
        ("javascript:", "data:")
    )


def inspect(answer):
    inspector = Inspector()
    inspector.feed(answer.content.decode())
    return inspector


def text_of(answer):
    """The page's source with plain spaces and signs."""
    return unescape(answer.content.decode()).replace("\N{NO-BREAK SPACE}", " ")


def csv_of(client, url):
    """The rows of an exported table by the words of its head; there is at least one."""
    rows = list(csv.DictReader(io.StringIO(client.get(url).content.decode("utf-8-sig"))))
    assert rows
    return rows
