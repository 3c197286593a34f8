"""The label elements of a version, as they are read in the supplier's document."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from batches.formulas.loads import Load
from batches.models import HazardLabel
from batches.models.hazard_labels import PICTOGRAMS, load_words
from inventory.models import Document
from studio.web.forms import ModelForm

NO_WORD = "none"
TEXTS = ("identifiers", "hazards", "precautions", "supplemental")
NOTHING = "Enter what the document lists, or tick that it asks for no label elements at this load."


class HazardLabelForm(ModelForm):
    """Label elements, with the document of each fragrance they were read in."""

    pictograms = forms.MultipleChoiceField(
        choices=PICTOGRAMS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Codes of the GHS. They are not printed; put the pictures on as well.",
    )
    # Nothing is preselected: that a document asks for no signal word is read there, too.
    signal = forms.ChoiceField(
        label="Signal word",
        choices=[(value or NO_WORD, words) for value, words in HazardLabel.Signal.choices],
        required=False,
        widget=forms.RadioSelect,
    )

    class Meta:
        model = HazardLabel
        fields = [
            "none_needed",
            "identifiers",
            "pictograms",
            "signal",
            "hazards",
            "precautions",
            "supplemental",
        ]
        widgets = {name: forms.Textarea(attrs={"rows": 3}) for name in TEXTS}
        help_texts = {
            "identifiers": "The hazardous substances that are named on the label.",
            "hazards": "Code and text, one a line: H317 with its sentence.",
            "precautions": "Code and text, one a line.",
            "supplemental": "For example EUH208 with the substance it names.",
        }

    def __init__(
        self,
        *args: Any,
        scents: Sequence[Load],
        documents: Mapping[int, Sequence[Document]],
        outdated: bool = False,
        **kwargs: Any,
    ) -> None:
        """`outdated`: the elements it begins with were taken from something else, so they have to be read again."""
        super().__init__(*args, **kwargs)
        self.scents = scents
        if outdated:
            self.fields["read_again"] = forms.BooleanField(
                label="I read each element in the document for the load above",
                error_messages={"required": "Read them in the document for this load, then tick here."},
                help_text="What stands here was taken at another load, or from another document.",
            )
        for load in scents:
            there = documents.get(load.item.pk, ())
            self.fields[f"document_{load.item.pk}"] = forms.ModelChoiceField(
                Document.objects.filter(pk__in=[document.pk for document in there]),
                label=f"Document for {load.item}",
                empty_label="Choose a document",
                help_text=f"The one that speaks of this load: {load_words(load.of_wax, load.of_melt)}.",
                error_messages={"required": "Choose the document; file it beside the item first."},
            )
        self.order_fields([*(f"document_{load.item.pk}" for load in scents), *self.Meta.fields])

    def clean_pictograms(self) -> str:
        """Their codes in order, with a space between."""
        return " ".join(sorted(self.cleaned_data["pictograms"]))

    def clean(self) -> dict[str, Any]:
        """Elements, or that none are asked for; never both, never neither."""
        data = super().clean() or self.cleaned_data
        if not data.get("signal") and not data.get("none_needed") and "signal" not in self.errors:
            self.add_error("signal", "Choose the signal word, or “None” where the document has none.")
        data["signal"] = "" if data.get("signal") == NO_WORD else data.get("signal", "")
        named = [data.get(name) for name in ("identifiers", "pictograms", "signal", "hazards", "precautions")]
        if data.get("none_needed") and any(named):
            self.add_error("none_needed", "Elements are entered below. Take the tick or the elements away.")
        needed = [data.get(name) for name in ("identifiers", "pictograms", "hazards", "supplemental")]
        if not data.get("none_needed") and not any(needed):
            self.add_error("none_needed", NOTHING)
        return data

    def elements(self) -> dict[str, Any]:
        """The label's own columns, ready for the verb."""
        return {name: self.cleaned_data[name] for name in self.Meta.fields}

    def documents(self) -> dict[int, Document]:
        """The document of each fragrance, by item's key."""
        return {load.item.pk: self.cleaned_data[f"document_{load.item.pk}"] for load in self.scents}
