"""What is asked of the runs: which formula, which days, which outcome."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django import forms

from batches.analysis.factors import SCRAP, SECONDS, YIELD, Look, defect
from batches.models import Formula, FormulaVersion
from studio.web.forms import DayField

# What is looked at when nothing was asked for: a year, and how much was thrown away.
DAYS = 365
LOOKS = (SCRAP, SECONDS, YIELD)
BEGINNING = date(2000, 1, 1)


class LessonForm(forms.Form):
    """Which runs, and what of them; what cannot be read is said beside its field and left out."""

    formula = forms.ModelChoiceField(
        Formula.objects.filter(pk__in=FormulaVersion.objects.filter(fill_ug__isnull=False).values("formula")),
        required=False,
        empty_label="All formulas",
    )
    look = forms.ChoiceField(label="Look at", required=False)
    from_on = DayField(label="Planned from", required=False)
    to_on = DayField(label="To", required=False)

    def __init__(self, asked: Any, *, defects: Sequence[str], today: date) -> None:
        super().__init__({**self._usual(today), **{name: asked.get(name) for name in asked}})
        self.today = today
        self.looks = {look.key: look for look in (*LOOKS, *map(defect, defects))}
        self.fields["look"].choices = [(look.key, look.words) for look in self.looks.values()]  # type: ignore[attr-defined]

    @staticmethod
    def _usual(today: date) -> dict[str, Any]:
        first = today - timedelta(days=DAYS - 1)
        return {"look": SCRAP.key, "from_on": first.isoformat(), "to_on": today.isoformat()}

    def clean(self) -> dict[str, Any]:
        """The days in their order."""
        data = super().clean() or self.cleaned_data
        first, last = data.get("from_on"), data.get("to_on")
        if first and last and first > last:
            self.add_error("to_on", "This is before the first day. Give the later day here.")
        return data

    @property
    def chosen(self) -> Look:
        """What is looked at, as far as it could be understood."""
        return self.looks.get(self.cleaned_data.get("look", ""), SCRAP)

    @property
    def days(self) -> tuple[date, date]:
        """From which day to which; an empty one leaves that end open."""
        data = self.cleaned_data
        usual = self.today - timedelta(days=DAYS - 1)
        first = usual if "from_on" in self.errors else data.get("from_on") or BEGINNING
        last = data.get("to_on") or self.today
        return min(first, last), last
