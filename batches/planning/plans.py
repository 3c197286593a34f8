"""A batch before it is in the pot: planned, planned again, its lots chosen, canceled; what it needs is told to stock."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import prefetch_related_objects
from django.utils import timezone

from batches.formulas.sheet import batch_sheet
from batches.models import Batch, FormulaVersion
from batches.planning.lot_allocation import Chosen, choose
from inventory.ledger import reservations
from inventory.models import CustomerOrderLine
from inventory.sales_orders.order_progress import lock as lock_order
from studio.numbering import next_codes
from studio.people.signature import Signature

BATCH_PREFIX = "B"


class BatchError(Exception):
    """The batch refuses what was asked. Its text is a sentence that says what to do."""


def drawn_by_line(batch: Batch) -> dict[int, int]:
    """Base units drawn so far for each formula line, reversed draws left out."""
    drawn: dict[int, int] = {}
    for line_id, quantity in batch.draws.standing().values_list("line_id", "movement__quantity"):
        drawn[line_id] = drawn.get(line_id, 0) - quantity
    return drawn


def commit_what_is_left(batch: Batch) -> None:
    """Tell stock what the batch still needs: its targets less what was drawn, while it is open."""
    needs: dict[int, int] = {}
    if batch.is_open:
        drawn = drawn_by_line(batch)
        prefetch_related_objects([batch], "version__lines__item")
        for target in batch_sheet(batch.version.recipe(), batch.quantity).targets:
            left = target.total - drawn.get(target.line.key, 0)
            needs[target.line.item_id] = needs.get(target.line.item_id, 0) + max(left, 0)
    reservations.commit(batch.code, needs, batch.planned_on)


@transaction.atomic
def plan(
    version: FormulaVersion,
    quantity: int,
    *,
    planned_on: date,
    note: str = "",
    signature: Signature,
    order_line_id: int | None = None,
    chosen: Chosen | None = None,
) -> Batch:
    """Plan a run of `quantity` base units of the product and commit what it needs.

    `order_line_id`: the line of a customer's order it is for; `chosen`: lots to take in place of the suggestion.
    Raises RecipeError, BatchError, by_hand.ChoiceError.
    """
    if order_line_id is not None:
        _check_order(order_line_id, version)
    # As it stands now: it may have been written anew since it was read. From here on it stays as it is.
    version = (
        FormulaVersion.objects.select_for_update(of=("self",))
        .select_related("formula__item")
        .get(pk=version.pk)
    )
    if version.state == FormulaVersion.State.RETIRED:
        raise BatchError(f"{version} is retired. Plan from a version that is approved or at trial.")
    batch_sheet(version.recipe(), quantity)
    batch = Batch.objects.create(
        code=next_codes(BATCH_PREFIX, 1)[0],
        version=version,
        quantity=quantity,
        planned_on=planned_on,
        note=note,
        order_line_id=order_line_id,
        planned_by=signature.by,
        planned_at=signature.recorded_at,
    )
    if chosen:
        choose(batch, chosen, on=max(planned_on, timezone.localtime(signature.happened_at).date()))
    commit_what_is_left(batch)
    return batch


def _check_order(line_id: int, version: FormulaVersion) -> None:
    """The order of a line is open and wants what the version makes; it is locked until the transaction ends."""
    line = CustomerOrderLine.objects.select_related("item").filter(pk=line_id).first()
    if line is None:
        raise BatchError("This line of the order is no longer there. Open the order anew.")
    order = lock_order(line.order_id)
    if not order.is_open:
        raise BatchError(
            f"Order {order.spaced_code} is {order.get_state_display().lower()}. Plan without it."
        )
    if line.item_id != version.formula.item_id:
        raise BatchError(f"The order wants {line.item}; {version} makes {version.formula.item}.")


def planned_lately(
    version: FormulaVersion, quantity: int, *, planned_on: date, signature: Signature, since: datetime
) -> Batch | None:
    """The run that the same person planned for the same day of the same quantity since then, the latest first."""
    same = Batch.objects.unfinished().filter(version=version, quantity=quantity, planned_on=planned_on)
    return same.filter(planned_by=signature.by, planned_at__gte=since).order_by("-pk").first()


@transaction.atomic
def replan(batch_id: int, *, quantity: int, planned_on: date) -> Batch:
    """Move a planned run to another day, or make more or less; its commitments follow. Raises RecipeError, BatchError."""
    batch = open_batch(batch_id)
    if batch.state != Batch.State.PLANNED or batch.draws.standing().exists():
        raise BatchError(f"Batch {batch.spaced_code} was begun; its plan stays as it is.")
    batch_sheet(batch.version.recipe(), quantity)
    batch.quantity, batch.planned_on = quantity, planned_on
    batch.save(update_fields=["quantity", "planned_on"])
    commit_what_is_left(batch)
    return batch


@transaction.atomic
def choose_lots(batch_id: int, chosen: Chosen, *, on: date) -> Batch:
    """Choose which lots an open run is to take, line by line, until it is drawn. Raises BatchError, by_hand.ChoiceError."""
    batch = open_batch(batch_id)
    choose(batch, chosen, on=max(on, batch.planned_on) if batch.state == Batch.State.PLANNED else on)
    return batch


def open_batch(batch_id: int) -> Batch:
    """The batch, locked. Raises BatchError when it is no longer open."""
    batch = Batch.objects.select_for_update(of=("self",)).with_product().get(pk=batch_id)
    if not batch.is_open:
        raise BatchError(
            f"Batch {batch.spaced_code} is {batch.get_state_display().lower()}; nothing more can be drawn into it."
        )
    return batch


@transaction.atomic
def call_off(batch_id: int, *, signature: Signature) -> Batch:
    """Call off a planned run that nothing was drawn into. Raises BatchError."""
    batch = open_batch(batch_id)
    if batch.draws.standing().exists():
        raise BatchError(
            "Material was drawn into this batch. Finish it instead, as scrap if nothing came of it."
        )
    batch.state = Batch.State.CALLED_OFF
    batch.note = "\n".join(part for part in (batch.note, f"Called off: {signature.reason}") if part)
    batch.save(update_fields=["state", "note"])
    commit_what_is_left(batch)
    return batch
