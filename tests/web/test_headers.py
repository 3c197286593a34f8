"""What every answer carries, and that no page needs more than the strict policy allows.

OWASP ASVS 5.0, V3 Web Frontend Security, and the OWASP Secure Headers recommendations (from memory); Django's
deployment checklist.
"""

import importlib
import logging

import pytest
from django.test import Client
from django.urls import resolve, reverse

from tests.web.conftest import PASSWORD, ROLES, enter
from tests.web.inspection import guarded, inspect
from tests.web.pages import readable, tables


@pytest.fixture
def broken(monkeypatch):
    """Today fails inside."""

    def fail(day):
        raise RuntimeError("the inside of the studio")

    monkeypatch.setattr("studio.home.today.tasks", fail)


def _some(links):
    """A few links to each kind of page: forty lots' pages are one page."""
    by_page = {}
    for link in sorted(links):
        by_page.setdefault(resolve(link.partition("#")[0].partition("?")[0]).view_name, []).append(link)
    return [link for alike in by_page.values() for link in alike[:5]]


# That every page answers on another database too is asked by the tests of doors and of queries.
@pytest.mark.looks
def test_every_page_keeps_to_the_policy_every_form_has_its_token_and_every_link_leads_somewhere(filled):
    """One walk for all of it, since asking for the pages is what takes the time."""
    for role in ROLES:
        client = enter(getattr(filled.people, role))
        pages, links = readable(filled, role), set()
        for what, url in pages.items():
            answer = client.get(url)
            # Files that people brought are shut in more tightly still; see test_document_pages.
            if what != "inventory:document-file":
                guarded(answer)
            assert "no-store" in answer.headers["Cache-Control"], what
            if answer.headers["Content-Type"].startswith("text/html"):
                page = inspect(answer)
                assert page.faults == [], what
                assert len(page.ids) == len(set(page.ids)), what
                links |= set(page.links)
        # A link to what was settled in the meantime may lead on; one to a shut door or to nothing may not.
        wrong = {
            link: code
            for link in _some(links - set(pages.values()))
            if (code := client.get(link).status_code) not in {200, 302}
        }
        assert wrong == {}, role


def test_tables_are_handed_out_as_files(filled):
    client = enter(filled.people.owner)
    for what, url in tables(filled, "owner").items():
        answer = client.get(f"{url}{'&' if '?' in url else '?'}format=csv")
        guarded(answer)
        assert "no-store" in answer.headers["Cache-Control"], what
        assert answer.headers["Content-Disposition"].startswith("attachment; filename="), what


def test_open_pages_are_guarded_too(filled):
    for path in ("/sign-in/", "/nowhere/", "/"):
        answer = Client().get(path)
        guarded(answer)
        assert "no-store" in answer.headers["Cache-Control"], path
    assert inspect(Client().get("/sign-in/")).faults == []


def test_a_page_that_went_wrong_says_so_and_nothing_of_the_inside(filled, broken, caplog):
    client = enter(filled.people.owner)
    client.raise_request_exception = False
    with caplog.at_level(logging.CRITICAL, "django.request"):
        answer = client.get("/")

    assert answer.status_code == 500
    text = answer.content.decode()
    assert "Something went wrong on our side" in text
    for inside in (
        "the inside of the studio",
        "RuntimeError",
        "Traceback",
        "today.py",
        "SECRET",
        "sqlite",
        "maren",
    ):
        assert inside not in text
    guarded(answer)
    assert inspect(answer).faults == []


def test_a_page_that_is_not_there_or_not_open_names_nothing_of_the_inside(filled):
    maker = enter(filled.people.maker)
    for answer, code in (
        (maker.get("/nowhere/"), 404),
        (maker.get("/people/"), 403),
        (maker.get("/stock/items/99/"), 404),
    ):
        assert answer.status_code == code
        text = answer.content.decode()
        assert "Go to Today" in text
        for inside in ("urlpatterns", "Traceback", "DEBUG", "resolver", "nowhere", "No Item"):
            assert inside not in text
        guarded(answer)
        assert inspect(answer).faults == []


@pytest.mark.parametrize("token", [None, "", "wrong", "a" * 32, "a" * 64])
def test_a_form_without_its_token_changes_nothing(filled, token):
    # OWASP Cheat Sheet Series, Cross-Site Request Forgery Prevention.
    client = Client(enforce_csrf_checks=True)
    client.force_login(filled.people.owner, backend="django.contrib.auth.backends.ModelBackend")
    client.get("/stock/suppliers/add/")
    data = {"name": "Nobody's Wax"} | ({"csrfmiddlewaretoken": token} if token is not None else {})

    answer = client.post("/stock/suppliers/add/", data)

    assert answer.status_code == 403
    assert "can no longer be trusted" in answer.content.decode()
    assert inspect(answer).faults == []


def test_a_token_of_another_session_is_refused(filled):
    ours, theirs = (Client(enforce_csrf_checks=True) for _ in range(2))
    for client, person in ((ours, filled.people.owner), (theirs, filled.people.maker)):
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        client.get("/stock/suppliers/add/")
    stolen = theirs.cookies["csrftoken"].value

    assert (
        ours.post(
            "/stock/suppliers/add/", {"name": "Nobody's Wax", "csrfmiddlewaretoken": stolen}
        ).status_code
        == 403
    )


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "testserver.elsewhere.example", "testserver:80@elsewhere.example", "a b"]
)
def test_a_host_that_is_not_ours_is_refused(filled, host, caplog):
    with caplog.at_level(logging.CRITICAL, "django.security.DisallowedHost"):
        answer = Client().get("/sign-in/", headers={"Host": host})

    assert answer.status_code == 400
    assert "could not be read" in answer.content.decode()
    assert "elsewhere" not in answer.content.decode()


def test_cookies_are_out_of_reach_of_scripts_and_other_sites(filled):
    client = Client()
    client.get("/sign-in/")
    answer = client.post("/sign-in/", {"username": "maren", "password": PASSWORD})

    for name in ("sessionid", "csrftoken"):
        cookie = answer.cookies[name]
        assert (cookie["httponly"], cookie["samesite"], cookie["domain"]) == (True, "Lax", ""), name


def test_behind_tls_cookies_travel_over_tls_alone(monkeypatch):
    monkeypatch.setenv("STUDIO_MODE", "https")
    monkeypatch.setenv("STUDIO_HOSTS", "studio.example")
    monkeypatch.setenv("DATABASE_URL", "postgres://postgres@127.0.0.1:5432/books")
    monkeypatch.setenv("SECRET_KEY", "k" * 50)
    module = importlib.import_module("studio.settings")
    kept = dict(vars(module))
    try:
        secure = importlib.reload(module)
        assert (secure.SESSION_COOKIE_SECURE, secure.CSRF_COOKIE_SECURE, secure.SECURE_SSL_REDIRECT) == (
            True,
        ) * 3
        assert secure.SECURE_HSTS_SECONDS == 31_536_000
        assert secure.DEBUG is False
    finally:
        vars(module).clear()
        vars(module).update(kept)


def test_form_too_large_is_refused(filled, caplog):
    # Two mebibytes may come in at once; nothing of a larger form is read.
    client = enter(filled.people.owner)
    with caplog.at_level(logging.CRITICAL, "django.request"):
        answer = client.post(
            reverse("inventory:supplier-add"), "name=" + "x" * 2_200_000, "application/x-www-form-urlencoded"
        )

    assert answer.status_code == 413
    assert "too large" in answer.content.decode()
    guarded(answer)
    with caplog.at_level(logging.CRITICAL, "django.security.TooManyFieldsSent"):
        many = "&".join(f"f{n}=1" for n in range(10_000))
        answer = client.post(reverse("inventory:supplier-add"), many, "application/x-www-form-urlencoded")
    assert answer.status_code == 400
