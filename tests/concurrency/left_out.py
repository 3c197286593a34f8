"""Leave each lock out on purpose and see its test fail: a plugin of pytest, for PostgreSQL, which has row locks.

    DATABASE_URL=postgres://… pytest -n 0 -p tests.concurrency.left_out tests/concurrency

Each test on the list runs once for every lock it stands for, with that lock left out. The table at the end says of each
lock whether its test noticed; the run fails where one did not.
"""

import sys
import threading
from collections.abc import Callable
from functools import wraps
from typing import Any

import pytest
from _pytest.runner import runtestprotocol
from django.db import connection
from django.db.backends.utils import CursorWrapper
from django.db.models import QuerySet

from tests.concurrency.every_lock import LOCKS
from tests.concurrency.source import FOR_CALLERS, IN_SQL, PACKAGES, ROOT, locks_of, module_of, numbered

noticed: dict[str, str] = {}  # by lock what its test failed with; "" where it passed
OTHER_NAMES = {"lock_order": "lock"}  # as it is imported, and as it is called where it stands
within = threading.local()  # `within.out`: inside a call that is to lock nothing
left_out: list[
    tuple[str, range, str]
] = []  # the file, the lines and the word of the lock that is left out now


def tests_of(item: pytest.Item) -> list[tuple[str, str]]:
    """The locks that a test stands for: pairs of a module and a key."""
    return [
        (module, key)
        for module, tests in LOCKS.items()
        for key, (file, name) in tests.items()
        if item.nodeid == f"tests/{file}::test_{name}"
    ]


def place_of(module: str, key: str) -> tuple[str, range, str]:
    """Where a lock stands in the source: file, lines, and what locks."""
    path = ROOT / f"{module.replace('.', '/')}.py"
    assert module_of(path) == module
    found = list(locks_of(path))
    call = dict(zip(numbered(key for key, _ in found), (call for _, call in found), strict=True))[key]
    _, _, word = key.partition("#")[0].partition(": ")
    lines = range(call.lineno, (call.end_lineno or call.lineno) + 1)
    return str(path), lines, OTHER_NAMES.get(word, word) or "select_for_update"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep the tests on the list."""
    items[:] = [item for item in items if tests_of(item)]


def pytest_sessionstart() -> None:
    """Put a switch into everything that locks."""
    assert connection.vendor == "postgresql", "SQLite has no row locks to leave out."
    QuerySet.select_for_update = _switched_rows(QuerySet.select_for_update)
    CursorWrapper.execute = _switched_sql(CursorWrapper.execute)
    known: dict[Callable[..., Any], Callable[..., Any]] = {}
    for module in [module for name, module in sys.modules.items() if name.partition(".")[0] in PACKAGES]:
        for owner in (module, *(one for one in vars(module).values() if isinstance(one, type))):
            for name, act in list(vars(owner).items()):
                if name in FOR_CALLERS and callable(act) and not hasattr(act, "switched"):
                    setattr(owner, name, known.setdefault(act, _switched(act, name)))


def _switched_rows(locking: Callable[..., QuerySet]) -> Callable[..., QuerySet]:
    def switched(rows: QuerySet, *args: Any, **more: Any) -> QuerySet:
        return rows.all() if _is_out("select_for_update") else locking(rows, *args, **more)

    return switched


def _switched_sql(execute: Callable[..., Any]) -> Callable[..., Any]:
    def switched(cursor: CursorWrapper, sql: str, params: Any = None) -> Any:
        return None if _is_sql_out(str(sql)) else execute(cursor, sql, params)

    return switched


def _switched(act: Callable[..., Any], name: str) -> Callable[..., Any]:
    """The same act, which locks nothing where its call is left out."""

    @wraps(act)
    def switched(*args: Any, **more: Any) -> Any:
        if not _is_out(name):
            return act(*args, **more)
        within.out = True
        try:
            return act(*args, **more)
        finally:
            within.out = False

    switched.switched = True  # type: ignore[attr-defined]
    return switched


def _is_out(word: str) -> bool:
    """Whether what is called by this word, two frames up, is the lock that is left out, or is called within it."""
    frame = sys._getframe(2)
    while frame.f_back and frame.f_code.co_filename.endswith("db/models/manager.py"):
        frame = frame.f_back
    here = frame.f_code.co_filename, frame.f_lineno
    return getattr(within, "out", False) or any(
        here[0] == file and here[1] in lines and word == what for file, lines, what in left_out
    )


def _is_sql_out(sql: str) -> bool:
    wanted = [word for word in IN_SQL if word in sql]
    return bool(wanted) and (getattr(within, "out", False) or any(what in wanted for _, _, what in left_out))


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool:
    """Run a test once for each of its locks, without it."""
    pairs = tests_of(item)
    # What comes next by its own account: a test that followed itself would keep its fixtures.
    another = next((one for one in item.session.items if one is not item), None)
    for number, (module, key) in enumerate(pairs, 1):
        left_out[:] = [place_of(module, key)]
        item._initrequest()  # type: ignore[attr-defined]  # its fixtures anew
        reports = runtestprotocol(item, log=False, nextitem=nextitem if number == len(pairs) else another)
        left_out.clear()
        noticed[f"{module} {key}"] = next((_said(report) for report in reports if report.failed), "")
    return True


def _said(report: pytest.TestReport) -> str:
    crash = getattr(report.longrepr, "reprcrash", None)
    return crash.message.partition("\n")[0] if crash else str(report.longrepr)[:200]


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say of each lock whether its test noticed."""
    every = [f"{module} {key}" for module, tests in LOCKS.items() for key in tests]
    for lock in every:
        result = "not run" if lock not in noticed else noticed[lock] or "NOT NOTICED"
        terminalreporter.write_line(f"{lock}\n    {result}")
    terminalreporter.write_line(
        f"{sum(map(bool, noticed.values()))} of {len(every)} locks noticed when left out"
    )


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fail where a lock could be left out and nothing said so."""
    session.exitstatus = pytest.ExitCode.TESTS_FAILED if not all(noticed.values()) else pytest.ExitCode.OK
