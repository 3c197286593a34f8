"""What people type about formulas, turned into exact figures or a sentence beside the field."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator

from batches.formulas.tolerance import tolerance_problem
from batches.formulas.writing import Ingredient, declared_over_fill, stir_problem
from batches.models import Formula, FormulaLine, FormulaVersion
from batches.models.formulas import MELTED_KINDS, PROCESS
from batches.recipe import Basis
from inventory.models import Item, Kind
from studio.core.percent import PercentError, entry_percent, parse_percent
from studio.core.quantities import Dimension, QuantityError, entry_text, parse_quantity
from studio.core.temperatures import entry_temperature
from studio.models import Studio
from studio.web.forms import ModelForm, percent_field, quantity_field, temperature_field
from studio.web.line_forms import lines_of


class FormulaForm(ModelForm):
    """A formula's name and what it makes."""

    class Meta:
        model = Formula
        fields = ["name", "item"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        made = Item.objects.current().filter(kind=Kind.FINISHED) | Item.objects.current().filter(
            made_here=True
        )
        self.fields["item"].queryset = made  # type: ignore[attr-defined]
        self.fields["item"].empty_label = "Choose what it makes"  # type: ignore[attr-defined]
        self.fields["item"].help_text = "A finished good, or a raw material that is made here."


MASS_FIELDS = ("fill_ug", "declared_ug", "pot_ug", "division_ug")
PERCENT_FIELDS = ("loss_ppm",)
TEMPERATURE_FIELDS = ("heat_to_mc", "fragrance_at_mc", "pour_from_mc", "pour_to_mc")


class VersionForm(ModelForm):
    """A formula version's own figures: fill weight, losses, pot, and how it is made."""

    class Meta:
        model = FormulaVersion
        fields = [*PROCESS, "what_changed"]
        widgets = {
            "notes": forms.Textarea(attrs={"rows": 4}),
            "label_words": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, studio: Studio, makes: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.makes = makes
        unit = studio.mass_unit
        mass, degrees = Dimension.MASS, studio.scale
        self.fields["fill_ug"] = quantity_field(
            mass,
            unit=unit,
            label="Fill weight",
            help_text="Melt in one vessel.",
            required=makes.kind == Kind.FINISHED,
        )
        self.fields["declared_ug"] = quantity_field(
            mass,
            unit=unit,
            label="Declared net weight",
            help_text="What the label says. Empty: the fill weight.",
            required=False,
        )
        self.fields["loss_ppm"] = percent_field(
            label="Loss allowance", required=False, help_text="Melt that stays in pot, jug and cloth."
        )
        self.fields["pot_ug"] = quantity_field(
            mass,
            unit=unit,
            label="Pot takes",
            required=False,
            help_text="A larger run is split into equal pours.",
        )
        self.fields["division_ug"] = quantity_field(
            mass, unit=unit, label="Scale shows steps of", help_text="Targets are rounded to this."
        )
        for name, label in zip(
            TEMPERATURE_FIELDS, ("Heat to", "Add fragrance at", "Pour from", "Pour up to"), strict=True
        ):
            self.fields[name] = temperature_field(degrees, label=label, required=False)
        # Beyond these a slip of the finger would reach past the end of the calendar.
        self.fields["rest_hours"].validators.append(MaxValueValidator(24 * 365))
        self.fields["cure_days"].validators.append(MaxValueValidator(365))
        self.fields["stir_minutes"] = forms.IntegerField(
            label="Stir for", required=False, help_text="Minutes, once the fragrance is in."
        )
        self.fields[
            "label_words"
        ].help_text = (
            "Allergens and hazard words from the supplier's safety data sheet. Printed below the warning."
        )
        self.fields["rest_hours"].help_text = "Hours before hand finishing."
        self.fields["cure_days"].help_text = "Days before it may be sold."
        if makes.kind != Kind.FINISHED:
            del self.fields["fill_ug"], self.fields["declared_ug"], self.fields["label_words"]
        self._fill(unit, degrees)
        self.order_fields(self.Meta.fields)

    def _fill(self, unit: str, degrees: str) -> None:
        """Show the figures a copied or changed version already has."""
        version = self.instance
        for name in MASS_FIELDS:
            if name in self.fields and (amount := getattr(version, name)) is not None:
                self.initial[name] = entry_text(amount, unit)
        if version.declared_ug is not None and version.declared_ug == version.fill_ug:
            self.initial["declared_ug"] = ""  # so that it follows a fill weight that is changed
        self.initial["loss_ppm"] = entry_percent(version.loss_ppm)
        for name in TEMPERATURE_FIELDS:
            if (milli_c := getattr(version, name)) is not None:
                self.initial[name] = entry_temperature(milli_c, degrees)

    def clean_stir_minutes(self) -> int | None:
        """Minutes within reason, or none."""
        minutes: int | None = self.cleaned_data["stir_minutes"]
        if wrong := stir_problem(minutes):
            raise ValidationError(wrong)
        return minutes

    def clean(self) -> dict[str, Any]:
        """The pour window's ends in order."""
        data = super().clean() or self.cleaned_data
        low, high = data.get("pour_from_mc"), data.get("pour_to_mc")
        if low is not None and high is not None and low > high:
            self.add_error("pour_to_mc", "The window ends below where it begins. Swap the two figures.")
        if data.get("fill_ug") and (over := declared_over_fill(data.get("declared_ug"), data["fill_ug"])):
            self.add_error("declared_ug", over)
        return data

    def process(self) -> dict[str, Any]:
        """The version's own fields, ready for the verb."""
        data = {name: self.cleaned_data[name] for name in self.fields}
        fill = data.get("fill_ug")
        return {
            **data,
            "loss_ppm": data["loss_ppm"] or 0,
            "fill_ug": fill,
            "declared_ug": data.get("declared_ug") or fill,
        }


class IngredientForm(forms.Form):
    """One line of a formula."""

    item = forms.ModelChoiceField(Item.objects.current().materials(), empty_label="Choose an item")
    basis = forms.ChoiceField(choices=FormulaLine.BasisChoice.choices, label="Measured as")
    amount = forms.CharField(
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="Wax 100, fragrance 8, jar 1, wick 150 mm.",
    )
    spare = percent_field(required=False, help_text="More to set out, of what is counted.")
    tolerance = percent_field(required=False, help_text="± of the weight. Empty: one scale step.")

    def __init__(self, *args: Any, items: list[Item], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # An emptied line is a line taken out, whether it was shown filled in or not.
        self.empty_permitted = True
        self.fields["item"].choices = [("", "Choose an item"), *((item.pk, str(item)) for item in items)]  # type: ignore[attr-defined]

    def has_changed(self) -> bool:
        """Whether anything was entered; the measure alone, which always shows a choice, is nothing."""
        return any(name != "basis" for name in self.changed_data) or bool(self.initial and self.changed_data)

    def clean(self) -> dict[str, Any]:
        """The amount is a percentage, or for what goes with each unit a quantity of the item."""
        data = super().clean() or self.cleaned_data
        item, basis, text = data.get("item"), data.get("basis"), data.get("amount")
        is_weighed = basis != Basis.PER_UNIT or (item is not None and item.kind in MELTED_KINDS)
        if wrong := tolerance_problem(data.get("tolerance"), is_weighed=is_weighed):
            self.add_error("tolerance", wrong)
        if not item or not basis or not text:
            return data
        if basis != Basis.PER_UNIT and item.dimension is not Dimension.MASS:
            self.add_error("basis", f"{item} is not weighed, so it cannot be a share. Choose per unit.")
            return data
        try:
            data["understood"] = (
                parse_quantity(text, item.dimension) if basis == Basis.PER_UNIT else parse_percent(text)
            )
        except (QuantityError, PercentError) as error:
            self.add_error("amount", str(error))
        return data

    def ingredient(self) -> Ingredient:
        """The line, understood. Only after the form is valid."""
        data = self.cleaned_data
        return Ingredient(
            data["item"], data["basis"], data["understood"], data["spare"] or 0, data["tolerance"]
        )

    @staticmethod
    def typed(line: FormulaLine) -> dict[str, Any]:
        """What would have been typed for a line that exists."""
        per_unit = line.basis == Basis.PER_UNIT
        amount = (
            f"{entry_text(line.amount, line.item.unit)} {line.item.unit}"
            if per_unit
            else entry_percent(line.amount)
        )
        if per_unit and line.item.dimension is Dimension.COUNT:
            amount = str(line.amount)
        spare = entry_percent(line.spare_ppm) if line.spare_ppm else ""
        tolerance = entry_percent(line.tolerance_ppm) if line.tolerance_ppm else ""
        return {
            "item": line.item_id,
            "basis": line.basis,
            "amount": amount,
            "spare": spare,
            "tolerance": tolerance,
        }


INGREDIENTS_AT_MOST = 40
Ingredients = lines_of(
    IngredientForm, INGREDIENTS_AT_MOST, needed="Enter what goes into it: at least one line."
)
