"""Rules the database itself keeps, tried by going round the verbs: bulk writes, plain updates, raw SQL."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from inventory.lots import holding
from inventory.lots.moving import revalue
from inventory.models import Commitment, DeliveryLine, HoldRecord, Item, Lot, Movement, PeriodCost, Posting
from studio import guards
from tests.house import NOW, TODAY, money, settle, snapshot

pytestmark = pytest.mark.django_db

APPEND_ONLY = ("inventory_posting", "inventory_movement", "inventory_periodcost", "inventory_holdrecord")


@pytest.fixture
def lot(books, sign):
    """A lot with a row in every table that only grows."""
    lot = books.receive("wick", 10, cost=10)
    books.draw(lot, 4)
    revalue([(lot, 10, money(1))], signature=sign())
    holding.hold(lot.pk, signature=sign(reason="bent"))
    settle()
    return lot


def run(sql, params=()):
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, params)


def refuses(sql, params=(), match="."):
    before = snapshot()
    with pytest.raises(DatabaseError, match=match):
        run(sql, params)
    assert snapshot() == before


def a_column_of(table):
    return {"inventory_posting": "reason", "inventory_holdrecord": "reason"}.get(table, "value")


@pytest.mark.parametrize("table", APPEND_ONLY)
def test_the_database_refuses_to_change_what_only_grows(lot, table):
    column = a_column_of(table)

    refuses(f"UPDATE {table} SET {column} = {column}", match="never changed")


@pytest.mark.parametrize("table", APPEND_ONLY)
def test_the_database_refuses_to_delete_what_only_grows(lot, table):
    refuses(f"DELETE FROM {table}", match="never deleted")


@pytest.mark.parametrize("table", APPEND_ONLY)
def test_the_database_refuses_to_replace_what_only_grows(lot, table):
    with connection.cursor() as cursor:
        columns = [column.name for column in connection.introspection.get_table_description(cursor, table)]
    copied = ", ".join(columns)
    verb = "INSERT OR REPLACE" if connection.vendor == "sqlite" else "INSERT"

    refuses(f"{verb} INTO {table} ({copied}) SELECT {copied} FROM {table}", match="never replaced")


@pytest.mark.parametrize("table", APPEND_ONLY)
def test_the_database_refuses_to_empty_what_only_grows(lot, table):
    empty = f"DELETE FROM {table}" if connection.vendor == "sqlite" else f"TRUNCATE {table} CASCADE"

    refuses(empty, match="never deleted")


@pytest.mark.parametrize("model", [Posting, Movement, PeriodCost, HoldRecord])
def test_bulk_writes_of_the_framework_are_refused_too(lot, model):
    row = model.objects.order_by("pk").first()
    field = a_column_of(model._meta.db_table)

    for attempt in (
        lambda: model.objects.update(**{field: getattr(row, field)}),
        lambda: model.objects.bulk_update([row], [field]),
        lambda: model.objects.filter(pk=row.pk)._raw_delete("default"),
        lambda: row.save(update_fields=[field]),
    ):
        with pytest.raises(DatabaseError, match="never"), transaction.atomic():
            attempt()


def test_an_upsert_changes_nothing_that_only_grows(lot):
    move = Movement.objects.order_by("pk").first()
    move.value += 1

    with pytest.raises(DatabaseError, match="never"), transaction.atomic():
        Movement.objects.bulk_create(
            [move], update_conflicts=True, unique_fields=["id"], update_fields=["value"]
        )


@pytest.mark.parametrize(
    ("change", "constraint"),
    [
        ({"on_hand": -1, "value": 0}, "lot_never_below_zero"),
        ({"value": -1}, "lot_value_never_below_zero"),
        ({"on_hand": 0, "value": 1}, "empty_lot_is_worth_nothing"),
    ],
)
def test_balances_that_cannot_be_are_refused(lot, change, constraint):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        Lot.objects.filter(pk=lot.pk).update(**change)
    assigned = ", ".join(f"{column} = {value}" for column, value in change.items())
    refuses(f"UPDATE inventory_lot SET {assigned}", match=constraint)


def posting(books, **changed):
    fields = {"kind": "draw", "happened_at": NOW, "recorded_at": NOW, "by": books.by}
    return Posting(**{**fields, **changed})


@pytest.mark.parametrize(
    ("changed", "constraint"),
    [
        ({"happened_at": NOW + timedelta(microseconds=1)}, "posting_not_before_it_happened"),
        ({"kind": "reversal"}, "posting_reversal_names_what_it_reverses"),
    ],
)
def test_postings_that_cannot_be_are_refused(books, changed, constraint):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        Posting.objects.bulk_create([posting(books, **changed)])


def test_only_a_reversal_reverses_and_each_posting_is_reversed_once(books, lot):
    receipt = Posting.objects.get(kind="receipt")
    with pytest.raises(IntegrityError, match="posting_reversal"), transaction.atomic():
        Posting.objects.bulk_create([posting(books, reverses=receipt)])

    Posting.objects.bulk_create([posting(books, kind="reversal", reverses=receipt)])
    with pytest.raises(IntegrityError, match="never replaced"), transaction.atomic():
        Posting.objects.bulk_create([posting(books, kind="reversal", reverses=receipt)])


def test_a_movement_of_nothing_is_refused(lot):
    with pytest.raises(IntegrityError, match="movement_moves_something"), transaction.atomic():
        Movement.objects.bulk_create(
            [Movement(posting=Posting.objects.first(), lot=lot, quantity=0, value=0)]
        )


def test_a_code_is_given_once(lot):
    with pytest.raises(IntegrityError, match=r"(?i)unique|never replaced"), transaction.atomic():
        Lot.objects.bulk_create([Lot(code=lot.code, item=lot.item, arrived_at=NOW)])


def test_a_source_commits_an_item_once_and_something(lot):
    Commitment.objects.create(source="B0001", item=lot.item, quantity=1, needed_on=TODAY)

    for source, quantity in (("B0001", 2), ("B0002", 0), ("B0002", -1)):
        with pytest.raises(IntegrityError), transaction.atomic():
            Commitment.objects.bulk_create(
                [Commitment(source=source, item=lot.item, quantity=quantity, needed_on=TODAY)]
            )


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "soap"},
        {"unit": "st"},
        {"maximum_load_ppm": 100_000, "maximum_load_basis": ""},
        {"name": "WICK"},
    ],
)
def test_items_that_cannot_be_are_refused(lot, fields):
    with pytest.raises(IntegrityError), transaction.atomic():
        Item.objects.bulk_create([Item(**{"name": "other", "kind": "wax", **fields})])


@pytest.mark.parametrize("value", ["12", "twelve", "1.5", "12 g"])
@pytest.mark.parametrize("column", ["on_hand", "value"])
def test_a_column_of_whole_numbers_takes_no_text_or_fraction(lot, column, value):
    # Text that is a whole number becomes one on both databases; nothing else is kept.
    if value == "12":
        run(f"UPDATE inventory_lot SET {column} = %s WHERE id = %s", [value, lot.pk])
        lot.refresh_from_db()
        assert getattr(lot, column) == 12
    else:
        refuses(f"UPDATE inventory_lot SET {column} = %s WHERE id = %s", [value, lot.pk])


def test_no_fraction_is_kept_as_it_stands(lot):
    # PostgreSQL rounds a numeric literal to its bigint; SQLite would keep the fraction and must refuse it.
    if connection.vendor == "sqlite":
        refuses("UPDATE inventory_lot SET on_hand = 1.5")
    else:
        run("UPDATE inventory_lot SET on_hand = 1.5, value = 0")
        lot.refresh_from_db()
        assert type(lot.on_hand) is int


@pytest.mark.parametrize("value", [Decimal("1.9"), Decimal(2), 2.0, 1.9, True, "2"])
def test_the_field_refuses_whatever_is_not_a_whole_number(lot, value):
    receipt = Posting.objects.get(kind="receipt")
    for attempt in (
        lambda: Movement.objects.bulk_create([Movement(posting=receipt, lot=lot, quantity=value, value=0)]),
        lambda: Lot.objects.filter(pk=lot.pk).update(on_hand=value),
        lambda: Lot.objects.filter(on_hand=value).count(),
        lambda: DeliveryLine.objects.update(goods_value=value),
    ):
        with pytest.raises(TypeError, match="takes whole numbers"), transaction.atomic():
            attempt()


def test_every_guard_is_in_place_and_a_missing_one_is_named(lot):
    assert guards.missing() == []

    with connection.cursor() as cursor:
        on = "" if connection.vendor == "sqlite" else " ON inventory_movement"
        cursor.execute(f"DROP TRIGGER guard_inventory_movement_update{on}")
    assert guards.missing() == ["guard_inventory_movement_update"]

    guards.install()
    assert guards.missing() == []


def test_a_guard_that_is_switched_off_counts_as_missing(lot):
    if connection.vendor == "sqlite":
        return  # a trigger of SQLite cannot be switched off, only dropped
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE inventory_movement DISABLE TRIGGER guard_inventory_movement_update")

    assert guards.missing() == ["guard_inventory_movement_update"]
