"""What the pages say and do, with figures worked out by hand (see `filled`)."""

import csv
import io
from decimal import Decimal

import pytest
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader

from batches import checks as of_batches
from batches.models import Batch, Draw
from inventory import checks
from inventory.models import HoldRecord, Lot, LotChange, Movement
from tests.house import grams
from tests.web.conftest import enter
from tests.web.forms import delivery, draw_url, drawn, formula, ingredient, key, line, nothing_moves, sent

NBSP = "\N{NO-BREAK SPACE}"


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def text_of(answer):
    return answer.content.decode().replace(NBSP, " ").replace("&nbsp;", " ").replace("&amp;", "&")


def csv_of(client, url):
    rows = list(csv.DictReader(io.StringIO(client.get(url).content.decode("utf-8-sig"))))
    assert rows
    return rows


# Today


def test_today_lists_each_kind_of_thing_that_needs_a_hand(filled, owner):
    tasks = owner.get("/").context["tasks"]

    told = {}
    for task in tasks:
        told.setdefault(task.word, []).append((task.what.replace(NBSP, " "), task.url))
    url = {name: getattr(filled, name).get_absolute_url() for name in vars(filled) if hasattr(getattr(filled, name), "get_absolute_url")}
    oil = filled.books.item("Rain on Slate oil").get_absolute_url()
    assert told == {
        "Look at": [("8 g of additive booked as found", url["found"])],
        "In progress": [("Cedar & Black Tea × 5", url["started"])],
        "Overdue": [("Rain on Slate × 6", url["overdue"])],
        "Planned": [("Cedar & Black Tea × 8", url["planned"])],
        "Short": [("48 g of Rain on Slate oil missing", oil)],
        "Expired": [("300 g of wax", url["expired"])],
        "Expires": [("50 g of dye", url["expiring"])],
        "On hold": [("200 g of fragrance", url["held"])],
        "Cured": [("7 × Cedar & Black Tea", url["cured"])],
    }
    assert tasks[0].word == "Look at"
    assert "Smells of solvent" in text_of(owner.get("/"))


def test_the_week_adds_up(filled, owner):
    # The ten of 10 March lie further back than a week; the four of the 19th and the blend's end do not count alike.
    good, out, runs = owner.get("/").context["charts"]

    assert [bar.figure for bar in good.bars] == [0, 0, 0, 0, 0, 3, 0]
    assert [bar.figure for bar in out.bars] == [0, 0, 0, 0, 0, 0, 2]
    assert [bar.figure for bar in runs.bars] == [0, 0, 0, 0, 0, 1, 0]
    assert (good.total, out.total, runs.total) == (3, 2, 1)


def test_what_was_done_leaves_today(filled, maker):
    maker.post(reverse("inventory:lot-release", args=[filled.held.code]), {"reason": "Tested again", "submission_key": key()})
    maker.post(reverse("inventory:posting-review", args=[filled.found.pk]))
    maker.post(reverse("batches:batch-call-off", args=[filled.overdue.code]), {"reason": "Rained off", "submission_key": key()})

    words = [task.word for task in maker.get("/").context["tasks"]]

    assert not {"On hold", "Look at", "Overdue", "Short"} & set(words)
    assert "In progress" in words


# The search box


@pytest.mark.parametrize("thing", ["cured", "finished"])
def test_a_code_leads_to_its_page_however_it_is_typed(filled, maker, thing):
    found = getattr(filled, thing)
    code = found.code
    ways = [code, code.lower(), f" {code[:3]} {code[3:]} ", f"{code[:3]}-{code[3:]}", code.replace("0", "O"), code.replace("0", "o").replace("1", "i")]
    assert "0" in code

    for typed in ways:
        assert maker.get("/find/", {"q": typed}).headers["Location"] == found.get_absolute_url(), typed


def test_a_mistyped_code_offers_the_one_that_was_meant(filled, maker):
    code = filled.cured.code
    swapped = code[:4] + code[5] + code[4]
    assert swapped != code

    page = maker.get("/find/", {"q": swapped})

    assert page.status_code == 200
    assert code in [hit.code for hit in page.context["misses"]]
    assert "Did you mean" in text_of(page)


@pytest.mark.parametrize(
    ("typed", "kind", "name"),
    [
        ("cedar", "Item", "Cedar & Black Tea"),
        ("RAIN ON", "Formula", "Rain on Slate"),
        ("tollgate", "Supplier", "Tollgate Wax and Wick"),
        ("sf-31", "Lot", "fragrance"),
        ("T-204", "Delivery", "T-204"),
        ("hs-17", "Sent out", "Harbour Street Market"),
    ],
)
def test_a_name_or_a_number_of_a_paper_is_found(filled, maker, typed, kind, name):
    hits = maker.get("/find/", {"q": typed}).context["hits"]

    urls = {hit.url for hit in hits if (hit.kind, hit.name) == (kind, name)}
    assert urls
    assert {maker.get(url).status_code for url in urls} == {200}


def test_nothing_found_says_so_and_what_to_try(filled, maker):
    assert "Nothing carries this code or name. Try part of a name" in text_of(maker.get("/find/", {"q": "marzipan"}))
    assert "Type a code from a jar" in text_of(maker.get("/find/"))


# Deliveries


def test_a_delivery_shows_its_goods_freight_and_landed_cost_to_the_cent(filled, owner):
    # Freight 10.50 over goods of 61.30 and 43.70: a tenth of each, 6.13 and 4.37.
    text = text_of(owner.get(filled.delivery.get_absolute_url()))

    for figure in ("$61.30", "$43.70", "$105.00", "$6.13", "$4.37", "$10.50", "$67.43", "$48.07", "$115.50"):
        assert f">{figure}<" in text, figure
    # 67.43 over 10 kg, 48.07 over 1 kg.
    assert "$6.74 per kg" in text
    assert "$48.07 per kg" in text


def test_a_delivery_is_entered_from_the_page(filled, maker):
    # 3 × 2.5 kg at 20.00 a pack and 144 wicks for 15.84, 7.58 freight by cost: 60.00 and 15.84 of 75.84 are
    # 5.9968 and 1.5831 as shares; to the millionth 5.996835 and 1.583165.
    lines = (
        line(filled, "wax", packs="3", each="2.5 kg", price="20 per pack", supplier_lot="TW-91", lot_per_pack="on"),
        line(filled, "wick", each="144", price="15.84"),
        {"packs": "1"},
    )

    answer = maker.post("/stock/deliveries/add/", delivery(filled, *lines, freight="7.58"))

    assert answer.status_code == 302
    *pails, wicks = Lot.objects.order_by("-pk")[:4][::-1]
    assert [(lot.on_hand, lot.supplier_lot) for lot in pails] == [(grams(2_500), "TW-91")] * 3
    assert sum(lot.value for lot in pails) == 65_996_835
    assert (wicks.on_hand, wicks.value) == (144, 17_423_165)
    page = text_of(maker.get(answer.headers["Location"]))
    assert all(lot.code in page for lot in (*pails, wicks))
    assert "Write each code on its container." in page


def test_another_line_keeps_what_was_typed_without_complaints(filled, maker):
    data = delivery(filled, line(filled, each="oops", price=""), reference="half-typed", add_line="1")
    with nothing_moves():
        page = maker.post("/stock/deliveries/add/", data)

    text = text_of(page)
    assert page.status_code == 200
    assert 'value="oops"' in text
    assert 'value="half-typed"' in text
    assert 'name="lines-1-item"' in text
    assert 'name="lines-2-item"' not in text
    assert "error-summary" not in text
    assert 'class="error"' not in text


def test_another_line_of_a_formula_keeps_what_was_typed_without_complaints(filled, maker):
    data = formula([ingredient(filled, "wax", "wax_share", "ninety")], fill_ug="", add_line="1")

    page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), data)

    text = text_of(page)
    assert page.status_code == 200
    assert 'value="ninety"' in text
    assert 'name="lines-1-item"' in text
    assert "error-summary" not in text


def test_a_receipt_is_reversed_from_the_page(filled, maker):
    lot = filled.expiring
    posting = lot.delivery_line.delivery.posting
    url = reverse("inventory:posting-reverse", args=[posting.pk])

    assert maker.post(url, {"reason": "", "submission_key": key()}).status_code == 422
    answer = maker.post(url, {"reason": "sent back", "submission_key": key()})

    assert answer.status_code == 302
    assert filled.books.of(lot) == (0, 0)
    assert "sent back" in text_of(maker.get(lot.delivery_line.delivery.get_absolute_url()))


def test_a_receipt_that_was_used_says_what_to_reverse_first(filled, maker):
    url = reverse("inventory:posting-reverse", args=[filled.delivery.posting_id])
    with nothing_moves():
        page = maker.post(url, {"reason": "mis-keyed", "submission_key": key()})

    assert page.status_code == 422
    assert "was used since. Reverse what used it first" in text_of(page)
    assert 'value="mis-keyed"' in text_of(page)


def test_a_reversal_and_what_belongs_to_a_batch_are_not_reversed_here(filled, maker):
    for posting in (filled.reversal, filled.draws["wax"], filled.revaluation):
        with nothing_moves():
            answer = maker.post(
                reverse("inventory:posting-reverse", args=[posting.pk]), {"reason": "x", "submission_key": key()}
            )
        assert answer.headers["Location"] == posting.get_absolute_url()


# Lots


def test_a_lot_is_held_and_released_with_a_reason_and_a_name(filled, maker):
    lot = filled.shelf["wax"]
    for act, reason, held in (("hold", "Cloudy", True), ("release", "Only cold", False)):
        url = reverse(f"inventory:lot-{act}", args=[lot.code])
        assert maker.post(url, {"reason": "", "submission_key": key()}).status_code == 422
        assert maker.post(url, {"reason": reason, "submission_key": key()}).status_code == 302
        lot.refresh_from_db()
        assert lot.held is held
        # Again, from a page that was open all along: told, and not written down twice.
        assert maker.post(url, {"reason": "again", "submission_key": key()}).status_code == 302

    assert list(HoldRecord.objects.filter(lot=lot).order_by("pk").values_list("held", "reason", "by__username")) == [
        (True, "Cloudy", "tobin"),
        (False, "Only cold", "tobin"),
    ]
    assert "Only cold" in text_of(maker.get(lot.get_absolute_url()))


def test_what_is_written_on_a_lot_is_changed_and_the_change_kept(filled, maker):
    lot = filled.shelf["wax"]
    fields = {"place": "Shelf B2", "expires_on": "2027-03-01", "supplier_lot": "TW-88"}

    maker.post(reverse("inventory:lot-change", args=[lot.code]), fields)

    assert list(LotChange.objects.filter(lot=lot).order_by("what").values_list("what", "before", "after")) == [
        ("expires", "", "2027-03-01"),
        ("place", "", "Shelf B2"),
    ]


def test_goods_are_sent_out_and_their_cost_leaves_with_them(filled, maker):
    # Nine good ones carry 32.21916 of material; two went before: 7.159813… each time a seventh of what is left.
    lot = filled.cured
    before = filled.books.of(lot)
    assert before == (7, 25_059_347)  # 32.219160 less 2/9, 7.159813

    assert maker.post(reverse("inventory:lot-send", args=[lot.code]), sent("7", reference="HS-18")).status_code == 302

    assert filled.books.of(lot) == (0, 0)
    movement = Movement.objects.filter(lot=lot).latest("pk")
    assert (movement.kind, movement.quantity, movement.value) == ("dispatched", -7, -25_059_347)


# Planning, drawing, finishing


def test_the_plan_names_what_is_short_and_what_limits_the_run(filled, maker):
    # Rain on Slate: 8 g of oil in 100 g of melt, and none on the shelf.
    text = text_of(maker.get("/batches/plan/", {"formula": filled.rain.pk, "quantity": "6"}))
    assert "Not enough on the shelf" in text
    assert "Rain on Slate oil: 48 g missing" in text

    # The candle: 888 g of fragrance at 8 g each makes 111, 85 wicks, 36 vessels are the least.
    text = text_of(maker.get("/batches/plan/", {"formula": filled.candle.pk}))
    assert "The shelf has enough for 36; vessel is the limit." in text


def test_a_plan_shown_is_planned_with_one_press(filled, maker):
    data = {"formula": str(filled.candle.pk), "quantity": "12", "planned_on": "2026-03-27", "note": "For the fair"}
    shown = maker.get("/batches/plan/", data)
    assert 'name="quantity" value="12"' in text_of(shown)

    answer = maker.post("/batches/plan/", data | {"submission_key": key()})

    batch = Batch.objects.latest("pk")
    assert answer.headers["Location"] == batch.get_absolute_url()
    assert (batch.quantity, batch.note, batch.planned_by.username) == (12, "For the fair", "tobin")


def test_the_page_of_a_batch_shows_its_cost_by_head(filled, owner):
    # By hand in `filled`: 6.20356, 3.8456, 1.27, 20.90, 24.60, 7.40; 64.21916 in all, a tenth of it for the scrap.
    page = owner.get(filled.finished.get_absolute_url())
    text = text_of(page)

    for head, figure in (
        ("Wax", "$6.20"),
        ("Fragrance", "$3.85"),
        ("Wick", "$1.27"),
        ("Vessel and lid", "$20.90"),
        ("Labour", "$24.60"),
        ("Overhead", "$7.40"),
        ("In all", "$64.22"),
    ):
        assert f'{head}</th><td class="num">{figure}</td>' in text, head
    assert '<span class="figure hero">$7.14</span>' in text
    assert ">$32.22<" in text
    assert ">$6.42<" in text


def test_the_costing_page_says_the_same(filled, owner):
    (row,) = [row for row in csv_of(owner, "/costing/?format=csv") if row["Batch"] == filled.finished.code]

    assert {head: row[head] for head in ("Wax", "Fragrance", "Wick", "Vessel and lid", "Labour", "Overhead", "In all", "Per good unit")} == {
        "Wax": "6.203560",
        "Fragrance": "3.845600",
        "Wick": "1.270000",
        "Vessel and lid": "20.900000",
        "Labour": "24.600000",
        "Overhead": "7.400000",
        "In all": "64.219160",
        "Per good unit": "7.135462",
    }
    assert (row["Good"], row["Minutes"]) == ("9", "60")


def test_the_ticket_is_a_pdf_that_carries_the_code(filled, maker):
    answer = maker.get(reverse("batches:batch-ticket", args=[filled.planned.code]))

    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == f'inline; filename="batch-{filled.planned.code}.pdf"'
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    assert filled.planned.code in text.replace(" ", "").replace(NBSP, "")
    assert "Cedar & Black Tea" in text
    # Eight of 92 g of wax and 8 g of fragrance.
    assert "736" in text


def test_what_went_in_is_recorded_from_the_page(filled, maker):
    batch = filled.planned
    data = drawn(filled, batch, "wax", (filled.shelf["wax"].code.lower(), "735.5"), happened_at="2026-03-20T11:30")
    data |= drawn(filled, batch, "wick", (filled.shelf["wick"].code, "8"))
    data["happened_at"] = "2026-03-20T11:30"

    assert maker.post(draw_url(batch), data).headers["Location"] == batch.get_absolute_url()

    draws = Draw.objects.filter(batch=batch).order_by("pk")
    assert [(draw.line.item.name, draw.quantity) for draw in draws] == [("wax", 735_500_000), ("wick", 8)]
    batch.refresh_from_db()
    assert batch.state == "started"
    assert draws[0].movement.posting.happened_at.isoformat() == "2026-03-20T11:30:00+00:00"


def test_a_draw_is_put_right_from_the_page_and_both_entries_stay(filled, maker):
    # 920 g were really 902 g; the cost of the nine candles follows: 18 g × 6.743 a kilogram = 0.121374 less.
    wax, posting = filled.shelf["wax"], filled.draws["wax"]
    on_hand, _ = filled.books.of(wax)
    url = reverse("batches:draw-correct", args=[filled.finished.code, posting.pk])
    shown = text_of(maker.get(url))
    assert 'value="920"' in shown
    data = drawn(filled, filled.finished, "wax", (wax.code, "902"), reason="Read the scale wrongly")

    answer = maker.post(url, data)

    assert answer.headers["Location"] == filled.finished.get_absolute_url()
    assert filled.books.of(wax)[0] == on_hand + grams(18)
    posting.refresh_from_db()
    assert posting.reversal.reason == "Read the scale wrongly"
    kept = [draw.quantity for draw in Draw.objects.filter(batch=filled.finished, line__item__name="wax").order_by("pk")]
    assert kept == [grams(920), grams(902)]
    page = text_of(maker.get(filled.finished.get_absolute_url()))
    assert "Tobin: Read the scale wrongly" in page
    # Seven of nine are still here: 7/9 of −0.121374 is −0.094402.
    assert filled.books.of(filled.cured) == (7, 25_059_347 - 94_402)
    # Opened again, the page says that it was put right, and does nothing.
    assert maker.get(url).headers["Location"] == filled.finished.get_absolute_url()


def test_a_draw_is_not_put_right_without_a_reason(filled, maker):
    url = reverse("batches:draw-correct", args=[filled.finished.code, filled.draws["wax"].pk])
    with nothing_moves():
        page = maker.post(url, drawn(filled, filled.finished, "wax", (filled.shelf["wax"].code, "902"), reason=""))

    assert page.status_code == 422
    assert 'value="902"' in text_of(page)


def test_a_batch_is_finished_from_the_page(filled, maker):
    # Only 460 g of wax went in: 0.460 × 6.743 = 3.10178, all of it on the four good ones.
    url = reverse("batches:batch-finish", args=[filled.started.code])
    data = {"good": "4", "seconds": "", "scrap_1": "1", "defect_1": "Frosting", "without": "on", "submission_key": key()}

    assert maker.post(url, data).headers["Location"] == filled.started.get_absolute_url()

    (lot,) = Lot.objects.filter(outcome__batch=filled.started)
    assert filled.books.of(lot) == (4, 3_101_780)
    assert lot.ready_on.isoformat() == "2026-03-27"
    text = text_of(maker.get(filled.started.get_absolute_url()))
    assert "1, frosting" in text
    assert lot.code in text


def test_a_finished_batch_is_opened_again_while_all_of_it_is_there(filled, maker):
    url = reverse("batches:batch-reopen", args=[filled.fresh.code])

    assert maker.post(url, {"reason": "Counted again", "submission_key": key()}).status_code == 302

    filled.fresh.refresh_from_db()
    assert (filled.fresh.state, filled.fresh.finished_at) == ("started", None)
    assert filled.books.of(filled.curing) == (0, 0)
    assert "Counted again" in text_of(maker.get(filled.fresh.get_absolute_url()))


def test_a_batch_some_of_which_was_sent_is_not_opened_again(filled, maker):
    url = reverse("batches:batch-reopen", args=[filled.finished.code])
    with nothing_moves():
        page = maker.post(url, {"reason": "Counted again", "submission_key": key()})

    assert page.status_code == 422
    assert "2 was used since" in text_of(page)


def test_a_batch_with_material_in_it_is_not_called_off(filled, maker):
    url = reverse("batches:batch-call-off", args=[filled.started.code])
    with nothing_moves():
        page = maker.post(url, {"reason": "No time", "submission_key": key()})

    assert page.status_code == 422
    assert "Finish it instead, as scrap" in text_of(page)


def test_a_find_is_looked_at_from_the_page_once(filled, maker):
    url = reverse("inventory:posting-review", args=[filled.found.pk])

    for _ in range(2):
        assert maker.post(url).headers["Location"] == filled.found.get_absolute_url()

    filled.found.refresh_from_db()
    assert filled.found.review.by == filled.people.maker
    assert "Looked at by Tobin" in text_of(maker.get(filled.found.get_absolute_url()))


def test_a_used_version_is_not_changed_and_an_unused_one_is(filled, maker):
    used = reverse("batches:version-change", args=[filled.candle.formula_id, 1])
    unused = reverse("batches:version-change", args=[filled.candle.formula_id, 2])
    data = formula([ingredient(filled, "wax", "wax_share", "100"), ingredient(filled, "fragrance", "of_melt", "6.5")])

    assert maker.post(used, data).headers["Location"] == filled.candle.get_absolute_url()
    assert maker.post(unused, data | {"submission_key": key()}).status_code == 302

    assert [line.amount for line in filled.candle.lines.all()] == [1_000_000, 80_000, 1, 1]
    assert sorted(filled.draft.lines.values_list("amount", flat=True)) == [65_000, 1_000_000]


# Tracing


def test_a_candle_is_traced_back_to_its_deliveries_and_forward_to_its_customers(filled, maker):
    text = text_of(maker.get(reverse("batches:trace-code", args=[filled.cured.code])))

    for word in (filled.finished.code, *(lot.code for lot in filled.shelf.values()), "TW-88", "SF-31", "T-204"):
        assert word in text, word
    for word in ("Harbour Street Market", "HS-17", "Adds up"):
        assert word in text, word
    assert filled.held.code not in text
    assert filled.fresh.code not in text


def test_a_material_is_traced_forward_to_every_batch_and_customer(filled, maker):
    text = text_of(maker.get(reverse("batches:trace-code", args=[filled.shelf["wax"].code])))

    for code in (filled.finished, filled.fresh, filled.blend, filled.started, filled.cured, filled.curing, filled.seconds, filled.blended):
        assert code.code in text
    assert "Harbour Street Market" in text
    assert filled.planned.code not in text
    # 10 kg less 920, 368, 500 and 460 g.
    assert "7,752 g" in text
    assert "Adds up" in text


def test_the_trace_page_leads_to_what_was_meant(filled, maker):
    code = filled.cured.code

    assert maker.get("/trace/", {"code": code.lower()}).headers["Location"].endswith(f"/{code}/")
    page = maker.get("/trace/", {"code": code[:4] + code[5] + code[4]})
    assert code in [hit.code for hit in page.context["misses"]]
    assert "No lot or batch carries marzipan." in text_of(maker.get("/trace/", {"code": "marzipan"}))


# Exports


def test_lots_leave_with_exact_figures(filled, owner):
    rows = {row["Lot"]: row for row in csv_of(owner, "/stock/lots/?state=all&format=csv")}

    wax = rows[filled.shelf["wax"].code]
    # 10 kg and 67.43 less 920, 368, 500 and 460 g at 6.743 a kilogram: 52.271736.
    assert (wax["On hand"], wax["Unit"], wax["Value"]) == ("7752", "g", "52.271736")
    assert (wax["Supplier's lot"], wax["State"]) == ("TW-88", "Free to use")
    assert rows[filled.held.code]["State"] == "On hold"
    assert rows[filled.curing.code]["State"] == "Curing"
    assert len(rows) == Lot.objects.count()


def test_the_same_table_as_a_sheet(filled, owner):
    sheet = load_workbook(io.BytesIO(owner.get("/stock/lots/?state=all&format=xlsx").content)).active
    head, *rows = sheet.iter_rows(values_only=True)
    wax = next(dict(zip(head, row, strict=True)) for row in rows if row[0] == filled.shelf["wax"].code)

    assert (wax["On hand"], Decimal(str(wax["Value"]))) == (7_752, Decimal("52.271736"))
    assert wax["Arrived"].isoformat() == "2026-03-01T09:00:00"
    assert len(rows) == Lot.objects.count()


def test_the_books_leave_whole_and_add_up_to_the_shelf(filled, owner):
    rows = csv_of(owner, "/stock/books/?format=csv")

    assert len(rows) == Movement.objects.count()
    wax = [row for row in rows if row["Lot"] == filled.shelf["wax"].code]
    assert sum(Decimal(row["Quantity"]) for row in wax) == Decimal("7752")
    assert sum(Decimal(row["Value"]) for row in wax) == Decimal("52.271736")


def test_items_deliveries_and_rates_leave_with_exact_figures(filled, owner):
    items = {row["Item"]: row for row in csv_of(owner, "/stock/?format=csv")}
    # Of fragrance 888 g are free and 200 g on hold; promised: 40 g to the run begun and 64 g to the planned one.
    fragrance = items["fragrance"]
    assert (fragrance["On hand"], fragrance["Free to use"], fragrance["Promised"]) == ("1088", "888", "104")
    deliveries = {row["Delivery"]: row for row in csv_of(owner, "/stock/deliveries/?format=csv")}
    first = deliveries[str(filled.delivery.pk)]
    assert (first["Goods"], first["Freight"], first["Lines"]) == ("105.000000", "10.500000", "2")
    assert [(row["What"], row["Amount"]) for row in csv_of(owner, "/costing/rates/?format=csv")] == [
        ("Labour", "24.600000"),
        ("Overhead", "7.400000"),
    ]


def test_a_list_keeps_its_filter_in_its_export(filled, owner):
    assert {row["Lot"] for row in csv_of(owner, "/stock/lots/?state=held&format=csv")} == {filled.held.code}
    assert {row["What"] for row in csv_of(owner, "/stock/books/?kind=dispatch&format=csv")} == {"Dispatch"}
    assert {row["Kind"] for row in csv_of(owner, "/stock/?kind=wick&format=csv")} == {"Wick"}
    states = {row["State"] for row in csv_of(owner, "/batches/?state=finished&format=csv")}
    assert states == {"Finished"}


def test_pages_of_a_list_hold_every_row_once(filled, owner):
    for number in range(60):
        filled.books.formula(f"Candle {number:02d}", [("wax", "wax_share", 1_000_000)], fill="100 g")

    seen = [row.name for number in (1, 2) for row in owner.get("/formulas/", {"page": number}).context["page"]]

    assert len(seen) == len(set(seen)) == 63
    assert seen == sorted(seen, key=str.lower)


# Rates


def test_a_rate_is_set_by_the_bookkeeper_and_leaves_the_past_alone(filled):
    client = enter(filled.people.bookkeeper)
    before = client.get(filled.finished.get_absolute_url()).content

    answer = client.post(
        reverse("costing:labour-rate-add"),
        {"from_on": "2026-03-11", "person": "", "per_hour": "30", "submission_key": key()},
    )

    assert answer.headers["Location"] == "/costing/rates/"
    text = text_of(client.get("/costing/rates/"))
    assert "$30.00" in text
    assert "$24.60" in text
    assert b"$24.60" in before
    assert "$24.60" in text_of(client.get(filled.finished.get_absolute_url()))


def test_what_the_books_hold_agrees_after_everything(filled, maker):
    maker.post(reverse("inventory:lot-send", args=[filled.cured.code]), sent("3"))
    maker.post(draw_url(filled.planned), drawn(filled, filled.planned, "wax", (filled.shelf["wax"].code, "736")))

    said = [s for check in (*checks.CHECKS, *of_batches.CHECKS) if check is not checks.guards_in_place for s in check()]
    assert said == []
