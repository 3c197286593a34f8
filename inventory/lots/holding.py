"""Lots are put on hold, released, allowed all the same and relabelled, with a name and a reason that stay on record."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import NamedTuple

from django.db import transaction
from django.db.models import Exists, OuterRef

from inventory.models import HoldRecord, Lot, LotChange, Override
from studio.core.quantities import format_quantity
from studio.models import Role
from studio.people.signature import Signature

# What is written on a container, and what the record of a change calls it.
WRITTEN = {"place": "place", "expires_on": "expiry", "supplier_lot": "supplier's lot"}


class AlreadySo(Exception):
    """The lot is already as it was to be made: somebody else was first."""


class Hold(NamedTuple):
    """A hold to be put on: why, and whether only the owner may end it."""

    reason: str
    owner_decides: bool


@transaction.atomic
def let_go(lot_id: int) -> Lot:
    """A lot that was made here and waited for its checks may be sold. Who looked at what is the caller's record.

    Raises AlreadySo.
    """
    lot = Lot.objects.select_for_update(of=("self",)).select_related("item").get(pk=lot_id)
    if not lot.awaits_release:
        raise AlreadySo("The lot is released already.")
    lot.awaits_release = False
    lot.save(update_fields=["awaits_release"])
    return lot


class OwnerDecides(Exception):
    """Only the owner may end this hold. Its text is a sentence that says why it was put on."""


class CannotAllow(Exception):
    """There is nothing to allow, or not until that day. Its text is a sentence that says what to do."""


def hold(lot_id: int, *, signature: Signature) -> Lot:
    """Put a lot on hold: it may not be used or sent until released. Raises AlreadySo."""
    return _set(lot_id, True, signature)


def release(lot_id: int, *, signature: Signature) -> Lot:
    """Release a lot. Raises AlreadySo, OwnerDecides."""
    return _set(lot_id, False, signature)


def standing(records: Iterable[HoldRecord]) -> list[HoldRecord]:
    """Of all the records of one lot, the holds put on since it was last released, oldest first: a release ends all."""
    holds: list[HoldRecord] = []
    for record in sorted(records, key=lambda record: record.pk):
        holds = [*holds, record] if record.held else []
    return holds


def standing_on(lot_ids: Iterable[int]) -> dict[int, list[HoldRecord]]:
    """The holds that stand on each of these lots, oldest first; lots that are free are left out. One query."""
    records: dict[int, list[HoldRecord]] = {}
    for record in HoldRecord.objects.filter(lot__in=list(lot_ids)):
        records.setdefault(record.lot_id, []).append(record)
    return {lot_id: holds for lot_id, rows in records.items() if (holds := standing(rows))}


def owners(holds: Iterable[HoldRecord]) -> list[HoldRecord]:
    """Those of these holds that only the owner may end."""
    return [hold for hold in holds if hold.owner_decides]


def _owners_hold(lot_id: int) -> HoldRecord | None:
    """The hold that only the owner may end, where one stands."""
    return next(iter(owners(standing_on([lot_id]).get(lot_id, ()))), None)


def waits_for_owner(lot_ids: Iterable[int]) -> bool:
    """Whether any of these lots is on a hold that only the owner may end. One query."""
    ended = HoldRecord.objects.filter(lot=OuterRef("lot"), held=False, pk__gt=OuterRef("pk"))
    owners = HoldRecord.objects.filter(lot__in=list(lot_ids), held=True, owner_decides=True)
    return owners.filter(~Exists(ended)).exists()


@transaction.atomic
def hold_for_owner(lot_ids: Iterable[int], *, signature: Signature) -> list[Lot]:
    """Put these lots on hold until the owner decides; gives back those that were not held for this reason before.

    What the owner released in spite of the same reason stays released. A fixed number of queries.
    """
    return hold_each_for_owner(dict.fromkeys(lot_ids, signature.reason), signature=signature)


@transaction.atomic
def hold_each_for_owner(reasons: Mapping[int, str], *, signature: Signature) -> list[Lot]:
    """`hold_for_owner` for lots (by key) each with a reason of its own."""
    told = HoldRecord.objects.filter(lot__in=list(reasons), owner_decides=True)
    known = {lot_id for lot_id, reason in told.values_list("lot", "reason") if reasons[lot_id] == reason}
    fresh = {lot_id: [Hold(why, True)] for lot_id, why in reasons.items() if lot_id not in known}
    return _put_on(fresh, signature)


@transaction.atomic
def pass_on(holds: Mapping[int, Iterable[HoldRecord]], *, signature: Signature) -> list[Lot]:
    """Put the holds that stand on other lots on what is of the same stuff, by the key of each lot that gets them: for
    their own reasons, and the owner's as the owner's.

    What got such a hold before, since it stands there, does not get it again: it may have been released of it. Gives
    back the lots that got one. A fixed number of queries.
    """
    known = {
        (record.lot_id, record.reason, record.owner_decides): record.pk
        for record in HoldRecord.objects.filter(lot__in=list(holds), held=True).order_by("pk")
    }
    fresh = {
        lot_id: list(
            dict.fromkeys(
                Hold(each.reason, each.owner_decides)
                for each in wanted
                if known.get((lot_id, each.reason, each.owner_decides), 0) < each.pk
            )
        )
        for lot_id, wanted in holds.items()
    }
    return _put_on({lot_id: wanted for lot_id, wanted in fresh.items() if wanted}, signature)


def _put_on(holds: Mapping[int, Sequence[Hold]], signature: Signature) -> list[Lot]:
    """Put these holds on these lots (by key), held before or not; gives back the lots."""
    if not holds:
        return []
    lots = list(Lot.objects.select_for_update().filter(pk__in=holds).order_by("pk"))
    said = {"by": signature.by, "at": signature.recorded_at}
    HoldRecord.objects.bulk_create(
        HoldRecord(lot=lot, held=True, owner_decides=hold.owner_decides, reason=hold.reason, **said)
        for lot in lots
        for hold in holds[lot.pk]
    )
    # What is wrong now was not known when the owner allowed it.
    Override.objects.bulk_create(
        Override(lot=lot, until=None, reason=holds[lot.pk][0].reason, **said)
        for lot in lots
        if lot.allowed_until
    )
    for lot in lots:
        lot.held, lot.allowed_until = True, None
    Lot.objects.filter(pk__in=[lot.pk for lot in lots]).update(held=True, allowed_until=None)
    return lots


@transaction.atomic
def _set(lot_id: int, held: bool, signature: Signature) -> Lot:
    lot = Lot.objects.select_for_update().get(pk=lot_id)
    if lot.held is held:
        raise AlreadySo("The lot is on hold already." if held else "The lot is released already.")
    if not held and signature.by.role != Role.OWNER and (kept := _owners_hold(lot_id)):
        raise OwnerDecides(f"Only the owner may release this lot. It is on hold because: {kept.reason}")
    lot.held = held
    lot.save(update_fields=["held"])
    HoldRecord.objects.create(
        lot=lot, held=held, reason=signature.reason, by=signature.by, at=signature.recorded_at
    )
    if held and lot.allowed_until:
        # What is wrong now was not known when the owner allowed it.
        _set_allowed(lot, None, signature)
    return lot


@transaction.atomic
def hold_all(lot_ids: Iterable[int], *, signature: Signature) -> list[Lot]:
    """Put all of these lots on hold that are not yet, at once; gives back those. A fixed number of queries."""
    lots = Lot.objects.select_for_update().filter(pk__in=list(lot_ids), held=False).order_by("pk")
    fresh = list(lots)
    allowed = [lot for lot in fresh if lot.allowed_until]
    for lot in fresh:
        lot.held, lot.allowed_until = True, None
    Lot.objects.filter(pk__in=[lot.pk for lot in fresh]).update(held=True, allowed_until=None)
    said = {"reason": signature.reason, "by": signature.by, "at": signature.recorded_at}
    HoldRecord.objects.bulk_create(HoldRecord(lot=lot, held=True, **said) for lot in fresh)
    # What is wrong now was not known when the owner allowed it.
    Override.objects.bulk_create(Override(lot=lot, until=None, **said) for lot in allowed)
    return fresh


@transaction.atomic
def allow_use(lot_id: int, until: date, *, on: date, signature: Signature) -> Lot:
    """Let a lot that is on hold or past its expiry be planned, used and sent out up to and on a day all the same.

    For the owner alone; `on` is the day it is. Every posting that takes the lot meanwhile keeps who allowed it.
    Putting the lot on hold again ends it. Raises CannotAllow.
    """
    lot = Lot.objects.select_for_update().get(pk=lot_id)
    if until < on:
        raise CannotAllow("That day has passed. Give today or a later day.")
    if not lot.held and not lot.expired(until):
        raise CannotAllow("The lot is neither on hold nor expired by then; it may be used as it is.")
    return _set_allowed(lot, until, signature)


@transaction.atomic
def end_allowing(lot_id: int, *, signature: Signature) -> Lot:
    """Take back what was allowed; what was used meanwhile stays as it is. Raises AlreadySo."""
    lot = Lot.objects.select_for_update().get(pk=lot_id)
    if lot.allowed_until is None:
        raise AlreadySo("Its use is not allowed any more already.")
    return _set_allowed(lot, None, signature)


def _set_allowed(lot: Lot, until: date | None, signature: Signature) -> Lot:
    """Write the owner's word, or its end, on a locked lot."""
    lot.allowed_until = until
    lot.save(update_fields=["allowed_until"])
    Override.objects.create(
        lot=lot, until=until, reason=signature.reason, by=signature.by, at=signature.recorded_at
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


@transaction.atomic
def note_tare(lot_id: int, tare_ug: int, *, signature: Signature) -> Lot:
    """Write on a lot what its container weighs empty, in micrograms; a change of it is kept with the name."""
    lot = Lot.objects.select_for_update().get(pk=lot_id)
    if lot.tare_ug == tare_ug:
        return lot
    before = "" if lot.tare_ug is None else format_quantity(lot.tare_ug, "g", places=3)
    LotChange.objects.create(
        lot=lot,
        what="empty container",
        before=before,
        after=format_quantity(tare_ug, "g", places=3),
        by=signature.by,
        at=signature.recorded_at,
    )
    lot.tare_ug = tare_ug
    lot.save(update_fields=["tare_ug"])
    return lot
