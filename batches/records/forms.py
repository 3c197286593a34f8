"""What people choose before the labels of finished candles are printed."""

from typing import Any

from django import forms

from batches.records.jar_label_text import JarTexts, What
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
    hazards = forms.BooleanField(
        label="Print the chemical hazard labeling on record",
        required=False,
        help_text="Its words, with the warning; pictograms are put on as well.",
    )
    has_hazards = forms.BooleanField(
        label="Every unit carries its chemical hazard labeling otherwise, or a competent person says none is needed",
        required=False,
    )
    field_order = ["what", "has_warning", "hazards", "has_hazards", "layout", "start"]

    def __init__(self, *args: Any, texts: JarTexts | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.texts = texts
        if texts is None or not texts.hazard_words:
            del self.fields["hazards"]
        if texts is None or not texts.under_clp:
            del self.fields["has_hazards"]
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
        self._clean_hazards(data)
        count = data.get(self.lots[0].code) or 0
        if what == What.APART and 2 * count > LABELS_AT_MOST:
            self.add_error(
                self.lots[0].code,
                f"With their warnings that makes {2 * count:,} labels; print at most {LABELS_AT_MOST:,} at a time.",
            )
        return data

    def _clean_hazards(self, data: dict[str, Any]) -> None:
        """In a market under CLP no label goes out that leaves the chemical hazard labeling open."""
        if self.texts is None or "has_hazards" not in self.fields or data.get("has_hazards"):
            return
        if self.texts.hazard_caution:
            self.add_error(
                "has_hazards",
                f"{self.texts.hazard_caution} Tick this when each unit is labeled otherwise, samples included.",
            )
        elif self.texts.hazard_words and not (data.get("hazards") and data.get("what") != What.FRONT):
            self.add_error(
                "has_hazards",
                "Print the chemical hazard labeling with the warning, or tick this when it is on each unit otherwise.",
            )
