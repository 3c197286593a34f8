"""Lots are put on hold, released and relabelled, with a name (and for holds a reason) that stay on record."""

from datetime import date

from django.db import transaction

from inventory.models import HoldRecord, Lot, LotChange
from studio.signature import Signature

# What is written on a container, and what the record of a change calls it.
WRITTEN = {"place": "place", "expires_on": "expiry", "supplier_lot": "supplier's lot"}


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


@transaction.atomic
def relabel(lot_id: int, *, signature: Signature, **written: str | date | None) -> Lot:
    """Put right what is written on a lot: of `place`, `expires_on` and `supplier_lot` those that are given.

    Every change is kept with the name of who made it.
    """
    lot = Lot.objects.select_for_update().get(pk=lot_id)
    changed = {name: value for name, value in written.items() if getattr(lot, name) != value}
    LotChange.objects.bulk_create(
        LotChange(
            lot=lot,
            what=WRITTEN[name],
            before=str(getattr(lot, name) or ""),
            after=str(value or ""),
            by=signature.by,
            at=signature.recorded_at,
        )
        for name, value in changed.items()
    )
    for name, value in changed.items():
        setattr(lot, name, value)
    if changed:
        lot.save(update_fields=list(changed))
    return lot
