"""Forms with repeated lines: a press for one more line, without complaints while the person is still typing."""

from collections.abc import Mapping

from django.forms import BaseForm, BaseFormSet
from django.forms.utils import ErrorDict
from django.http import QueryDict

ADD_LINE = "add_line"


def with_another_line(
    data: QueryDict, prefix: str, at_most: int, fresh: Mapping[str, str] | None = None
) -> QueryDict:
    """What was posted, with one line more up to the most there may be.

    `fresh` is what stands in a line nobody has typed in yet; without it the new line would count as changed.
    """
    data = data.copy()
    name = f"{prefix}-TOTAL_FORMS"
    count = data.get(name, "")
    if count.isascii() and count.isdigit() and len(count) < 5:
        data[name] = str(min(int(count) + 1, at_most))
        for field, value in (fresh or {}).items():
            data.setdefault(f"{prefix}-{int(count)}-{field}", value)
    return data


def hush(form: BaseForm, lines: BaseFormSet) -> None:
    """Show what was typed without complaints."""
    form._errors = ErrorDict()  # type: ignore[attr-defined]
    lines._non_form_errors = lines.error_class()  # type: ignore[attr-defined]
    lines._errors = [{} for _ in lines.forms]  # type: ignore[attr-defined]
    for line in lines.forms:
        line._errors = ErrorDict()
