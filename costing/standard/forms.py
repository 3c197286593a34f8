"""What people ask of a cost sheet, and what they set as its standard."""

from collections.abc import Mapping
from typing import Any

from django import forms

from batches.models import Labour
from costing.models import WorkStandard
from costing.standard.price_basis import PriceBasis
from costing.standard.standard import Bought
from inventory.models import Item
from studio.core.percent import WHOLE, entry_percent
from studio.core.quantities import QuantityError, parse_quantity
from studio.web.forms import DayField, percent_field

COUNT = {"inputmode": "numeric", "autocomplete": "off"}


class SheetForm(forms.Form):
    """How many, at which prices. What cannot be read is said beside its field and left at what is usual."""

    units = forms.CharField(
        label="For a run of", max_length=40, required=False, widget=forms.TextInput(attrs=COUNT)
    )
    basis = forms.ChoiceField(
        label="Prices", required=False, choices=[(basis.value, basis.words) for basis in PriceBasis]
    )
    buy_for = forms.IntegerField(
        label="Bought at once for",
        required=False,
        min_value=1,
        max_value=1_000_000,
        widget=forms.TextInput(attrs=COUNT),
    )

    def __init__(self, asked: Any, *, item: Item, usual: int) -> None:
        self.item, self.usual = item, usual
        shown = {"units": item.quantity(usual), "basis": PriceBasis.LATEST.value}
        super().__init__({**shown, **{name: asked.get(name) for name in asked}})

    def clean_units(self) -> int:
        """In base units."""
        text = self.cleaned_data["units"]
        if not text:
            return self.usual
        try:
            quantity = parse_quantity(text, self.item.dimension, unit=self.item.unit)
        except QuantityError as error:
            raise forms.ValidationError(str(error)) from None
        if not quantity:
            raise forms.ValidationError("Enter how many, above zero.")
        return quantity

    @property
    def bought(self) -> Bought:
        """At which prices, as far as it could be understood."""
        basis = PriceBasis(self.cleaned_data.get("basis") or PriceBasis.LATEST)
        at_once = self.cleaned_data.get("buy_for") if basis is PriceBasis.OFFER else None
        return Bought(basis, at_once)

    @property
    def quantity(self) -> int:
        """How much of the product, in base units."""
        return self.cleaned_data.get("units") or self.usual


class WorkForm(forms.Form):
    """How long a product should take, task by task, and how much is lost, from a day on."""

    from_on = DayField(label="From")

    def __init__(self, *args: Any, each: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["spoilage"] = percent_field(
            label="Expected to be lost",
            required=False,
            help_text="Of what is made. Empty: as the last runs showed.",
        )
        for task, name in Labour.Step.choices:
            self.fields[f"{task}_batch"] = forms.IntegerField(
                label=f"{name}: minutes a batch",
                required=False,
                min_value=0,
                max_value=10_000,
                widget=forms.TextInput(attrs=COUNT),
            )
            self.fields[f"{task}_unit"] = forms.IntegerField(
                label=f"{name}: seconds for {each}",
                required=False,
                min_value=0,
                max_value=100_000,
                widget=forms.TextInput(attrs=COUNT),
            )

    def clean_spoilage(self) -> int | None:
        """Below all of it."""
        share: int | None = self.cleaned_data["spoilage"]
        if share is not None and share >= WHOLE:
            raise forms.ValidationError(
                "A standard by which all of it is lost makes nothing. Enter less than 100 %."
            )
        return share

    @property
    def rows(self) -> list[tuple[str, Any, Any]]:
        """The fields by task, for the page."""
        return [
            (str(name), self[f"{task}_batch"], self[f"{task}_unit"]) for task, name in Labour.Step.choices
        ]

    @property
    def steps(self) -> Mapping[str, tuple[int, int]]:
        """What was typed by task. Only after the form is valid."""
        data = self.cleaned_data
        return {task: (data[f"{task}_batch"] or 0, data[f"{task}_unit"] or 0) for task in Labour.Step.values}


def typed(standard: WorkStandard | None) -> dict[str, Any]:
    """A standard as it would be typed again."""
    if standard is None:
        return {}
    shown: dict[str, Any] = {}
    if standard.spoilage_ppm is not None:
        shown["spoilage"] = entry_percent(standard.spoilage_ppm)
    for step in standard.steps.all():
        shown |= {f"{step.task}_batch": step.batch_minutes, f"{step.task}_unit": step.unit_seconds}
    return shown
