"""The nightly command finds what it changes and what is to notice, and changes one thing at a time."""

from tests.mutants.changes import changes
from tests.mutants.core import core, files_of, noticing


def test_every_module_of_the_core_is_there_and_has_tests():
    assert [path for path in core() if not noticing(path)] == []


def test_the_tests_of_a_module_begin_with_its_namesake():
    assert noticing(*files_of("overshoot"))[0].endswith("test_overshoot.py")


SOURCE = '''
def f(rows, n):
    """Some."""
    if n <= 2 and not rows:
        raise ValueError
    total = n * 3 - 1
    total += 1
    return rows.filter(of=n, open=True), -total
'''


def test_each_change_changes_one_thing():
    found = {change.source.strip().replace('    """Some."""\n', "") for change in changes(SOURCE)}
    as_is = """def f(rows, n):
    if n <= 2 and (not rows):
        raise ValueError
    total = n * 3 - 1
    total += 1
    return (rows.filter(of=n, open=True), -total)"""

    def but(now, then):
        assert as_is.count(now) == 1
        return as_is.replace(now, then)

    assert found == {
        but("    if n <= 2 and (not rows):\n        raise ValueError\n", "    pass\n"),
        but("n <= 2 and (not rows)", "n <= 2 or not rows"),
        but("n <= 2", "n < 2"),
        but("n <= 2", "n <= 3"),
        but("(not rows)", "(not not rows)"),
        but("raise ValueError", "pass"),
        but("n * 3", "n // 3"),
        but("n * 3", "n * 4"),
        but("3 - 1", "3 + 1"),
        but("3 - 1", "3 - 2"),
        but("total += 1", "pass"),
        but("total += 1", "total -= 1"),
        but("total += 1", "total += 2"),
        but("filter(of=n, open=True)", "filter(open=True)"),
        but("filter(of=n, open=True)", "filter(of=n)"),
        but("open=True", "open=False"),
        but("-total", "+total"),
    }
