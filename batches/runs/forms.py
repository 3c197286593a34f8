"""What people type about a run, turned into exact figures or a sentence beside the field."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from batches.models import Labour, Reading
from inventory.items.forms import find_lot
from inventory.ledger.forms_when import HappenedField
from inventory.models import Item, Lot
from studio.forms import DayField, WhenField, temperature_field
from studio.models import Studio, User
from studio.quantities import Dimension, QuantityError, parse_quantity


class DrawRowForm(forms.Form):
    """One lot and what was really taken from it, in the unit shown."""

    code = forms.CharField(
        label="Lot",
        max_length=20,
        required=False,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )
    amount = forms.CharField(
        label="Taken",
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    found = forms.BooleanField(label="Book the difference as found", required=False)
    despite = forms.CharField(
        label="It went in already: why?",
        max_length=300,
        required=False,
        help_text="For review; what comes of this batch is put on hold.",
    )

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.item = item
        # Rows are folded away and hidden, so a complaint on top names the item rather than a number.
        self.title = str(item)
        self.lot: Lot | None = None
        self.short = False
        self.stopped = False
        self.fields["amount"].unit_label = "" if item.dimension is Dimension.COUNT else item.unit  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Both or neither; the lot by its code and the amount in base units."""
        data = super().clean() or self.cleaned_data
        code, text = data.get("code", "").strip(), data.get("amount", "").strip()
        if not text:
            return data
        if not code:
            self.add_error("code", f"Give the code of the {self.item} lot it was taken from.")
            return data
        try:
            self.lot = find_lot(code)
        except ValidationError as error:
            self.add_error("code", error)
        else:
            if self.lot.item_id != self.item.pk:
                self.add_error("code", f"Lot {self.lot.spaced_code} is {self.lot.item}, not {self.item}.")
        try:
            amount = parse_quantity(text, self.item.dimension, unit=self.item.unit)
        except QuantityError as error:
            self.add_error("amount", str(error))
        else:
            if amount > self.item.plausible_limit:
                self.add_error(
                    "amount", f"{self.item.quantity(amount)} is not expected at once. Check the unit."
                )
            data["understood"] = amount
        return data

    @property
    def is_filled(self) -> bool:
        """Whether an amount was given."""
        return bool(self.cleaned_data.get("amount", "").strip())


class WhenForm(forms.Form):
    """When something happened."""

    happened_at = HappenedField()


class CorrectForm(WhenForm):
    """Why a draw is put right; it stays where it was in time."""

    reason = forms.CharField(label="What was wrong", max_length=300)
    field_order = ["reason"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["happened_at"]


class ReadingForm(forms.Form):
    """A temperature."""

    kind = forms.ChoiceField(choices=Reading.Kind.choices, label="Reading", initial=Reading.Kind.POUR)
    temperature = forms.CharField()
    note = forms.CharField(max_length=200, required=False)
    at = WhenField()

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["temperature"] = temperature_field(studio.scale, label="Temperature")
        self.order_fields(["kind", "temperature", "note", "at"])


class LabourForm(forms.Form):
    """Minutes worked."""

    person = forms.ModelChoiceField(User.objects.none(), label="Who", empty_label=None)
    step = forms.ChoiceField(choices=Labour.Step.choices, label="At what")
    minutes = forms.IntegerField(
        min_value=1, max_value=60 * 24, widget=forms.TextInput(attrs={"inputmode": "numeric"})
    )
    worked_on = DayField(label="On")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = User.objects.filter(is_active=True)  # type: ignore[attr-defined]

    def clean_worked_on(self) -> date:
        """A day that has come."""
        worked_on: date = self.cleaned_data["worked_on"]
        if worked_on > timezone.localdate():
            raise ValidationError("This lies in the future. Give the day on which it was worked.")
        return worked_on
