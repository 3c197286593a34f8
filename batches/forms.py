"""What people type about formulas and batches, turned into exact figures or a sentence beside the field."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.forms import BaseFormSet, formset_factory
from django.utils import timezone

from batches.formulas import Ingredient, declared_over_fill
from batches.models import Formula, FormulaLine, FormulaVersion, Labour, Reading
from batches.recipe import Basis
from inventory.forms import find_lot
from inventory.models import Item, Kind, Lot
from studio.forms import DayField, WhenField, percent_field, quantity_field, temperature_field
from studio.models import Studio, User
from studio.percent import PercentError, entry_percent, parse_percent
from studio.quantities import Dimension, QuantityError, entry_text, parse_quantity
from studio.temperatures import entry_temperature


class FormulaForm(forms.ModelForm):
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


class VersionForm(forms.ModelForm):
    """A formula version's own figures: fill weight, losses, pot, and how it is made."""

    class Meta:
        model = FormulaVersion
        fields = [
            "fill_ug",
            "declared_ug",
            "loss_ppm",
            "pot_ug",
            "division_ug",
            "heat_to_mc",
            "fragrance_at_mc",
            "pour_from_mc",
            "pour_to_mc",
            "rest_hours",
            "cure_days",
            "notes",
            "what_changed",
        ]
        widgets = {"notes": forms.Textarea(attrs={"rows": 4})}

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
        self.fields["rest_hours"].help_text = "Hours before hand finishing."
        self.fields["cure_days"].help_text = "Days before it may be sold."
        if makes.kind != Kind.FINISHED:
            del self.fields["fill_ug"], self.fields["declared_ug"]
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
        return Ingredient(data["item"], data["basis"], data["understood"], data["spare"] or 0)

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
        return {"item": line.item_id, "basis": line.basis, "amount": amount, "spare": spare}


class BaseIngredients(BaseFormSet):
    """The lines of a formula; empty ones are left out, and one at least is needed."""

    def clean(self) -> None:
        """At least one line."""
        if not any(self.errors) and not any(form.has_changed() for form in self.forms):
            raise ValidationError("Enter what goes into it: at least one line.")


INGREDIENTS_AT_MOST = 40
Ingredients = formset_factory(
    IngredientForm,
    formset=BaseIngredients,
    extra=1,
    max_num=INGREDIENTS_AT_MOST,
    absolute_max=INGREDIENTS_AT_MOST,
    validate_max=True,
)


class PlanForm(forms.Form):
    """What to make, how many and when."""

    formula = forms.ModelChoiceField(FormulaVersion.objects.none(), empty_label="Choose a formula")
    quantity = forms.CharField(
        label="How many",
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="Units, or the weight of a blend with its unit.",
    )
    planned_on = DayField(label="On")
    note = forms.CharField(max_length=300, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        versions = FormulaVersion.objects.filter(formula__retired=False).exclude(
            state=FormulaVersion.State.RETIRED
        )
        versions = versions.select_related("formula__item").order_by("formula__name", "-number")
        self.fields["formula"].queryset = versions  # type: ignore[attr-defined]
        self.fields["formula"].label_from_instance = (  # type: ignore[attr-defined]
            lambda version: (
                f"{version.formula}, version {version.number} ({version.get_state_display().lower()})"
            )
        )

    def clean(self) -> dict[str, Any]:
        """The quantity in base units of what the formula makes."""
        data = super().clean() or self.cleaned_data
        version, text = data.get("formula"), data.get("quantity")
        if version and text:
            item = version.formula.item
            try:
                amount = parse_quantity(text, item.dimension)
            except QuantityError as error:
                self.add_error("quantity", str(error))
            else:
                data["understood"] = amount
                if amount > item.plausible_limit:
                    self.add_error(
                        "quantity",
                        f"{item.quantity(amount)} is more than is expected at once "
                        f"({item.quantity(item.plausible_limit)}). Check the figure, "
                        "or raise the limit on the item's page.",
                    )
        return data


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

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.item = item
        # Rows are folded away and hidden, so a complaint on top names the item rather than a number.
        self.title = str(item)
        self.lot: Lot | None = None
        self.short = False
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

    happened_at = WhenField()


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
