"""Cost sheets, standards, rates and variances as people open, ask and set them."""

from decimal import Decimal

import pytest
from django.urls import reverse

from costing.models import LabourRate, OverheadPaid, OverheadRate, WorkStandard
from tests.house import money
from tests.web.conftest import enter
from tests.web.forms import key
from tests.web.inspection import csv_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def sheet(filled):
    return reverse("costing:cost-sheet", args=[filled.candle.formula_id])


def test_a_run_is_taken_apart_on_its_page_and_adds_up(filled, owner):
    # Ten made, nine good. Standard of the day by the latest receipts: wax 7.30/kg, fragrance 45.50/kg, as wicks and vessels
    # cost: 6.716 + 3.64 + 1.27 + 20.90, overhead 7.40 a batch = 39.926, for nine 35.9334. Nothing said how long it takes.
    # It drew wax at 6.743 and fragrance at 48.07 a kilogram: 0.51244 less and 0.2056 more.
    rows = csv_of(owner, reverse("costing:batch-variance", args=[filled.finished.code]) + "?format=csv")

    assert {row["What"]: row["Amount"] for row in rows} == {
        "Should have cost": "35.933400",
        "Price": "-0.306840",
        "Usage": "0.000000",
        "Yield": "3.992600",
        "Labour rate": "0.000000",
        "Labour time": "24.600000",
        "Overhead": "0.000000",
        "Did cost": "64.219160",
    }
    page = text_of(owner.get(reverse("costing:batch-variance", args=[filled.finished.code])))
    assert "1 of 10 made came out less than good, 10 %; 0 % was to be expected." in page
    assert "Nothing says how long" in page


def test_a_period_adds_up_to_its_runs(filled, owner):
    rows = csv_of(owner, "/costing/variances/?format=csv")
    parts = ("Price", "Usage", "Yield", "Labour rate", "Labour time", "Overhead")

    assert filled.finished.code in {row["Batch"] for row in rows}
    for row in rows:
        assert Decimal(row["Should have cost"]) + sum(Decimal(row[part]) for part in parts) == Decimal(
            row["Did cost"]
        )
    assert owner.get("/costing/variances/?first=2026-03-10&last=2026-03-01").status_code == 200
    assert "No run was finished in these days." in text_of(
        owner.get("/costing/variances/?first=2025-01-01&last=2025-02-01")
    )


@pytest.mark.parametrize("basis", ["latest", "average", "offer", "replacement"])
def test_a_sheet_s_heads_add_up_at_every_basis(filled, owner, sheet, basis):
    rows = csv_of(owner, f"{sheet}?units=37&basis={basis}&format=csv")
    heads = {row["What"]: Decimal(row["Value of the run"]) for row in rows if row["Part"] == "Head"}
    lines = [Decimal(row["Value of the run"]) for row in rows if row["Part"] != "Head"]

    assert sum(value for name, value in heads.items() if name != "In all") == heads["In all"] == sum(lines)


def test_a_sheet_shows_what_it_rests_on_and_what_is_in_it(filled, owner, sheet):
    text = text_of(owner.get(sheet))

    assert "received 1 Mar 2026" in text
    assert "the owner's own work among it" in text
    assert "and overhead by its rules" in text


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("units=many", "For a run of"),
        ("units=0", "For a run of"),
        ("units=-5", "For a run of"),
        ("units=" + "9" * 38, "For a run of"),
        ("basis=guess", "Prices"),
        ("buy_for=-1", "Bought at once for"),
        ("buy_for=many&basis=offer", "Bought at once for"),
    ],
)
def test_what_a_sheet_cannot_read_is_said_and_kept(filled, owner, sheet, asked, words):
    page = owner.get(f"{sheet}?{asked}")

    assert page.status_code == 200
    assert page.context["form"].errors
    assert f">{words}</a>" in text_of(page)
    assert owner.get(f"{sheet}?{asked}&format=csv").status_code == 200


def work(**fields):
    return {
        "from_on": "2026-03-20",
        "spoilage": "5",
        "pour_batch": "10",
        "pour_unit": "36",
        "submission_key": key(),
    } | fields


def test_a_standard_is_set_once_and_shows_on_the_sheet(filled, owner, sheet):
    url, data = reverse("costing:work-standard", args=[filled.candle.formula_id]), work()

    assert owner.post(url, data).url == owner.post(url, data).url == sheet
    assert WorkStandard.objects.filter(formula=filled.candle.formula_id).count() == 1
    rows = csv_of(owner, f"{sheet}?units=10&format=csv")
    # 10 minutes and ten times 36 seconds.
    assert [
        (row["What"], row["Quantity"], row["Value of the run"]) for row in rows if row["Part"] == "Labour"
    ] == [("Pouring", "16", "6.560000")]
    assert "5 %" in text_of(owner.get(sheet))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("spoilage", "100"),
        ("spoilage", "lots"),
        ("pour_batch", "-1"),
        ("pour_unit", "1.5"),
        ("from_on", "soon"),
    ],
)
def test_a_standard_that_cannot_be_is_refused_at_its_field(filled, owner, field, value):
    page = owner.post(
        reverse("costing:work-standard", args=[filled.candle.formula_id]), work(**{field: value})
    )

    assert page.status_code == 422
    assert page.context["form"].errors.keys() == {field}
    assert page.context["form"][field].value() == value
    assert not WorkStandard.objects.exists()


def test_a_rate_over_normal_capacity_is_worked_out_and_kept_with_what_it_came_from(filled, owner):
    # 306.00 a month over 45 hours is 6.80 an hour.
    data = {
        "from_on": "2026-03-20",
        "name": "Rent",
        "basis": "per_labour_hour",
        "amount": "",
        "submission_key": key(),
    }

    answer = owner.post(reverse("costing:overhead-rate-add"), data | {"per_month": "306", "capacity": "45"})

    assert answer.status_code == 302
    rate = OverheadRate.objects.get(name="Rent")
    assert (rate.amount, rate.per_month, rate.capacity) == (money("6.80"), money(306), 45_000)
    assert "over a normal 45 hours" in text_of(owner.get("/costing/rates/"))


@pytest.mark.parametrize(
    ("fields", "wrong"),
    [
        ({"amount": "5", "per_month": "306", "capacity": "45"}, "amount"),
        ({"per_month": "306"}, "capacity"),
        ({"capacity": "45"}, "per_month"),
        ({"per_month": "306", "capacity": "0"}, "capacity"),
        ({"per_month": "306", "capacity": "nan"}, "capacity"),
        ({}, "amount"),
    ],
)
def test_half_of_a_capacity_is_refused_at_its_field(filled, owner, fields, wrong):
    before = OverheadRate.objects.count()
    data = {"from_on": "2026-03-20", "basis": "per_labour_hour", "submission_key": key()}

    page = owner.post(reverse("costing:overhead-rate-add"), data | fields)

    assert page.status_code == 422
    assert wrong in page.context["refused_form"].errors
    assert OverheadRate.objects.count() == before


def test_what_a_month_came_to_stands_beside_what_was_charged(filled, owner):
    data = {"month": "2026-03-14", "amount": "20", "note": "Heating", "submission_key": key()}

    assert owner.post(reverse("costing:overhead-paid-add"), data).status_code == 302
    assert OverheadPaid.objects.get().month.day == 1
    page = owner.get("/costing/variances/?first=2026-03-01")
    (month,) = page.context["months"]
    # 7.40 for each run that was finished.
    assert month.charged % money("7.40") == 0
    assert month.under == money(20) - month.charged
    later = owner.post(
        reverse("costing:overhead-paid-add"), data | {"month": "2026-04-01", "submission_key": key()}
    )
    assert later.status_code == 422
    assert OverheadPaid.objects.count() == 1


def test_a_rate_for_a_task_is_set_on_the_page(filled, owner):
    data = {
        "from_on": "2026-03-20",
        "person": "",
        "task": "finish",
        "per_hour": "18",
        "submission_key": key(),
    }

    assert owner.post(reverse("costing:labour-rate-add"), data).status_code == 302
    assert LabourRate.objects.get(task="finish").per_hour == money(18)
    assert "Hand finishing" in text_of(owner.get("/costing/rates/"))
