"""The printed batch record of a run that was begun."""

import io

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from PIL import Image, UnidentifiedImageError

from batches.fetch import batch_of
from batches.models import Batch, BatchPhoto
from batches.records.record_facts import RecordFacts, at
from batches.records.record_pdf import Picture, record_pdf
from batches.records.record_text import record_of
from studio.people.access import EVERYONE, allow
from studio.web.requests import StudioRequest, printed_by, shown_pdf

PICTURES_AT_MOST = 9
PICTURE_PX = 480


@allow(see=EVERYONE)
def batch_record(request: StudioRequest, code: str) -> HttpResponse:
    """The completed batch record, as far as the run has got; a run that was not begun has none."""
    batch = batch_of(code)
    if batch.state in {Batch.State.PLANNED, Batch.State.CALLED_OFF}:
        messages.warning(
            request, f"Batch {batch.spaced_code} was not begun, so there is no record yet. Print its ticket."
        )
        return redirect(batch)
    facts = RecordFacts(batch, request.user)
    record = record_of(facts, request.studio, printed=printed_by(request), pictures=_pictures(facts))
    return shown_pdf(record_pdf(record), f"record-{batch.code}")


def _pictures(facts: RecordFacts) -> list[Picture]:
    """The first photos, made small; one that cannot be read is left to the list of photos."""
    found = []
    for photo in facts.photos[:PICTURES_AT_MOST]:
        data = BatchPhoto.objects.values_list("data", flat=True).get(pk=photo.pk)
        try:
            with Image.open(io.BytesIO(bytes(data))) as picture:
                picture.thumbnail((PICTURE_PX, PICTURE_PX))
                out = io.BytesIO()
                picture.convert("RGB").save(out, "JPEG", quality=80)
        except (UnidentifiedImageError, OSError):
            continue
        caption = f"{at(photo.at)}, {photo.by}{': ' if photo.text else ''}{photo.text}"
        found.append(Picture(caption, out.getvalue()))
    return found
