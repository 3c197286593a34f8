"""What people mistype in formulas, plans, results, readings, items and rates: a sentence at the field."""

import pytest
from django.urls import reverse

from costing.models import LabourRate
from inventory.models import Item, Supplier
from tests.house import grams
from tests.web.conftest import enter
from tests.web.forms import (
    formula,
    ingredient,
    key,
    nothing_moves,
    refused,
)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


def test_wax_shares_that_do_not_come_to_the_whole_are_refused(filled, maker):
    lines = [
        ingredient(filled, "wax", "wax_share", "60"),
        ingredient(filled, "Lane blend", "wax_share", "39.9"),
        ingredient(filled, "fragrance", "of_melt", "8"),
    ]
    with nothing_moves():
        page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), formula(lines))

    refused(page, page.context["form"], "__all__", "wax shares", "99.9", "100", typed=["60", "39.9", "8"])


@pytest.mark.parametrize(
    ("lines", "number", "field", "words"),
    [
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "100")], 1, "amount", ["too much"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_wax", "140")], 1, "amount", ["too much"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "0")], 1, "amount", ["above zero"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "-8")], 1, "amount", ["negative"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "8,5")], 1, "amount", ["point"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "8e0")], 1, "amount", ["number"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "NaN")], 1, "amount", ["number"]),
        ([("wax", "wax_share", "100"), ("fragrance", "of_melt", "8.00001")], 1, "amount", ["four decimals"]),
        ([("wax", "wax_share", "100"), ("wick", "of_melt", "1")], 1, "basis", ["not weighed"]),
        ([("wax", "wax_share", "100"), ("wick", "per_unit", "1.5")], 1, "amount", ["whole"]),
        ([("wax", "wax_share", "100"), ("wick", "per_unit", "1", "9,5")], 1, "spare", ["point"]),
        ([("wax", "wax_share", "100"), ("wick", "by_ear", "1")], 1, "basis", ["from the list"]),
    ],
)
def test_a_line_of_a_formula_is_refused_at_its_field(filled, maker, lines, number, field, words):
    data = formula([ingredient(filled, *line) for line in lines])
    with nothing_moves():
        page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), data)

    refused(page, page.context["lines"].forms[number], field, *words, typed=["100", lines[1][2]])


def test_rates_on_the_melt_that_leave_no_room_for_wax_are_refused(filled, maker):
    lines = [
        ingredient(filled, "wax", "wax_share", "100"),
        ingredient(filled, "fragrance", "of_melt", "60"),
        ingredient(filled, "dye", "of_melt", "45"),
    ]
    page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), formula(lines))

    refused(page, page.context["form"], "__all__", "105", "no room for wax")


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("fill_ug", "0", ["above zero"]),
        ("fill_ug", "", ["fill"]),
        ("division_ug", "0", ["above zero"]),
        ("loss_ppm", "100", ["__all__", "loss allowance"]),
        ("loss_ppm", "-3", ["negative"]),
        ("pot_ug", "50", ["__all__", "pot"]),
        ("heat_to_mc", "hot", []),
        ("pour_to_mc", "-300", []),
        ("cure_days", "-1", ["0"]),
        ("cure_days", "99999999", ["365"]),
        ("rest_hours", "99999999999999999999", []),
        ("what_changed", "x" * 1_000_000, ["at most 300"]),
    ],
)
def test_the_process_of_a_formula_is_refused_at_its_field(filled, maker, field, typed, words):
    data = formula([ingredient(filled, "wax", "wax_share", "100")], **{field: typed})
    with nothing_moves():
        page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), data)

    where = "__all__" if "__all__" in words else field
    refused(page, page.context["form"], where, *[word for word in words if word != "__all__"])


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("quantity", "0", ["above zero"]),
        ("quantity", "-3", ["minus"]),
        ("quantity", "2.5", ["whole"]),
        ("quantity", "1,5", ["point"]),
        ("quantity", "2 kg", ["count"]),
        ("quantity", "1e3", ["exponent"]),
        ("quantity", "60000", ["50,000"]),
        ("quantity", "9" * 30, ["more than"]),
        ("quantity", "", ["fill"]),
        ("formula", "", ["choose"]),
        ("formula", "999999", ["from the list"]),
        ("formula", "9" * 40, ["from the list"]),
        ("planned_on", "0001-01-01", ["year"]),
        ("planned_on", "9999-12-31", ["year"]),
        ("planned_on", "soon", ["date"]),
        ("note", "x\x00", ["null"]),
        ("note", "x" * 400, ["at most 300"]),
    ],
)
def test_a_plan_is_refused_at_its_field(filled, maker, field, typed, words):
    data = {
        "formula": str(filled.candle.pk),
        "quantity": "12",
        "planned_on": "2026-03-25",
        "note": "",
        "submission_key": key(),
    }
    with nothing_moves():
        page = maker.post("/batches/plan/", data | {field: typed})

    refused(page, page.context["form"], field, *words)


def test_a_run_larger_than_can_be_kept_is_refused(filled, maker):
    # A limit raised beyond all sense, and a run of 10^15 candles of 100 g: 10^23 µg.
    Item.objects.filter(pk=filled.candle.formula.item_id).update(expected_at_most=10**15)
    data = {
        "formula": str(filled.candle.pk),
        "quantity": str(10**15),
        "planned_on": "2026-03-25",
        "submission_key": key(),
    }
    with nothing_moves():
        page = maker.post("/batches/plan/", data)
        shown = maker.get("/batches/plan/", data)

    for answer in (page, shown):
        refused(answer, answer.context["form"], "quantity", "more than")


# Nothing was drawn of some lines, and nobody knows what became of a wick left over.
ANYWAY = {"without": "on", "left_unknown": "on"}


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"good": "", "seconds": ""}, "good", ["how many came out"]),
        ({"good": "-1"}, "good", ["minus"]),
        ({"good": "4.5"}, "good", ["whole"]),
        ({"good": "0"}, "good", ["how many"]),
        ({"good": "50"}, "good", ["50 hold", "were weighed in", "tick"]),
        ({"good": "4", "scrap_1": "1"}, "defect_1", ["what was wrong"]),
        ({"good": "4", "defect_1": "Frosting"}, "scrap_1", ["how much", "Frosting"]),
        ({"good": "4", "scrap_1": "1", "defect_1": "Gremlins"}, "defect_1", ["from the list"]),
        ({"good": "4", "left_unknown": "on"}, "without", ["fragrance, vessel"]),
        ({"good": "4", **ANYWAY, "happened_at": "2026-03-20T11:00"}, "happened_at", ["last draw"]),
        ({"good": "4", **ANYWAY, "happened_at": "2026-03-20T13:00"}, "happened_at", ["future"]),
        ({"good": "9" * 30}, "good", ["more than"]),
    ],
)
def test_what_came_out_is_refused_at_its_field(filled, maker, fields, field, words):
    with nothing_moves():
        page = maker.post(
            reverse("batches:batch-finish", args=[filled.started.code]),
            {"submission_key": key(), "last": "all", **fields},
        )

    refused(page, page.context["form"], field, *words, typed=[fields["good"]] if fields["good"] else [])


@pytest.mark.parametrize(
    ("url", "fields", "field", "words"),
    [
        ("batch-read", {"kind": "pour", "temperature": ""}, "temperature", ["fill"]),
        ("batch-read", {"kind": "pour", "temperature": "warm"}, "temperature", []),
        ("batch-read", {"kind": "pour", "temperature": "-400"}, "temperature", []),
        ("batch-read", {"kind": "pour", "temperature": "1e9"}, "temperature", []),
        ("batch-read", {"kind": "sky", "temperature": "60"}, "kind", ["from the list"]),
        ("batch-read", {"kind": "pour", "temperature": "60", "at": "2026-03-21T00:00"}, "at", ["future"]),
        ("batch-labour", {"minutes": "0"}, "minutes", ["1"]),
        ("batch-labour", {"minutes": "1441"}, "minutes", ["1440"]),
        ("batch-labour", {"minutes": "NaN"}, "minutes", ["whole number"]),
        ("batch-labour", {"minutes": "5", "worked_on": "0001-01-01"}, "worked_on", ["year"]),
        ("batch-labour", {"minutes": "5", "person": "9999"}, "person", ["from the list"]),
        ("batch-labour", {"minutes": "5", "worked_on": "2026-03-21"}, "worked_on", ["future"]),
    ],
)
def test_readings_and_labour_are_refused_at_their_field(filled, maker, url, fields, field, words):
    own = (
        {"person": str(filled.people.maker.pk), "step": "pour", "worked_on": "2026-03-20"}
        if "labour" in url
        else {}
    )
    with nothing_moves():
        page = maker.post(
            reverse(f"batches:{url}", args=[filled.started.code]), {**own, **fields, "submission_key": key()}
        )

    refused(page, page.context["refused_form"], field, *words)
    assert filled.started.readings.count() == 1  # the one of the bench
    assert not filled.started.labour.exists()


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"kind": "wax", "unit": "each"}, "unit", ["weight"]),
        ({"kind": "finished", "unit": "g"}, "unit", ["counted"]),
        ({"kind": "air", "unit": "g"}, "kind", ["from the list"]),
        ({"kind": "wax", "unit": "stone"}, "unit", ["from the list"]),
        ({"name": "WAX", "kind": "wax", "unit": "g"}, None, ["exists already"]),
        ({"maximum_load_ppm": "10"}, "maximum_load_basis", ["wax or of melt"]),
        ({"maximum_load_ppm": "10,5", "maximum_load_basis": "of_wax"}, "maximum_load_ppm", ["point"]),
        ({"density_ug_per_ml": "9"}, "density_ug_per_ml", ["0.3 and 3"]),
        ({"density_ug_per_ml": "0,9"}, "density_ug_per_ml", ["point"]),
        ({"flash_point_mc": "hot"}, "flash_point_mc", []),
        ({"shelf_life_days": "-1"}, "shelf_life_days", ["0"]),
        ({"shelf_life_days": "999999999"}, "shelf_life_days", ["36500"]),
        ({"shelf_life_days": "1.5"}, "shelf_life_days", ["whole number"]),
        ({"expected_at_most": "20"}, None, []),
        ({"expected_at_most": "20 m"}, "expected_at_most", ["length"]),
        ({"name": ""}, "name", ["fill"]),
        ({"name": "x" * 121}, "name", ["at most 120"]),
        ({"name": "wax\x00"}, "name", ["null"]),
        ({"notes": "x" * 1_000_000}, "notes", ["at most 2000"]),
        ({"made_here": "on", "kind": "finished", "unit": "each"}, "made_here", ["finished good"]),
    ],
)
def test_an_item_is_refused_at_its_field(filled, maker, fields, field, words):
    data = {
        "name": "Moor wax",
        "kind": "wax",
        "unit": "g",
        "place": "Shelf B2",
        "submission_key": key(),
        **fields,
    }
    before = Item.objects.count()

    page = maker.post("/stock/items/add/", data)

    if fields == {"expected_at_most": "20"}:
        # A bare number is in the unit the item is shown in.
        assert Item.objects.get(name="Moor wax").expected_at_most == grams(20)
        return
    refused(page, page.context["form"], field or "__all__", *words, typed=["Shelf B2"])
    assert Item.objects.count() == before


def test_an_item_that_is_in_stock_keeps_what_it_is_measured_by(filled, maker):
    url = reverse("inventory:item-change", args=[filled.shelf["wick"].item_id])

    page = maker.post(url, {"name": "wick", "kind": "wick", "unit": "m"})

    refused(page, page.context["form"], "unit", "cannot change")


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"name": ""}, "name", ["fill"]),
        ({"name": "tollgate wax AND wick"}, "__all__", ["exists already"]),
        ({"name": "Moor & Heath", "email": "post at moor"}, "email", ["e-mail", "email"][1:]),
        ({"name": "Moor & Heath", "lead_days": "-3"}, "lead_days", ["0"]),
        ({"name": "Moor & Heath", "lead_days": "9" * 30}, "lead_days", []),
        ({"name": "Moor & Heath", "notes": "x\x00"}, "notes", ["null"]),
    ],
)
def test_a_supplier_is_refused_at_its_field(filled, maker, fields, field, words):
    before = Supplier.objects.count()

    page = maker.post("/stock/suppliers/add/", {"submission_key": key(), **fields})

    refused(page, page.context["form"], field, *words)
    assert Supplier.objects.count() == before


@pytest.mark.parametrize(
    ("what", "fields", "field", "words"),
    [
        ("labour", {"per_hour": "-5"}, "per_hour", ["minus"]),
        ("labour", {"per_hour": "24,60"}, "per_hour", ["point"]),
        ("labour", {"per_hour": "99999999999"}, "per_hour", ["1,000,000,000"]),
        ("labour", {"per_hour": "24", "from_on": "9999-01-01"}, "from_on", ["year"]),
        ("labour", {"per_hour": "24", "person": "9" * 30}, "person", ["from the list"]),
        ("overhead", {"basis": "per_batch", "amount": "20 %"}, "amount", ["percentage"]),
        ("overhead", {"basis": "of_labour", "amount": "-20"}, "amount", ["negative"]),
        ("overhead", {"basis": "of_labour", "amount": "many"}, "amount", ["percentage"]),
        ("overhead", {"basis": "by_ear", "amount": "7"}, "basis", ["from the list"]),
        ("overhead", {"basis": "per_batch", "amount": ""}, "amount", ["fill"]),
    ],
)
def test_a_rate_is_refused_at_its_field(filled, owner, what, fields, field, words):
    url = reverse(f"costing:{what}-rate-add")

    page = owner.post(url, {"from_on": "2026-03-20", "submission_key": key(), **fields})

    refused(page, page.context["refused_form"], field, *words)
    assert LabourRate.objects.count() == 1
