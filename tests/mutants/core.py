"""Which modules are the core, and which tests stand beside each: its namesake, and those that import it."""

import ast
from functools import cache
from pathlib import Path

TREE = Path(__file__).parents[2]
PACKAGES = ("studio", "inventory", "batches", "costing")
# By file name alone, wherever in its package it lies.
CORE = (
    "numerals quantities money temperatures percent codes",
    "overshoot tolerance recipe sheet loads fill_weight pots readings net_contents control_chart chance",
    "shares mass_balance common_lot",
    "arithmetic quantity demand projection suggestion",
    "job_cost pricing methods variances sensitivity",
)
BESIDE = {"templatetags", "migrations", "demonstration"}
# They drive a browser, take minutes, or measure.
LEFT_OUT = ("browser", "performance", "mutants", "node")


def core() -> list[Path]:
    """The files of the core. Raises LookupError where a name is nobody's."""
    return [path for line in CORE for name in line.split() for path in files_of(name)]


def files_of(name: str) -> list[Path]:
    """The files of the modules of a name, or of a dotted path. Raises LookupError where there is none."""
    if "." in name:
        found = [path] if (path := TREE / f"{name.replace('.', '/')}.py").is_file() else []
    else:
        found = [path for package in PACKAGES for path in sorted((TREE / package).rglob(f"{name}.py"))]
    found = [path for path in found if not BESIDE & set(path.parts)]
    if not found:
        raise LookupError(f"No module is called {name}.")
    return found


def dotted(path: Path) -> str:
    """A file's module as it is imported."""
    return ".".join(path.relative_to(TREE).with_suffix("").parts)


def noticing(path: Path) -> list[str]:
    """The files of tests that import a module, as pytest takes them; the one named after it first."""
    module = dotted(path)
    files = [
        file
        for file in sorted((TREE / "tests").rglob("test_*.py"))
        if not set(LEFT_OUT) & set(file.parts)
        and (file.stem == f"test_{path.stem}" or module in imported(file))
    ]
    files.sort(key=lambda file: file.stem != f"test_{path.stem}")
    return [str(file.relative_to(TREE)) for file in files]


@cache
def imported(file: Path) -> set[str]:
    """Every module that a file may be importing: from X import Y is X, and may be X.Y."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{name.name}" for name in node.names)}
        elif isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
    return found
