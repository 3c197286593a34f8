"""What people type about a run, turned into exact figures or a sentence beside the field."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from batches.models import Labour, Reading
from inventory.ledger.forms import HappenedField
from inventory.lots.forms import find_lot
from inventory.models import Item, Lot
from studio.core.quantities import Dimension, QuantityError, parse_quantity
from studio.models import Studio, User
from studio.web.forms import DayField, WhenField, temperature_field

NOT_KNOWN = "unknown"


class PotField(forms.TypedChoiceField):
    """Which pot, asked where there are several; nothing is preselected. None for "not known"."""

    def __init__(self, pots: int, **kwargs: Any) -> None:
        numbers = [(str(number), f"Pot {number}") for number in range(1, pots + 1)]
        kwargs.setdefault("error_messages", {"required": "Choose the pot, or “Not known”."})
        super().__init__(
            label="Pot",
            choices=[("", "Choose"), *numbers, (NOT_KNOWN, "Not known")],
            coerce=lambda value: None if value == NOT_KNOWN else int(value),
            empty_value=None,
            **kwargs,
        )


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
    planned = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput())

    def __init__(
        self, *args: Any, item: Item, pots: int = 1, as_planned: bool = False, **kwargs: Any
    ) -> None:
        """`pots`: how many it may have gone into; with several each row says which. `as_planned`: somebody said that
        what was planned went in, so a row without an amount means the planned one."""
        super().__init__(*args, **kwargs)
        self.item = item
        self.as_planned = as_planned
        if pots > 1:
            self.fields["pot"] = PotField(pots, required=False)
        # Rows are folded away and hidden, so a complaint on top names the item rather than a number.
        self.title = str(item)
        self.lot: Lot | None = None
        self.short = False
        self.stopped = False
        self.fields["amount"].unit_label = "" if item.dimension is Dimension.COUNT else item.unit  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Both or neither; the lot by its code and the amount in base units."""
        data = super().clean() or self.cleaned_data
        code, text = data.get("code", "").strip(), self._amount_text(data)
        if not text:
            return data
        if "pot" in self.fields and "pot" not in self.errors and not self.data.get(self.add_prefix("pot")):
            self.add_error("pot", "Choose the pot, or “Not known”.")
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
    def pot_field(self) -> forms.BoundField | None:
        """The field that asks for the pot, where there are several."""
        return self["pot"] if "pot" in self.fields else None

    @property
    def pot(self) -> int | None:
        """The pot it went into; None where nobody knows, or there is one pot only."""
        return self.cleaned_data.get("pot")

    @property
    def is_filled(self) -> bool:
        """Whether an amount was given."""
        return bool(self._amount_text(self.cleaned_data))

    def _amount_text(self, data: Mapping[str, Any]) -> str:
        planned = data.get("planned", "") if self.as_planned else ""
        return (data.get("amount", "").strip() or planned).strip()


class WhenForm(forms.Form):
    """When something happened."""

    happened_at = HappenedField()


class DrawForm(WhenForm):
    """When a whole batch's amounts went in, and whether the counted ones went in as planned."""

    counted_as_planned = forms.BooleanField(
        label="The counted parts left empty went in as planned, from the lots named", required=False
    )


class CorrectForm(WhenForm):
    """Why a draw is put right; it stays where it was in time."""

    reason = forms.CharField(label="What was wrong", max_length=300)
    field_order = ["pot", "reason"]

    def __init__(self, *args: Any, pots: int = 1, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["happened_at"]
        if pots > 1:
            self.fields["pot"] = PotField(pots)
            self.order_fields(self.field_order)


class ReadingForm(forms.Form):
    """A temperature."""

    kind = forms.ChoiceField(
        choices=[("", "Choose"), *Reading.Kind.choices],
        label="Reading",
        error_messages={"required": "Choose what was measured."},
    )
    temperature = forms.CharField()
    note = forms.CharField(max_length=200, required=False)
    at = WhenField()

    def __init__(self, *args: Any, studio: Studio, pots: int = 1, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["temperature"] = temperature_field(studio.scale, label="Temperature")
        if pots > 1:
            self.fields["pot"] = PotField(pots, required=False)
        self.order_fields(["kind", "temperature", "pot", "note", "at"])

    def clean(self) -> dict[str, Any]:
        """Of the room nobody has to say a pot."""
        data = super().clean() or self.cleaned_data
        of_room = data.get("kind") == Reading.Kind.ROOM
        if "pot" in self.fields and "pot" not in self.errors and not of_room and not self.data.get("pot"):
            self.add_error("pot", "Choose the pot, or “Not known”.")
        return data


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
