"""What a tablet sends from the bench, read into an entry. Figures are whole numbers in base units."""

import hashlib
import json
from typing import Any

from django import forms
from django.http import QueryDict

from batches.bench.entries import Entered
from batches.models import BatchNote, BenchEntry, Reading
from studio.core.quantities import QUANTITY_LIMIT
from studio.core.temperatures import HIGHEST, LOWEST
from studio.web import uploads
from studio.web.forms import ReceivedField

KEYS_AT_MOST = 2**63 - 1
A_WEEK = 7 * 24 * 3600
# Not part of what was entered: they differ from one sending to the next.
OF_THE_SENDING = {"sent_at", "csrfmiddlewaretoken"}


def _whole(least: int, most: int) -> forms.IntegerField:
    return forms.IntegerField(min_value=least, max_value=most, required=False)


class EntryForm(forms.Form):
    """One entry. `at` and `sent_at` are milliseconds by the tablet's own clock; `by` is the key of who entered it."""

    key = forms.UUIDField()
    kind = forms.ChoiceField(choices=BenchEntry.Kind.choices)
    by = forms.IntegerField(min_value=1, max_value=KEYS_AT_MOST)
    at = forms.IntegerField(min_value=0, max_value=10**14)
    sent_at = forms.IntegerField(min_value=0, max_value=10**14)
    line = _whole(1, KEYS_AT_MOST)
    pour = _whole(1, 1_000)
    lot = _whole(1, KEYS_AT_MOST)
    quantity = _whole(1, QUANTITY_LIMIT)
    gross = _whole(0, QUANTITY_LIMIT)
    tare = _whole(0, QUANTITY_LIMIT)
    source = forms.ChoiceField(choices=BenchEntry.Source.choices, required=False)
    found = forms.BooleanField(required=False)
    seen = _whole(0, QUANTITY_LIMIT)
    as_well = forms.BooleanField(required=False)
    despite = forms.CharField(max_length=300, required=False)
    reading = forms.ChoiceField(choices=Reading.Kind.choices, required=False)
    temperature = _whole(LOWEST, HIGHEST)
    # That a pot was poured all the same is said with the reading of the pour alone.
    note_kind = forms.ChoiceField(
        choices=[each for each in BatchNote.Kind.choices if each[0] != BatchNote.Kind.POURED], required=False
    )
    seconds = _whole(0, A_WEEK)
    text = forms.CharField(max_length=500, required=False)
    takes_back = forms.UUIDField(required=False)
    poured_above = forms.CharField(max_length=400, required=False)
    photo = ReceivedField(picture=True, required=False)

    def entered(self) -> Entered:
        """The entry; the form is valid."""
        data: dict[str, Any] = self.cleaned_data
        return Entered(
            key=data["key"],
            kind=data["kind"],
            line_id=data["line"],
            pour=data["pour"],
            lot_id=data["lot"],
            quantity=data["quantity"],
            gross_ug=data["gross"],
            tare_ug=data["tare"],
            source=data["source"] or BenchEntry.Source.KEYPAD,
            book_found=data["found"],
            seen=data["seen"],
            as_well=data["as_well"],
            despite=data["despite"],
            reading=data["reading"],
            temperature_mc=data["temperature"],
            note_kind=data["note_kind"] or BatchNote.Kind.NOTE,
            seconds=data["seconds"],
            text=data["text"],
            photo=data["photo"],
            takes_back=data["takes_back"],
            poured_above=data["poured_above"],
        )

    def sentence(self) -> str:
        """What was wrong, for whoever holds the tablet."""
        return " ".join(str(error) for errors in self.errors.values() for error in errors)


def digest_of(posted: QueryDict, photo: uploads.Received | None) -> str:
    """A fingerprint of what was entered, the same however often it is sent."""
    content = sorted((name, posted.getlist(name)) for name in posted if name not in OF_THE_SENDING)
    picture = hashlib.sha256(photo.data).hexdigest() if photo else ""
    return hashlib.sha256(json.dumps([content, picture]).encode("utf-8", "replace")).hexdigest()
