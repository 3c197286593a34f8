"""Fill checks: net weights of a batch's units, kept as they were weighed, and what the market's rule makes of them."""

from collections.abc import Sequence

from django.db import transaction

from batches.fill_checks.net_contents import (
    Judgement,
    OutsideTables,
    Verdict,
    judge_eu,
    judge_us,
    maximum_allowable_variation,
    tolerable_negative_error,
)
from batches.formulas.fine_weights import shown
from batches.models import Batch, FillCheck, FillWeight
from inventory.models import Unit
from studio.models import Market
from studio.people.signature import Signature

WEIGHTS_AT_MOST = 500
# Great Britain keeps the average system by SI 2006/659, with the same tolerances and lot tests (LEG-UK, read).
JUDGES = {Market.EU: judge_eu, Market.GB: judge_eu, Market.US: judge_us}
TOLERANCES = {
    Market.EU: tolerable_negative_error,
    Market.GB: tolerable_negative_error,
    Market.US: maximum_allowable_variation,
}
# Tone and word of what a check comes to.
WORDS = {
    Verdict.PASSED: ("good", "Passed"),
    Verdict.FAILED: ("problem", "Failed"),
    Verdict.TOO_FEW: ("attention", "Not enough weighed"),
}


class CannotCheck(Exception):
    """The weights make no fill check of this batch. Its text is a sentence that says why."""


@transaction.atomic
def check_fill(
    batch_id: int,
    nets: Sequence[int],
    *,
    declared_ug: int,
    market: Market,
    lot_size: int,
    note: str = "",
    signature: Signature,
) -> FillCheck:
    """Keep net weights (µg) in the order they were weighed, against `declared_ug`, of a lot of `lot_size` units.

    Raises CannotCheck.
    """
    batch = Batch.objects.select_for_update(of=("self",)).select_related("version").get(pk=batch_id)
    if batch.version.fill_ug is None:
        raise CannotCheck("This batch makes a blend, which is not filled into units.")
    if batch.state in {Batch.State.PLANNED, Batch.State.CALLED_OFF}:
        raise CannotCheck(
            f"Batch {batch.spaced_code} is {batch.get_state_display().lower()}; nothing was poured."
        )
    if not nets or min(nets) <= 0 or declared_ug <= 0:
        raise CannotCheck("Enter at least one net weight above zero, and the weight the label declares.")
    if len(nets) > lot_size:
        raise CannotCheck(f"{len(nets)} weights are more than the {lot_size} units of the lot.")
    try:
        JUDGES[market](nets, declared_ug, lot_size)
    except OutsideTables as error:
        raise CannotCheck(str(error)) from error
    check = FillCheck.objects.create(
        batch=batch,
        declared_ug=declared_ug,
        market=market,
        lot_size=lot_size,
        note=note,
        by=signature.by,
        at=signature.happened_at,
    )
    FillWeight.objects.bulk_create(
        FillWeight(check_of=check, number=number, net_ug=net) for number, net in enumerate(nets, 1)
    )
    return check


def nets_of(check: FillCheck) -> list[int]:
    """The net weights in µg, in the order they were weighed. Reads them (prefetch them for a list)."""
    return [weight.net_ug for weight in check.weights.all()]


def judged(check: FillCheck, unit: Unit = Unit.GRAM) -> Judgement:
    """What the market's rule makes of a check, its sentences in `unit`."""
    judge = JUDGES[Market(check.market)]
    return judge(nets_of(check), check.declared_ug, check.lot_size, lambda amount: shown(amount, unit))


def state_of(check: FillCheck) -> tuple[str, str]:
    """Tone and word of what a check comes to."""
    return WORDS[judged(check).verdict]


def latest_of(batch: Batch) -> FillCheck | None:
    """The batch's last fill check, with its weights; None where none was made."""
    return batch.fill_checks.select_related("by").prefetch_related("weights").first()
