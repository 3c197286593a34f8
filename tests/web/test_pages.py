"""What the pages say and do, with figures worked out by hand (see `filled`)."""

import pytest
from django.urls import reverse

from inventory.models import HoldRecord, Lot, LotChange, Movement
from studio.core.numerals import NBSP
from tests.house import grams
from tests.web.conftest import enter
from tests.web.forms import delivery, formula, ingredient, key, line, nothing_moves, sent
from tests.web.inspection import text_of


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


# Today


def test_today_lists_each_kind_of_thing_that_needs_a_hand(filled, owner):
    tasks = owner.get("/").context["tasks"]

    told = {}
    for task in tasks:
        told.setdefault(task.word, []).append((task.what.replace(NBSP, " "), task.url))
    url = {
        name: getattr(filled, name).get_absolute_url()
        for name in vars(filled)
        if hasattr(getattr(filled, name), "get_absolute_url")
    }
    oil = filled.books.item("Rain on Slate oil").get_absolute_url()
    ((what, where),) = told.pop("To count")
    assert (what.split()[1:], where) == (["items", "due", "for", "counting"], "/stock/counts/")
    # Whom something came back to, or may be in danger, comes before what is only to be done.
    assert list(told)[:3] == ["Mock recall", "Answered", "Complaint"]
    assert told == {
        "Mock recall": [("The wax may hold water and flare up.", f"/recalls/{filled.drill.code}/")],
        "Answered": [("Somebody was hurt: Cedar & Black Tea", f"{url['complaint']}#settle")],
        "Complaint": [("Cracked or broken vessel: Cedar & Black Tea", url["lost"])],
        "No lead time": [("By when to order 1 item cannot be said", "/stock/reorder/?show=missing")],
        "Look at": [("8 g of additive booked as found", url["found"])],
        "In progress": [("Cedar & Black Tea × 5", url["started"])],
        "Overdue": [
            ("Rain on Slate × 6", url["overdue"]),
            ("Order from Tollgate Wax and Wick", url["order_late"]),
        ],
        "Planned": [("Cedar & Black Tea × 8", url["planned"])],
        "Burning": [("Burn test of Cedar & Black Tea, version 1", url["burning"])],
        "Short": [("48 g of Rain on Slate oil missing", oil)],
        "Being counted": [("Soap wax", url["count"])],
        "Expected": [("Order from Tollgate Wax and Wick", url["order_part"])],
        "Expired": [("300 g of wax", url["expired"])],
        "Expires": [("50 g of dye", url["expiring"])],
        "Expired, allowed": [("28 g of Bayberry dye", url["allowed"])],
        "On hold": [("200 g of fragrance", url["held"])],
        # Additive, Bayberry dye, dye, fragrance, Rain on Slate oil, soap wax; the wax has one.
        "Missing": [("6 items have no safety data sheet", "/stock/documents/?show=missing")],
        "Cured": [("7 × Cedar & Black Tea", url["cured"])],
        "To close": [("The books through 31 Jan 2025", "/costing/closings/")],
    }
    assert "Smells of solvent" in text_of(owner.get("/"))


def test_the_week_adds_up(filled, owner):
    # The ten of 10 March lie further back than a week; the four of the 19th and the blend's end do not count alike.
    good, out, runs = owner.get("/").context["charts"]

    assert [bar.figure for bar in good.bars] == [0, 0, 0, 0, 0, 3, 0]
    assert [bar.figure for bar in out.bars] == [0, 0, 0, 0, 0, 0, 2]
    assert [bar.figure for bar in runs.bars] == [0, 0, 0, 0, 0, 1, 0]
    assert (good.total, out.total, runs.total) == (3, 2, 1)


def test_what_was_done_leaves_today(filled, maker):
    maker.post(
        reverse("inventory:lot-release", args=[filled.held.code]),
        {"reason": "Tested again", "submission_key": key()},
    )
    maker.post(reverse("inventory:posting-review", args=[filled.found.pk]))
    maker.post(
        reverse("inventory:order-call-off", args=[filled.order_late.code]),
        {"reason": "Found a pallet", "submission_key": key()},
    )
    maker.post(
        reverse("batches:batch-call-off", args=[filled.overdue.code]),
        {"reason": "Rained off", "submission_key": key()},
    )

    words = [task.word for task in maker.get("/").context["tasks"]]

    assert not {"On hold", "Look at", "Overdue", "Short"} & set(words)
    assert "In progress" in words


# The search box


@pytest.mark.parametrize("thing", ["cured", "finished", "order_part"])
def test_a_code_leads_to_its_page_however_it_is_typed(filled, maker, thing):
    found = getattr(filled, thing)
    code = found.code
    ways = [
        code,
        code.lower(),
        f" {code[:3]} {code[3:]} ",
        f"{code[:3]}-{code[3:]}",
        code.replace("0", "O"),
        code.replace("0", "o").replace("1", "i"),
    ]
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
    assert "Nothing carries this code or name. Try part of a name" in text_of(
        maker.get("/find/", {"q": "marzipan"})
    )
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
        line(
            filled,
            "wax",
            packs="3",
            each="2.5 kg",
            price="20 per pack",
            supplier_lot="TW-91",
            lot_per_pack="on",
        ),
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
                reverse("inventory:posting-reverse", args=[posting.pk]),
                {"reason": "x", "submission_key": key()},
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

    assert list(
        HoldRecord.objects.filter(lot=lot).order_by("pk").values_list("held", "reason", "by__username")
    ) == [
        (True, "Cloudy", "tobin"),
        (False, "Only cold", "tobin"),
    ]
    assert "Only cold" in text_of(maker.get(lot.get_absolute_url()))


def test_what_is_written_on_a_lot_is_changed_and_the_change_kept(filled, maker):
    lot = filled.shelf["wax"]
    fields = {"place": "Shelf B2", "expires_on": "2027-03-01", "supplier_lot": "TW-88"}

    maker.post(reverse("inventory:lot-change", args=[lot.code]), fields)

    assert list(
        LotChange.objects.filter(lot=lot).order_by("what").values_list("what", "before", "after")
    ) == [
        ("expiry", "", "2027-03-01"),
        ("place", "", "Shelf B2"),
    ]


def test_goods_are_sent_out_and_their_cost_leaves_with_them(filled, maker):
    # Nine good ones carry 32.21916 of material; two went before: 7.159813… each time a seventh of what is left.
    lot = filled.cured
    before = filled.books.of(lot)
    assert before == (7, 25_059_347)  # 32.219160 less 2/9, 7.159813

    assert (
        maker.post(reverse("inventory:lot-send", args=[lot.code]), sent("7", reference="HS-18")).status_code
        == 302
    )

    assert filled.books.of(lot) == (0, 0)
    movement = Movement.objects.filter(lot=lot).latest("pk")
    assert (movement.kind, movement.quantity, movement.value) == ("dispatched", -7, -25_059_347)
