"""Every table that holds facts refuses, in the database itself, that they are rewritten, replaced or taken away."""

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction

from studio.guards import GUARDS

pytestmark = pytest.mark.django_db

# Written anew all the time, or only how the studio likes things: no facts.
NO_FACTS = {
    "batches_chosenlot",
    "batches_defect",
    "batches_formula",
    "costing_pricerounding",
    "inventory_commitment",
    "inventory_countclass",
    "inventory_item",
    "inventory_labellayout",
    "inventory_reason",
    "inventory_reorderrules",
    "inventory_retention",
    "inventory_shop",
    "inventory_shopproduct",
    "inventory_supplier",
    "inventory_waitingorders",
    "inventory_waitingtable",
    "studio_studio",
    "studio_user",
}
# A draft is written anew as long as it is one, and what was scanned of a file goes when it is erased.
SOME_MAY_GO = {
    "batches_formulaline",
    "batches_formulaversion",
    "inventory_customerorderline",
    "inventory_documentcontent",
    "inventory_order",
    "inventory_orderline",
}


def refused(sql, match):
    with pytest.raises(DatabaseError, match=match), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)


def rows_of(table):
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COUNT(*) FROM {table}")
        return cursor.fetchone()[0]


def guarded(event):
    return {each.table for each in GUARDS if each.event == event and each.when == "1 = 1"}


def test_every_table_is_guarded_or_holds_no_facts():
    packages = ("studio", "inventory", "batches", "costing")
    tables = {model._meta.db_table for name in packages for model in apps.get_app_config(name).get_models()}

    assert tables - guarded("DELETE") == NO_FACTS | SOME_MAY_GO
    assert {each.table for each in GUARDS if each.event == "DELETE"} >= SOME_MAY_GO


def test_nothing_is_taken_away_behind_the_back_of_the_pages(filled):
    verb = "INSERT OR REPLACE" if connection.vendor == "sqlite" else "INSERT"
    replacing = {each.table for each in GUARDS if each.event == "INSERT" and "kept" in each.when}
    for table in sorted(guarded("DELETE")):
        if not rows_of(table):
            continue
        refused(f"DELETE FROM {table}", "never deleted|not given again|only when it is erased")
        if table in replacing:
            with connection.cursor() as cursor:
                described = connection.introspection.get_table_description(cursor, table)
            names = ", ".join(f'"{column.name}"' for column in described)
            refused(
                f"{verb} INTO {table} ({names}) SELECT {names} FROM {table}",
                "never replaced|closed there|closed further|never changed|decided|was used",
            )


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("inventory_lot", "item_id = item_id + 1"),
        ("inventory_lot", "supplier_id = NULL"),
        ("inventory_deliveryline", "goods_value = goods_value + 1"),
        ("inventory_delivery", "freight = freight + 1"),
        ("inventory_customerorder", "taken_by_id = taken_by_id + 1"),
        ("batches_batch", "version_id = version_id + 1"),
        ("batches_batch", "quantity = quantity + 1"),
        ("batches_reading", "temperature_mc = temperature_mc + 1"),
        ("batches_labour", "minutes = minutes + 1"),
        ("batches_complaint", "taken_by_id = taken_by_id + 1"),
        ("costing_scenario", "first_units = first_units + 1"),
        ("studio_counter", "last = last - 1"),
    ],
)
def test_what_is_a_fact_is_not_rewritten(filled, table, change):
    assert rows_of(table)

    refused(
        f"UPDATE {table} SET {change}", "never|stays what it was|is over|not given again|does not come back"
    )
