"""Bytes that are no text, odd questions, and names that would run: shown as typed, everywhere.

OWASP Cheat Sheet Series, Cross Site Scripting Prevention; OWASP, CSV Injection (from memory).
"""

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from batches.formulas import approving
from batches.models import Batch, Complaint, FillCheck, Recall
from inventory.models import Dispatch, Document, Item, Lot, Posting, Shop, Supplier
from studio.models import Studio
from tests.files import pdf, picture
from tests.house import day, money
from tests.web.conftest import enter
from tests.web.forms import (
    ADD,
    delivery,
    draw_url,
    drawn,
    formula,
    ingredient,
    key,
    line,
    refused,
    send_url,
    sent,
)
from tests.web.pages import readable, tables


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.mark.parametrize(
    "body",
    [
        b"name=%ED%A0%80&submission_key=",  # a lone surrogate
        b"name=%FF%FE%00&submission_key=",
        b"name=%C0%AF&submission_key=",  # an overlong slash
        b"name=" + b"x" * 1_000_000,
        b"&&&&=&;;",
        b"name[a][b][c][d]=1",
    ],
)
def test_bytes_that_are_no_text_do_no_harm(filled, maker, body):
    before = Supplier.objects.count()

    for content_type in ("application/x-www-form-urlencoded", "text/plain", "application/json"):
        assert maker.post("/stock/suppliers/add/", body, content_type).status_code in {200, 409, 422}
    assert Supplier.objects.count() == before


ODD_QUESTIONS = [
    "\x00",
    "' OR '1'='1",
    "%' --",
    "9" * 5_000,
    "-1",
    "\N{RIGHT-TO-LEFT OVERRIDE}\N{ZERO WIDTH JOINER}",
    "{{ 7*7 }}",
    "<script>alert(1)</script>",
    "é\N{COMBINING ACUTE ACCENT}\N{PILE OF POO}",
    "٣",
    "²",
    "1e999",
    "NaN",
]


@pytest.mark.parametrize("odd", ODD_QUESTIONS)
def test_an_odd_question_gets_a_page(filled, maker, odd):
    query = dict.fromkeys(
        (
            "q",
            "kind",
            "state",
            "retired",
            "page",
            "code",
            "formula",
            "quantity",
            "supplier",
            "line",
            "planned_on",
            "note",
            "next",
            "show",
            "span",
            "item",
            "lot",
            "by",
            "from_on",
            "to_on",
            "group",
            "c",
            "scope",
            "complaint",
            "table",
            "low",
            "high",
            "channel",
            "product",
            "first",
            "last",
            "customer",
        ),
        odd,
    )
    for url in (
        "/stock/",
        "/stock/lots/",
        "/stock/ledger/",
        "/stock/deliveries/",
        "/stock/deliveries/add/",
        "/batches/",
        "/batches/plan/",
        "/trace/",
        "/complaints/",
        "/complaints/add/",
        "/complaints/common-lots/",
        "/recalls/start/",
        filled.complaint.get_absolute_url(),
        filled.drill.get_absolute_url(),
        "/find/",
        "/formulas/",
        "/formulas/compare/",
        "/burn-tests/",
        reverse("batches:burn-read", args=[filled.burning.pk]),
        reverse("batches:fill-weight", args=[filled.candle.formula_id]),
        reverse("batches:version-add", args=[filled.candle.formula_id]),
        "/stock/suppliers/",
        "/stock/shipments/",
        "/stock/shipments/returns/",
        "/stock/customers/",
        "/stock/shops/",
        "/stock/documents/",
        filled.shelf["wax"].item.get_absolute_url(),
        filled.fill.get_absolute_url(),
        reverse("inventory:item-ledger", args=[filled.shelf["wax"].item_id]),
        reverse("inventory:item-documents", args=[filled.shelf["wax"].item_id]),
    ):
        page = maker.get(url, query)
        assert page.status_code in {200, 422}, url
        assert b"<script>alert" not in page.content
        exported = maker.get(url, query | {"format": "csv"})
        assert exported.status_code in {200, 422}, url


# Names that are more than names

NASTY = '<script>alert("x")</script>{{ 907*9091 }}{% now "Y" %}${907*9091}\'"&amp;'
SHORT = '"><img src=x onerror=alert(1)>'


def shown_as_missing(version):
    return approving.missing(approving.conditions(version))


def nasty_studio(filled):
    """Every text field a person may fill, filled with what would run, through the pages."""
    owner, house = enter(filled.people.owner), filled

    def post(url, data, code=302):
        answer = owner.post(url, {"submission_key": key(), **data})
        assert answer.status_code == code, (
            url,
            answer.context and answer.context.get("form") and answer.context["form"].errors,
        )
        return answer

    post(
        "/settings/",
        {
            "name": NASTY[:80],
            "currency": "USD",
            "mass_unit": "g",
            "temperature_unit": "C",
            "page_size": "A4",
            "time_zone": "UTC",
            "market": "eu",
            "address": NASTY,
            "telephone": NASTY[:40],
        },
    )
    post(
        f"/people/{house.people.maker.pk}/",
        {"first_name": NASTY[:80], "username": "tobin", "role": "maker", "is_active": "on", "password": ""},
    )
    post("/stock/suppliers/add/", {"name": NASTY, "contact": NASTY, "phone": SHORT, "notes": NASTY})
    supplier = Supplier.objects.get(name=NASTY)
    post("/stock/items/add/", {"name": NASTY, "kind": "dye", "unit": "g", "place": SHORT, "notes": NASTY})
    product = {"name": f"{NASTY} jar"[:120], "kind": "finished", "unit": "each"}
    post("/stock/items/add/", product)
    item = Item.objects.get(name=NASTY)
    for thing in (NASTY, "wax"):
        post(
            ADD,
            delivery(
                house,
                line(house, thing, each="5 g", supplier_lot=SHORT),
                supplier=str(supplier.pk),
                reference=SHORT,
            ),
        )
    lot = Lot.objects.get(item=item)
    post(
        reverse("inventory:lot-change", args=[lot.code]),
        {"place": SHORT, "expires_on": "", "supplier_lot": NASTY[:60]},
    )
    for act in ("hold", "release"):
        post(reverse(f"inventory:lot-{act}", args=[lot.code]), {"reason": NASTY})
    paper = SimpleUploadedFile('"><img src=x>.pdf', pdf())
    post(
        reverse("inventory:document-add", args=[item.pk]),
        {"file": paper, "kind": "other", "note": NASTY[:120]},
    )
    paper = Document.objects.latest("pk")
    owner.post(
        reverse("inventory:document-erase", args=[paper.pk]), {"reason": NASTY, "submission_key": key()}
    )
    made = Item.objects.get(name=product["name"])
    post("/formulas/add/", {"name": NASTY, "item": str(made.pk)})
    version = reverse("batches:version-add", args=[made.formulas.get().pk])
    lines = [ingredient(house, "wax", "wax_share", "100"), ingredient(house, NASTY, "of_melt", "1")]
    post(version, formula(lines, what_changed=NASTY, notes=NASTY, label_words=NASTY))
    odd = made.formulas.get().versions.get()
    owner.post(
        reverse("batches:version-state", args=[odd.formula_id, 1]),
        {"state": "approved", "reason": NASTY, "submission_key": key(), "shown": shown_as_missing(odd)},
    )
    jars = {"jars-TOTAL_FORMS": "1", "jars-INITIAL_FORMS": "0", "jars-0-start": "300", "cycle_minutes": "240"}
    post(reverse("batches:burn-start", args=[odd.formula_id, 1]), jars | {"plan": NASTY, "jars-0-melt": ""})
    burned = odd.burn_tests.get()
    seen = {"minutes": "240", "weight": "280", "soot": "none", "mushrooming": "none", "note": NASTY}
    jar = burned.jars.get()
    reading = {f"jar{jar.pk}-{name}": value for name, value in seen.items()}
    post(reverse("batches:burn-read", args=[burned.pk]), reading | {"cycle": "1"})
    strike = reverse("batches:burn-strike", args=[burned.pk, jar.readings.get().pk])
    owner.post(strike, {"reason": NASTY, "submission_key": key()})
    decide = reverse("batches:burn-decide", args=[burned.pk])
    owner.post(decide, {"state": "broken_off", "verdict": NASTY, "submission_key": key()})
    plan = {
        "formula": str(made.formulas.get().versions.get().pk),
        "quantity": "1",
        "planned_on": "2026-03-20",
        "note": NASTY,
    }
    post("/batches/plan/", plan)
    batch = Batch.objects.latest("pk")
    for name, code, amount in (("wax", house.shelf["wax"].code, "99"), (NASTY, lot.code, "1")):
        post(draw_url(batch), drawn(house, batch, name, (code, amount)))
    post(
        reverse("batches:batch-read", args=[batch.code]), {"kind": "pour", "temperature": "60", "note": NASTY}
    )
    posting = Posting.objects.filter(movements__lot=lot, kind="draw").get()
    correct = reverse("batches:draw-correct", args=[batch.code, posting.pk])
    post(correct, {**drawn(house, batch, NASTY, (lot.code, "2")), "reason": NASTY, "submission_key": key()})
    post("/defects/add/", {"words": NASTY[:60]})
    post(
        reverse("batches:batch-finish", args=[batch.code]),
        {"good": "1", "scrap_1": "1", "defect_1": NASTY[:60], "sure": "on", "last": "all"},
    )
    candle = Lot.objects.get(outcome__batch=batch)
    fill = {"declared": "100", "market": "eu", "lot_size": "1", "unit": "g", "weights": "101", "note": NASTY}
    post(reverse("batches:fill-add", args=[batch.code]), fill)
    Lot.objects.filter(pk=candle.pk).update(ready_on=None)
    looked_at = {"label_right": "on", "warning_on": "on", "note": NASTY[:120], "despite": NASTY[:80]}
    release = reverse("batches:lot-release", args=[candle.code])
    assert owner.post(release, looked_at | {"submission_key": key()}).status_code == 302
    who = {"customer": NASTY[:120], "contact": NASTY[:120], "reach": NASTY}
    post(send_url(candle), sent("1", channel=SHORT, reference=SHORT, **who))
    dispatch = Dispatch.objects.latest("pk")
    what = {"kind": "glass", "what": NASTY, "units": "1", "code": candle.code, "customer": NASTY[:120]}
    post("/complaints/add/", what | {"reach": NASTY, "reference": SHORT})
    complaint = Complaint.objects.latest("pk")
    photo = SimpleUploadedFile("jar.png", picture())
    post(reverse("batches:complaint-photo-add", args=[complaint.code]), {"photo": photo, "text": NASTY})
    settled = {"cause": NASTY, "answer": NASTY, "outcome": "replaced", "state": "closed"}
    post(reverse("batches:complaint-settle", args=[complaint.code]), settled)
    post("/recalls/start/", {"codes": candle.code, "is_drill": "yes", "why": NASTY, "advice": NASTY})
    recall = Recall.objects.latest("pk")
    party = recall.parties.get()
    said = {"kind": "told", "on": "2026-03-20", "note": NASTY}
    post(reverse("batches:recall-party", args=[recall.code, party.pk]), said)
    back = reverse("batches:recall-answer-take-back", args=[recall.code, party.answers.get().pk])
    post(back, {"reason": NASTY})
    post(reverse("batches:recall-close", args=[recall.code]), {"finding": NASTY})
    post(
        reverse("inventory:dispatch-return", args=[dispatch.pk]),
        {"reason": NASTY[:200], f"lot-{candle.pk}": "1", f"place-{candle.pk}": SHORT, "happened_at": ""},
    )
    for kind in ("return", "dispatch"):
        undone = Posting.objects.filter(kind=kind).latest("pk")
        post(reverse("inventory:posting-reverse", args=[undone.pk]), {"reason": NASTY})
    post(reverse("inventory:shop-add"), {"name": NASTY[:60], "new_channel": NASTY[:60], "becomes": "order"})
    shop = Shop.objects.latest("pk")
    orders = SimpleUploadedFile("a.csv", f"No,What,Many\n1,{SHORT},1\n2,{NASTY[:60]},x\n".encode())
    post(shop.get_absolute_url(), {"file": orders})
    file = shop.waiting.get().get_absolute_url()
    columns = {"column-reference": "No", "column-product": "What", "column-quantity": "Many"}
    post(file, {**columns, "columns": "1"})
    return {
        "complaint": complaint.get_absolute_url(),
        "complaint form": reverse("batches:complaint-change", args=[complaint.code]),
        "recall": recall.get_absolute_url(),
        "recall's customer": reverse("batches:recall-party", args=[recall.code, party.pk]),
        "letters": reverse("batches:recall-letters", args=[recall.code]),
        "report": reverse("batches:recall-report", args=[recall.code]),
        "item": item.get_absolute_url(),
        "supplier": supplier.get_absolute_url(),
        "lot": lot.get_absolute_url(),
        "candle": candle.get_absolute_url(),
        "batch": batch.get_absolute_url(),
        "version": batch.version.get_absolute_url(),
        "formula": made.formulas.get().get_absolute_url(),
        "state": reverse("batches:version-state", args=[odd.formula_id, 1]),
        "burn test": burned.get_absolute_url(),
        "compared": f"{reverse('batches:version-compare')}?left={odd.pk}&right={odd.pk}",
        "fill check": FillCheck.objects.latest("pk").get_absolute_url(),
        "defects": reverse("batches:defect-list"),
        "dispatch": dispatch.get_absolute_url(),
        "dispatch form": reverse("inventory:dispatch-change", args=[dispatch.pk]),
        "slip": reverse("inventory:dispatch-slip", args=[dispatch.pk]),
        "customer": dispatch.customer.get_absolute_url(),
        "customer form": reverse("inventory:customer-change", args=[dispatch.customer_id]),
        "erasing": reverse("inventory:customer-erase", args=[dispatch.customer_id]),
        "shop": shop.get_absolute_url(),
        "orders of a shop": file,
        "trace": reverse("batches:trace-code", args=[lot.code]),
        "trace of the batch": reverse("batches:trace-code", args=[batch.code]),
        "delivery": lot.delivery_line.delivery.get_absolute_url(),
        "posting": Posting.objects.latest("pk").get_absolute_url(),
        "ticket": reverse("batches:batch-ticket", args=[batch.code]),
        "search": "/find/?q=script",
        "plan": f"/batches/plan/?formula={batch.version_id}&quantity=3&note={SHORT}",
        "paper": paper.get_absolute_url(),
        "papers": reverse("inventory:item-documents", args=[item.pk]),
        "ledger": reverse("inventory:item-ledger", args=[item.pk]),
        "paper form": reverse("inventory:document-change", args=[paper.pk]),
        "item form": reverse("inventory:item-change", args=[item.pk]),
        "supplier form": reverse("inventory:supplier-change", args=[supplier.pk]),
        "lot form": reverse("inventory:lot-change", args=[lot.code]),
        "next version": version,
    }


def test_what_would_run_is_shown_as_it_was_typed_on_every_page(filled):
    # OWASP Cheat Sheet Series, Cross Site Scripting Prevention.
    urls = nasty_studio(filled)
    owner = enter(filled.people.owner)
    seen = 0
    for what, url in {**readable(filled, "owner"), **urls}.items():
        page = owner.get(url)
        assert page.status_code == 200, what
        if not page.headers["Content-Type"].startswith("text/html"):
            continue
        text = page.content.decode()
        assert "<script>alert" not in text, what
        assert "<img src=x" not in text, what
        assert "8245537" not in text, what  # 907 × 9091, had a template worked it out; no key is as high
        seen += "&lt;script&gt;alert" in text
    assert seen >= 30


def test_exports_carry_it_as_plain_text(filled):
    nasty_studio(filled)
    owner = enter(filled.people.owner)
    met = 0
    for what, url in tables(filled, "owner").items():
        joined = f"{url}{'&' if '?' in url else '?'}format="
        text = owner.get(joined + "csv").content.decode("utf-8-sig")
        cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
        sheet = load_workbook(io.BytesIO(owner.get(joined + "xlsx").content)).active
        assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row), what
        # A figure may well begin with a minus; what is no figure may not begin like a formula.
        assert not [cell for cell in cells if cell.startswith(("=", "+", "@", "\t", "\r"))], what
        met += NASTY in cells
    assert met >= 4


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r="])
def test_a_formula_in_a_name_reaches_a_spreadsheet_as_text(filled, owner, start):
    name = f'{start}HYPERLINK("http://elsewhere.example","wax")'
    Item.objects.create(name=name, kind="wax", unit="g")

    text = owner.get("/stock/?format=csv").content.decode("utf-8-sig")
    sheet = load_workbook(io.BytesIO(owner.get("/stock/?format=xlsx").content)).active

    (written,) = [row[0] for row in csv.reader(io.StringIO(text, newline="")) if "HYPERLINK" in row[0]]
    assert written.startswith("'")
    assert written.replace("'", "") == name
    (cell,) = [cell for row in sheet.iter_rows() for cell in row if "HYPERLINK" in str(cell.value)]
    assert cell.data_type == "s"
    assert cell.value.startswith("'")


@pytest.mark.parametrize(
    "name",
    [
        "Moor\x07wax",
        "Moor\x0bwax",
        "Moor\x1bwax",
        "Moor\ufffewax",
        "Moor\N{RIGHT-TO-LEFT OVERRIDE}wax\N{ZERO WIDTH SPACE}",
        "蠟燭 \N{CANDLE}",
    ],
)
def test_signs_that_a_file_cannot_hold_do_not_spoil_it(filled, owner, name):
    data = {"name": name, "kind": "finished", "unit": "each", "submission_key": key()}
    owner.post("/stock/items/add/", data)
    made = Item.objects.get(name=name)
    version = filled.books.formula(name, [("wax", "wax_share", 1_000_000)], fill="100 g")
    batch = filled.books.plan(version, 2)

    for url in (made.get_absolute_url(), batch.get_absolute_url(), "/stock/", "/batches/"):
        assert owner.get(url).status_code == 200
    for url in ("/stock/?format=xlsx", "/stock/?format=csv", "/batches/?format=xlsx"):
        content = owner.get(url).content
        if "xlsx" in url:
            assert load_workbook(io.BytesIO(content)).active.max_row > 1
    ticket = owner.get(reverse("batches:batch-ticket", args=[batch.code]))
    assert ticket.content.startswith(b"%PDF")


def test_long_names_break_nothing(filled, owner):
    name = "W" * 120
    Item.objects.create(name=name, kind="wax", unit="g")

    for url in ("/stock/", "/", "/find/?q=WWW", "/stock/?format=xlsx"):
        assert owner.get(url).status_code == 200


def test_a_day_that_never_was_in_the_studios_zone_is_refused_with_a_sentence(filled, owner):
    # Clocks in Berlin went from 02:00 to 03:00 on 30 March 2025, and from 03:00 back to 02:00 on 26 October 2025.
    Studio.objects.update(time_zone="Europe/Berlin")

    for when in ("2025-03-30T02:30", "2025-10-26T02:30"):
        page = owner.post(ADD, delivery(filled, line(filled), arrived_at=when))
        refused(page, page.context["form"], "arrived_at", "couldn’t be interpreted", typed=["10 kg"])


def test_figures_of_a_lot_received_through_the_page_are_exact(filled, owner):
    # 25 lb = 25 × 453,592,370 µg exactly; two packs at 98.75 the line with 3.10 freight.
    data = delivery(filled, line(filled, packs="2", each="25 lb", price="98.75"), freight="3.10")

    assert owner.post(ADD, data).status_code == 302

    lot = Lot.objects.latest("pk")
    assert (lot.on_hand, lot.value) == (50 * 453_592_370, money("101.85"))
    assert (lot.arrived_at, lot.expires_on) == (day(20, 12), None)
