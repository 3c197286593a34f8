"""Finished goods go on sale when a person has looked at them: cured, labelled, with their warning, and full.

What was looked at stays on record with the name. It records and does not certify: local rules and a competent person
decide what may be sold.
"""

from datetime import date

from django.db import transaction

from batches.fill_checks import judged, latest_of
from batches.models import FillCheck, Outcome, Release
from batches.net_contents import Verdict
from inventory import holding
from inventory.models import Lot
from studio.models import Role
from studio.signature import Signature


class CannotRelease(Exception):
    """The lot may not go on sale yet. Its text is a sentence that says what is missing."""


class FillFailed(CannotRelease):
    """The latest fill check of the batch failed; only the owner may release the lot, and says why."""


def obstacle(lot: Lot, on: date) -> str:
    """What keeps a lot that waits from being released on a day, as a sentence; "" when nothing of the lot itself does."""
    if not lot.on_hand:
        return f"Nothing of lot {lot.spaced_code} is on the shelf."
    if lot.held:
        return f"Lot {lot.spaced_code} is on hold. Take it off hold first."
    if lot.ready_on and lot.ready_on > on:
        return f"Lot {lot.spaced_code} cures until {lot.ready_on:%d %b %Y}. Release it then."
    return ""


@transaction.atomic
def release(
    lot_id: int,
    *,
    label_right: bool,
    warning_on: bool,
    note: str = "",
    despite: str = "",
    on: date,
    signature: Signature,
) -> Release:
    """Let a lot of finished goods go on sale. `on` is the day it is.

    Where the latest fill check of its batch failed only the owner may, and `despite` says why; the note keeps it beside
    the name. Raises CannotRelease, FillFailed, holding.AlreadySo.
    """
    lot = Lot.objects.select_for_update(of=("self",)).select_related("item").get(pk=lot_id)
    if not lot.awaits_release:
        raise holding.AlreadySo("The lot is released already.")
    if said := obstacle(lot, on):
        raise CannotRelease(said)
    if not label_right or not warning_on:
        raise CannotRelease(
            "Look at the label and the warning label of every unit, and tick that both are right."
        )
    check = _latest_check(lot)
    if check and judged(check).verdict == Verdict.FAILED:
        note = _all_the_same(note, despite, signature)
    holding.let_go(lot_id)
    return Release.objects.create(
        lot=lot,
        label_right=label_right,
        warning_on=warning_on,
        fill_check=check,
        note=note,
        by=signature.by,
        at=signature.recorded_at,
    )


def _latest_check(lot: Lot) -> FillCheck | None:
    outcome = Outcome.objects.filter(lot=lot).select_related("batch").first()
    return latest_of(outcome.batch) if outcome else None


def _all_the_same(note: str, despite: str, signature: Signature) -> str:
    """The note of a release in spite of a failed fill check. Raises FillFailed."""
    if signature.by.role != Role.OWNER:
        raise FillFailed("The latest fill check failed. Weigh again, or have the owner release the lot.")
    if not despite:
        raise FillFailed("The latest fill check failed. Weigh again, or say why it is released all the same.")
    kept = f"Although the fill check failed: {despite}"
    return f"{kept}. {note}" if note else kept
