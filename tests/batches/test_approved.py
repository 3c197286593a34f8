"""Which designs count as never approved: products by the version made now, lots by the one they were poured from."""

import pytest

from batches.formulas import approving
from batches.formulas import writing as formulas
from batches.formulas.approved import lots_never_approved, never_approved
from batches.models import Formula
from batches.planning.starting import version_for
from costing.standard.product_costs import products
from inventory.customers.customers import Contact
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from tests.house import day, grams

pytestmark = pytest.mark.django_db


def state(books, version, state, at):
    approving.change_state(version.pk, state, signature=books.sign(at, f"Now {state}"))


@pytest.mark.parametrize(
    ("changes", "never"),
    [
        ([], True),
        (["approved"], False),
        (["approved", "retired"], False),
        (["retired"], True),
        (["approved", "trial"], True),
        (["approved", "trial", "retired"], True),
    ],
)
def test_a_product_is_approved_as_its_version_is_or_was_until_it_was_retired(books, version, changes, never):
    bystander = books.candle("Quince Orchard")
    books.approve(bystander, at=day(1))
    for number, becomes in enumerate(changes, 2):
        if becomes == "approved":
            books.approve(version, at=day(number))
        else:
            state(books, version, becomes, day(number))

    item_id = version.formula.item_id
    assert never_approved() == ({item_id} if never else set())
    assert never_approved([bystander.formula.item_id]) == set()


def test_one_approved_version_is_enough_and_what_has_no_formula_has_no_design(books, version):
    books.item("Matches", kind="finished", unit="each")
    books.approve(version, at=day(1))
    next_version(books, version)

    assert never_approved() == set()


def next_version(books, version, formula=None):
    lines = [formulas.Ingredient(line.item, line.basis, line.amount) for line in version.lines.all()]
    process = {"fill_ug": grams(120), "loss_ppm": 0, "division_ug": grams(1)}
    return formulas.write_version(formula or version.formula, process, lines, signature=books.sign())


def test_a_product_counts_by_the_version_it_is_made_by_now(books, version):
    """An approved version that was retired says nothing of the trial that took its place."""
    books.approve(version, at=day(1))
    second = next_version(books, version)
    assert (products(), never_approved()) == ([version], set())

    state(books, version, "retired", day(2))

    item_id = version.formula.item_id
    assert (products(), never_approved()) == ([second], {item_id})
    assert never_approved([item_id]) == {item_id}
    assert version_for(version.formula.item) == second

    books.approve(second, at=day(3))
    assert never_approved() == set()


def test_an_approved_version_of_a_retired_formula_says_nothing_of_the_next(books, version):
    books.approve(version, at=day(1))
    other = Formula.objects.create(name="Rain on Slate, cotton", item=version.formula.item)
    trial = next_version(books, version, other)
    assert never_approved() == set()

    Formula.objects.filter(pk=version.formula_id).update(retired=True)

    assert (products(), never_approved()) == ([trial], {version.formula.item_id})
    # Where nothing is made any more, what is left was approved.
    Formula.objects.filter(pk=other.pk).update(retired=True)
    assert (products(), never_approved()) == ([], set())


def test_what_stands_on_the_shelf_keeps_the_design_it_was_made_by(books, shelf, version):
    """Whatever became of the versions since. What came from no batch may be of the approved one."""
    books.approve(version, at=day(1))
    batch = books.plan(version, 10)
    books.fill(shelf, batch, 10)
    (made,) = books.finish(batch, 10)
    found = books.receive(version.formula.item.name, 5, cost=20)
    next_version(books, version)
    state(books, version, "retired", day(2))

    assert never_approved() == {version.formula.item_id}
    assert lots_never_approved([made.pk, found.pk]) == set()


@pytest.fixture
def poured(books, shelf, version):
    """Ten of an approved first version, ten of a second on trial."""
    books.approve(version, at=day(1))
    lots = []
    for made in (version, next_version(books, version)):
        batch = books.plan(made, 10)
        books.fill(shelf, batch, 10)
        lots += books.finish(batch, 10)
    return lots


def test_a_lot_counts_by_the_version_it_was_poured_from(books, poured):
    approved, trial = poured

    assert lots_never_approved([approved.pk, trial.pk]) == {trial.pk}
    assert lots_never_approved([approved.pk]) == set()


def test_what_came_back_is_of_the_design_it_was_sent_as(books, poured):
    back = []
    for lot in poured:
        sent = dispatching.send(books.take((lot, 3)), to=Contact("Ida Fennimore"), signature=books.sign())
        back += dispatching.take_back(
            sent.pk, [Back(lot.pk, 1)], signature=books.sign(reason="Not as ordered")
        )

    assert lots_never_approved([lot.pk for lot in back]) == {back[1].pk}


def test_what_was_decanted_is_of_the_design_it_was_poured_as(books, poured):
    """Each into a box of its own, the boxes into one, and one of that comes back."""
    boxes = [books.decant((lot, 4))[0] for lot in poured]
    (both,) = books.decant((boxes[0], 2), (boxes[1], 2))
    sent = dispatching.send(books.take((both, 3)), to=Contact("Ida Fennimore"), signature=books.sign())
    (back,) = dispatching.take_back(
        sent.pk, [Back(both.pk, 1)], signature=books.sign(reason="Not as ordered")
    )

    asked = [lot.pk for lot in (*boxes, both, back)]
    assert lots_never_approved(asked) == {boxes[1].pk, both.pk, back.pk}


def test_a_lot_of_no_batch_counts_by_its_product(books, version):
    matches = books.receive(books.item("Matches", kind="finished", unit="each").name, 10, cost=5)
    candles = books.receive(version.formula.item.name, 5, cost=20)

    assert lots_never_approved([matches.pk, candles.pk]) == {candles.pk}


def test_the_questions_are_few_however_many_lots(books, poured, django_assert_num_queries):
    with django_assert_num_queries(1):
        lots_never_approved([poured[1].pk])
    with django_assert_num_queries(1):
        lots_never_approved([lot.pk for lot in poured])
