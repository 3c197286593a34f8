"""Planning, prices, standards, orders' materials and approvals agree which version a product or a blend is made by."""

from datetime import UTC, datetime

import pytest

from batches.formulas import approving
from batches.formulas import writing as formulas
from batches.formulas.approved import made_first, made_now, made_of, never_approved
from batches.models import Formula, FormulaVersion
from batches.planning.sales_order_demand import materials_of_orders
from batches.planning.starting import version_for, versions_for
from costing.standard.product_costs import product_costs, products
from costing.standard.standard import Standards
from costing.standard.views import poured_now
from tests.house import TODAY, day, grams

pytestmark = pytest.mark.django_db

# Two formulas of one item, their versions in the order of their numbers: the day of March each was written on, and
# whether it is approved. Numbers and days disagree on purpose, within a formula and across the two.
WRITTEN = {
    "Summer": [(10, True), (5, False), (2, True)],
    "Winter": [(12, True), (8, True)],
}


@pytest.fixture
def write(books, sign):
    """Write the versions above for an item; by formula and number. Each is of a wax of its own name."""

    def versions(item, fill_ug):
        made = {}
        for name, rows in WRITTEN.items():
            formula = Formula.objects.create(name=f"{item.name}, {name}", item=item)
            for number, (written_on, is_approved) in enumerate(rows, 1):
                wax = books.item(f"Wax of {formula.name} {number}")
                version = formulas.write_version(
                    formula,
                    {"fill_ug": fill_ug, "loss_ppm": 0, "division_ug": grams(1)},
                    [formulas.Ingredient(wax, "wax_share", 1_000_000)],
                    signature=sign(recorded=day(written_on)),
                )
                assert (version.number, version.written_at) == (number, day(written_on))
                made[name, number] = version
                if is_approved:
                    books.approve(version, at=day(13))
        return made

    return versions


def retire(books, version):
    approving.change_state(version.pk, "retired", signature=books.sign(day(14), "Another took its place"))


# By hand: the approved ones by the day they were written, then the one on trial.
TURNS = [("Winter", 1), ("Summer", 1), ("Winter", 2), ("Summer", 3), ("Summer", 2)]


def test_all_who_ask_of_a_product_are_told_the_same(books, write):
    bystander = books.candle("Quince Orchard")
    item = books.item("Cedar & Black Tea", kind="finished")
    versions = write(item, grams(100))
    books.order_of("Moor & Mill", (item.name, 1))

    for name, number in TURNS:
        expected = versions[name, number]
        both = {item.pk: expected, bystander.formula.item_id: bystander}
        assert version_for(item) == expected
        assert versions_for(both) == made_now(FormulaVersion.objects.all()) == both
        assert made_first(FormulaVersion.objects.filter(formula__item=item)).first() == expected
        assert made_of(FormulaVersion.objects.filter(formula__item=item)) == expected
        assert products() == [expected, bystander]
        assert [cost.version for cost in product_costs(TODAY)] == [expected, bystander]
        wax = books.item(f"Wax of {expected.formula.name} {number}")
        assert [(key, quantity) for key, _, quantity in materials_of_orders(TODAY)] == [(wax.pk, grams(100))]
        never = {bystander.formula.item_id}
        assert never_approved() == (never if (name, number) != ("Summer", 2) else never | {item.pk})
        retire(books, expected)
    assert version_for(item) is None
    assert products() == [bystander]


def test_a_blend_is_costed_by_the_version_it_is_planned_by(books, write):
    blend = books.item("Soft blend", kind="wax", unit="g")
    versions = write(blend, None)
    candle = books.formula("Rain on Slate", [(blend.name, "wax_share", 1_000_000)], fill="100 g")

    for name, number in TURNS:
        expected = versions[name, number]
        assert version_for(blend) == expected
        assert Standards.read([candle]).version_of(blend.pk, TODAY) == expected
        retire(books, expected)
    # It was made once, so what it cost is worked out by the latest that was written.
    assert version_for(blend) is None
    assert Standards.read([candle]).version_of(blend.pk, TODAY) == versions["Winter", 1]


@pytest.mark.parametrize(
    ("written_by", "expected"),
    [
        (1, ("Winter", 1)),  # none was written by then: the one of today
        (2, ("Summer", 3)),
        (7, ("Summer", 3)),  # the one on trial is of the fifth
        (9, ("Winter", 2)),
        (11, ("Summer", 1)),
        (12, ("Winter", 1)),
    ],
)
def test_a_blend_of_a_day_is_of_what_was_written_by_then(books, write, written_by, expected):
    blend = books.item("Soft blend", kind="wax", unit="g")
    versions = write(blend, None)
    candle = books.formula("Rain on Slate", [(blend.name, "wax_share", 1_000_000)], fill="100 g")
    on = datetime(2026, 3, written_by, tzinfo=UTC).date()

    assert Standards.read([candle]).version_of(blend.pk, on) == versions[expected]


def test_a_formulas_own_page_goes_by_the_same_rule_among_its_versions(books, write):
    versions = write(books.item("Cedar & Black Tea", kind="finished"), grams(100))
    own = {
        name: list(FormulaVersion.objects.filter(formula__name__endswith=name).order_by("-number"))
        for name in WRITTEN
    }

    assert {name: poured_now(rows) for name, rows in own.items()} == {
        "Summer": versions["Summer", 1],
        "Winter": versions["Winter", 1],
    }
    assert poured_now([]) is None
