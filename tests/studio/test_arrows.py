"""Imports run one way: what the studio is built on, stock, batches, costing, and the pages on top."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("studio", "inventory", "batches", "costing")
PURE = ("quantities", "money", "codes", "temperatures", "numerals", "percent")
# The top of the house lives in the same package as its ground floor; nothing below may import it.
TOP = {
    "urls",
    "views",
    "leaving",
    "today",
    "week_charts",
    "search",
    "demonstration",
    "server",
    "wsgi",
    "management",
}
MAY_IMPORT = {
    "studio": {"studio"},
    "inventory": {"studio", "inventory"},
    "batches": {"studio", "inventory", "batches"},
    "costing": {"studio", "inventory", "batches", "costing"},
}
FILES = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))
FREE = {
    "django",
    "axes",
    "csp",
    "reportlab",
    "openpyxl",
    "environ",
    "psycopg",
    "whitenoise",
    "granian",
    "django_htmx",
}


def tree_of(path):
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def is_top(parts):
    return parts[0] == "studio" and len(parts) > 1 and parts[1] in TOP


def imported(tree):
    """Dotted names of every module a tree imports; of `from a import b` both a and a.b."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports name the whole path"
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def wrong_arrows(parts, tree):
    """What a module, by the parts of its path, may not import."""
    for name in imported(tree):
        target = name.split(".")
        if target[0] not in PACKAGES:
            continue
        if is_top(parts):
            continue
        if target[0] not in MAY_IMPORT[parts[0]] or is_top(target):
            yield name


def inner_imports(tree):
    """Lines of imports inside a function, other than in a method called ready."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name != "ready":
            for inner in ast.walk(node):
                if isinstance(inner, ast.Import | ast.ImportFrom):
                    yield inner.lineno


def module_parts(path):
    return path.relative_to(ROOT).with_suffix("").parts


@pytest.mark.parametrize("package", PACKAGES)
def test_a_package_imports_only_what_lies_below_it(package):
    wrong = [
        f"{path.relative_to(ROOT)} imports {name}"
        for path in FILES
        if module_parts(path)[0] == package
        for name in wrong_arrows(module_parts(path), tree_of(path))
    ]

    assert wrong == []


@pytest.mark.parametrize("module", PURE)
def test_figures_know_nothing_of_the_framework(module):
    used = {name.split(".")[0] for name in imported(tree_of(ROOT / "studio" / f"{module}.py"))}
    own = {name for name in imported(tree_of(ROOT / "studio" / f"{module}.py")) if name.startswith("studio.")}

    assert not used & FREE
    assert {name.split(".")[1] for name in own} <= set(PURE)


@pytest.mark.parametrize(
    "module",
    [
        "batches/formulas/sheet.py",
        "batches/recipe.py",
        "batches/formulas/overshoot.py",
        "inventory/lots/suggestion.py",
        "costing/model/job_cost.py",
        "costing/prices/pricing.py",
        "costing/actual/passing.py",
        "costing/standard/cost_sheet.py",
    ],
)
def test_arithmetic_reads_neither_the_database_nor_the_clock(module):
    names = set(imported(tree_of(ROOT / module)))

    assert not {name.split(".")[0] for name in names} & FREE
    assert not {name for name in names if name.endswith(".models")}


def test_nothing_is_imported_inside_a_function():
    wrong = [f"{path.relative_to(ROOT)}:{line}" for path in FILES for line in inner_imports(tree_of(path))]

    assert wrong == []


def test_movements_are_written_in_one_module_only():
    writes = (
        "Movement.objects.bulk_create",
        "Movement.objects.create",
        "Posting.objects.create",
        "Posting.objects.bulk_create",
        "Movement(lot",
    )
    writers = {
        str(path.relative_to(ROOT))
        for path in FILES
        if any(write in path.read_text(encoding="utf-8") for write in writes)
    }

    # The second half of the same writer: many lots, or many movements, at once.
    assert writers == {"inventory/ledger/books.py", "inventory/ledger/bulk_books.py"}


@pytest.mark.parametrize(
    ("module", "source"),
    [
        (("inventory", "models"), "import batches.models"),
        (("inventory", "moving"), "from batches import runs"),
        (("batches", "runs"), "def f():\n    from costing.rates import Rates"),
        (("studio", "forms"), "from inventory.models import Lot"),
        (("costing", "rates"), "from studio import urls"),
    ],
)
def test_an_arrow_that_points_up_is_seen(module, source):
    assert list(wrong_arrows(module, ast.parse(source)))


def test_an_import_inside_a_function_is_seen_and_ready_may():
    assert list(inner_imports(ast.parse("def f():\n    import json"))) == [2]
    assert list(inner_imports(ast.parse("class A:\n    def ready(self):\n        import json"))) == []
