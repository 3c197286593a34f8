"""The list of locks is whole, and every lock on it has its test."""

import ast
from pathlib import Path

import pytest

from tests.concurrency.every_lock import LOCKS
from tests.concurrency.source import locks, locks_of

TESTS = Path(__file__).parents[1]


def test_every_lock_of_the_source_is_on_the_list_and_none_besides():
    assert {module: list(tests) for module, tests in LOCKS.items()} == locks()


@pytest.mark.parametrize("file", sorted({file for tests in LOCKS.values() for file, _ in tests.values()}))
def test_the_tests_on_the_list_are_there(file):
    written = {
        node.name for node in ast.parse((TESTS / file).read_text()).body if isinstance(node, ast.FunctionDef)
    }
    named = {name.partition("[")[0] for tests in LOCKS.values() for of, name in tests.values() if of == file}

    assert {f"test_{name}" for name in named} - written == set()


def test_a_lock_is_found_in_whatever_way_it_is_written(tmp_path, monkeypatch):
    source = """
class Rows:
    def keep(self):
        self.filter(on=[row for row in self.select_for_update()]).update(kept=True)

def hold(cursor, lots):
    books.lock(lots)
    books.lock(lot for lot in lots if lot.unlocked)
    cursor.execute(f"LOCK TABLE {lots} IN SHARE MODE")
    cursor.execute("SELECT 1")
"""
    module = tmp_path / "rows.py"
    module.write_text(source)
    monkeypatch.setattr("tests.concurrency.source.ROOT", tmp_path)

    assert [key for key, _ in locks_of(module)] == [
        "Rows.keep",
        "hold: lock",
        "hold: lock",
        "hold: LOCK TABLE",
    ]
