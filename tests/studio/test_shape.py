"""The shape of the code: no function too long to be read at once, and classes named for what they are."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("studio", "inventory", "batches", "costing")
FILES = [
    path
    for package in PACKAGES
    for path in sorted((ROOT / package).rglob("*.py"))
    if "migrations" not in path.parts
]
LINES_AT_MOST = 60
# Words that say nothing of the thing; and a row says of what.
NO_NOUNS = {
    "Asked",
    "Came",
    "Drawn",
    "Each",
    "Found",
    "Of",
    "Read",
    "Row",
    "Said",
    "Seen",
    "Sent",
    "Taken",
    "Told",
    "Wanted",
    "Went",
}


def too_long(tree: ast.AST) -> list[str]:
    """The functions of a tree of more than so many lines, by name."""
    functions = (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))
    return [node.name for node in functions if node.end_lineno - node.lineno + 1 > LINES_AT_MOST]


def badly_named(tree: ast.AST) -> list[str]:
    """The classes of a tree that are called by no noun."""
    return [node.name for node in ast.walk(tree) if isinstance(node, ast.ClassDef) and node.name in NO_NOUNS]


@pytest.mark.parametrize("looked_for", [too_long, badly_named])
def test_functions_fit_a_screen_and_classes_are_nouns(looked_for):
    found = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in FILES
        for name in looked_for(ast.parse(path.read_text(encoding="utf-8")))
    ]

    assert len(FILES) > 400
    assert found == []


def test_a_long_function_and_a_class_that_is_no_noun_are_seen():
    lines = "\n".join("    x = 1" for _ in range(LINES_AT_MOST))

    assert too_long(ast.parse(f"def f():\n{lines}")) == ["f"]
    assert too_long(ast.parse(f"def f():\n{lines[: -len('x = 1') - 5]}")) == []
    assert badly_named(ast.parse("class Row:\n    pass\nclass StockRow:\n    pass")) == ["Row"]
