"""Every address × every role × every method, against the table in `pages`; and no prices for who may not see them.

OWASP ASVS 5.0, V8 Authorization (from memory).
"""

import io
import re
from decimal import Decimal
from urllib.parse import urlencode

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.test import RequestFactory
from django.urls import reverse
from openpyxl import load_workbook

from inventory.models import Lot, Movement, Posting
from studio.people.access import AccessMiddleware
from tests.house import snapshot
from tests.web.conftest import ROLES, enter
from tests.web.pages import COSTS, PAGES, PUBLIC, names_in_use, readable, tables


def test_every_address_is_in_the_table_and_every_name_of_the_table_exists():
    assert names_in_use() == PAGES.keys() | PUBLIC.keys()


@pytest.mark.parametrize("name", PAGES)
def test_a_stranger_is_sent_to_sign_in_and_back(filled, name):
    url = PAGES[name].url(name, filled)
    stranger = enter(None)

    got = stranger.get(url)

    back = f"?{urlencode({'next': url})}" if url != "/" else ""
    assert (got.status_code, got.headers["Location"]) == (302, f"/sign-in/{back}")
    for method in ("post", "put", "patch", "delete", "options"):
        answer = getattr(stranger, method)(url)
        assert (answer.status_code, answer.headers["Location"]) == (302, "/sign-in/"), method


@pytest.mark.parametrize("name", PAGES)
def test_each_role_may_do_what_the_table_says_and_nothing_else(filled, name):
    page = PAGES[name]
    url = page.url(name, filled)
    for role in ROLES:
        client = enter(getattr(filled.people, role))
        got, posted = client.get(url), enter(getattr(filled.people, role)).post(url)

        if not page.see:
            assert got.status_code == 405, role
        else:
            assert got.status_code == (200 if role in page.see else 403), role
        if not page.do:
            assert posted.status_code == 405, role
        elif role in page.do:
            # Empty forms are refused by what is in them: never by the door, never by a fault.
            assert posted.status_code in {200, 302, 409, 422}, role
        else:
            assert posted.status_code == 403, role
        for method in ("put", "patch", "delete"):
            assert getattr(client, method)(url).status_code == 405, (role, method)


@pytest.mark.parametrize("name", [name for name, page in PAGES.items() if page.do])
def test_a_method_in_a_header_or_a_field_does_not_open_a_door(filled, name):
    url = PAGES[name].url(name, filled)
    shut_out = [role for role in ROLES if role not in PAGES[name].do]
    before = snapshot()
    for role in shut_out:
        client = enter(getattr(filled.people, role))

        answer = client.post(url, {"_method": "GET"}, headers={"X-HTTP-Method-Override": "GET"})

        assert answer.status_code == 403
    assert snapshot() == before


def test_nothing_changes_by_looking(filled):
    before = snapshot()
    client = enter(filled.people.owner)

    for url in readable(filled, "owner").values():
        client.get(url)

    assert snapshot() == before


@pytest.mark.parametrize("name", PUBLIC)
def test_open_doors_answer_only_the_methods_they_name(filled, name):
    for method in ("get", "post", "put", "patch", "delete"):
        answer = getattr(enter(None), method)(reverse(name))

        assert (answer.status_code != 405) is (method.upper() in PUBLIC[name]), method


ODD = [
    (999_999, "LZZZZ8"),
    (10**30, "L" * 300),
    (0, "'; DROP TABLE studio_user; --"),
    (2**63, "%"),
    (7_777_777, "\x00"),
    (8_888_888, "\N{RIGHT-TO-LEFT OVERRIDE}L0001\N{ZERO WIDTH SPACE}"),
]


def _odd(name, house, number, code):
    """The address of a page with a number and a code that name nothing in place of its own."""
    own = PAGES[name].args(house)
    return reverse(name, args=[code if isinstance(arg, str) else number for arg in own])


@pytest.mark.parametrize("name", [name for name, page in PAGES.items() if page.args.__name__ != "none"])
def test_what_names_nothing_is_not_found(filled, name):
    page = PAGES[name]
    client = enter(filled.people.owner)
    own = page.url(name, filled)
    first = str(page.args(filled)[0])
    urls = [_odd(name, filled, number, code) for number, code in ODD]
    urls += [
        own.replace(first, odd, 1) for odd in ("-1", "1e3", "..%2F..%2Fetc", "\N{ARABIC-INDIC DIGIT ONE}a")
    ]
    for url in urls:
        for method in ("get", "post"):
            answer = getattr(client, method)(url)

            # A door that takes one method only may say so first; nothing is found behind it either way.
            assert answer.status_code in ({404} if page.see and page.do else {404, 405}), (method, url)


def test_a_code_is_found_however_it_was_typed(filled):
    code = filled.cured.code
    client = enter(filled.people.maker)

    for typed in (code.lower(), f"{code[:3]} {code[3:]}", f"{code[:3]}-{code[3:]}", code.replace("0", "O")):
        assert client.get(reverse("inventory:lot-detail", args=[typed])).status_code == 200, typed


def test_ids_of_another_thing_open_nothing(filled):
    # A draw of one batch under the code of another, and a posting that is no draw.
    client = enter(filled.people.maker)
    for posting in (filled.draws["wax"].pk, filled.dispatch.posting_id):
        url = reverse("batches:draw-correct", args=[filled.fresh.code, posting])
        assert client.get(url).status_code == 404


def test_a_view_that_declares_nothing_is_closed_to_everybody(filled):
    def view(request):
        return HttpResponse("the safe")

    middleware = AccessMiddleware(view)
    for method in ("get", "post", "put"):
        request = getattr(RequestFactory(), method)("/safe/")
        for role in ROLES:
            request.user = getattr(filled.people, role)
            with pytest.raises(PermissionDenied):
                middleware.process_view(request, view, [], {})
        request.user = AnonymousUser()
        assert middleware.process_view(request, view, [], {}).status_code == 302


def test_a_swapped_in_answer_sends_a_stranger_to_the_sign_in_page_as_a_whole(filled):
    answer = enter(None).get("/stock/", headers={"HX-Request": "true"})

    assert (answer.status_code, answer.headers["HX-Redirect"]) == (204, "/sign-in/")


def _figures():
    """Every sum of money the fixture's books hold, to the cent, as a page or an export would write it."""
    sums = {value for lot in Lot.objects.all() for value in (lot.value,)}
    sums |= {movement.value for movement in Movement.objects.all()}
    cents = {f"{abs(Decimal(value) / 10**6):.2f}" for value in sums if abs(value) >= 10_000}
    # By hand: goods, freight and landed of the delivery, unit costs, the rates, and the cost of the first run.
    by_hand = {"61.30", "43.70", "6.13", "4.37", "67.43", "48.07", "6.74", "2.09", "24.60", "7.40", "32.22"}
    # Of the offers and orders: a pack, a kilogram, a line.
    ordered = {"83.17", "80.53", "81.29", "4.16", "4.03", "4.06", "483.18", "2.93", "8.79", "2.97", "5.86"}
    return cents | by_hand | ordered | {"64.22", "7.14", "0.127", "10.50", "115.50"}


def _cells(content):
    sheet = load_workbook(io.BytesIO(content), read_only=True).active
    return "\n".join(str(cell) for row in sheet.iter_rows(values_only=True) for cell in row)


def test_a_maker_without_costs_never_meets_a_price(filled):
    client = enter(filled.people.maker)
    for what, url in readable(filled, "maker").items():
        page = client.get(url)
        assert page.status_code == 200, what
        if page.headers["Content-Type"].startswith("text/html"):
            # A token is random letters, and now and then they spell a currency.
            text = re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", page.content.decode())
            assert "$" not in text, what
            assert "USD" not in text or what in {"inventory:delivery-add", "an order arrived"}, what
            assert not [figure for figure in _figures() if f">{figure}" in text or f" {figure}" in text], what


def test_nor_in_an_export(filled):
    client = enter(filled.people.maker)
    join = {True: "&", False: "?"}
    for what, url in tables(filled, "maker").items():
        for kind in ("csv", "xlsx"):
            content = client.get(f"{url}{join['?' in url]}format={kind}").content
            text = content.decode("utf-8-sig") if kind == "csv" else _cells(content)
            assert "Value" not in text, (what, kind)
            assert "Goods" not in text, (what, kind)
            lines = [cell for line in text.splitlines() for cell in line.split(",")]
            assert not _figures() & set(lines), (what, kind)


def test_those_who_may_see_costs_do_meet_them(filled):
    # So that the two tests above cannot pass because nothing is ever shown.
    for role in COSTS:
        page = enter(getattr(filled.people, role)).get(
            reverse("inventory:delivery-detail", args=[filled.delivery.pk])
        )
        for figure in ("$61.30", "$6.13", "$67.43", "$105.00", "$10.50", "$115.50"):
            assert figure in page.content.decode(), (role, figure)


def test_a_maker_without_costs_gets_no_cost_from_a_refused_form(filled):
    client = enter(filled.people.maker)

    page = client.post(reverse("batches:batch-read", args=[filled.finished.code]), {"temperature": "warm"})

    assert page.status_code == 422
    assert "$" not in page.content.decode()


def test_only_the_owner_changes_who_somebody_is(filled):
    # Mass assignment: fields that a form does not have do nothing.
    maker = filled.people.maker
    client = enter(maker)

    client.post("/account/", {"role": "owner", "costs_allowed": "on", "is_superuser": "on"})

    maker.refresh_from_db()
    assert (maker.role, maker.costs_allowed, maker.is_superuser) == ("maker", False, False)


def test_a_hidden_field_does_not_change_what_the_form_is_about(filled):
    client = enter(filled.people.maker)
    before = Posting.objects.count()

    client.post(
        reverse("inventory:lot-change", args=[filled.shelf["wax"].code]),
        {
            "place": "Shelf B2",
            "on_hand": "1",
            "value": "0",
            "held": "on",
            "code": "L00001",
            "supplier_lot": "TW-88",
        },
    )

    lot = Lot.objects.get(pk=filled.shelf["wax"].pk)
    assert (lot.place, lot.code, lot.held) == ("Shelf B2", filled.shelf["wax"].code, False)
    assert lot.on_hand == filled.books.of(filled.shelf["wax"])[0]
    assert Posting.objects.count() == before
