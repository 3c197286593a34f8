"""Every lock of the product, read from its source."""

import ast
from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("studio", "inventory", "batches", "costing")
# What locks for its caller, who chooses which rows or which moment: each call is a lock of its own.
FOR_CALLERS = {
    "_lock",
    "hold_open",
    "lock",
    "lock_named",
    "lock_of_posting",
    "lock_order",
    "lock_with_orders",
    "locked",
}
# Each verb of a purchase or a sales order locks that one order by its key; there is nothing to choose.
OF_ONE_ORDER = {"inventory.purchasing.ordering", "inventory.sales_orders.customer_orders"}
IN_SQL = ("LOCK TABLE", "pg_advisory_lock")


def locks() -> dict[str, list[str]]:
    """By module the functions that lock, each with a colon and what it locks with, in the order of the source.

    Rows that a function selects for update itself have no such word; the second of a kind has `#2` behind it.
    """
    paths = (path for package in PACKAGES for path in sorted((ROOT / package).rglob("*.py")))
    found = {
        module_of(path): list(numbered(key for key, _ in locks_of(path)))
        for path in paths
        if "migrations" not in path.parts
    }
    return {module: keys for module, keys in found.items() if keys}


def module_of(path: Path) -> str:
    """The dotted name of a module of the product."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


def locks_of(path: Path) -> Iterator[tuple[str, ast.Call]]:
    """Each lock of a module and the call it is, in the order of the source."""
    for name, call in _calls(ast.parse(path.read_text()), ""):
        what = _what_locks(call)
        if what and not (what == "lock" and module_of(path) in OF_ONE_ORDER):
            yield name if what == "select_for_update" else f"{name}: {what}", call


def _calls(tree: ast.AST, name: str) -> Iterator[tuple[str, ast.Call]]:
    """Every call under a node with the name of the function it stands in."""
    for node in ast.iter_child_nodes(tree):
        is_named = isinstance(node, ast.FunctionDef | ast.ClassDef)
        yield from _calls(node, f"{name}.{node.name}".lstrip(".") if is_named else name)
        if isinstance(node, ast.Call):
            yield name, node


def _what_locks(call: ast.Call) -> str:
    """What a call locks with; "" where it locks nothing."""
    called = getattr(call.func, "attr", None) or getattr(call.func, "id", "")
    if called == "select_for_update" or called in FOR_CALLERS:
        return called
    if called != "execute":
        return ""
    texts = [str(node.value) for node in ast.walk(call) if isinstance(node, ast.Constant)]
    return next((sql for sql in IN_SQL if any(sql in text for text in texts)), "")


def numbered(keys: Iterable[str]) -> Iterator[str]:
    """The same keys, the second of a kind with `#2` behind it."""
    seen: Counter[str] = Counter()
    for key in keys:
        seen[key] += 1
        yield key if seen[key] == 1 else f"{key}#{seen[key]}"
