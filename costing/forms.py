"""What people type about rates."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from costing.models import OverheadRate
from studio.forms import DayField, money_field
from studio.models import Studio, User
from studio.money import parse_money
from studio.percent import parse_percent


class LabourRateForm(forms.Form):
    """What an hour costs from a day on."""

    from_on = DayField(label="From")
    person = forms.ModelChoiceField(
        User.objects.none(), label="Who", required=False, empty_label="Everybody without a rate of their own"
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        # Two forms with a day share a page, and an id may be there once.
        kwargs.setdefault("auto_id", "labour_%s")
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = User.objects.filter(is_active=True)  # type: ignore[attr-defined]
        self.fields["per_hour"] = money_field(studio.currency, label="For an hour")


class OverheadRateForm(forms.Form):
    """The overhead rule from a day on."""

    from_on = DayField(label="From")
    basis = forms.ChoiceField(choices=OverheadRate.Basis.choices, label="Charged")
    amount = forms.CharField(
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="Money; for a share of labour a percentage, such as 250 %.",
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "overhead_%s")
        super().__init__(*args, **kwargs)
        self.currency = studio.currency

    def clean(self) -> dict[str, Any]:
        """The amount in millionths, or in parts per million of labour."""
        data = super().clean() or self.cleaned_data
        basis, text = data.get("basis"), data.get("amount")
        if not basis or not text:
            return data
        try:
            if basis == OverheadRate.Basis.OF_LABOUR:
                data["understood"] = parse_percent(text)
            elif "%" in text:
                raise ValidationError("A percentage is only for a share of labour cost. Enter money.")
            else:
                data["understood"] = parse_money(text, currency=self.currency)
        except ValueError as error:
            self.add_error("amount", str(error))
        except ValidationError as error:
            self.add_error("amount", error)
        return data
