"""Every file with a table guards a text in the same way, and what was typed can be told from it again."""

import csv
import io
from datetime import date
from pathlib import Path

import pytest
from django.test import RequestFactory
from openpyxl import load_workbook

from studio.core.spreadsheet_text import as_typed, guarded
from studio.home import data_export
from studio.web import tables

ROOT = Path(__file__).parents[2]

# OWASP, CSV Injection; what was typed, and what is written.
VECTORS = [
    ("Cedar & Black Tea", "Cedar & Black Tea"),
    ("6-wick bowl, a=b", "6-wick bowl, a=b"),
    ("=1+1", "'=1+1"),
    ("'=1+1", "''=1+1"),
    (" \N{NO-BREAK SPACE}-5", "' \N{NO-BREAK SPACE}-5"),
    ("\N{FULLWIDTH COMMERCIAL AT}x", "'\N{FULLWIDTH COMMERCIAL AT}x"),
    ("jar;=1", "jar;'=1"),
    ("jar\t'+1", "jar\t''+1"),
    ("\ta", "'\ta"),
    ("'", "'"),
    ("", ""),
]


@pytest.mark.parametrize(("typed", "written"), VECTORS)
def test_all_files_write_a_text_alike(typed, written):
    assert guarded(typed) == written
    assert tables.harmless(typed) == written
    assert data_export._cell(typed) == written
    assert as_typed(written) == typed


def test_a_page_s_files_hold_the_guarded_text_and_figures_as_they_are():
    rows = [[typed, -5, date(2026, 3, 20)] for typed, _ in VECTORS if typed]
    expected = [written for _, written in VECTORS if written]

    def asked(form):
        request = RequestFactory().get("/", {"format": form})
        return tables.export(request, "lots", ["Name", "Change", "On"], rows).content

    text = list(csv.reader(io.StringIO(asked("csv").decode("utf-8-sig"), newline="")))
    assert text == [["Name", "Change", "On"], *([written, "-5", "2026-03-20"] for written in expected)]
    sheet = load_workbook(io.BytesIO(asked("xlsx"))).active
    assert [[row[0].value, row[1].value] for row in sheet.iter_rows(min_row=2)] == [
        [written, -5] for written in expected
    ]


def test_the_expression_stands_in_one_module():
    sign = "@\\uFF1D"
    found = {
        path.relative_to(ROOT).as_posix()
        for package in ("studio", "inventory", "batches", "costing")
        for path in (ROOT / package).rglob("*.py")
        if sign in path.read_text(encoding="utf-8")
    }
    assert found == {"studio/core/spreadsheet_text.py"}
