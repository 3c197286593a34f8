"""Forms with repeated lines: a press for one more line, without complaints while the person is still typing."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, cast

from django.core.exceptions import ValidationError
from django.forms import BaseForm, BaseFormSet, formset_factory
from django.forms.utils import ErrorDict
from django.http import QueryDict

from studio.web.filters import whole_number

ADD_LINE = "add_line"

# Django's own, which takes a type argument only while types are checked.
if TYPE_CHECKING:
    FormSet = BaseFormSet[Any]
else:
    FormSet = BaseFormSet


def with_another_line(
    data: QueryDict, prefix: str, at_most: int, fresh: Mapping[str, str] | None = None
) -> QueryDict:
    """What was posted, with one line more up to the most there may be.

    `fresh` is what stands in a line nobody has typed in yet; without it the new line would count as changed.
    """
    data = data.copy()
    name = f"{prefix}-TOTAL_FORMS"
    count = whole_number(data.get(name, ""), 4)
    if count is not None:
        data[name] = str(min(count + 1, at_most))
        for field, value in (fresh or {}).items():
            data.setdefault(f"{prefix}-{count}-{field}", value)
    return data


def hush(form: BaseForm, lines: FormSet) -> None:
    """Show what was typed without complaints."""
    form._errors = ErrorDict()  # type: ignore[attr-defined]
    lines._non_form_errors = lines.error_class()  # type: ignore[attr-defined]
    lines._errors = [{} for _ in lines.forms]  # type: ignore[attr-defined]
    for line in lines.forms:
        line._errors = ErrorDict()


class Lines(FormSet):
    """Repeated lines. Empty ones are left out, one at least is needed, and the sentence `needed` says so."""

    needed = "Enter at least one line."

    def __init__(self, data: Any = None, *, initial: Any = None, **kwargs: Any) -> None:
        # Once sent, what stands in a line counts, whether it was typed now or shown filled in.
        super().__init__(data, initial=initial if data is None else None, **kwargs)

    def initial_form_count(self) -> int:
        """None once sent: a line that was shown filled in may be emptied like any other."""
        return 0 if self.is_bound else super().initial_form_count()

    @property
    def filled(self) -> list[BaseForm]:
        """The lines in which something stands."""
        return [form for form in self.forms if form.has_changed()]

    def clean(self) -> None:
        """At least one line."""
        if not any(self.errors) and not self.filled:
            raise ValidationError(self.needed)


def lines_of(form: type[BaseForm], at_most: int, base: type[Lines] = Lines, needed: str = "") -> type[Lines]:
    """A set of such lines, shown with one that is empty."""
    made = formset_factory(
        form, formset=base, extra=1, max_num=at_most, absolute_max=at_most, validate_max=True
    )
    made.needed = needed or base.needed  # type: ignore[attr-defined]
    return cast(type[Lines], made)
