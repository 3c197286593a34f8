"""Finished goods go on sale when a person has looked at them: cured, labelled, with their warning, and full.

Where the latest fill check failed, the load went above a maximum or is not known, or the design was never approved (of
the version it is of, or of the one it was recorded as until somebody but the owner corrected that), only the owner may
release them, with a reason. What was looked at stays on record with the name. It records and does not certify: local
rules and a competent person decide what may be sold.
"""

from dataclasses import dataclass
from datetime import date
from functools import cached_property
from hashlib import sha256

from django.db import transaction

from batches.fill_checks.checking import judged, latest_of
from batches.fill_checks.net_contents import Verdict
from batches.lineage.lineage import descendants
from batches.models import Batch, FillCheck, FormulaVersion, Outcome, Release, VersionCorrection
from batches.production.off_formula import BatchFacts, off_formula
from batches.production.off_formula_of import came_of, made_of
from inventory.lots import holding
from inventory.lots.family import poured_into
from inventory.models import Kind, Lot
from studio.models import Role
from studio.people.signature import Signature

UNSEEN_AT_MOST = 3
NOTE_AT_MOST = 300


class CannotRelease(Exception):
    """The lot may not go on sale yet. Its text is a sentence that says what is missing."""


class NeedsOwner(CannotRelease):
    """Something speaks against the lot; only the owner may release it all the same, and says why."""


class Unseen(CannotRelease):
    """Something is known of the lot by now that the page did not say when it was opened. Its text says what."""


@dataclass(frozen=True)
class Checks:
    """What is known of a lot's batch. `verdict` is None where no fill check was made, `version` None where no batch is,
    `made` None where no batch is, `corrected` None where no correction of its version is the owner's to confirm."""

    check: FillCheck | None
    verdict: Verdict | None
    version: FormulaVersion | None
    made: BatchFacts | None
    corrected: VersionCorrection | None = None

    @property
    def against(self) -> str:
        """What only the owner may release the lot in spite of, in words; "" where nothing is."""
        return " and ".join(self._against)

    @property
    def _against(self) -> list[str]:
        made = self.made
        return [
            words
            for words, holds in (
                ("the fill check failed", self.verdict == Verdict.FAILED),
                ("the load is above a maximum", made is not None and made.is_load_above),
                ("a pot was poured above a maximum", made is not None and made.was_poured_above),
                ("the load is not known", made is not None and made.is_load_unknown),
                ("the load is not known by pot", made is not None and not made.is_load_by_pot),
                ("the design is not approved", self.version is not None and not was_approved(self.version)),
                (self._corrected_words, self.corrected is not None),
            )
            if holds
        ]

    @cached_property
    def told(self) -> dict[str, str]:
        """Everything that the page says of the lot and somebody answers for, each under a short mark of it: what speaks
        against a release, and where the batch went off its formula."""
        off = [each.words for each in off_formula(self.made)] if self.made else []
        return {sha256(words.encode()).hexdigest()[:12]: words for words in [*self._against, *off]}

    @property
    def shown(self) -> str:
        """The marks of all that is told, for the page to carry along."""
        return " ".join(self.told)

    def unseen(self, shown: str) -> list[str]:
        """What is told now and was not when the page carried these marks."""
        marks = set(shown.split())
        return [words for mark, words in self.told.items() if mark not in marks]

    @property
    def _corrected_words(self) -> str:
        """What a correction of the version ended without the owner, in words; "" where none did."""
        said = self.corrected
        if said is None:
            return ""
        return (
            f"it was recorded as {said.before}, whose design is not approved, until {said.by} corrected that"
        )

    @property
    def is_unweighed(self) -> bool:
        """Whether a fill check is wanted and none passed or failed: none was made, or too few were weighed."""
        filled = self.version is not None and self.version.fill_ug is not None
        return filled and self.verdict in (None, Verdict.TOO_FEW)


def was_approved(version: FormulaVersion) -> bool:
    """Whether a version is approved, or was until it was retired: what was poured meanwhile may still be sold."""
    if version.state != FormulaVersion.State.RETIRED:
        return version.state == FormulaVersion.State.APPROVED
    changes = list(version.state_changes.all()[:2])
    return len(changes) > 1 and changes[1].state == FormulaVersion.State.APPROVED


def checks_of(batch: Batch | None) -> Checks:
    """What is known of a batch before its goods are released. `batch` comes with its version, else None."""
    if batch is None:
        return Checks(None, None, None, None)
    check = latest_of(batch)
    return Checks(
        check=check,
        verdict=judged(check).verdict if check else None,
        version=batch.version,
        made=made_of(batch),
        corrected=_to_confirm(batch),
    )


def _to_confirm(batch: Batch) -> VersionCorrection | None:
    """The latest correction by anybody but the owner of a version that was never approved, after something was weighed
    for it. What the owner corrected since is the owner's word; who poured by it alone cannot end what needs that word."""
    found = None
    for said in batch.version_corrections.select_related("before__formula__item", "by").order_by("pk"):
        if said.by.role == Role.OWNER:
            found = None
        elif not was_approved(said.before) and batch.draws.filter(line__version=said.before).exists():
            found = said
    return found


def hold_what_was_released(batch: Batch, *, signature: Signature) -> list[Lot]:
    """Put on hold until the owner decides what came of a batch and was released before its version was corrected to one
    that was never approved. Gives back the lots that were not held for it before.

    The batch is locked by who calls, and what carries it (`batches.production.stopped_lots.carrying`).
    """
    said = batch.version_corrections.select_related("before__formula__item").order_by("pk").last()
    if said is None or was_approved(batch.version):
        return []
    came = came_of(batch, descendants(batch_ids=[batch.pk]))
    released = Lot.objects.filter(pk__in=came, item__kind=Kind.FINISHED, awaits_release=False)
    since = Release.objects.filter(at__gt=said.at).values("lot")
    why = f"The design is not approved: it was recorded as {said.before} and is {batch.version}."
    lots = released.exclude(pk__in=since).values_list("pk", flat=True)
    return holding.hold_for_owner(list(lots), signature=signature.because(why))


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
    unweighed: bool = False,
    note: str = "",
    despite: str = "",
    shown: str | None = None,
    on: date,
    signature: Signature,
) -> Release:
    """Let a lot of finished goods go on sale. `on` is the day it is.

    `unweighed`: the person knows that no fill check passed, because none was made or too few were weighed. Where
    something speaks against it only the owner may, and `despite` says why; the note keeps it beside the name. `shown`
    are the marks of what the page told: where there is more by now, nothing is released unseen.

    Raises CannotRelease, NeedsOwner, Unseen, holding.AlreadySo.
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
    found = checks_of(batch_of(lot))
    if found.against and signature.by.role != Role.OWNER:
        raise NeedsOwner(
            f"{_sentence(found.against)} Put that right first, or have the owner release the lot."
        )
    if shown is not None and (unseen := found.unseen(shown)):
        raise Unseen(_new(unseen))
    if found.is_unweighed and not unweighed:
        raise CannotRelease(
            "No fill check passed. Weigh some first, or tick that the lot goes on sale without."
        )
    if against := found.against:
        note = _all_the_same(against, note, despite)
    holding.let_go(lot_id)
    return Release.objects.create(
        lot=lot,
        label_right=label_right,
        warning_on=warning_on,
        fill_check=found.check,
        note=note,
        by=signature.by,
        at=signature.recorded_at,
    )


def batch_of(lot: Lot) -> Batch | None:
    """The batch that a lot came of, with its version, by itself or through what it was poured from; None where none did."""
    front, seen = {lot.pk}, {lot.pk}
    while front:
        outcomes = Outcome.objects.filter(lot__in=front).select_related("batch__version__formula__item")
        if outcome := outcomes.first():
            return outcome.batch
        front = {pour.parent for pour in poured_into(front)} - seen
        seen |= front
    return None


def _new(unseen: list[str]) -> str:
    more = len(unseen) - UNSEEN_AT_MOST
    said = "; ".join(words.rstrip(".") for words in unseen[:UNSEEN_AT_MOST])
    return (
        f"This is new since the page was opened: {said}{f'; and {more} more' if more > 0 else ''}. Look at it, and see "
        "whether what you wrote holds for it. Then press again."
    )


def _sentence(against: str) -> str:
    return f"{against[:1].upper()}{against[1:]}."


def _all_the_same(against: str, note: str, despite: str) -> str:
    """The note of a release in spite of something. Raises NeedsOwner, CannotRelease."""
    if not despite:
        raise NeedsOwner(
            f"{_sentence(against)} Put that right first, or say why it is released all the same."
        )
    kept = f"Although {against}: {despite}"
    kept = f"{kept}. {note}" if note else kept
    if (over := len(kept) - NOTE_AT_MOST) > 0:
        raise CannotRelease(
            f"The reason and the note are {over} characters too long together. Shorten one of them."
        )
    return kept
