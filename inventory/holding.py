"""Lots are put on hold and released, with a reason and a name that stay on record; and labelled on the shelf."""

from django.db import transaction

from inventory.models import HoldRecord, Lot
from studio.signature import Signature


class AlreadySo(Exception):
    """The lot is already as it was to be made: somebody else was first."""


def hold(lot_id: int, *, signature: Signature) -> Lot:
    """Put a lot on hold: it may not be used or sent until released. Raises AlreadySo."""
    return _set(lot_id, True, signature)


def release(lot_id: int, *, signature: Signature) -> Lot:
    """Release a lot. Raises AlreadySo."""
    return _set(lot_id, False, signature)


@transaction.atomic
def _set(lot_id: int, held: bool, signature: Signature) -> Lot:
    lot = Lot.objects.select_for_update().get(pk=lot_id)
    if lot.held is held:
        raise AlreadySo("The lot is on hold already." if held else "The lot is released already.")
    lot.held = held
    lot.save(update_fields=["held"])
    HoldRecord.objects.create(
        lot=lot, held=held, reason=signature.reason, by=signature.by, at=signature.recorded_at
    )
    return lot
