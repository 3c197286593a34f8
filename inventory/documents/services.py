"""Papers and photos are added, withdrawn, put back and erased; each with a name and a time that stay on record."""

import hashlib
from dataclasses import dataclass
from datetime import date

from django.db import transaction

from inventory.models import Document, DocumentContent, DocumentRecord, Item
from studio.people.signature import Signature
from studio.web.uploads import Received


class AlreadyThere(Exception):
    """The very same file lies there already. Carries the `document`."""

    def __init__(self, document: Document) -> None:
        super().__init__("This very file lies there already.")
        self.document = document


class AlreadySo(Exception):
    """The paper is already as it was to be made: somebody else was first."""


@dataclass(frozen=True)
class Paper:
    """What is said of a paper beside its bytes."""

    kind: Document.Kind
    dated_on: date | None = None
    valid_until: date | None = None
    note: str = ""


@transaction.atomic
def add(
    item_id: int, paper: Paper, file: Received, *, signature: Signature, lot_id: int | None = None
) -> Document:
    """Keep a file beside an item, or beside one of its lots.

    Raises AlreadyThere when the same bytes lie on the same item or the same lot; withdrawn papers count, erased ones
    do not.
    """
    # The item is the lock: of two equal files at once the second finds the first.
    item = Item.objects.select_for_update().get(pk=item_id)
    digest = hashlib.sha256(file.data).hexdigest()
    same = Document.objects.filter(item=item, lot=lot_id, digest=digest, erased=False)
    if there := same.first():
        raise AlreadyThere(there)
    document = Document.objects.create(
        item=item,
        lot_id=lot_id,
        kind=paper.kind,
        dated_on=paper.dated_on,
        valid_until=paper.valid_until,
        note=paper.note,
        name=file.name,
        media_type=file.media_type,
        size=len(file.data),
        digest=digest,
        added_by=signature.by,
        added_at=signature.recorded_at,
    )
    DocumentContent.objects.create(document=document, data=file.data)
    return document


def withdraw(document_id: int, *, signature: Signature) -> Document:
    """The paper no longer counts; it stays to be read. Raises AlreadySo."""
    return _mark(document_id, DocumentRecord.What.WITHDRAWN, signature, "withdrawn", True)


def put_back(document_id: int, *, signature: Signature) -> Document:
    """A withdrawn paper counts again. Raises AlreadySo."""
    return _mark(document_id, DocumentRecord.What.PUT_BACK, signature, "withdrawn", False)


@transaction.atomic
def erase(document_id: int, *, signature: Signature) -> Document:
    """The paper's bytes go for good; what was said of it stays, with who erased it and why. Raises AlreadySo."""
    document = _mark(document_id, DocumentRecord.What.ERASED, signature, "erased", True)
    DocumentContent.objects.filter(document=document).delete()
    return document


@transaction.atomic
def _mark(
    document_id: int, what: DocumentRecord.What, signature: Signature, column: str, value: bool
) -> Document:
    document = Document.objects.select_for_update().get(pk=document_id)
    if document.erased:
        raise AlreadySo("The paper is erased; nothing of it can be read any more.")
    if getattr(document, column) is value:
        raise AlreadySo("The paper is withdrawn already." if value else "The paper counts already.")
    setattr(document, column, value)
    document.save(update_fields=[column])
    DocumentRecord.objects.create(
        document=document, what=what, reason=signature.reason, by=signature.by, at=signature.recorded_at
    )
    return document
