"""`{% table %}` draws a declared table; `{% cell %}` inside it says what a cell holds that is more than a value.

    {% table table as lot, state %}
      {% cell "item" %}{{ lot.item }}<span class="sub">{{ lot.supplier }}</span>{% endcell %}
    {% endtable %}

Headings, labels for phones, classes and the headings of rows come from the declaration (see `studio.tables`).
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import template
from django.template.base import NodeList, Parser, Token
from django.template.defaultfilters import date as date_text
from django.template.loader import render_to_string
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString
from django.utils.timezone import localtime

from studio.tables import Column, Format, Head, Shown, follow
from studio.templatetags.show import MISSING, figure, money, percent

register = template.Library()

Drawn = SafeString | str


def _text(context: template.Context, column: Column, row: Any, value: Any) -> Drawn:
    return MISSING if value in (None, "") else conditional_escape(value)


def _code(context: template.Context, column: Column, row: Any, value: Any) -> Drawn:
    return _part("code", {"code": value, "url": follow(column.link, row) if column.link else ""})


def _state(context: template.Context, column: Column, row: Any, value: Any) -> Drawn:
    return _part("state", {"tone": value[0], "word": value[1]})


def _part(name: str, values: dict[str, Any]) -> Drawn:
    return render_to_string(f"parts/{name}.html", values)


def _quantity(context: template.Context, column: Column, row: Any, value: Any) -> Drawn:
    return figure(value, follow(column.item, row))


CELLS: dict[Format, Callable[[template.Context, Column, Any, Any], Drawn]] = {
    Format.CODE: _code,
    Format.STATE: _state,
    Format.YES: lambda context, column, row, value: "yes" if value else "no",
    Format.DAY: lambda context, column, row, value: _moment(value, "j M Y"),
    Format.TIME: lambda context, column, row, value: _moment(value, "j M Y, H:i"),
    Format.QUANTITY: _quantity,
    Format.MONEY: lambda context, column, row, value: money(context, value),
    Format.PERCENT: lambda context, column, row, value: percent(value),
}


def _moment(value: Any, shape: str) -> str:
    """A day or a time on the studio's clock."""
    return (
        MISSING
        if value is None
        else date_text(localtime(value) if isinstance(value, datetime) else value, shape)
    )


def drawn(context: template.Context, column: Column, row: Any) -> Drawn:
    """A cell whose value says all. Raises TemplateSyntaxError where the column has none."""
    if not column.value:
        raise template.TemplateSyntaxError(f"The template says nothing of the cells of {column.key}.")
    value = follow(column.value, row)
    text = CELLS.get(column.format, _text)(context, column, row, value)
    if column.link and column.format is not Format.CODE:
        return format_html('<a href="{}">{}</a>', follow(column.link, row), text)
    return text


@dataclass(frozen=True)
class Cell:
    """A cell as the page shows it."""

    head: Head
    html: Drawn

    @property
    def css(self) -> str:
        """Its classes; days keep to one line."""
        column = self.head.column
        nowrap = "nowrap" if column.format in {Format.DAY, Format.TIME} else ""
        return " ".join(filter(None, (self.head.css, nowrap, column.css)))


class CellNode(template.Node):
    """What the cells of one column hold."""

    def __init__(self, key: str, nodelist: NodeList) -> None:
        self.key, self.nodelist = key, nodelist

    def render(self, context: template.Context) -> SafeString:
        """The cell of the row at hand."""
        return self.nodelist.render(context)


class TableNode(template.Node):
    """A declared table, drawn by parts/table.html."""

    def __init__(self, shown: str, names: list[str], cells: dict[str, CellNode]) -> None:
        self.shown, self.names, self.cells = template.Variable(shown), names, cells

    def render(self, context: template.Context) -> SafeString:
        """The whole table. Raises TemplateSyntaxError for a cell that no column asks for."""
        shown: Shown = self.shown.resolve(context)
        known = {column.key for column in shown.table.columns}
        if strange := self.cells.keys() - known:
            raise template.TemplateSyntaxError(f"No column is called {', '.join(sorted(strange))}.")
        rows = (list(self._cells(context, shown, row)) for row in shown.rows)
        return render_to_string(
            "parts/table.html", {"table": shown.table, "heads": shown.heads, "rows": rows}
        )

    def _cells(self, context: template.Context, shown: Shown, row: Any) -> Iterator[Cell]:
        values = (row,) if len(self.names) == 1 else row
        with context.push(**dict(zip(self.names, values, strict=True))):
            for head in shown.heads:
                own = self.cells.get(head.column.key)
                yield Cell(head, own.render(context) if own else drawn(context, head.column, row))


@register.tag
def cell(parser: Parser, token: Token) -> CellNode:
    """What a cell of a column holds: {% cell "item" %}…{% endcell %}."""
    _, key = token.split_contents()
    nodelist = parser.parse(("endcell",))
    parser.delete_first_token()
    return CellNode(key.strip("\"'"), nodelist)


@register.tag
def table(parser: Parser, token: Token) -> TableNode:
    """A declared table: {% table table as lot %}…{% endtable %}; several names take a row apart."""
    _, shown, *rest = token.split_contents()
    names = [name.strip(",") for name in rest[1:]] or ["row"]
    nodelist = parser.parse(("endtable",))
    parser.delete_first_token()
    cells = {node.key: node for node in nodelist if isinstance(node, CellNode)}
    return TableNode(shown, names, cells)
