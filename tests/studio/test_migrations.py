"""Migrations: they make what the models say, go back to nothing, and are never rewritten once they have landed."""

import re
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations import CreateModel

from batches.models import BurnLimits, Defect
from inventory.models import CountClass, LabelLayout, Reason
from studio import guards
from studio.operations import CreateModels

ROOT = Path(__file__).parents[2]
# As `sha256sum` writes it. A new migration joins it when it lands:
# sha256sum APP/migrations/NAME.py >> tests/studio/landed_migrations.txt
LANDED = ROOT / "tests" / "studio" / "landed_migrations.txt"
PACKAGES = ("costing", "batches", "inventory", "studio")
REASONS = {"scrap": 6, "sample": 4, "sent_back": 3, "found": 3, "correction": 3, "count": 6}


def test_a_migration_that_has_landed_is_never_rewritten_and_a_new_one_joins_the_list():
    files = sorted(ROOT.glob("*/migrations/[0-9]*.py"))

    digests = {path.relative_to(ROOT).as_posix(): sha256(path.read_bytes()).hexdigest() for path in files}

    assert len(digests) >= 6
    assert digests == {name: digest for digest, name in map(str.split, LANDED.read_text().splitlines())}


def test_the_first_migration_of_a_package_makes_whole_tables_at_once():
    """What is added to a table later has Django draw every model anew, which once took 20 seconds."""
    for package in PACKAGES:
        initial = MigrationLoader(None).get_migration(package, "0001_initial")
        (operation,) = initial.operations
        assert isinstance(operation, CreateModels)
        assert {type(model) for model in operation.models} == {CreateModel}


@pytest.mark.django_db
def test_models_say_nothing_that_no_migration_makes(capsys):
    call_command("makemigrations", check_changes=True, dry_run=True)

    assert "No changes detected" in capsys.readouterr().out


@pytest.mark.django_db
def test_every_column_constraint_and_index_of_a_model_is_in_the_database():
    names, columns = _names_kept(), guards.columns_of_tables(connection)
    models = [model for name in PACKAGES for model in apps.get_app_config(name).get_models()]
    assert len(models) > 100

    for model in models:
        table = model._meta.db_table
        assert columns[table] == {field.column for field in model._meta.local_concrete_fields}
        asked = {rule.name for rule in [*model._meta.constraints, *model._meta.indexes]}
        assert asked <= names[table], table


@pytest.mark.django_db
def test_a_studio_begins_with_reasons_classes_layouts_defects_and_limits():
    kinds = list(Reason.objects.values_list("kind", flat=True))
    assert {kind: kinds.count(kind) for kind in kinds} == REASONS
    classes = CountClass.objects.values_list("letter", "share_ppm", "times_a_year", "tolerance_ppm")
    assert sorted(classes) == [
        ("A", 800_000, 4, 10_000),
        ("B", 950_000, 2, 30_000),
        ("C", 1_000_000, 1, 50_000),
    ]
    assert sorted(LabelLayout.objects.values_list("name", "is_default")) == [
        ("A4, 2 × 4, 99.1 × 67.7 mm", False),
        ("A4, 3 × 8, 70 × 37 mm", True),
        ("Roll, 62 × 29 mm", False),
        ("US Letter, 2 × 5, 4 × 2 in", False),
        ("US Letter, 3 × 10, 2.625 × 1 in", False),
    ]
    for layout in LabelLayout.objects.all():
        # Labels, gaps and two equal margins fill the page, to a micrometer of rounding.
        across = layout.columns * (layout.label_width_um + layout.gap_x_um) - layout.gap_x_um
        down = layout.rows * (layout.label_height_um + layout.gap_y_um) - layout.gap_y_um
        assert abs(2 * layout.left_um + across - layout.page_width_um) <= 1
        assert abs(2 * layout.top_um + down - layout.page_height_um) <= 1
    assert Defect.objects.count() == 13
    limits = BurnLimits.objects.get()
    assert (limits.flame_um, limits.end_flame_um, limits.wax_left_um) == (75_000, 75_000, 12_000)
    assert (limits.cycles, limits.soot, limits.mushrooming) == (3, "slight", "slight")
    assert (limits.weight_asked, limits.set_by) == (True, None)
    assert limits.set_at == datetime(2000, 1, 1, tzinfo=UTC)


@pytest.mark.django_db(transaction=True)
def test_first_rows_go_alone_and_the_whole_set_goes_back_to_nothing_and_comes_again():
    made, rows = _names_kept(), _first_rows()
    own = Reason.objects.create(kind="scrap", words="Dropped")
    stain = Defect.objects.create(words="Stained")
    guards.remove()

    MigrationExecutor(connection).migrate([("batches", "0001_initial"), ("inventory", "0001_initial")])
    assert (list(Reason.objects.all()), list(Defect.objects.all())) == ([own], [stain])
    assert [model.objects.count() for model in (CountClass, LabelLayout, BurnLimits)] == [0, 0, 0]

    MigrationExecutor(connection).migrate([(package, None) for package in PACKAGES])
    left = {table.partition("_")[0] for table in connection.introspection.table_names()}
    assert left & set(PACKAGES) == set()

    call_command("migrate", verbosity=0)
    assert _names_kept() == made
    assert _first_rows() == rows
    assert guards.missing() == []


@pytest.mark.django_db(transaction=True)
def test_guards_give_way_to_a_migration_and_stand_after_it_on_every_table_there_is():
    everything = {each.trigger for each in guards.GUARDS}
    guards.make_way(None, plan=[])
    assert guards.missing() == []
    guards.make_way(None, plan=["a step"])
    assert set(guards.missing()) >= everything

    call_command("migrate", "costing", "zero", verbosity=0)
    missing = set(guards.missing()) & everything
    assert missing == {each.trigger for each in guards.GUARDS if each.table.startswith("costing_")} != set()

    call_command("migrate", verbosity=0)
    assert guards.missing() == []


def _names_kept() -> dict[str, set[str]]:
    """The names of constraints, indexes and guards in the database, by table; but what Django and its like bring."""
    names: dict[str, set[str]] = {}
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT tbl_name, name, coalesce(sql, '') FROM sqlite_master")
            rows = [
                (table, one)
                for table, name, sql in cursor.fetchall()
                for one in (name, *re.findall(r'CONSTRAINT "(\w+)"', sql))
            ]
        else:
            cursor.execute(
                "SELECT conrelid::regclass::text, conname FROM pg_constraint WHERE conrelid <> 0 "
                "UNION SELECT tablename, indexname FROM pg_indexes "
                "UNION SELECT tgrelid::regclass::text, tgname FROM pg_trigger WHERE NOT tgisinternal"
            )
            rows = cursor.fetchall()
    for table, name in rows:
        if table.partition("_")[0] in PACKAGES:
            names.setdefault(table, set()).add(name)
    return names


def _first_rows() -> list[list]:
    """What the migrations wrote, without its keys."""
    return [
        sorted(Reason.objects.values_list("kind", "words", "retired")),
        sorted(CountClass.objects.values_list("letter", "share_ppm", "times_a_year", "tolerance_ppm")),
        sorted(LabelLayout.objects.values_list("name", "label_width_um", "label_height_um", "is_default")),
        sorted(Defect.objects.values_list("words", "retired")),
        list(BurnLimits.objects.values_list("flame_um", "wax_left_um", "cycles", "set_at")),
    ]
