"""What people ask and say about the value of goods."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from costing.models import GoodsRule
from studio.core.percent import WHOLE
from studio.web.forms import DayField, ModelForm, percent_field


class OnForm(forms.Form):
    """A day whose end is asked for, and perhaps a day by whose end it had to be on record."""

    on = DayField(label="At the end of", required=False)
    known = DayField(
        label="As recorded by the end of",
        required=False,
        help_text="For an audit: leaves out what was entered later.",
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_on(self) -> date:
        """The day asked for, today where none is."""
        day: date = self.cleaned_data["on"] or self.today
        if day > self.today:
            raise ValidationError("This lies in the future. Give a day that has come.")
        return day


class CloseForm(forms.Form):
    """Through which day the books are closed, and why."""

    through = DayField(label="Close the books through")
    reason = forms.CharField(
        max_length=300, label="Why", help_text="For example, the quarter went to the accountant."
    )
    sure = forms.BooleanField(
        label="I know that this cannot be taken back",
        error_messages={"required": "Tick this too: a closing stays."},
    )


class GoodsRuleForm(ModelForm):
    """What is counted into goods from a day on."""

    from_on = DayField(label="From")
    normal_loss = percent_field(
        label="Normal loss",
        help_text="Of the good units of a run. What is lost beyond is abnormal.",
        max_length=20,
    )

    class Meta:
        model = GoodsRule
        fields = ["from_on", "with_labour", "with_owner", "with_overhead", "blends"]
        labels = {
            "with_labour": "Count the labour of those employed",
            "with_owner": "Count the owner's own labour",
            "with_overhead": "Count overhead",
            "blends": "Blends made here count",
        }

    field_order = ["from_on", "with_labour", "with_owner", "with_overhead", "normal_loss", "blends"]

    def clean_normal_loss(self) -> int:
        """Parts per million."""
        ppm: int = self.cleaned_data["normal_loss"]
        if not 0 <= ppm <= WHOLE:
            raise ValidationError("Enter a share between 0 and 100 %.")
        return ppm
