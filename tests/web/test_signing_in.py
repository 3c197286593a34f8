"""The first visit, signing in and out, passwords, and being locked out.

OWASP ASVS 5.0, V6 Authentication and V7 Session Management; NIST SP 800-63B (from memory).
"""

from urllib.parse import quote

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Role, Studio, User
from tests.web.conftest import PASSWORD, enter
from tests.web.inspection import guarded, inspect

FIRST = {
    "owner_name": "Maren",
    "username": "maren",
    "password": PASSWORD,
    "name": "Ninefold Lane",
    "currency": "USD",
    "mass_unit": "g",
    "temperature_unit": "C",
    "page_size": "A4",
    "time_zone": "UTC",
}


def sign_in(client, name="maren", password=PASSWORD, **more):
    return client.post("/sign-in/", {"username": name, "password": password, **more})


def signed_in_as(client):
    """The name of whoever is signed in, or None."""
    page = client.get("/account/")
    return page.context["user"].username if page.status_code == 200 else None


@pytest.fixture
def locking(settings):
    settings.AXES_ENABLED = True


@pytest.mark.django_db
@pytest.mark.parametrize(
    "path", ["/", "/sign-in/", "/stock/", "/people/add/", "/costing/rates/", "/nowhere/"]
)
def test_before_there_is_a_studio_every_address_leads_to_the_welcome_page(path):
    assert Client().get(path).headers["Location"] == "/welcome/"


@pytest.mark.django_db
def test_the_welcome_page_keeps_to_the_policy():
    answer = Client().get("/welcome/")

    guarded(answer)
    assert inspect(answer).faults == []


@pytest.mark.django_db
def test_the_first_visitor_names_the_studio_and_is_its_owner():
    client = Client()

    assert client.get("/welcome/").status_code == 200
    assert client.post("/welcome/", FIRST).headers["Location"] == "/"

    owner = User.objects.get()
    assert (owner.username, owner.role, owner.first_name) == ("maren", Role.OWNER, "Maren")
    studio = Studio.objects.get()
    assert (studio.pk, studio.name, studio.currency) == (1, "Ninefold Lane", "USD")
    assert signed_in_as(client) == "maren"


@pytest.mark.django_db
def test_a_second_visitor_finds_the_door_shut():
    Client().post("/welcome/", FIRST)
    late = Client()

    for answer in (late.get("/welcome/"), late.post("/welcome/", {**FIRST, "username": "stranger"})):
        assert answer.headers["Location"] == "/"
    assert [person.username for person in User.objects.all()] == ["maren"]
    assert signed_in_as(late) is None


@pytest.mark.django_db
def test_of_two_first_visitors_at_once_one_becomes_the_owner(monkeypatch):
    # The second asks whether there is a studio before the first has answered.
    Client().post("/welcome/", FIRST)
    monkeypatch.setattr("studio.home.views.Studio.objects.exists", lambda: False)
    late = Client()

    assert late.post("/welcome/", {**FIRST, "username": "stranger"}).headers["Location"] == "/"

    assert [person.username for person in User.objects.all()] == ["maren"]


@pytest.mark.django_db
@pytest.mark.parametrize("code", ["", "wrong", "quince-orchard-8 ", "QUINCE-ORCHARD-7", "ключ"])
def test_a_wrong_set_up_code_is_refused(settings, code):
    settings.SETUP_CODE = "quince-orchard-7"

    page = Client().post("/welcome/", {**FIRST, "setup_code": code})

    assert page.status_code == 422
    assert page.context["form"].errors["setup_code"][0] in {
        "This is not the set-up code.",
        "Fill this in.",
    }
    assert ("not the set-up code" in page.content.decode()) is bool(code)
    assert not User.objects.exists()
    assert not Studio.objects.exists()


@pytest.mark.django_db
def test_the_right_set_up_code_opens_the_door_and_is_never_shown(settings):
    settings.SETUP_CODE = "quince-orchard-7"
    client = Client()

    assert b"quince-orchard-7" not in client.get("/welcome/").content
    client.post("/welcome/", {**FIRST, "setup_code": "quince-orchard-7"})

    assert User.objects.get().role == Role.OWNER


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("password", "short", "at least 10 characters"),
        ("password", "password123", "too common"),
        ("password", "marenmaren", "similar to the username"),
        ("currency", "dollars", "from the list"),
        ("currency", "usd", "from the list"),
        ("time_zone", "Mars/Olympus", "from the list"),
        ("username", "maren and tobin", "letters, numbers"),
        ("username", "ma\x00ren", "Null characters"),
        ("name", "", "Fill this in"),
    ],
)
def test_an_odd_answer_on_the_first_visit_is_refused_beside_its_field(field, value, says):
    typed = {**FIRST, field: value}
    if value == "marenmaren":
        typed["username"] = "marenmaren1"

    page = Client().post("/welcome/", typed)

    assert page.status_code == 422
    assert says in " ".join(page.context["form"].errors[field])
    assert 'value="Maren"' in page.content.decode()
    assert PASSWORD not in page.content.decode()
    assert not Studio.objects.exists()


def test_signing_in_and_out(people):
    client = Client()

    assert sign_in(client).headers["Location"] == "/"
    assert signed_in_as(client) == "maren"

    # Looking at the address signs nobody out: an image on another page must not.
    assert client.get("/sign-out/").status_code == 405
    assert signed_in_as(client) == "maren"
    key = client.session.session_key
    assert client.post("/sign-out/").headers["Location"] == "/sign-in/"
    assert signed_in_as(client) is None
    assert client.session.session_key != key


def test_a_password_of_64_signs_and_spaces_is_taken_whole(people):
    # NIST SP 800-63B, 5.1.1.2: at least 64 characters, spaces allowed, nothing cut off.
    long = "nine paper lanterns over the lane " + "ж" * 30
    client = enter(people.maker)
    new = {"old_password": PASSWORD, "new_password1": long, "new_password2": long}

    assert client.post("/account/", new).status_code == 302

    assert sign_in(Client(), "tobin", long).status_code == 302
    assert sign_in(Client(), "tobin", long[:-1]).status_code == 200


@pytest.mark.parametrize(
    "elsewhere",
    [
        "https://elsewhere.example/",
        "//elsewhere.example/",
        "///elsewhere.example",
        "/\\elsewhere.example",
        "http:///elsewhere.example",
        "javascript:alert(1)",
        "\thttps://elsewhere.example/",
        "https:elsewhere.example",
        "http://testserver@elsewhere.example/",
    ],
)
def test_signing_in_leads_nowhere_else(people, elsewhere):
    # OWASP Cheat Sheet Series, Unvalidated Redirects and Forwards.
    assert sign_in(Client(), next=elsewhere).headers["Location"] == "/"
    answer = Client().post(f"/sign-in/?next={quote(elsewhere)}", {"username": "maren", "password": PASSWORD})
    assert answer.headers["Location"] == "/"
    assert enter(people.owner).get("/sign-in/", {"next": elsewhere}).headers["Location"] == "/"


def test_signing_in_leads_back_to_where_one_was(people):
    assert sign_in(Client(), next="/stock/lots/?state=held").headers["Location"] == "/stock/lots/?state=held"


def test_the_session_is_another_after_signing_in(people):
    # OWASP Cheat Sheet Series, Session Management: renew the identifier after a change of privilege.
    client = Client()
    session = client.session
    session["planted"] = "yes"
    session.save()
    planted = session.session_key
    client.cookies["sessionid"] = planted

    sign_in(client)

    assert client.cookies["sessionid"].value != planted
    thief = Client()
    thief.cookies["sessionid"] = planted
    assert signed_in_as(thief) is None


def test_a_new_password_signs_other_devices_out_and_this_one_not(people):
    here, there = Client(), Client()
    sign_in(here)
    sign_in(there)
    new = "ten copper kettles"

    page = here.post("/account/", {"old_password": PASSWORD, "new_password1": new, "new_password2": new})

    assert page.status_code == 302
    assert (signed_in_as(here), signed_in_as(there)) == ("maren", None)
    assert sign_in(Client()).status_code == 200
    assert sign_in(Client(), password=new).status_code == 302


def test_the_old_password_is_asked_for_and_a_weak_new_one_refused(people):
    client = enter(people.maker)
    wrong = client.post(
        "/account/",
        {"old_password": "x", "new_password1": "ten copper kettles", "new_password2": "ten copper kettles"},
    )
    weak = client.post(
        "/account/", {"old_password": PASSWORD, "new_password1": "kettle", "new_password2": "kettle"}
    )

    assert (wrong.status_code, weak.status_code) == (422, 422)
    assert "old_password" in wrong.context["form"].errors
    assert "at least 10 characters" in weak.content.decode()
    assert sign_in(Client(), "tobin").status_code == 302


def test_a_password_set_by_the_owner_signs_the_person_out(people):
    maker = enter(people.maker)
    owner = enter(people.owner)
    change = {"first_name": "Tobin", "username": "tobin", "role": "maker", "is_active": "on"}

    owner.post(reverse("person-change", args=[people.maker.pk]), {**change, "password": "ten copper kettles"})

    assert signed_in_as(maker) is None
    assert sign_in(Client(), "tobin", "ten copper kettles").status_code == 302


def test_a_wrong_name_and_a_wrong_password_are_told_alike(people):
    User.objects.filter(username="wren").update(is_active=False)
    tries = [
        ("maren", "wrong"),
        ("nobody", "wrong"),
        ("nobody", PASSWORD),
        ("wren", PASSWORD),
        ("wren", "wrong"),
    ]
    pages = []
    for name, password in tries:
        page = sign_in(Client(), name, password)
        assert page.status_code == 200
        pages.append(page.context["form"].non_field_errors()[0])

    assert set(pages) == {
        "Name and password do not fit together. Check both; capitals count in the password."
    }


def test_a_wrong_password_keeps_the_name_and_shows_no_password(people):
    page = sign_in(Client(), "maren", "a wrong lantern").content.decode()

    assert 'value="maren"' in page
    assert "a wrong lantern" not in page


def test_after_eight_wrong_passwords_the_door_is_shut_for_that_name_and_address(people, locking):
    client = Client()
    for tries in range(8):
        assert sign_in(client, "maren", "wrong", next="").status_code == (429 if tries == 7 else 200)

    page = sign_in(client)
    assert page.status_code == 429
    assert "Wait a few minutes" in page.content.decode()
    assert signed_in_as(client) is None

    # Neither the same person at another address nor a colleague at this one is locked out.
    elsewhere = Client(REMOTE_ADDR="192.0.2.17")
    assert sign_in(elsewhere).status_code == 302
    assert sign_in(Client(), "tobin").status_code == 302


def test_a_made_up_address_does_not_open_the_door(people, locking):
    client = Client()
    for tries in range(8):
        sign_in(client, "maren", "wrong", next=str(tries))

    answer = client.post(
        "/sign-in/",
        {"username": "maren", "password": PASSWORD},
        headers={
            "X-Forwarded-For": "198.51.100.7",
            "X-Real-IP": "198.51.100.7",
            "Forwarded": "for=198.51.100.7",
        },
    )

    assert answer.status_code == 429


def test_signing_in_rightly_forgets_earlier_slips(people, locking):
    for _ in range(3):
        for _ in range(7):
            assert sign_in(Client(), "maren", "wrong").status_code == 200
        assert sign_in(Client()).status_code == 302


def test_who_may_no_longer_sign_in_is_out_at_once(people):
    client = enter(people.maker)
    assert signed_in_as(client) == "tobin"
    change = {"first_name": "Tobin", "username": "tobin", "role": "maker", "password": ""}

    assert (
        enter(people.owner).post(reverse("person-change", args=[people.maker.pk]), change).status_code == 302
    )

    assert signed_in_as(client) is None
    assert sign_in(Client(), "tobin").status_code == 200


def test_a_role_that_was_taken_away_is_gone_at_once(people):
    client = enter(people.costly)
    assert client.get("/costing/").status_code == 200

    User.objects.filter(pk=people.costly.pk).update(costs_allowed=False)

    assert client.get("/costing/").status_code == 403


@pytest.mark.parametrize(
    "change", [{"role": "maker", "is_active": "on"}, {"role": "owner"}, {"role": "bookkeeper"}]
)
def test_the_last_owner_stays(people, change):
    client = enter(people.owner)

    page = client.post(
        reverse("person-change", args=[people.owner.pk]),
        {"first_name": "Maren", "username": "maren", "password": "", **change},
    )

    assert page.status_code == 422
    assert "Make another person the owner first" in page.content.decode()
    owner = User.objects.get(pk=people.owner.pk)
    assert (owner.role, owner.is_active) == (Role.OWNER, True)


def test_one_of_two_owners_may_step_back(people):
    User.objects.filter(pk=people.maker.pk).update(role=Role.OWNER)
    url = reverse("person-change", args=[people.owner.pk])
    change = {"first_name": "Maren", "username": "maren", "password": "", "role": "maker", "is_active": "on"}

    assert enter(people.owner).post(url, change).status_code == 302

    assert User.objects.get(pk=people.owner.pk).role == Role.MAKER


def test_a_new_person_can_sign_in_and_no_name_is_given_twice(people):
    owner = enter(people.owner)
    new = {
        "first_name": "Ines",
        "username": "ines",
        "role": "bookkeeper",
        "password": "ten copper kettles",
        "submission_key": "9d3a1c44-0f62-4a8e-9a77-3f2f10c9a001",
    }

    assert owner.post("/people/add/", new).status_code == 302
    assert (
        owner.post(
            "/people/add/", {**new, "submission_key": "9d3a1c44-0f62-4a8e-9a77-3f2f10c9a002"}
        ).status_code
        == 422
    )

    assert sign_in(Client(), "ines", "ten copper kettles").status_code == 302
    assert User.objects.filter(username="ines").count() == 1
