"""What people type about rates."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from batches.models import Labour
from costing.model.job_cost import rate_at_capacity
from costing.models import OverheadRate
from studio.core.money import MICROS, parse_money
from studio.core.percent import WHOLE, parse_percent
from studio.models import Studio, User
from studio.web.forms import DayField, money_field
from studio.web.requests import today


class LabourRateForm(forms.Form):
    """What an hour costs from a day on."""

    from_on = DayField(label="From")
    person = forms.ModelChoiceField(
        User.objects.none(), label="Who", required=False, empty_label="Everybody without a rate of their own"
    )
    task = forms.ChoiceField(
        label="At", required=False, choices=[("", "Whatever has no rate of its own"), *Labour.Step.choices]
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        # Two forms with a day share a page, and an id may be there once.
        kwargs.setdefault("auto_id", "labour_%s")
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = User.objects.filter(is_active=True)  # type: ignore[attr-defined]
        self.fields["per_hour"] = money_field(studio.currency, label="For an hour")


class OverheadRateForm(forms.Form):
    """An overhead rule from a day on: an amount, or what a month costs over what a usual month makes."""

    from_on = DayField(label="From")
    name = forms.CharField(
        label="What for",
        max_length=40,
        required=False,
        help_text="Such as Rent or Energy. A rule of the same name is replaced.",
    )
    basis = forms.ChoiceField(choices=OverheadRate.Basis.choices, label="Charged")
    amount = forms.CharField(
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="Money; for a share of labour a percentage, such as 250 %. 0 ends the rule.",
    )
    capacity = forms.DecimalField(
        label="Normal capacity a month",
        required=False,
        min_value=Decimal("0.001"),
        max_value=10**7,
        decimal_places=3,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="Hours, batches, units, pots or kilograms of a usual month; for a share of labour, its cost.",
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "overhead_%s")
        super().__init__(*args, **kwargs)
        self.currency = studio.currency
        self.fields["per_month"] = money_field(studio.currency, label="Or: it costs a month", required=False)
        self.order_fields(["from_on", "name", "basis", "amount", "per_month", "capacity"])

    def clean_name(self) -> str:
        """Without spaces around it."""
        return str(self.cleaned_data["name"]).strip()

    def clean(self) -> dict[str, Any]:
        """The amount in millionths, or in parts per million of labour."""
        data = super().clean() or self.cleaned_data
        basis, text = data.get("basis"), data.get("amount")
        if self.errors or not basis:
            return data
        per_month, capacity = data.get("per_month"), data.get("capacity")
        if text and (per_month is not None or capacity):
            self.add_error("amount", "Give either an amount, or what a month costs and its capacity.")
        elif text:
            self._read_amount(basis, text, data)
        elif per_month is None and not capacity:
            self.add_error("amount", "Fill this in, or give what a month costs and its normal capacity.")
        elif per_month is None:
            self.add_error("per_month", "Fill this in: the rate is this over the normal capacity.")
        elif not capacity:
            self.add_error("capacity", "Fill this in: the rate is what a month costs over this.")
        else:
            # Of labour the capacity is money, and the rate a share of it.
            times = Fraction(1, MICROS) * WHOLE if basis == OverheadRate.Basis.OF_LABOUR else 1
            data["understood"] = rate_at_capacity(round(per_month * times), Fraction(capacity))
        return data

    def _read_amount(self, basis: str, text: str, data: dict[str, Any]) -> None:
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


class OverheadPaidForm(forms.Form):
    """What overhead really came to in a month that has passed."""

    month = DayField(label="Month", help_text="Any day of it.")
    note = forms.CharField(max_length=120, required=False, label="Note")

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "paid_%s")
        super().__init__(*args, **kwargs)
        self.fields["amount"] = money_field(studio.currency, label="Came to")
        self.order_fields(["month", "amount", "note"])

    def clean_month(self) -> Any:
        """A month that has begun."""
        day = self.cleaned_data["month"]
        if day > today():
            raise ValidationError("This lies in the future. Give a month that has begun.")
        return day.replace(day=1)
