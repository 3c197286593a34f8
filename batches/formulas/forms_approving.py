"""What people say about whole versions: how far one has got, what a copy is called, which two to compare."""

from typing import Any

from django import forms

from batches.formulas.forms import FormulaForm
from batches.models import FormulaVersion
from inventory.models import Kind


class StateForm(forms.Form):
    """Another state for a version, and why. `shown` carries what the page said was wanting."""

    state = forms.ChoiceField(label="It becomes", widget=forms.RadioSelect)
    reason = forms.CharField(max_length=300, label="Why")
    shown = forms.CharField(required=False, max_length=600, widget=forms.HiddenInput())

    def __init__(self, *args: Any, version: FormulaVersion, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = [(value, label) for value, label in FormulaVersion.State.choices if value != version.state]
        self.fields["state"].choices = others  # type: ignore[attr-defined]


class CopyForm(FormulaForm):
    """The name of a copied formula and what it makes: another product of the same sort."""

    def __init__(self, *args: Any, version: FormulaVersion, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        item = self.fields["item"]
        finished = version.fill_ug is not None
        made = item.queryset  # type: ignore[attr-defined]
        same_sort = made.filter(kind=Kind.FINISHED) if finished else made.exclude(kind=Kind.FINISHED)
        item.queryset = same_sort.exclude(formula_lines__version=version)  # type: ignore[attr-defined]
        item.help_text = "A finished good." if finished else "A raw material that is made here."


class CompareForm(forms.Form):
    """Two versions, of one formula or of two."""

    left = forms.ModelChoiceField(FormulaVersion.objects.none(), empty_label="Choose a version")
    right = forms.ModelChoiceField(FormulaVersion.objects.none(), empty_label="Choose a version")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        versions = FormulaVersion.objects.select_related("formula").order_by("formula__name", "-number")
        known = list(versions)
        for field in self.fields.values():
            field.queryset = FormulaVersion.objects.all()  # type: ignore[attr-defined]
            field.choices = [  # type: ignore[attr-defined]
                ("", "Choose a version"),
                *((each.pk, f"{each} ({each.get_state_display().lower()})") for each in known),
            ]
