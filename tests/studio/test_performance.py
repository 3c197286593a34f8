"""The command that measures: it runs, and says what it measured. How fast things are is not judged here."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.performance.figures import Figure

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def measured(django_db_setup, database_place):
    """What the command says of some benchmarks, line by line. 1 says that something was too slow, which it may well be
    on a busy machine or with few rows; a failure says it in a traceback."""
    begin = ["--made", str(database_place)] if database_place else []

    def run(*asked, slow_is_well=False):
        command = [sys.executable, "-m", "tests.performance", *asked, *begin]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=300)
        assert done.returncode == 0 or (slow_is_well and done.returncode == 1), done.stderr
        assert "Traceback" not in done.stderr, done.stderr
        return done.stdout.splitlines()

    return run


def test_the_benchmarks_of_bringing_tables_in_run_at_a_small_size(measured):
    lines = measured("opening-lots", "past-movements", "--rows", "60", slow_is_well=True)
    assert [line.split(":")[0] for line in lines[1:]] == ["60 opening lots"] * 2 + ["60 past movements"] * 2
    assert all("(at most 4)" in line for line in lines[1::2])


def test_the_benchmark_of_proving_the_books_runs_at_a_small_size(measured):
    said = measured("check-books", "--rows", "10")[1:]
    assert [line.split(":")[0] for line in said] == ["1,000 movements"] * 2


def test_the_benchmark_of_tracing_runs_at_a_small_size(measured):
    said = [line.split(":")[0] for line in measured("traces", "--rows", "300", slow_is_well=True)[1:]]
    sizes = ["120 movements"] * 2 + ["1,200 movements"] * 2 + ["30,000 movements"] * 2
    assert said == [*sizes, "traced onward", "traced back"]


def test_the_benchmark_of_stock_value_and_cost_of_goods_runs_at_a_small_size(measured):
    said = [line.split(":")[0] for line in measured("goods", "--rows", "60", slow_is_well=True)[1:]]
    assert said == ["240 movements"] * 4


def test_a_ratio_is_held_against_what_is_promised():
    assert Figure("x", 4.0, 1.0, at_most=4).kept
    assert not Figure("x", 4.1, 1.0, at_most=4).kept
    assert Figure("x", 100.0, 1.0).kept
