"""What is measured to find out how much melt a vessel takes."""

from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from batches.formulas.fill_weight import ML_IN, WATER_FROM_MC, WATER_TO_MC
from inventory.items.forms import read_density
from studio.core.numerals import read_decimal, tidy
from studio.core.percent import WHOLE
from studio.core.quantities import Dimension
from studio.models import Studio
from studio.web.forms import ParsedField, percent_field, quantity_field, temperature_field

WATER, VOLUME, FILLED = "water", "volume", "filled"
METHODS = (
    (WATER, "The water it holds, weighed"),
    (VOLUME, "Its volume"),
    (FILLED, "One that was filled, weighed"),
)
# What each way of measuring asks for.
ASKS = {WATER: ("water", "water_at"), VOLUME: ("volume",), FILLED: ("full", "empty")}
VOLUME_AT_MOST = 100_000


class VolumeError(ValueError):
    """What was typed is no volume. Its text is a sentence for a person."""


def read_volume(text: str) -> Fraction:
    """A number of millilitres or fluid ounces; the unit is chosen beside it. Raises VolumeError."""
    number = read_decimal(tidy(text, VolumeError, example="250").strip(), VolumeError, places=6)
    if not 0 < number <= VOLUME_AT_MOST:
        raise VolumeError("Enter a volume above zero, for example 250.")
    return number


class FillWeightForm(forms.Form):
    """One way of measuring, the melt's density, and how much of the vessel is filled."""

    method = forms.ChoiceField(choices=METHODS, label="Measured by", widget=forms.RadioSelect, initial=WATER)
    volume_unit = forms.ChoiceField(
        choices=[("mL", "mL"), ("fl oz", "US fl oz")], label="Unit", required=False, initial="mL"
    )

    def __init__(self, *args: Any, studio: Studio, needs_density: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit, mass = studio.mass_unit, Dimension.MASS
        self.needs_density = needs_density
        self.fields["water"] = quantity_field(
            mass, unit=unit, label="The water weighs", help_text="Without the vessel.", required=False
        )
        self.fields["water_at"] = temperature_field(
            studio.scale,
            label="Water's temperature",
            initial="20" if studio.scale == "C" else "68",
            required=False,
        )
        self.fields["volume"] = ParsedField(
            read_volume,
            label="It takes",
            required=False,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        )
        self.fields["full"] = quantity_field(mass, unit=unit, label="Weighs full", required=False)
        self.fields["empty"] = quantity_field(mass, unit=unit, label="Weighs empty", required=False)
        self.fields["density"] = ParsedField(
            read_density,
            unit_label="g/mL",
            label="Melt's density",
            help_text="Empty: worked out from the lines.",
            required=False,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        )
        self.fields["share"] = percent_field(
            label="Fill to",
            initial="100",
            help_text="100 when it was filled to the line; 80 to 90 of brimful is common.",
        )
        self.order_fields(
            ["method", "water", "water_at", "volume", "volume_unit", "full", "empty", "density", "share"]
        )

    def clean_water_at(self) -> int | None:
        """A temperature at which the density of water is known here."""
        water_at: int | None = self.cleaned_data["water_at"]
        if water_at is not None and not WATER_FROM_MC <= water_at <= WATER_TO_MC:
            raise ValidationError("Use water between 0 °C and 40 °C (32 °F and 104 °F).")
        return water_at

    def clean_share(self) -> int:
        """More than nothing, and no more than the whole."""
        share: int = self.cleaned_data["share"]
        if not 0 < share <= WHOLE:
            raise ValidationError("Enter a share above 0 and up to 100.")
        return share

    def clean(self) -> dict[str, Any]:
        """What the chosen way of measuring needs, and a density unless a filled vessel was weighed."""
        data = super().clean() or self.cleaned_data
        method = data.get("method")
        for name in ASKS.get(method or "", ()):
            if name not in self.errors and data.get(name) is None:
                self.add_error(name, "Fill this in.")
        if method == FILLED and data.get("full") and data.get("empty") and data["empty"] >= data["full"]:
            self.add_error("full", "It weighs no more full than empty. Check both figures.")
        wanting = self.needs_density and data.get("density") is None and "density" not in self.errors
        if method in (WATER, VOLUME) and wanting:
            self.add_error("density", "It is not known of every line. Enter it here, or on the item.")
        return data

    def volume_ml(self) -> Fraction:
        """The volume typed, in millilitres. Only after the form is valid."""
        volume: Fraction = self.cleaned_data["volume"]
        return volume * ML_IN[self.cleaned_data["volume_unit"] or "mL"]
