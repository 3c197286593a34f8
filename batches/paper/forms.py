"""What people choose before the labels of finished candles are printed."""

from typing import Any

from django import forms

from batches.paper.jar_label_of import What
from inventory.labels.forms import PrintForm
from inventory.labels.sheets import LABELS_AT_MOST

CHOICES = (
    (What.TOGETHER, "Jar labels with the warning on them"),
    (What.APART, "Jar labels, each followed by its warning label"),
    (What.WARNING, "Warning labels alone, for the underside"),
    (What.FRONT, "Jar labels alone"),
)


class JarLabelForm(PrintForm):
    """Which labels, on which layout, from where and for how many units."""

    what = forms.ChoiceField(label="Print", choices=CHOICES, widget=forms.RadioSelect)
    has_warning = forms.BooleanField(
        label="Every unit carries a warning label as well",
        required=False,
        help_text="Asked for jar labels alone: none goes out without its warning.",
    )
    field_order = ["what", "has_warning", "layout", "start"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        """No jar label without a warning, and no more labels than are printed at a time."""
        data = super().clean()
        what = data.get("what")
        if what == What.FRONT and not data.get("has_warning"):
            self.add_error(
                "has_warning",
                "Tick this when each unit gets a warning label of its own, or print the warning too.",
            )
        count = data.get(self.lots[0].code) or 0
        if what == What.APART and 2 * count > LABELS_AT_MOST:
            self.add_error(
                self.lots[0].code,
                f"With their warnings that makes {2 * count:,} labels; print at most {LABELS_AT_MOST:,} at a time.",
            )
        return data
