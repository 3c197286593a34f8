"""One press, one posting: a form is accepted once, however often it is sent."""

import hashlib
import json
from collections.abc import Callable
from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction

from studio.models import Submission
from studio.web.requests import StudioRequest

KEY_FIELD = "submission_key"
UNSIGNED_FIELDS = {KEY_FIELD, "csrfmiddlewaretoken"}


class SubmissionClash(Exception):
    """The same key arrived with other content: an old page was changed and sent again. Answered with 409."""


def new_key() -> str:
    """A key for a form about to be shown."""
    return str(uuid4())


def key_of(request: StudioRequest) -> UUID:
    """The key the form was handed out with; raises SubmissionClash when it is missing or damaged."""
    try:
        return UUID(request.POST.get(KEY_FIELD, ""))
    except ValueError as error:
        raise SubmissionClash from error


def digest_of(request: StudioRequest) -> str:
    """A fingerprint of the page, of everything that was typed into it and of the files that came with it."""
    content = sorted(
        (name, request.POST.getlist(name)) for name in request.POST if name not in UNSIGNED_FIELDS
    )
    files = sorted(
        (name, [_fingerprint(file) for file in request.FILES.getlist(name)]) for name in request.FILES
    )
    parts = [request.path, content, files] if files else [request.path, content]
    return hashlib.sha256(json.dumps(parts).encode("utf-8", "replace")).hexdigest()


def _fingerprint(file: "UploadedFile[Any]") -> list[object]:
    """A file's name, size and content, read piece by piece; it can be read again afterwards."""
    content = hashlib.sha256()
    for piece in file.chunks():
        content.update(piece)
    file.seek(0)
    return [file.name, file.size, content.hexdigest()]


def accepted(request: StudioRequest) -> str:
    """Where the result of this very form is to be seen, when it was accepted before; "" when it was not.

    Who sent it twice is told so: the words that went with the first answer may have been lost together with it.
    Raises SubmissionClash when its key is damaged, or was accepted with other content or from somebody else.
    """
    earlier = Submission.objects.filter(key=key_of(request)).first()
    if earlier is None:
        return ""
    if earlier.digest != digest_of(request) or earlier.by_id != request.user.pk:
        raise SubmissionClash
    messages.info(request, "This was sent twice and is kept once.")
    return earlier.result


def once(request: StudioRequest, act: Callable[[], str]) -> str:
    """Do `act` for this submitted form unless it was done before; give back where the result is to be seen.

    The key's row goes in first and in the same transaction as the work, so that of two equal submissions at the
    same instant one waits for the other and then finds its result. When `act` raises, nothing stays behind and
    the corrected form may be sent under the same key. Raises SubmissionClash.
    """
    key, digest = key_of(request), digest_of(request)
    with transaction.atomic():
        try:
            with transaction.atomic():
                submission = Submission.objects.create(key=key, by=request.user, digest=digest)
        except IntegrityError:
            return accepted(request)
        submission.result = act()
        submission.save(update_fields=["result"])
        return submission.result
