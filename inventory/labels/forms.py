"""What people type to print labels, and to say where labels lie on their paper."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.db import transaction

from inventory.labels.sheets import LABELS_AT_MOST, ROWS_AT_MOST, Layout, LayoutError
from inventory.labels.texts import FIGURES
from inventory.models import LabelLayout, Lot
from studio.core.quantities import Dimension, entry_text
from studio.web.forms import ChangeModelForm, quantity_field

MAY_BE_NONE = ("left_um", "top_um", "gap_x_um", "gap_y_um")
LABELS = {
    "page_width_um": ("Page width", "On a roll: the width of one label."),
    "page_height_um": ("Page height", "On a roll: the height of one label."),
    "left_um": ("Left margin", "From the edge of the page to the first label."),
    "top_um": ("Top margin", "From the edge of the page to the first label."),
    "label_width_um": ("Label width", ""),
    "label_height_um": ("Label height", ""),
    "gap_x_um": ("Gap across", "Between two labels side by side."),
    "gap_y_um": ("Gap down", "Between two labels one below the other."),
}
COUNT = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})


class PrintForm(forms.Form):
    """Which layout, where to begin, and how many labels of each lot. A lot's field is named by its code."""

    layout = forms.ModelChoiceField(
        LabelLayout.objects.filter(retired=False),
        empty_label=None,
        help_text="The size of the labels on the sheet or roll in the printer.",
    )
    start = forms.IntegerField(
        label="Begin at label",
        min_value=1,
        max_value=ROWS_AT_MOST * ROWS_AT_MOST,
        widget=COUNT,
        help_text="For a sheet that was begun: labels count from the top left, along the rows.",
    )

    def __init__(self, *args: Any, lots: Iterable[Lot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lots = list(lots)
        for lot in self.lots:
            self.fields[lot.code] = forms.IntegerField(
                label=f"How many of {lot.spaced_code}" if len(self.lots) > 1 else "How many",
                help_text=f"{lot.item}: {lot.item.quantity(lot.on_hand)} on hand",
                required=False,
                min_value=0,
                max_value=LABELS_AT_MOST,
                widget=COUNT,
            )

    def clean(self) -> dict[str, Any]:
        """One label at least, and no more than are printed at a time."""
        data = super().clean() or self.cleaned_data
        total = sum(data.get(lot.code) or 0 for lot in self.lots)
        if not self.errors and not 1 <= total <= LABELS_AT_MOST:
            self.add_error(
                self.lots[0].code if len(self.lots) == 1 else None,
                f"That makes {total:,} labels; print 1 to {LABELS_AT_MOST:,} at a time.",
            )
        return data

    def wanted(self) -> list[Lot]:
        """Each lot as often as labels of it were asked for. Only after the form is valid."""
        return [lot for lot in self.lots for _ in range(self.cleaned_data[lot.code] or 0)]


class LabelLayoutForm(ChangeModelForm):
    """A layout: measured on the paper, in millimetres or inches."""

    usual = forms.BooleanField(
        required=False, label="The usual one", help_text="Chosen when labels are printed."
    )

    class Meta:
        model = LabelLayout
        fields = ["name", *FIGURES, "retired"]
        widgets = {"rows": COUNT, "columns": COUNT}

    field_order = ["name", *FIGURES, "usual", "retired"]

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (label, help_text) in LABELS.items():
            self.fields[name] = quantity_field(
                Dimension.LENGTH,
                unit=unit,
                allow_zero=name in MAY_BE_NONE,
                label=label,
                help_text=help_text,
                initial="0" if name in MAY_BE_NONE else "",
            )
            self.initial.pop(name, None)
        self.fields["rows"].help_text = "Labels from top to bottom; 1 on a roll."
        self.fields["columns"].help_text = "Labels from left to right; 1 on a roll."
        self.order_fields(self.field_order)
        if self.instance.pk is None:
            del self.fields["retired"]
            return
        for name in LABELS:
            self.initial[name] = entry_text(getattr(self.instance, name), unit)
        self.initial["usual"] = self.instance.is_default
        self.carry_what_is_shown()

    def clean(self) -> dict[str, Any]:
        """The labels lie on the page, and the usual layout is one that is offered."""
        data = super().clean() or self.cleaned_data
        if data.get("usual") and data.get("retired"):
            self.add_error(
                "retired", "The usual layout is offered for printing. Make another the usual one first."
            )
        if all(type(data.get(name)) is int for name in FIGURES):
            self._check(data)
        return data

    def _check(self, data: Mapping[str, Any]) -> None:
        try:
            Layout(**{name: data[name] for name in FIGURES}).check()
        except LayoutError as error:
            self.add_error(error.figure or None, str(error))

    @transaction.atomic
    def save(self, commit: bool = True) -> LabelLayout:
        """Save it; where it becomes the usual one, the one before is so no longer."""
        self.instance.is_default = self.cleaned_data["usual"]
        if self.instance.is_default:
            LabelLayout.objects.filter(is_default=True).exclude(pk=self.instance.pk).update(is_default=False)
        layout: LabelLayout = super().save(commit)
        return layout

    def changed_columns(self) -> list[str]:
        """With whether it is the usual one, where that was changed."""
        return super().changed_columns() + (["is_default"] if "usual" in self.changed_data else [])
