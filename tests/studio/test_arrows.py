"""Imports run one way: from the ground floor up, package by package, and within a package folder by folder."""

import ast
from collections.abc import Iterable, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest
from django.conf import settings
from django.utils.module_loading import import_string

ROOT = Path(__file__).parents[2]
PACKAGES = ("studio", "inventory", "batches", "costing")
MAY_IMPORT = {
    "studio": {"studio"},
    "inventory": {"studio", "inventory"},
    "batches": {"studio", "inventory", "batches"},
    "costing": {"studio", "inventory", "batches", "costing"},
}
# The roof of the house lies in the same package as its ground floor: what wires, serves and shows everything.
ROOF = {"urls", "home", "demonstration", "management", "server", "wsgi", "settings"}
# Modules of a package that all its folders share, and those that put all of it together.
FLOORS = {
    "studio": {"core", "fields", "guards", "models", "numbering", "operations", "storage", "wiring"},
    "inventory": {"models", "querysets", "neighbors", "fetch"},
    "batches": {"models", "querysets", "fetch", "recipe", "chance", "danger_signs"},
    "costing": {"models"},
}
ROOFS = {"urls", "checks", "apps", "stock_neighbor"}
# Every subject folder, and what it may import of its own package besides the floor. A new arrow is a decision: it is
# written here, and nowhere does it close a circle.
FOLDERS = {
    "studio": {
        "people": set(),
        "web": {"people"},
        "templatetags": {"web"},
        "confirmed_warnings": {"people"},
        "health": {"people"},
        "home": {"confirmed_warnings", "people", "web"},
        "server": set(),
        "management": {"home", "people", "server"},
        "demonstration": {"confirmed_warnings", "people", "server", "web"},
    },
    "inventory": {
        "ledger": set(),
        "items": set(),
        "labels": set(),
        "documents": set(),
        "lots": {"documents", "items", "ledger"},
        "counting": {"ledger", "lots"},
        "purchasing": {"items"},
        "deliveries": {"ledger", "lots", "purchasing"},
        "replenishment": {"counting", "purchasing"},
        "item_pages": {"documents", "items", "ledger", "purchasing", "replenishment"},
        "customers": set(),
        "sales_orders": {"customers", "items", "ledger", "lots"},
        "shipments": {"customers", "ledger", "lots", "sales_orders"},
        "importing": {"ledger", "purchasing"},
        "shop_files": {"customers", "importing", "items", "ledger", "lots", "sales_orders", "shipments"},
    },
    "batches": {
        "lineage": set(),
        "burn_tests": set(),
        "formulas": {"burn_tests", "lineage"},
        "planning": {"formulas", "lineage"},
        "output": set(),
        "fill_checks": {"formulas", "output"},
        "production": {"fill_checks", "formulas", "lineage", "output", "planning"},
        "bench": {"formulas", "lineage", "planning", "production"},
        "records": {
            "burn_tests",
            "fill_checks",
            "formulas",
            "lineage",
            "output",
            "planning",
            "production",
        },
        "tracing": {"lineage", "records"},
        "complaints": {"lineage", "production", "tracing"},
        "recalls": {"complaints", "lineage"},
        "analysis": set(),
    },
    "costing": {
        "model": set(),
        "rates": {"model"},
        "actual": {"model", "rates"},
        "standard": {"actual", "model", "rates"},
        "prices": {"model", "standard"},
        "contribution": {"model", "prices", "standard"},
        "new_products": {"model", "prices", "standard"},
        "valuation": {"actual", "model", "rates"},
        "variances": {"actual", "model", "rates", "standard", "valuation"},
    },
}
PURE = ("quantities", "money", "codes", "temperatures", "numerals", "percent")
FILES = sorted(
    path for package in PACKAGES for path in (ROOT / package).rglob("*.py") if "migrations" not in path.parts
)
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


def imported(tree):
    """Dotted names of every module a tree imports; of `from a import b` both a and a.b."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports name the whole path"
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def room_of(parts) -> str:
    """The folder of a package that a module lies in, or its own name where it lies beside them; "" for the package."""
    return parts[1] if len(parts) > 1 else ""


def is_roof(parts):
    return parts[0] == "studio" and room_of(parts) in ROOF


def wrong_packages(parts, tree):
    """What a module, by the parts of its path, may not import of other packages, and nobody below the roof of the roof."""
    for name in imported(tree):
        target = name.split(".")
        if target[0] not in PACKAGES or is_roof(parts):
            continue
        if target[0] not in MAY_IMPORT[parts[0]] or is_roof(target):
            yield name


def arrows(parts, tree) -> Iterable[str]:
    """The other rooms of its own package that a module imports, by name; whatever it only needs for types left out."""
    for name in imported(tree):
        target = name.split(".")
        known = FLOORS[parts[0]] | ROOFS | ROOF | FOLDERS[parts[0]].keys()
        if target[0] == parts[0] and room_of(target) in known and room_of(target) != room_of(parts):
            yield room_of(target)


def wrong_arrows(parts, tree):
    """Rooms that a module imports although its folder may not."""
    package, room = parts[0], room_of(parts)
    if not room or room in ROOFS or (package == "studio" and room in {"urls", "wsgi", "settings"}):
        return []
    floor = FLOORS[package]
    may = floor if room in floor else floor | FOLDERS[package].get(room, set())
    return [name for name in arrows(parts, tree) if name not in may]


def circle(allowed: Mapping[str, set[str]]) -> list[str]:
    """A circle among these arrows, room by room; empty where there is none."""
    try:
        TopologicalSorter(allowed).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def inner_imports(tree):
    """Lines of imports inside a function, other than in a method called ready."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name != "ready":
            for inner in ast.walk(node):
                if isinstance(inner, ast.Import | ast.ImportFrom):
                    yield inner.lineno


def module_parts(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return parts[:-1] if parts[-1] == "__init__" else parts


@pytest.mark.parametrize("package", PACKAGES)
def test_a_package_imports_only_what_lies_below_it(package):
    wrong = [
        f"{path.relative_to(ROOT)} imports {name}"
        for path in FILES
        if module_parts(path)[0] == package
        for name in wrong_packages(module_parts(path), tree_of(path))
    ]

    assert wrong == []


@pytest.mark.parametrize("package", PACKAGES)
def test_a_folder_imports_only_the_folders_it_may(package):
    wrong = [
        f"{path.relative_to(ROOT)} imports {package}.{name}"
        for path in FILES
        if module_parts(path)[0] == package
        for name in wrong_arrows(module_parts(path), tree_of(path))
    ]

    assert wrong == []


@pytest.mark.parametrize("package", PACKAGES)
def test_the_list_names_every_folder_and_no_arrow_that_is_not_drawn(package):
    there = {room_of(module_parts(path)) for path in FILES if module_parts(path)[0] == package}
    drawn: dict[str, set[str]] = {room: set() for room in FOLDERS[package]}
    for path in FILES:
        parts = module_parts(path)
        if parts[0] == package and room_of(parts) in drawn:
            drawn[room_of(parts)] |= {
                name for name in arrows(parts, tree_of(path)) if name not in FLOORS[package]
            }

    assert there - {"", "urls", "wsgi", "settings"} - ROOFS == FLOORS[package] | FOLDERS[package].keys()
    assert drawn == FOLDERS[package]


@pytest.mark.parametrize("package", PACKAGES)
def test_no_arrows_between_folders_close_a_circle(package):
    assert circle(FOLDERS[package]) == []


def test_the_floor_of_a_package_knows_none_of_its_folders_and_the_ledger_nothing_else_of_stock():
    assert FOLDERS["inventory"]["ledger"] == set()
    assert all(not FLOORS[package] & FOLDERS[package].keys() for package in PACKAGES)


@pytest.mark.parametrize("module", PURE)
def test_figures_know_nothing_of_the_framework(module):
    tree = tree_of(ROOT / "studio" / "core" / f"{module}.py")
    used = {name.split(".")[0] for name in imported(tree)}
    own = {name.split(".")[2] for name in imported(tree) if name.startswith("studio.core.")}

    assert not used & FREE
    assert own <= set(PURE)
    assert {name for name in imported(tree) if name.startswith("studio")} <= {
        "studio.core",
        *(name for name in imported(tree) if name.startswith("studio.core.")),
    }


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


def test_what_computes_imports_no_template_tags():
    users = [
        str(path.relative_to(ROOT))
        for path in FILES
        if any(name.startswith("studio.templatetags") for name in imported(tree_of(path)))
    ]

    assert users == []


def test_nothing_of_the_product_imports_the_demonstration():
    users = [
        str(path.relative_to(ROOT))
        for path in FILES
        if "demonstration" not in path.parts
        and any(name.startswith("studio.demonstration") for name in imported(tree_of(path)))
    ]

    assert users == []


def test_nothing_is_imported_inside_a_function():
    wrong = [f"{path.relative_to(ROOT)}:{line}" for path in FILES for line in inner_imports(tree_of(path))]

    assert wrong == []


def test_every_name_in_the_wiring_is_there():
    names = [
        *(name for place in settings.PANELS.values() for name in place),
        *settings.NEIGHBORS,
        *settings.REVERSAL_FOLLOWERS,
    ]

    assert [name for name in names if not callable(import_string(name))] == []
    assert len(names) == len(set(names))


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
        (("inventory", "lots", "moving"), "from batches.production import runs"),
        (("batches", "production", "runs"), "def f():\n    from costing.rates.rates import Rates"),
        (("studio", "web", "forms"), "from inventory.models import Lot"),
        (("costing", "rates", "rates"), "from studio import urls"),
        (("studio", "web", "forms"), "from studio.home import today"),
    ],
)
def test_an_arrow_that_points_up_is_seen(module, source):
    assert list(wrong_packages(module, ast.parse(source)))


@pytest.mark.parametrize(
    ("module", "source"),
    [
        (("inventory", "ledger", "books"), "from inventory.lots import holding"),
        (("inventory", "ledger", "books"), "import inventory.lots.holding"),
        (("inventory", "querysets"), "from inventory.ledger.books import local"),
        (("batches", "formulas", "sheet"), "from batches.production.runs import draw"),
        (("batches", "a_new_folder", "sheet"), "from batches.production.runs import draw"),
        (("costing", "model", "job_cost"), "from costing import urls"),
        (("studio", "core", "money"), "from studio.web import forms"),
    ],
)
def test_an_arrow_between_folders_that_is_not_in_the_list_is_seen(module, source):
    assert wrong_arrows(module, ast.parse(source))


def test_a_circle_is_seen():
    assert set(circle({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}})) == {"a", "b", "c"}
    assert circle({"a": {"b"}, "b": {"c"}}) == []


def test_an_import_inside_a_function_is_seen_and_ready_may():
    assert list(inner_imports(ast.parse("def f():\n    import json"))) == [2]
    assert list(inner_imports(ast.parse("class A:\n    def ready(self):\n        import json"))) == []
