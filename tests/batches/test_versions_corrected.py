"""A batch recorded under the wrong version or product: corrected with a reason, both on record. Figures by hand."""

import pytest
from django.db import IntegrityError, transaction

from batches.models import Batch, VersionCorrection
from batches.runs import runs, versions
from batches.runs.runs import BatchError
from inventory.lots.succession import endings
from tests.house import day, grams, money, refused

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]


def correct(books, batch, version, reason="Version 1 was on the bench"):
    return versions.correct_version(batch.pk, version.pk, signature=books.sign(reason=reason))


@pytest.fixture
def strong(books, version):
    """A second version of the same candle: 90 g of wax and 10 g of fragrance, no wick of its own."""
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 100_000), ("vessel", "per_unit", 1)]
    return books.formula(version.formula.item.name, lines, fill="100 g", name="Strong", cure_days=7)


def test_targets_cost_and_cure_follow_and_the_record_keeps_both(books, shelf, version, strong):
    other = books.plan(version, 5)
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(10))
    (lot,) = books.finish(batch, 10, at=day(11))

    said = correct(books, batch, strong)

    batch = Batch.objects.get(pk=batch.pk)
    assert (batch.version, said.before, said.after, said.by) == (strong, version, strong, books.by)
    drawn = {
        strong.lines.get(pk=pk).item.name: quantity
        for pk, quantity in runs.drawn_by_line(batch).items()
        if strong.lines.filter(pk=pk)
    }
    assert drawn == {"wax": grams(920), "fragrance": grams(80), "vessel": 10}
    assert [(draw.line.item.name, draw.quantity) for draw in versions.off_the_formula(batch)] == [
        ("wick", 10)
    ]
    assert books.of(lot) == (10, money("28.80"))
    assert lot.ready_on == day(18).date()
    assert books.of(shelf["wax"]) == (grams(9_080), money("45.40"))
    other.refresh_from_db()
    assert other.version == version


def test_another_product_is_corrected_before_output_and_the_old_code_leads_on(books, shelf, version):
    right = books.candle("Fig Leaf")
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(10))
    (wrong,) = books.finish(batch, 10, at=day(11))
    with refused(BatchError, "Open the batch again first"):
        correct(books, batch, right)

    books.undo(batch)
    correct(books, batch, right)
    batch = Batch.objects.get(pk=batch.pk)
    (made,) = books.finish(batch, 10, at=day(11))

    assert (made.item, books.of(made)) == (right.formula.item, (10, money("28.80")))
    assert [lot.pk for lot in endings([wrong.pk])[wrong.pk].lots] == [made.pk]


def test_a_version_that_is_the_same_or_of_another_unit_is_refused(books, shelf, version):
    batch = books.plan(version, 10)
    with refused(BatchError, "is of .* already"):
        correct(books, batch, version)
    blend = books.formula("blend", [("wax", "wax_share", 1_000_000)])
    with refused(BatchError, "not planned in the same unit"):
        correct(books, batch, blend)


def test_a_version_changes_only_with_its_correction(books, shelf, version, strong):
    batch = books.plan(version, 10)
    with pytest.raises(IntegrityError, match="what it was planned as"), transaction.atomic():
        Batch.objects.filter(pk=batch.pk).update(version=strong)
    correct(books, batch, strong)
    with pytest.raises(IntegrityError, match="never changed"), transaction.atomic():
        VersionCorrection.objects.update(reason="x")
    assert runs.drawn_by_line(batch) == {}
