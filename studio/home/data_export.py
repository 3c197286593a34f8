"""Everything the studio keeps, in formats any program reads, as one ZIP, for whoever wants to leave.

Every table as CSV with exact whole numbers and keys, the papers as files, a description of every column in JSON after the
Data Package standard (datapackage.org, from memory), and a README in words. No passwords, sessions or keys.
"""

import csv
import io
import json
import re
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import IO, Any

from django.apps import apps
from django.db import connection, models, transaction

from batches.models import BatchPhoto, BurnPhoto, ComplaintPhoto
from inventory.models import DocumentContent
from studio.fields import ExactIntegerField
from studio.models import Studio
from studio.web.uploads import ENDING

PACKAGES = ("studio", "inventory", "batches", "costing")
# Not the studio's books: which forms were accepted, files that wait, and the papers' bytes, which go as files.
LEFT_OUT = {
    "studio.submission",
    "inventory.waitingtable",
    "inventory.waitingorders",
    "inventory.documentcontent",
}
# Of people, what a colleague may know; never what signs them in.
COLUMNS_OF_PEOPLE = (
    "id",
    "username",
    "first_name",
    "last_name",
    "role",
    "costs_allowed",
    "is_active",
    "date_joined",
)

MILLIONTHS = "millionths of the currency"
BASE = "base units of the item: micrograms, pieces or micrometres, by the item's `unit`"
UNITS = {
    "value": MILLIONTHS,
    "price": MILLIONTHS,
    "freight": MILLIONTHS,
    "freight_value": MILLIONTHS,
    "goods_value": MILLIONTHS,
    "per_hour": MILLIONTHS,
    "minimum_order": MILLIONTHS,
    "freight_per_order": MILLIONTHS,
    "free_freight_from": MILLIONTHS,
    "order_cost": MILLIONTHS,
    "room_for": BASE,
    "quantity": BASE,
    "on_hand": BASE,
    "pack_quantity": BASE,
    "expected_at_most": BASE,
    "counted": BASE,
    "first_counted": BASE,
    "last": "the last number a code was made of",
}
UNITS_OF = {
    "inventory.latecost.amount": MILLIONTHS,
    "costing.overheadrate.amount": f"{MILLIONTHS}, or parts per million of labour, by `basis`",
    "costing.channelterms.units_milli": "thousandths of a piece",
    "costing.scenariopart.amount": BASE,
    "costing.overheadrate.per_month": MILLIONTHS,
    "costing.overheadrate.capacity": "thousandths of what `basis` counts in a month",
    "costing.overheadpaid.amount": MILLIONTHS,
    **dict.fromkeys(
        (f"batches.recalllot.{name}" for name in ("came", "used", "decanted", "sent", "lost", "unexplained")),
        BASE,
    ),
    **dict.fromkeys(
        (f"batches.hazardsource.of_{of}_{part}" for of in ("wax", "melt") for part in ("top", "bottom")),
        "one side of an exact fraction, `top` over `bottom`",
    ),
    "batches.formulaline.amount": "parts per million, or base units of the item for one unit made, by `basis`",
}
ENDINGS = {
    "_ug_per_ml": "micrograms per millilitre",
    "_ug": "micrograms",
    "_um": "micrometres",
    "_mc": "thousandths of a degree Celsius",
    "_ppm": "parts per million",
    "_minutes_milli": "thousandths of a minute",
    "_micros": MILLIONTHS,
    "_days": "days",
}
TYPES: "tuple[tuple[type[models.Field[Any, Any]], str], ...]" = (
    (models.BooleanField, "boolean"),
    (models.DateTimeField, "datetime"),
    (models.DateField, "date"),
    (models.IntegerField, "integer"),
    (models.ForeignKey, "integer"),
    (models.JSONField, "object"),
)

# A sign a spreadsheet takes for the start of a formula, at the start of a text or of what it may take for a cell, after
# white space or not; and white space at the very start that hides what follows. Apostrophes in between count along, so
# that what is added can be told from what was there.
_GUARDED = re.compile(r"((?:\A|[;\t\r\n]))(?=[\s']*[=+\-@\uFF1D\uFF0B\uFF0D\uFF20])|\A(?='*[\t\r\n])")
_ADDED = re.compile(r"((?:\A|[;\t\r\n]))'(?=[\s']*[=+\-@\uFF1D\uFF0B\uFF0D\uFF20])|\A'(?='*[\t\r\n])")
_ROWS_AT_ONCE = 2_000

README = """{studio}: everything that was kept, as it stood on {moment}

tables/        one file for each table, as CSV in UTF-8: a heading row, cells set apart by commas, quoted where needed
tables.json    what each column is: its type, its unit, and which table it refers to (after the Data Package standard)
documents/     the papers and photos; tables/inventory_document.csv says what each is, and begins with the number its
               file's name begins with
photos/        the photos of batches, each after its number in tables/batches_batchphoto.csv and its batch's code;
               burn-…: of burn tests, after the number in tables/batches_burnphoto.csv and the test;
               complaint-…: of complaints, after the number in tables/batches_complaintphoto.csv and the code

How to read the figures
  Quantities are whole numbers in the item's base unit: micrograms for what is weighed (unit g, kg, oz or lb),
  pieces for what is counted (each), micrometres for what is measured (m, cm, in or ft). 1 kg is 1000000000.
  Money is whole millionths of the currency, {currency}: 12.50 is 12500000.
  Temperatures are thousandths of a degree Celsius, shares are parts per million.
  Moments are in UTC, as 2026-03-20T12:00:00+00:00. Days are as 2026-03-20. Yes and no are true and false.
  An empty cell in a column of figures, days or references says that there is nothing.

The books
  tables/inventory_movement.csv holds every movement there ever was. What a lot holds is the sum of `quantity` over its
  movements, and what it is worth the sum of `value`. Nothing in it was ever changed; a mistake is there with its
  reversal (`reverses_id` in tables/inventory_posting.csv).

Apostrophes
  A spreadsheet takes a cell that begins with = + - or @ for a formula. So a text that does, at its start or after a
  semicolon, a tab or a line break, white space and apostrophes in between or not, has one apostrophe more there than
  it was typed with, and so has a text that begins with a tab or a line break, apostrophes before it or not. Take away
  one at each such place. As a regular expression, replacing each match by its first group:
  {pattern}

Left out
  Passwords and what else signs people in, and what only the program needs while it runs.
"""


def guarded(text: str) -> str:
    """A text no spreadsheet takes for a formula; `as_typed` gives back what it was. OWASP, CSV Injection."""
    return _GUARDED.sub(r"\1'", text)


def as_typed(text: str) -> str:
    """The text that `guarded` was given."""
    return _ADDED.sub(r"\1", text)


def kept_models() -> list[type[models.Model]]:
    """Every table that is taken along."""
    found = [model for name in PACKAGES for model in apps.get_app_config(name).get_models()]
    return [model for model in found if model._meta.label_lower not in LEFT_OUT]


def columns(model: type[models.Model]) -> "list[models.Field[Any, Any]]":
    """The columns of a table that are taken along."""
    fields = [field for field in model._meta.concrete_fields if not isinstance(field, models.BinaryField)]
    if model._meta.label_lower == "studio.user":
        fields = [field for field in fields if field.attname in COLUMNS_OF_PEOPLE]
    return fields


def unit_of(field: "models.Field[Any, Any]") -> str:
    """What a whole number counts; empty for a plain number and for all else."""
    if not isinstance(field, models.IntegerField):
        return ""
    if unit := UNITS_OF.get(f"{field.model._meta.label_lower}.{field.attname}"):
        return unit
    for ending, unit in ENDINGS.items():
        if field.attname.endswith(ending):
            return unit
    return UNITS.get(field.attname, "") if isinstance(field, ExactIntegerField) else ""


def write_everything(now: datetime) -> IO[bytes]:
    """A temporary file with the ZIP, at its beginning; closing it takes it away.

    Everything is of one moment: what is entered meanwhile is in it whole or not at all. Memory does not grow with the
    books.
    """
    file = tempfile.TemporaryFile(prefix="studio-", suffix=".zip")  # noqa: SIM115  # handed on open
    try:
        with one_moment(), zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as parts:
            studio = Studio.objects.get()
            tables = kept_models()
            for model in tables:
                _write_table(parts, model)
            parts.writestr("tables.json", json.dumps(_described(studio, tables, now), indent=1))
            parts.writestr("README.txt", _readme(studio, now))
            _write_documents(parts)
            _write_photos(parts)
    except BaseException:
        file.close()
        raise
    file.seek(0)
    return file


@contextmanager
def one_moment() -> Iterator[None]:
    """The block sees the database as it stands at its first question, and keeps nobody from writing.

    Inside a transaction it is the one that is there.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        # Not `atomic`, which would take the place of the one who writes.
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield


def path_of(model: type[models.Model]) -> str:
    """Where a table lies in the ZIP."""
    return f"tables/{model._meta.db_table}.csv"


def _write_table(parts: zipfile.ZipFile, model: type[models.Model]) -> None:
    names = [field.attname for field in columns(model)]
    rows = model._default_manager.order_by("pk").values_list(*names).iterator(chunk_size=_ROWS_AT_ONCE)
    with parts.open(path_of(model), "w", force_zip64=True) as part:
        text = io.TextIOWrapper(part, "utf-8", newline="")
        writer = csv.writer(text)
        writer.writerow(names)
        writer.writerows([_cell(value) for value in row] for row in rows)
        text.flush()
        text.detach()


def _cell(value: Any) -> Any:
    if isinstance(value, str):
        return guarded(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict | list):
        return guarded(json.dumps(value))
    return value


def _write_documents(parts: zipfile.ZipFile) -> None:
    """The papers' bytes, one after the other, each under its number and a name that is safe everywhere."""
    rows = DocumentContent.objects.order_by("pk").values_list("document", "document__name", "data")
    for number, name, data in rows.iterator(chunk_size=1):
        safe = re.sub(r"[^A-Za-z0-9._-]+", "-", name)[-60:].strip("-.") or "paper"
        parts.writestr(f"documents/{number}-{safe}", bytes(data))


def _write_photos(parts: zipfile.ZipFile) -> None:
    """The photos of batches, complaints and burn tests, each under its number and the code or number of what it is of."""
    rows = BatchPhoto.objects.order_by("pk").values_list("pk", "batch__code", "media_type", "data")
    for number, code, media_type, data in rows.iterator(chunk_size=1):
        parts.writestr(f"photos/{number}-{code}{ENDING.get(media_type, '')}", bytes(data))
    complained = ComplaintPhoto.objects.filter(size__gt=0).order_by("pk")
    said = complained.values_list("pk", "complaint__code", "media_type", "data")
    for number, code, media_type, data in said.iterator(chunk_size=1):
        parts.writestr(f"photos/complaint-{number}-{code}{ENDING.get(media_type, '')}", bytes(data))
    burned = BurnPhoto.objects.order_by("pk").values_list("pk", "test", "media_type", "data")
    for number, test, media_type, data in burned.iterator(chunk_size=1):
        parts.writestr(f"photos/burn-{number}-test-{test}{ENDING.get(media_type, '')}", bytes(data))


def _readme(studio: Studio, now: datetime) -> str:
    moment = f"{now.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
    # The name is the owner's own text, in a file of plain text.
    return README.format(studio=studio.name, moment=moment, currency=studio.currency, pattern=_ADDED.pattern)


def _described(studio: Studio, tables: list[type[models.Model]], now: datetime) -> dict[str, Any]:
    """What every column is, after the Data Package standard."""
    return {
        "profile": "tabular-data-package",
        "name": "books",
        "title": studio.name,
        "created": now.astimezone(UTC).isoformat(),
        "currency": studio.currency,
        "timeZone": studio.time_zone,
        "resources": [_resource(model, tables) for model in tables],
    }


def _resource(model: type[models.Model], tables: list[type[models.Model]]) -> dict[str, Any]:
    fields = columns(model)
    references = [
        {
            "fields": field.attname,
            "reference": {
                "resource": field.related_model._meta.db_table,
                "fields": field.related_model._meta.pk.attname,
            },
        }
        for field in fields
        if field.is_relation and field.related_model in tables
    ]
    key = model._meta.pk
    return {
        "name": model._meta.db_table,
        "path": path_of(model),
        "description": " ".join((model.__doc__ or "").split()),
        "profile": "tabular-data-resource",
        "encoding": "utf-8",
        "schema": {
            "fields": [_field(field) for field in fields],
            "primaryKey": key.attname if key else "",
            "foreignKeys": references,
        },
    }


def _field(field: "models.Field[Any, Any]") -> dict[str, Any]:
    kind = field.target_field if isinstance(field, models.ForeignKey) else field
    named = next((name for known, name in TYPES if isinstance(kind, known)), "string")
    described: dict[str, Any] = {"name": field.attname, "type": named}
    if unit := unit_of(field):
        described["unit"] = unit
    if field.choices:
        described["categories"] = [
            {"value": value, "label": str(label)} for value, label in field.flatchoices
        ]
    return described
