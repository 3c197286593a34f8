"""A formula version that was used never changes, and rows that cannot be are refused."""

import pytest
from django.db import DatabaseError, connection, transaction

from batches.formulas import writing as formulas
from batches.models import Batch, Draw, FormulaLine, FormulaVersion, Outcome
from studio import guards
from tests.house import NOW, grams, refused, settle, snapshot

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]


PROCESS = {"fill_ug": grams(120), "loss_ppm": 0, "division_ug": grams(1)}


def test_a_version_nobody_planned_from_may_be_rewritten(books, version):
    wax = formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000)

    formulas.rewrite_version(version, PROCESS, [wax])

    version.refresh_from_db()
    assert (version.fill_ug, version.lines.count()) == (grams(120), 1)


def test_a_used_version_is_never_rewritten(books, version):
    books.plan(version, 10)
    wax = formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000)

    with refused(formulas.VersionUsed, "Write a new version"):
        formulas.rewrite_version(version, PROCESS, [wax])
    assert formulas.write_version(version.formula, PROCESS, [wax], signature=books.sign()).number == 2


LINE = "batches_formulaline"
VERSION = "batches_formulaversion"


@pytest.mark.parametrize(
    "sql",
    [
        f"UPDATE {LINE} SET amount = amount + 1",
        f"UPDATE {LINE} SET version_id = (SELECT max(id) FROM {VERSION})",
        f"DELETE FROM {LINE}",
        f"INSERT INTO {LINE} (version_id, item_id, basis, amount, spare_ppm) "
        f"SELECT version_id, item_id, basis, amount, spare_ppm FROM {LINE}",
        f"UPDATE {VERSION} SET fill_ug = fill_ug + 1",
        f"UPDATE {VERSION} SET pour_from_mc = 55000",
        f"UPDATE {VERSION} SET notes = 'stir longer'",
        f"UPDATE {VERSION} SET number = 9 WHERE number = 1",
        f"DELETE FROM {VERSION}",
    ],
)
def test_the_database_refuses_to_change_a_used_version(books, version, sql):
    books.plan(version, 10)
    spare = formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000)
    formulas.write_version(version.formula, PROCESS, [spare], signature=books.sign())
    settle()

    refused_by_the_database(sql)


@pytest.mark.parametrize("table", [LINE, VERSION])
def test_the_database_refuses_to_replace_a_used_version(books, version, table):
    books.plan(version, 10)
    settle()
    with connection.cursor() as cursor:
        names = [column.name for column in connection.introspection.get_table_description(cursor, table)]
    verb = "INSERT OR REPLACE" if connection.vendor == "sqlite" else "INSERT"

    refused_by_the_database(
        f"{verb} INTO {table} ({', '.join(names)}) SELECT {', '.join(names)} FROM {table}"
    )


def test_the_database_refuses_to_replace_a_used_line_by_one_of_another_version(books, version):
    books.plan(version, 10)
    spare = books.candle("Quince Orchard")
    used = version.lines.first()
    settle()
    verb = "INSERT OR REPLACE" if connection.vendor == "sqlite" else "INSERT"

    refused_by_the_database(
        f"{verb} INTO {LINE} (id, version_id, item_id, basis, amount, spare_ppm) "
        f"VALUES ({used.pk}, {spare.pk}, {used.item_id}, 'of_wax', 1, 0)"
    )


def refused_by_the_database(sql):
    def all_rows():
        return [list(model.objects.order_by("pk").values()) for model in (FormulaVersion, FormulaLine)]

    before = all_rows()
    refusal = pytest.raises(DatabaseError, match="was used; write a new version")
    with refusal, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)
    assert all_rows() == before


def test_the_framework_s_bulk_writes_do_not_get_round_it(books, version):
    books.plan(version, 10)
    line = version.lines.first()

    for attempt in (
        lambda: FormulaLine.objects.update(amount=1),
        lambda: FormulaLine.objects.bulk_create(
            [FormulaLine(version=version, item=line.item, basis="of_wax", amount=1)]
        ),
        lambda: FormulaVersion.objects.update(fill_ug=1),
        lambda: FormulaLine.objects.filter(pk=line.pk)._raw_delete("default"),
    ):
        with pytest.raises(DatabaseError, match="was used"), transaction.atomic():
            attempt()


def test_the_state_of_a_used_version_may_change(books, version):
    books.plan(version, 10)

    FormulaVersion.objects.filter(pk=version.pk).update(state="retired")

    assert FormulaVersion.objects.get(pk=version.pk).state == "retired"


@pytest.mark.parametrize(
    ("model", "fields", "constraint"),
    [
        (Batch, {"quantity": 0}, "batch_makes_something"),
        (Batch, {"state": "finished"}, "batch_finished_says_when"),
        (Batch, {"finished_at": NOW}, "batch_finished_says_when"),
        (Outcome, {"quantity": 0}, "outcome_is_positive"),
        (Outcome, {"result": "scrap"}, "outcome_scrap_makes_no_lot"),
        (FormulaLine, {"amount": 0}, "formula_line_has_an_amount"),
        (FormulaLine, {"spare_ppm": -1}, "formula_line_spare_not_negative"),
        (FormulaVersion, {"state": "good"}, "formula_state_is_known"),
        (FormulaVersion, {"pour_from_mc": 60_000, "pour_to_mc": 55_000}, "pour_window_is_a_window"),
    ],
)
def test_rows_that_cannot_be_are_refused(books, shelf, version, model, fields, constraint):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)
    books.finish(batch, 10)
    books.plan(version, 5)
    books.candle("Quince Orchard")  # not used, so that only the constraint stands in the way
    rows = {
        Batch: Batch.objects.filter(state="planned"),
        Outcome: Outcome.objects.all(),
        FormulaLine: FormulaLine.objects.filter(version__batches=None),
        FormulaVersion: FormulaVersion.objects.filter(batches=None),
    }[model]
    before = snapshot()
    if model is Outcome:
        guards.remove()  # yields only grow; behind that stands the constraint

    with pytest.raises(DatabaseError, match=constraint), transaction.atomic():
        model.objects.filter(pk=rows.first().pk).update(**fields)

    assert snapshot() == before


def test_a_draw_is_of_one_movement(books, shelf, version):
    batch = books.plan(version, 10)
    books.draw_into(batch, (shelf["wax"], "1 g"))
    draw = Draw.objects.get()

    with pytest.raises(DatabaseError, match="never replaced"), transaction.atomic():
        Draw.objects.bulk_create([Draw(batch=batch, line=draw.line, movement=draw.movement)])
