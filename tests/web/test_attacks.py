"""What a hostile visitor or a hurried colleague tries: pages that fall over, work without bound, changes lost, and
doors left on the latch."""

import csv
import io
import re
from datetime import date

import pytest
from django.contrib.auth.models import AbstractUser
from django.db import connection
from django.test import RequestFactory
from django.urls import reverse

from batches.models import FormulaVersion
from batches.planning import plans
from batches.recipe import RecipeError
from batches.tracing.trace import trace_of
from batches.tracing.tree import forward, outline
from inventory.models import Item, Lot, LotChange, Supplier
from studio.models import Role, Studio, User
from studio.people.access import client_address
from studio.web import tables
from tests.house import NOW, grams
from tests.web.conftest import PASSWORD, enter
from tests.web.forms import delivery, key, line, refused
from tests.web.pages import PAGES

pytestmark = pytest.mark.django_db
BEYOND = str(2**63)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


# -- pages that fall over ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path",
    [
        f"/formulas/{BEYOND}/versions/1/",
        f"/formulas/{BEYOND}/versions/1/change/",
        f"/formulas/1/versions/{BEYOND}/",
        f"/formulas/{BEYOND}/versions/add/",
        f"/stock/items/{BEYOND}/change/",
        f"/stock/ledger/{BEYOND}/reverse/",
        f"/people/{BEYOND}/",
        "/stock/lots/%00/",
        "/stock/lots/L0%0001X/ship/",
        "/batches/%00/",
        "/batches/%00/ticket.pdf",
        "/trace/%00/",
    ],
)
def test_a_number_or_a_sign_no_database_knows_is_not_found(owner_page, path):
    assert owner_page.get(path).status_code == 404


def test_no_key_in_any_address_is_too_large_for_the_database(filled, owner_page):
    for name, page in PAGES.items():
        args = page.args(filled)
        for place, arg in enumerate(args):
            if isinstance(arg, int):
                url = reverse(name, args=[*args[:place], BEYOND, *args[place + 1 :]])
                assert owner_page.get(url).status_code in {404, 405}, url


@pytest.mark.parametrize("lead", ["/sign-in/", "/sign-in/?next=/sign-in/", "//sign-in/"])
def test_the_sign_in_page_does_not_lead_to_itself(owner_page, lead):
    answer = owner_page.get("/sign-in/", {"next": lead})

    assert (answer.status_code, answer.headers["Location"]) == (302, "/")


def test_more_lots_and_draws_than_a_query_may_compare_still_show(filled, owner_page):
    # One by one they would make an expression of a thousand terms, which SQLite refuses.
    books, owner = filled.books, filled.people.owner
    for _ in range(6):
        lots = books.deliver(books.arrival("wick", 1, "1", packs=180, lot_per_pack=True)).posting.movements
    lots = list(Lot.objects.filter(movements__in=lots.all()))
    batch = books.plan(filled.candle, 1080)
    for _ in range(6):
        books.draw_into(batch, *[(lot, 1) for lot in Lot.objects.filter(item__name="wick", on_hand=1)[:180]])
    books.finish(batch, 1, without=True)

    assert len(lots) == 180
    assert batch.draws.count() == 1080
    for path in (
        "/stock/ledger/",
        "/",
        batch.get_absolute_url(),
        "/costing/",
        "/costing/?format=csv",
        "/batches/",
    ):
        assert enter(owner).get(path).status_code == 200, path


def test_material_melted_again_and_again_is_traced_to_the_end(filled, owner_page):
    books = filled.books
    for name in ("Rest of the pot", "Pot again"):
        books.item(name, kind="wax", made_here=True)
    versions = [
        books.formula("Pot again", [("Rest of the pot", "wax_share", 1_000_000)]),
        books.formula("Rest of the pot", [("Pot again", "wax_share", 1_000_000)]),
    ]
    first = lot = books.receive("Rest of the pot", "1 kg", cost=10)
    for turn in range(60):
        batch = books.plan(versions[turn % 2], grams(100))
        books.draw_into(batch, (lot, "100 g"))
        (lot,) = books.finish(batch, good=grams(100))

    for start, end in ((first, lot), (lot, first)):
        page = owner_page.get(reverse("batches:trace-code", args=[start.code]))
        assert page.status_code == 200
        assert end.get_absolute_url() in page.content.decode()
        text = page.content.decode()
        assert text.count("<ul") == text.count("</ul>")
        assert len(re.findall(r"<li[ >]", text)) == text.count("</li>")


def test_a_tree_is_drawn_in_order(filled):
    # Wax went into four batches; each opens before what came of it and closes after it.
    root = forward(trace_of(filled.shelf["wax"]))
    steps = outline(root)

    assert [step for step, _ in steps].count("open") == [step for step, _ in steps].count("close")
    assert steps[0] == ("open", root)
    assert steps[-1] == ("close", root)
    depth = lowest = 0
    for step, _ in steps:
        depth += {"open": 1, "close": -1}.get(step, 0)
        lowest = min(lowest, depth)
    assert (depth, lowest) == (0, 0)


# -- work without bound --------------------------------------------------------------------------------------


def test_one_delivery_does_not_ask_for_a_mountain_of_codes(filled, maker):
    many = line(filled, "wick", packs="10000", each="1", price="10", lot_per_pack="on")
    answer = maker.post("/stock/deliveries/add/", delivery(filled, many))
    refused(answer, answer.context["lines"].forms[0], "lot_per_pack", "200")

    # The most of one line, four times, is more than one delivery takes.
    several = [line(filled, "wick", packs="200", each="1", price="10", lot_per_pack="on") for _ in range(4)]
    answer = maker.post("/stock/deliveries/add/", delivery(filled, *several))
    assert answer.status_code == 422
    assert "at most 600" in str(answer.context["lines"].non_form_errors())

    assert maker.post("/stock/deliveries/add/", delivery(filled, *several[:2])).status_code == 302
    # Without a code each, ten thousand packs are one lot.
    del many["lot_per_pack"]
    assert maker.post("/stock/deliveries/add/", delivery(filled, many)).status_code == 302


def test_lines_of_one_item_together_stay_within_what_can_be_kept(filled):
    # 6 × 10^14 twice: each within 10^15, both together beyond it. Unchecked, a few hundred such plans would add up to
    # more than a database can sum, and no page that adds up what is promised could be shown.
    books = filled.books
    wicks = [("wick", "per_unit", 6 * 10**14)] * 2
    version = books.formula("Wick forest", [("wax", "wax_share", 1_000_000), *wicks], fill="100 g")

    with pytest.raises(RecipeError, match="more than the books can hold"):
        books.plan(version, 1)


# -- changes lost --------------------------------------------------------------------------------------------


def as_shown(page):
    """What a browser would send back untouched, the hidden fields with what was shown among it."""
    data = {}
    for tag in re.findall(r"<(?:input|select|textarea)\b[^>]*>", page.content.decode()):
        given = dict(re.findall(r'([a-z-]+)="([^"]*)"', tag))
        if "name" in given and given.get("type") in {"hidden", "text", "email", "number", "date", None}:
            data[given["name"]] = given.get("value", "")
        if given.get("type") == "checkbox" and re.search(r"\bchecked\b", tag):
            data[given["name"]] = given.get("value", "on")
    for name, options in re.findall(r'<select name="([^"]+)".*?>(.*?)</select>', page.content.decode(), re.S):
        chosen = re.search(r'value="([^"]*)" selected', options)
        data[name] = chosen[1] if chosen else ""
    for name, text in re.findall(
        r'<textarea name="([^"]+)"[^>]*>\n?(.*?)</textarea>', page.content.decode(), re.S
    ):
        data[name] = text
    return data


@pytest.mark.parametrize(
    ("of", "first", "second"),
    [
        ("item", {"place": "Shelf C1"}, {"flash_point_mc": "93"}),
        ("item", {"retired": "on"}, {"notes": "Keep cool"}),
        ("supplier", {"phone": "555 0117"}, {"lead_days": "9"}),
        ("studio", {"page_size": "Letter"}, {"name": "Ninefold Lane Candles"}),
        ("person", {"role": "bookkeeper"}, {"first_name": "Tobin Ash"}),
        ("lot", {"place": "Shelf C1"}, {"supplier_lot": "TW-89"}),
    ],
)
def test_two_people_changing_different_fields_keep_both(filled, of, first, second):
    wax = filled.shelf["wax"]
    url, row = {
        "item": (reverse("inventory:item-change", args=[wax.item_id]), wax.item),
        "supplier": (reverse("inventory:supplier-change", args=[wax.supplier_id]), wax.supplier),
        "studio": ("/settings/", Studio.objects.get()),
        "person": (filled.people.maker.get_absolute_url(), filled.people.maker),
        "lot": (reverse("inventory:lot-change", args=[wax.code]), wax),
    }[of]
    browser, colleague = enter(filled.people.owner), enter(filled.people.owner)
    shown, same = as_shown(browser.get(url)), as_shown(colleague.get(url))

    assert colleague.post(url, same | first).status_code == 302
    assert browser.post(url, shown | second).status_code == 302

    row = type(row).objects.get(pk=row.pk)
    kept = {"flash_point_mc": 93_000, "lead_days": 9, "retired": True}
    for name, typed in {**first, **second}.items():
        assert getattr(row, name) == kept.get(name, typed), name
    if of == "lot":
        assert list(LotChange.objects.order_by("pk").values_list("what", "after")) == [
            ("place", "Shelf C1"),
            ("supplier's lot", "TW-89"),
        ]


def test_what_a_colleague_wrote_meanwhile_is_not_overwritten_unseen(filled):
    owner = enter(filled.people.owner)
    wax = Item.objects.get(name="wax")
    url = reverse("inventory:item-change", args=[wax.pk])
    shown = as_shown(owner.get(url))
    Item.objects.filter(pk=wax.pk).update(flash_point_mc=140_000)

    page = owner.post(url, shown | {"flash_point_mc": "230"})

    refused(page, page.context["form"], "flash_point_mc", "meanwhile", typed=["230"])
    wax.refresh_from_db()
    assert wax.flash_point_mc == 140_000
    # Pressed again, knowing of it, it is taken.
    assert owner.post(url, as_shown(page)).status_code == 302
    wax.refresh_from_db()
    assert wax.flash_point_mc == 230_000


def test_a_field_can_still_be_emptied_and_a_tick_taken_away(filled):
    owner = enter(filled.people.owner)
    wax = Item.objects.get(name="wax")
    Item.objects.filter(pk=wax.pk).update(place="Shelf B2", flash_point_mc=140_000, retired=True)
    url = reverse("inventory:item-change", args=[wax.pk])
    data = as_shown(owner.get(url)) | {"place": "", "flash_point_mc": ""}
    del data["retired"]

    assert owner.post(url, data).status_code == 302
    wax.refresh_from_db()
    assert (wax.place, wax.flash_point_mc, wax.retired) == ("", None, False)


def test_changing_ones_password_does_not_bring_back_a_right_that_was_taken_away(filled, monkeypatch):
    # While the slow sums over the password run, the owner takes the role away and shuts the door.
    person = User.objects.get(pk=filled.people.owner.pk)
    browser = enter(person)
    plain = AbstractUser.set_password

    def meanwhile(self, raw):
        User.objects.filter(pk=person.pk).update(role=Role.MAKER, is_active=False)
        plain(self, raw)

    monkeypatch.setattr(AbstractUser, "set_password", meanwhile)
    new = "eleven paper lanterns"
    browser.post("/account/", {"old_password": PASSWORD, "new_password1": new, "new_password2": new})

    person.refresh_from_db()
    assert (person.role, person.is_active) == (Role.MAKER, False)
    assert person.check_password(new)


def test_two_owners_who_demote_each_other_leave_one(filled, monkeypatch):
    other = User.objects.create_user("edda", first_name="Edda", password=PASSWORD, role=Role.OWNER)
    url = other.get_absolute_url()
    browser = enter(filled.people.owner)
    data = as_shown(browser.get(url)) | {"role": "maker"}
    # The other's request was faster by a hair: it came between this page's checks and its save.
    from studio.web.forms import PersonForm

    plain = PersonForm.is_valid

    def meanwhile(self):
        valid = plain(self)
        User.objects.filter(pk=filled.people.owner.pk).update(role=Role.MAKER)
        return valid

    monkeypatch.setattr(PersonForm, "is_valid", meanwhile)
    page = browser.post(url, data)

    assert page.status_code == 422
    assert User.objects.filter(role=Role.OWNER, is_active=True).get() == other


@pytest.mark.parametrize(
    ("url", "model", "fields"),
    [
        ("/stock/items/add/", Item, {"name": "Moor wax", "kind": "wax", "unit": "g"}),
        ("/stock/suppliers/add/", Supplier, {"name": "Moor"}),
    ],
)
def test_two_people_adding_the_same_name_at_once_make_one(filled, maker, monkeypatch, url, model, fields):
    from inventory.items.forms import ItemForm
    from inventory.purchasing.forms_suppliers import SupplierForm

    form = ItemForm if model is Item else SupplierForm
    plain = form.is_valid

    def meanwhile(self):
        valid = plain(self)
        if not model.objects.filter(name=fields["name"]).exists():
            model.objects.create(**fields)
        return valid

    monkeypatch.setattr(form, "is_valid", meanwhile)
    page = maker.post(url, {**fields, "submission_key": key()})

    assert page.status_code == 409
    assert model.objects.filter(name=fields["name"]).count() == 1


def test_a_version_rewritten_while_a_plan_was_shown_is_planned_as_it_is_now(filled):
    books = filled.books
    stale = FormulaVersion.objects.get(pk=filled.draft.pk)
    FormulaVersion.objects.filter(pk=stale.pk).update(fill_ug=grams(200))

    batch = plans.plan(stale, 10, planned_on=NOW.date(), signature=books.sign())

    # Ten of 200 g, 93 % of it wax.
    assert filled.shelf["wax"].item.commitments.get(source=batch.code).quantity == grams(1860)


# -- files ---------------------------------------------------------------------------------------------------

WIDE = "\N{FULLWIDTH EQUALS SIGN}"


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        # OWASP, CSV Injection: the signs at the start of a cell, after its white space, or after a separator.
        ("=1+1", "'=1+1"),
        (" =1+1", "' =1+1"),
        ("\n@SUM(1)", "'\n'@SUM(1)"),
        (f"{WIDE}1+1", f"'{WIDE}1+1"),
        ("\N{FULLWIDTH PLUS SIGN}1", "'\N{FULLWIDTH PLUS SIGN}1"),
        ("\N{NO-BREAK SPACE}-1", "'\N{NO-BREAK SPACE}-1"),
        ("jar;=1+1", "jar;'=1+1"),
        ("jar\t+1", "jar\t'+1"),
        ('jar";@x', "jar\";'@x"),
        # What is no formula stays as it was typed.
        ("Cedar & Black Tea", "Cedar & Black Tea"),
        ("6-wick bowl, a=b", "6-wick bowl, a=b"),
        ("5 - 7 days; 3 at most", "5 - 7 days; 3 at most"),
    ],
)
def test_no_text_reaches_a_spreadsheet_as_a_formula(typed, written):
    assert tables.harmless(typed) == written


def test_a_name_that_hides_a_formula_behind_a_separator_is_told_apart(filled, owner_page):
    Supplier.objects.filter(pk=filled.shelf["wax"].supplier_id).update(contact="Ash;=1+1")

    text = owner_page.get("/stock/suppliers/?format=csv").content.decode("utf-8-sig")

    assert [row[1] for row in csv.reader(io.StringIO(text))] == ["Contact", "Ash;'=1+1"]


# -- doors ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("forwarded", ["nonsense", "1.2.3.4.5", "198.51.100.7:4711", "x" * 5000])
def test_what_is_no_address_is_not_taken_for_one(forwarded):
    request = RequestFactory(REMOTE_ADDR="192.0.2.1").post(
        "/sign-in/", headers={"X-Forwarded-For": forwarded}
    )

    assert client_address(request) == "192.0.2.1"


def test_behind_a_proxy_nobody_locks_a_colleague_out(filled, settings):
    settings.AXES_ENABLED, settings.AXES_CLIENT_IP_CALLABLE = True, "studio.people.access.client_address"
    wrong, right = ({"username": "maren", "password": word} for word in ("wrong", PASSWORD))
    for _ in range(8):
        answer = enter(None).post("/sign-in/", wrong, headers={"X-Forwarded-For": "203.0.113.9"})
    assert answer.status_code == 429

    answer = enter(None).post("/sign-in/", right, headers={"X-Forwarded-For": "198.51.100.7"})
    assert answer.status_code == 302


# -- the file itself -----------------------------------------------------------------------------------------


def test_a_reversal_is_not_replaced_by_another_under_its_unique_column(filled):
    # INSERT OR REPLACE takes away the row that holds the same unique value, under whatever id.
    if connection.vendor != "sqlite":
        return
    table = "inventory_posting"
    kept = filled.reversal
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {table} WHERE id = %s", [kept.pk])
        columns = [column[0] for column in cursor.description]
        row = dict(zip(columns, cursor.fetchone(), strict=True)) | {
            "id": kept.pk + 10_000,
            "reason": "forged",
        }
        marks = ", ".join(["%s"] * len(row))
        with pytest.raises(Exception, match="never replaced"):
            cursor.execute(
                f"INSERT OR REPLACE INTO {table} ({', '.join(row)}) VALUES ({marks})", list(row.values())
            )


# -- books that are closed -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("field", "value"), [("kind", "vessel"), ("made_here", "on")])
def test_what_stood_in_closed_books_is_not_sorted_otherwise(filled, owner_page, field, value):
    # A dye that was bought is a material; a vessel would be a component, and what is made here a blend.
    filled.books.close(date(2026, 3, 10))
    item = filled.books.item("dye")
    url = reverse("inventory:item-change", args=[item.pk])
    form = owner_page.get(url).context["form"]
    data = {name: form[name].value() or "" for name in form.fields if form[name].value() is not False}
    other = {"unit": "each"} if field == "kind" else {}

    answer = owner_page.post(url, data | {field: value, "submission_key": key()} | other)

    refused(answer, answer.context["form"], field, "closed")
    named = owner_page.post(url, data | {"name": "Dye, blue", "submission_key": key()})
    assert named.status_code == 302
