"""What people say of a paper, and the file they choose."""

from typing import Any

from django import forms
from django.conf import settings

from inventory.documents.services import Paper
from inventory.models import Document
from studio.web.forms import ChangeModelForm, DayField, ReceivedField
from studio.web.uploads import in_megabytes


def _ordered(form: forms.BaseForm, data: dict[str, Any]) -> None:
    """A paper cannot have run out before it was written."""
    dated_on, valid_until = data.get("dated_on"), data.get("valid_until")
    if dated_on and valid_until and valid_until < dated_on:
        form.add_error("valid_until", "This lies before the date on the paper.")


class PaperForm(forms.Form):
    """A paper to be added: the file first."""

    file = ReceivedField(
        label="File",
        widget=forms.FileInput(attrs={"accept": ".pdf,.jpg,.jpeg,.png,.webp"}),
        error_messages=dict.fromkeys(("required", "invalid", "missing"), "Choose the file."),
    )
    kind = forms.ChoiceField(choices=[("", "Choose one"), *Document.Kind.choices], label="What it is")
    dated_on = DayField(
        label="Date on it", required=False, help_text="The day it was issued or last revised, as it says."
    )
    valid_until = DayField(
        label="Valid until",
        required=False,
        help_text="Only where the paper or its issuer names a last day.",
    )
    note = forms.CharField(max_length=120, required=False, help_text="For example: section 9 is on page 6.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        limit = in_megabytes(settings.UPLOAD_LIMIT)
        self.fields["file"].help_text = (
            f"PDF, or a photo as JPEG, PNG or WebP; at most {limit}. The place and other notes of the camera are "
            "taken out of photos."
        )

    def clean(self) -> dict[str, Any]:
        """Photos are pictures; dates follow each other."""
        data = super().clean() or self.cleaned_data
        _ordered(self, data)
        file = data.get("file")
        if file and data.get("kind") == Document.Kind.PHOTO and not file.media_type.startswith("image/"):
            self.add_error("kind", "This file is a PDF. Choose what it is, or choose a photo.")
        return data

    def paper(self) -> Paper:
        """What is said of the paper. Only after the form is valid."""
        data = self.cleaned_data
        return Paper(Document.Kind(data["kind"]), data["dated_on"], data["valid_until"], data["note"])


class PaperChangeForm(ChangeModelForm):
    """What was said of a paper, put right. The file stays the file."""

    dated_on = DayField(label="Date on it", required=False)
    valid_until = DayField(label="Valid until", required=False)

    class Meta:
        model = Document
        fields = ["kind", "dated_on", "valid_until", "note"]
        labels = {"kind": "What it is"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.carry_what_is_shown()

    def clean(self) -> dict[str, Any]:
        """Dates follow each other."""
        data = super().clean() or self.cleaned_data
        _ordered(self, data)
        return data
