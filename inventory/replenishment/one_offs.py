"""Saying that something will not come again, so that it is left out of the usual use; and taking that back."""

from collections.abc import Collection

from django.db import transaction

from inventory.models import USES, OneOff, Posting
from studio.people.signature import Signature


class OneOffError(Exception):
    """It cannot be marked so. Its text is a sentence for a person."""


def is_one_off(posting: Posting) -> bool:
    """Whether the latest record says so."""
    latest = OneOff.objects.filter(posting=posting).first()
    return latest is not None and latest.is_one_off


def all_one_off(posting_ids: Collection[int]) -> bool:
    """Whether there are any, and the latest record of every one says so; one query."""
    standing = OneOff.objects.standing().filter(posting__in=posting_ids)
    return bool(posting_ids) and set(standing.values_list("posting", flat=True)) == set(posting_ids)


@transaction.atomic
def mark_all(posting_ids: Collection[int], *, one_off: bool, signature: Signature) -> list[OneOff]:
    """The same for several draws at once, such as all of one run; those marked so already stay as they are.

    Raises OneOffError, also where none is left to be marked.
    """
    latest = dict(
        OneOff.objects.filter(posting__in=posting_ids).order_by("pk").values_list("posting", "is_one_off")
    )
    left = sorted(pk for pk in posting_ids if latest.get(pk, False) != one_off)
    if not left:
        raise OneOffError("Nothing of it is left to be marked.")
    return [mark(pk, one_off=one_off, signature=signature) for pk in left]


@transaction.atomic
def mark(posting_id: int, *, one_off: bool, signature: Signature) -> OneOff:
    """Record that a draw or a dispatch will not be repeated, or was usual after all, and why. Raises OneOffError."""
    posting = Posting.objects.select_for_update(of=("self",), no_key=True).get(pk=posting_id)
    if not signature.reason.strip():
        raise OneOffError("Say why.")
    if not posting.movements.filter(kind__in=USES).exists() or posting.reverses_id is not None:
        raise OneOffError("Only a draw or a dispatch can be left out of the usual use.")
    if Posting.objects.filter(reverses=posting).exists():
        raise OneOffError("It was reversed and counts for nothing already.")
    if is_one_off(posting) == one_off:
        raise OneOffError("It is marked so already." if one_off else "It is not marked as one-off any more.")
    return OneOff.objects.create(
        posting=posting,
        is_one_off=one_off,
        reason=signature.reason,
        by=signature.by,
        at=signature.recorded_at,
    )
