"""What runs when: nothing is left out by a name that names nothing."""

from fnmatch import filter as matching
from pathlib import Path

from tests.sets import ON_POSTGRES, on_postgres

TESTS = Path(__file__).parents[1]


def test_every_pattern_names_a_file_of_tests():
    files = [path.relative_to(TESTS).as_posix() for path in TESTS.rglob("test_*.py")]

    assert [pattern for pattern in ON_POSTGRES if not matching(files, pattern)] == []


def test_a_file_is_asked_by_its_whole_name():
    assert on_postgres("inventory/test_books.py")
    assert on_postgres("inventory/test_closing_at_once.py")
    assert not on_postgres("web/test_books.py")
    assert not on_postgres("browser/test_look.py")
