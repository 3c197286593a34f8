"""The file a table comes in, and how it is to be understood where it could be read two ways."""

import unicodedata
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from inventory.importing.planning import Plan
from studio.web.reading_tables import BYTES_AT_MOST

MEGABYTE = 1024 * 1024
NAME_AT_MOST = 100


def harmless_name(name: str) -> str:
    """A file's name without its path and without signs that cannot be seen, at most NAME_AT_MOST long."""
    name = unicodedata.normalize("NFC", name).replace("\\", "/").rpartition("/")[2]
    shown = "".join(sign for sign in name if unicodedata.category(sign)[0] != "C")
    return " ".join(shown.split())[:NAME_AT_MOST] or "table"


class TableFileForm(forms.Form):
    """A CSV or XLSX file."""

    file = forms.FileField(
        label="File",
        allow_empty_file=True,
        help_text=f"CSV or XLSX, at most {BYTES_AT_MOST // MEGABYTE} MB and 20,000 rows. Nothing is brought in yet: "
        "first you see what is in it and what is wrong.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
    )

    def clean_file(self) -> "UploadedFile[Any]":
        """A file of a size that is read."""
        file: UploadedFile[Any] = self.cleaned_data["file"]
        if (file.size or 0) > BYTES_AT_MOST:
            raise ValidationError(
                f"The file is larger than {BYTES_AT_MOST // MEGABYTE} MB. Copy the table alone into a new file, or "
                "split it."
            )
        return file


class ReadingForm(forms.Form):
    """How a file is to be understood; it asks only what matters for this one."""

    sheet = forms.TypedChoiceField(label="Sheet", coerce=int)
    days = forms.ChoiceField(
        label="A date such as 03/04/2026",
        required=False,
        choices=[("", "Not said: ask me"), ("day", "Day first: 3 April"), ("month", "Month first: 4 March")],
    )
    marks = forms.ChoiceField(
        label="A comma in a number such as 1,500",
        required=False,
        choices=[
            ("", "Not said: ask me"),
            ("point", "Between thousands: fifteen hundred"),
            ("comma", "Decimal mark: one and a half"),
        ],
    )
    worthless = forms.BooleanField(
        label="Lots without a cost are worth nothing",
        required=False,
        help_text="What is made of them will cost nothing for its material. A cost that you find later cannot be added.",
    )
    sure = forms.BooleanField(label="Large quantities are right", required=False)

    def __init__(self, *args: Any, plan: Plan, **kwargs: Any) -> None:
        kwargs.setdefault("initial", vars(plan.choices))
        super().__init__(*args, **kwargs)
        for name in set(self.fields) - plan.asks:
            del self.fields[name]
        if "sheet" in self.fields:
            self.fields["sheet"].choices = list(enumerate(plan.sheets, 1))  # type: ignore[attr-defined]
            self.initial = {**self.initial, "sheet": plan.sheets.index(plan.sheet) + 1}
