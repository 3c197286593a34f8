"""What `manage.py check_books` proves about papers: every file is the one that was added, and every mark has its record."""

import hashlib
from collections.abc import Iterator

from inventory.models import Document, DocumentRecord


def documents_are_whole() -> Iterator[str]:
    """Every paper that is not erased has its file, the very one that was added; an erased one has none.

    Read one by one: a file may be ten megabytes large.
    """
    lost = Document.objects.filter(erased=False, content__isnull=True)
    for pk, name in lost.order_by("pk").values_list("pk", "name"):
        yield f"Paper {pk}, {name}, has lost its file."
    wiped = Document.objects.filter(erased=True, content__isnull=False)
    for pk, name in wiped.order_by("pk").values_list("pk", "name"):
        yield f"Paper {pk}, {name}, is erased and its file is still there."
    kept = Document.objects.filter(erased=False, content__isnull=False).order_by("pk")
    rows = kept.values_list("pk", "name", "size", "digest", "content__data")
    for pk, name, size, digest, data in rows.iterator(chunk_size=1):
        if len(data) != size or hashlib.sha256(data).hexdigest() != digest:
            yield f"Paper {pk}, {name}: its file is not the one that was added."


def documents_follow_their_records() -> Iterator[str]:
    """A paper is withdrawn or erased exactly when its records say so."""
    withdrawn: dict[int, bool] = {}
    erased = set()
    # By key, not by time: a clock that was set back does not change which record came last.
    for pk, what in DocumentRecord.objects.order_by("pk").values_list("document_id", "what"):
        if what == DocumentRecord.What.ERASED:
            erased.add(pk)
        else:
            withdrawn[pk] = what == DocumentRecord.What.WITHDRAWN
    marks = Document.objects.order_by("pk").values_list("pk", "name", "withdrawn", "erased")
    for pk, name, gone, wiped in marks:
        if gone is not withdrawn.get(pk, False) or wiped is not (pk in erased):
            yield f"Paper {pk}, {name}: whether it counts is not what its last record says."


CHECKS = (documents_are_whole, documents_follow_their_records)
