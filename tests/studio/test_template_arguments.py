"""A filter's argument that cannot be read raises, while a value shown that cannot be read is left empty."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.template import engines
from django.template.base import FilterExpression, Node, Variable

FOLDER = Path(__file__).parents[2] / "templates"
TEMPLATES = sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.html"))


def expressions(thing: Any, seen: set[int]) -> Iterator[FilterExpression]:
    """Every filter expression below a parsed template, whatever tag holds it."""
    if id(thing) in seen:
        return
    seen.add(id(thing))
    if isinstance(thing, FilterExpression):
        yield thing
    elif isinstance(thing, list | tuple):
        for part in thing:
            yield from expressions(part, seen)
    elif isinstance(thing, dict):
        yield from expressions(list(thing.values()), seen)
    elif isinstance(thing, Node) or type(thing).__module__.startswith("django.template"):
        yield from expressions(list(getattr(thing, "__dict__", {}).values()), seen)


def read_through(source: str, name: str = "") -> list[str]:
    """Arguments of filters that are read through something that may be None, as `a.b.c`."""
    template = engines["django"].from_string(source).template
    return [
        f"{name}: {expression.token}"
        for expression in expressions(template.nodelist, set())
        for _, arguments in expression.filters
        for is_variable, argument in arguments
        if is_variable and isinstance(argument, Variable) and len(argument.lookups or ()) > 2
    ]


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_filter_reads_its_argument_through_what_may_be_missing(name):
    assert read_through((FOLDER / name).read_text(), name) == []


@pytest.mark.parametrize(
    "source",
    [
        "{{ complaint.lot.code|default:complaint.batch.code }}",
        "{% if x %}{% for a in b %}{% url 'sign-in' q.w|default:e.r.t %}{% endfor %}{% endif %}",
        "{% with a=b|default:c.d.e %}{{ a }}{% endwith %}",
        "{% include 'parts/code.html' with code=b|default_if_none:c.d.e url='' %}",
        "{% if a == b|default:c.d.e %}{% endif %}",
        "{% block content %}{% if a|default:c.d.e %}{% endif %}{% endblock %}",
    ],
)
def test_such_an_argument_is_seen_wherever_it_stands(source):
    assert len(read_through(source)) == 1


def test_an_argument_beside_its_value_is_none():
    assert read_through("{{ paper.note|default:paper.name }}{{ a.b.c|default:'none' }}") == []
