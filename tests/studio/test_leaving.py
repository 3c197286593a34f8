"""Leaving with everything: the ZIP, read back without any program of ours."""

import csv
import hashlib
import io
import json
import re
import threading
import zipfile
from collections import defaultdict
from datetime import UTC, date, datetime

import pytest
from django.apps import apps
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from inventory.models import Document, Item, Lot, Movement, Supplier
from studio.fields import ExactIntegerField
from studio.home import data_export
from studio.models import Studio, User
from tests.files import pdf
from tests.house import NOW, Books, grams, money


def taken(now=NOW):
    """The ZIP, opened."""
    return zipfile.ZipFile(data_export.write_everything(now))


def table(parts, name):
    """The rows of a table, by column."""
    text = parts.read(f"tables/{name}.csv").decode()
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture
def lived_in(studio, books):
    """A delivery drawn from, decanted, sent out, reversed; a lot and a movement from a table; a batch finished."""
    wax = books.receive("wax", "10 kg", cost="61.30", freight="6.13", supplier_lot="TW-88")
    oil = books.receive("fragrance", "1 kg", cost="43.70")
    shelf = {"wax": wax, "fragrance": oil, "wick": books.receive("wick", 100, cost="12.70")}
    shelf["vessel"] = books.receive("vessel", 50, cost="104.50")
    books.decant((oil, "333 g"), jars=["111 g", "222 g"])
    batch = books.plan(books.candle(), 10)
    books.fill(shelf, batch, 10)
    (candles,) = books.finish(batch, 9, scrap={"Frosting": 1})
    Lot.objects.filter(pk=candles.pk).update(ready_on=None)
    books.reverse(books.draw(wax, "7 g"))
    books.bring_in("lots", "Item,Quantity,Cost,Arrived,Lot\nwax,3 kg,17.01,2026-01-20,OW-1\n")
    books.bring_in("movements", "Date,Lot,Item,What,Quantity\n2026-02-01,OW-1,wax,used,1001 g\n")
    return books


@pytest.mark.django_db
def test_what_every_lot_holds_and_is_worth_follows_from_the_movements_alone(lived_in):
    parts = taken()
    quantities, values = defaultdict(int), defaultdict(int)
    for row in table(parts, "inventory_movement"):
        quantities[row["lot_id"]] += int(row["quantity"])
        values[row["lot_id"]] += int(row["value"])

    rebuilt = {
        lot["code"]: (quantities[lot["id"]], values[lot["id"]]) for lot in table(parts, "inventory_lot")
    }

    kept = {
        code: (on_hand, value) for code, on_hand, value in Lot.objects.values_list("code", "on_hand", "value")
    }
    assert rebuilt == kept
    # By hand: 10 kg less 920 g, at 67.43 for 10 kg.
    wax = Lot.objects.get(supplier_lot="TW-88")
    assert rebuilt[wax.code] == (grams(9080), money("67.43") - 6_203_560)


@pytest.mark.django_db
def test_every_row_of_every_table_is_there_with_what_it_refers_to(lived_in):
    parts = taken()
    described = {
        resource["name"]: resource for resource in json.loads(parts.read("tables.json"))["resources"]
    }

    for model in data_export.kept_models():
        name = model._meta.db_table
        rows = table(parts, name)
        assert len(rows) == model._default_manager.count(), name
        assert [field["name"] for field in described[name]["schema"]["fields"]] == list(
            csv.reader(io.StringIO(parts.read(described[name]["path"]).decode())).__next__()
        )
        for key in described[name]["schema"]["foreignKeys"]:
            there = {row[key["reference"]["fields"]] for row in table(parts, key["reference"]["resource"])}
            assert {row[key["fields"]] for row in rows} - {""} <= there, (name, key)


@pytest.mark.django_db
def test_no_table_is_forgotten_and_what_is_left_out_is_named(lived_in):
    ours = {
        model._meta.label_lower
        for name in data_export.PACKAGES
        for model in apps.get_app_config(name).get_models()
    }

    assert ours - {model._meta.label_lower for model in data_export.kept_models()} == data_export.LEFT_OUT
    assert ours >= data_export.LEFT_OUT


@pytest.mark.django_db
def test_nothing_that_signs_anybody_in_is_taken_along(lived_in):
    User.objects.update(password="md5$salt$0123456789abcdef0123456789abcdef", email="maren@studio.example")
    parts = taken()

    everything = b"\n".join(parts.read(name) for name in parts.namelist()).decode("utf-8", "replace")
    assert "0123456789abcdef" not in everything
    assert not re.search(r"session|password_|csrf|axes|secret", everything, re.IGNORECASE)
    assert "password" not in next(csv.reader(io.StringIO(parts.read("tables/studio_user.csv").decode())))


@pytest.mark.django_db
def test_figures_days_and_moments_are_exact(lived_in):
    Item.objects.filter(name="wax").update(flash_point_mc=93_125, certificate_on=date(2026, 2, 3))
    parts = taken(datetime(2026, 3, 20, 12, 30, tzinfo=UTC))

    lot = next(row for row in table(parts, "inventory_lot") if row["supplier_lot"] == "TW-88")
    assert (lot["arrived_at"], lot["held"], lot["expires_on"]) == ("2026-03-01T09:00:00+00:00", "false", "")
    item = next(row for row in table(parts, "inventory_item") if row["name"] == "wax")
    assert (item["flash_point_mc"], item["certificate_on"], item["retired"]) == (
        "93125",
        "2026-02-03",
        "false",
    )
    fields = {
        (resource["name"], field["name"]): field
        for resource in json.loads(parts.read("tables.json"))["resources"]
        for field in resource["schema"]["fields"]
    }
    assert fields["inventory_movement", "value"] == {
        "name": "value", "type": "integer", "unit": "millionths of the currency",
    }  # fmt: skip
    assert fields["inventory_item", "flash_point_mc"]["unit"] == "thousandths of a degree Celsius"
    assert fields["inventory_lot", "arrived_at"]["type"] == "datetime"
    assert {"value": "wax", "label": "Wax"} in fields["inventory_item", "kind"]["categories"]
    readme = parts.read("README.txt").decode()
    assert "2026-03-20 12:30 UTC" in readme
    assert "12.50 is 12500000" in readme


def test_every_exact_figure_says_what_it_counts():
    silent = [
        f"{model._meta.label_lower}.{field.attname}"
        for model in data_export.kept_models()
        for field in data_export.columns(model)
        if isinstance(field, ExactIntegerField) and not data_export.unit_of(field)
    ]

    assert silent == []


@pytest.mark.django_db
def test_papers_are_files_with_names_that_are_safe_everywhere(lived_in):
    item = Item.objects.get(name="wax")
    data = pdf("a sheet")
    paper = Document.objects.create(
        item=item, kind="safety", name="../../etc/päss wd.pdf", media_type="application/pdf", size=len(data),
        digest=hashlib.sha256(data).hexdigest(), added_by=lived_in.by, added_at=NOW,
    )  # fmt: skip
    data_export.DocumentContent.objects.create(document=paper, data=data)

    parts = taken()

    (name,) = [name for name in parts.namelist() if name.startswith("documents/")]
    assert name == f"documents/{paper.pk}-etc-p-ss-wd.pdf"
    assert parts.read(name) == data
    assert parts.testzip() is None
    assert all(re.fullmatch(r"[A-Za-z0-9_./-]+", name) and ".." not in name for name in parts.namelist())


# Apostrophes

NASTY = ["=1+1", "'=1+1", "''=1", "+49 30", "-5", "@x", "\t=1", "'\tx", "a;=1", "a\n\n'=1"]
NASTY += ["a\r=1", " =1", "＝1", "''", "'", "", "a;'b", ";;=\n+'-"]


@pytest.mark.parametrize("text", NASTY)
def test_a_text_that_looks_like_a_formula_is_guarded_and_comes_back_as_it_was(text):
    kept = data_export.guarded(text)

    assert not re.search(r"(\A|[;\t\r\n])\s*[=+\-@＝]", kept)
    assert data_export.as_typed(kept) == text


@given(st.text(alphabet="'=+-@;\t\r\n ax＝", max_size=30))
def test_every_text_comes_back_as_it_was(text):
    assert data_export.as_typed(data_export.guarded(text)) == text


@pytest.mark.django_db
def test_texts_come_back_from_the_file_by_the_rule_the_readme_gives(studio):
    for number, text in enumerate(NASTY):
        Supplier.objects.create(name=f"Invented {number}", notes=text)

    parts = taken()

    (pattern,) = [line.strip() for line in parts.read("README.txt").decode().splitlines() if "(?=" in line]
    read = {row["name"]: re.sub(pattern, r"\1", row["notes"]) for row in table(parts, "inventory_supplier")}
    assert [read[f"Invented {number}"] for number in range(len(NASTY))] == NASTY


@pytest.mark.django_db
def test_a_studio_whose_name_is_more_than_a_name_does_no_harm(studio):
    Studio.objects.update(name="{moment.__class__} {0}")

    assert "{moment.__class__} {0}" in taken().read("README.txt").decode()


# The page and the command


@pytest.mark.django_db
def test_the_owner_downloads_it_from_the_page(lived_in, client):
    client.force_login(lived_in.by, backend="django.contrib.auth.backends.ModelBackend")

    page, answer = client.get("/export/"), client.post("/export/")

    assert "Download everything" in page.content.decode()
    assert answer.headers["Content-Type"] == "application/zip"
    assert re.fullmatch(
        r'attachment; filename="everything-\d{4}-\d\d-\d\d\.zip"', answer.headers["Content-Disposition"]
    )
    assert answer.headers["Cache-Control"] == "no-store, private"
    parts = zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))
    assert len(table(parts, "inventory_movement")) == Movement.objects.count()


@pytest.mark.django_db
def test_makers_and_bookkeepers_do_not(studio, maker, bookkeeper, client):
    for person in (maker, bookkeeper):
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        assert (client.get("/export/").status_code, client.post("/export/").status_code) == (
            403,
            403,
        )


@pytest.mark.django_db
def test_the_command_writes_a_file_and_never_over_one(lived_in, tmp_path, capsys):
    path = tmp_path / "books.zip"

    call_command("export_books", str(path))
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_books", str(path))
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("export_books", str(tmp_path / "nowhere" / "books.zip"))

    assert "Everything is in" in capsys.readouterr().out
    assert zipfile.ZipFile(path).testzip() is None


@pytest.mark.django_db
def test_the_command_says_so_where_there_is_no_studio(tmp_path):
    with pytest.raises(CommandError, match="no studio yet"):
        call_command("export_books", str(tmp_path / "books.zip"))


@pytest.mark.django_db(transaction=True)
def test_it_is_of_one_moment_and_keeps_nobody_from_writing(monkeypatch):
    """Somebody draws while the tables are written: the movement is in no table, or in all of them."""
    Studio.objects.create(pk=1, name="Ninefold Lane")
    books = Books(User.objects.create_user("maren", role="owner", password="nine paper lanterns"))
    lot = books.receive("wax", "1 kg", cost="10.00")
    write, faults = data_export._write_table, []

    def draw():
        try:
            books.draw(lot, "100 g")
        except Exception as error:
            faults.append(error)
        finally:
            connection.close()

    def meanwhile(parts, model):
        write(parts, model)
        if model is Item:
            thread = threading.Thread(target=draw)
            thread.start()
            thread.join(10 if connection.vendor == "postgresql" else 0.2)

    monkeypatch.setattr(data_export, "_write_table", meanwhile)
    parts = taken()

    assert [row["on_hand"] for row in table(parts, "inventory_lot")] == [str(grams(1000))]
    assert len(table(parts, "inventory_movement")) == len(table(parts, "inventory_posting")) == 1
    for thread in threading.enumerate():
        if thread is not threading.main_thread() and thread.name.startswith("Thread-"):
            thread.join(10)
    lot.refresh_from_db()
    assert (faults, lot.on_hand) == ([], grams(900))
