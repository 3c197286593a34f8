"""Small wrong changes of a module, one at a time, on its syntax tree."""

import ast
from collections.abc import Iterator
from typing import NamedTuple

COMPARISONS = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
SIGNS = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
}
PICKING = {"filter", "exclude", "get"}


class Change(NamedTuple):
    """A module with one thing wrong: the line, what it says there now, and the whole source."""

    line: int
    now: str
    source: str


def changes(source: str) -> Iterator[Change]:
    """Every change of a module's source, from the top."""
    count = sum(1 for _ in _places(ast.parse(source)))
    for number in range(count):
        tree = ast.parse(source)
        holder, change = list(_places(tree))[number]
        change()
        yield Change(holder.lineno, ast.unparse(holder), ast.unparse(ast.fix_missing_locations(tree)))


def _places(tree: ast.Module):
    """What can be changed: the node that shows it, and a function that does it in place."""
    for node in ast.walk(tree):
        if isinstance(node, ast.stmt | ast.expr):
            yield from ((node, change) for change in _of_node(node))
        for field in ("body", "orelse"):
            inside = getattr(node, field, None)
            if isinstance(inside, list) and not isinstance(node, ast.Module | ast.ClassDef):
                yield from ((each, _drop(inside, each)) for each in inside if _may_go(each))


def _of_node(node: ast.AST):
    if isinstance(node, ast.Compare):
        for place, operator in enumerate(node.ops):
            if other := COMPARISONS.get(type(operator)):
                yield _put(node.ops, place, other())
    elif isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in SIGNS:
        yield _set(node, "op", SIGNS[type(node.op)]())
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield _set(node, "op", ast.UAdd())
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield lambda: (
            _set(node, "op", ast.Not())(),
            _set(node, "operand", ast.UnaryOp(ast.Not(), node.operand))(),
        )
    elif isinstance(node, ast.BoolOp):
        yield _set(node, "op", ast.Or() if isinstance(node.op, ast.And) else ast.And())
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield _set(node, "value", not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int):
        yield _set(node, "value", node.value + 1)
    elif isinstance(node, ast.Call) and getattr(node.func, "attr", "") in PICKING:
        for keyword in node.keywords:
            yield lambda keyword=keyword: node.keywords.remove(keyword)


def _may_go(statement: ast.stmt) -> bool:
    """Whether a statement does something of its own that can be left out."""
    if isinstance(statement, ast.Expr):
        return not isinstance(statement.value, ast.Constant)
    return isinstance(statement, ast.AugAssign | ast.Raise | ast.If | ast.For | ast.Continue)


def _drop(inside: list[ast.stmt], statement: ast.stmt):
    return lambda: _put(inside, inside.index(statement), ast.Pass())()


def _put(row: list, place: int, node: ast.AST):
    def change() -> None:
        row[place] = node

    return change


def _set(node: ast.AST, name: str, value: object):
    return lambda: setattr(node, name, value)
