"""What a lot that was stopped went into is put on hold: what came of it and is still here, and what comes of it later.

A lot on hold, expired or not yet released may have gone in before anybody at the pot knew. That is recorded with a reason
and flagged for review (`inventory.models.StoppedUse`); until somebody decides, nothing made of it is used or sold.
"""

from collections.abc import Collection

from batches.lineage.lineage import ancestors, descendants
from batches.models import Batch, Draw
from inventory.lots import holding
from inventory.models import Lot, Posting, StoppedUse
from studio.people.signature import Signature


def carrying(batch_id: int) -> set[int]:
    """The keys of all lots that came of a batch, at any depth."""
    return descendants(batch_ids=[batch_id]).lots


def hold_what_it_went_into(batch: Batch, posting: Posting | None, *, signature: Signature) -> list[Lot]:
    """Put on hold what carries the batch, where a draw took a lot that was stopped; gives back the lots held now."""
    uses = list(posting.stopped_uses.select_related("lot")) if posting else []
    if not uses:
        return []
    return _hold(carrying(batch.pk), uses, signature)


def hold_if_stopped_went_in(batch: Batch, posting: Posting, *, signature: Signature) -> list[Lot]:
    """Put what a part of a batch became on hold, where a lot that was stopped is in it, at any depth."""
    if not StoppedUse.objects.exists():
        return []
    batches = ancestors(batch_ids=[batch.pk]).batches
    drawn = Draw.objects.standing().filter(batch__in=batches).values("movement__posting")
    uses = list(StoppedUse.objects.filter(posting__in=drawn).select_related("lot").order_by("pk"))
    if not uses:
        return []
    made = posting.outcomes.exclude(lot=None).values_list("lot_id", flat=True)
    return _hold(set(made), uses, signature)


def _hold(lot_ids: Collection[int], uses: Collection[StoppedUse], signature: Signature) -> list[Lot]:
    told = "; ".join(
        f"Lot {use.lot.spaced_code}, {use.get_stop_display()}, is in it: {use.reason}" for use in uses
    )
    signature = signature.because(told)
    # Who may not end the hold of what went in may not end it by what came of it either.
    if holding.waits_for_owner(use.lot_id for use in uses):
        # What left already may come back, and is the owner's to decide then.
        return holding.hold_for_owner(lot_ids, signature=signature)
    here = Lot.objects.on_shelf().filter(pk__in=lot_ids).values_list("pk", flat=True)
    return holding.hold_all(list(here), signature=signature)
