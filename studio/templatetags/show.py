"""How figures look on a page: quantities in the item's unit, money in the studio's currency, temperatures."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

from django import template
from django.http import QueryDict
from django.template.base import NodeList, Parser, Token
from django.template.defaultfilters import date as date_text
from django.template.loader import render_to_string
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString
from django.utils.timezone import localtime

from studio.core.codes import spaced
from studio.core.durations import clock, duration_text
from studio.core.money import format_money, price_text
from studio.core.numerals import MINUS, decimal_text, hours_text
from studio.core.percent import format_percent
from studio.core.quantities import PRICED_BY, Dimension, format_quantity, from_unit, split_quantity
from studio.core.temperatures import format_temperature
from studio.web.panels import Panel
from studio.web.submissions import KEY_FIELD, new_key
from studio.web.tables import Column, Format, Head, Shown, follow

register = template.Library()

MISSING = "–"


def _currency(context: template.Context) -> str:
    studio = context.get("studio")
    return studio.currency if studio else "USD"


@register.simple_tag
def qty(amount: int | None, item: Any) -> str:
    """A quantity as text in the item's unit: "1,250 g"."""
    return MISSING if amount is None else item.quantity(amount)


@register.filter
def absolute(amount: int) -> int:
    """A quantity without its sign, for what left."""
    return abs(amount)


@register.simple_tag(takes_context=True)
def customer(context: template.Context, who: Any, missing: str = "not on record") -> str:
    """A customer as far as the visitor may know them: by name, or by number."""
    user = context.get("user")
    if not who:
        return missing
    return who.display_name(user) if user is not None and user.is_authenticated else str(who)


@register.simple_tag
def share_qty(amount: Fraction | None, item: Any) -> str:
    """A quantity worked out by share, in the item's unit."""
    return MISSING if amount is None else item.share_quantity(amount)


@register.simple_tag
def figure(amount: int | None, item: Any, hero: bool = False) -> SafeString | str:
    """A quantity with its unit set small and muted."""
    if amount is None:
        return MISSING
    shown = split_quantity(amount, item.unit)
    look = "figure hero" if hero else "figure"
    unit = format_html('<span class="unit">&nbsp;{}</span>', shown.unit) if shown.unit else ""
    return format_html('<span class="{}">{}{}</span>', look, shown.number, unit)


@register.simple_tag
def weight(amount: int | Fraction | None, unit: str = "g", places: int | None = None) -> str:
    """A mass in µg as text, in a unit of the page's choice."""
    if amount is None:
        return MISSING
    shown = split_quantity(round(amount), unit, places=places)
    return f"{shown.number}\N{NO-BREAK SPACE}{shown.unit}"


@register.simple_tag
def millimetres(um: int | None) -> str:
    """A length in µm as text in millimetres."""
    return MISSING if um is None else format_quantity(um, "mm")


@register.simple_tag
def hours(number: Fraction | None) -> str:
    """A time in hours as text: tenths below ten hours, whole hours from there on, half to even."""
    return MISSING if number is None else hours_text(number)


@register.simple_tag(takes_context=True)
def money(context: template.Context, micros: int | Fraction | None, places: int | None = None) -> str:
    """Millionths as money in the studio's currency."""
    return MISSING if micros is None else format_money(round(micros), _currency(context), places=places)


@register.simple_tag(takes_context=True)
def pack_price(context: template.Context, micros: int | None) -> str:
    """The price of one pack with as many decimals as it has; "not known" where it is not."""
    return "not known" if micros is None else price_text(micros, _currency(context))


@register.simple_tag(takes_context=True)
def unit_cost(context: template.Context, micros: int | None, amount: int | None, item: Any) -> str:
    """A value over a quantity as a price in the unit people quote: "$5.49 per kg", "$0.42 each"."""
    if micros is None or not amount:
        return MISSING
    unit = PRICED_BY[item.unit]
    price = round(Fraction(micros * from_unit(1, unit), amount))
    places = 4 if item.dimension is Dimension.COUNT and price < 100_000 else None
    shown = format_money(price, _currency(context), places=places)
    return f"{shown} {unit}" if unit == "each" else f"{shown} per {unit}"


@register.simple_tag(takes_context=True)
def temp(context: template.Context, milli_c: int | None) -> str:
    """A temperature in the studio's unit."""
    studio = context.get("studio")
    return MISSING if milli_c is None else format_temperature(milli_c, studio.scale if studio else "C")


@register.filter
def percent(ppm: int | Fraction | None, places: int = 2) -> str:
    """Parts per million as a percentage."""
    return MISSING if ppm is None else format_percent(ppm, places)


@register.filter
def share_percent(ratio: Fraction | None, places: int = 2) -> str:
    """A plain ratio (2/25) as a percentage (8 %)."""
    return MISSING if ratio is None else format_percent(ratio * 1_000_000, places)


@register.filter
def plain(number: Fraction | None, places: int = 2) -> str:
    """A number without a unit, to so many decimals."""
    if number is None:
        return MISSING
    scaled = round(number * 10**places)
    return (MINUS if scaled < 0 else "") + decimal_text(scaled, places, fixed=True)


register.filter(clock)


@register.filter
def lasted(took: timedelta | None) -> str:
    """How long something took: "3 h 05 min"."""
    return MISSING if took is None else duration_text(took)


@register.filter(name="spaced")
def spaced_code(code: str) -> str:
    """A code in groups of three."""
    return spaced(code)


@register.filter
def state_of(lot: Any, on: Any) -> tuple[str, str]:
    """Tone and word for a lot's condition on a day."""
    tone_and_word: tuple[str, str] = lot.state(on)
    return tone_and_word


@register.simple_tag(takes_context=True)
def without_page(context: template.Context, *drop: str) -> str:
    """The page's query string without the page number, for links that keep the filters."""
    query: QueryDict = context["request"].GET.copy()
    for name in ("page", "format", *drop):
        query.pop(name, None)
    return query.urlencode()


@register.simple_tag(takes_context=True)
def draw(context: template.Context, panel: Panel) -> SafeString:
    """A part of a page that another package adds."""
    return render_to_string(panel.template, panel.context, context["request"])


@register.simple_tag(takes_context=True)
def submission_key(context: template.Context) -> SafeString:
    """The hidden key that lets a form be accepted once. A refused form keeps the key it came with."""
    request = context["request"]
    key = request.POST.get(KEY_FIELD) or new_key()
    return format_html('<input type="hidden" name="{}" value="{}">', KEY_FIELD, key)


@register.simple_tag(takes_context=True)
def per_unit(context: template.Context, micros: int, count: int) -> str:
    """A value over a count of units, as money."""
    return format_money(round(Fraction(micros, count)), _currency(context)) if count else MISSING


@register.filter
def at(names: Mapping[str, str], key: str) -> str:
    """A name by its key."""
    return names[key]


@register.filter
def any_wrong(forms: Any) -> bool:
    """Whether any form of a list was refused."""
    return any(form.is_bound and form.errors for form in forms) if isinstance(forms, list) else False


# Declared tables (see studio.web.tables). `{% table %}` draws one; `{% cell %}` inside it says what the cells of a column
# hold where that is more than a value:
#
#     {% table table as lot, state %}
#       {% cell "item" %}{{ lot.item }}<span class="sub">{{ lot.supplier }}</span>{% endcell %}
#     {% endtable %}

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
