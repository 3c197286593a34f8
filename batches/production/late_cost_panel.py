"""The part of a delivery's page that names the batches which had used goods when a cost was billed later."""

from collections.abc import Sequence
from dataclasses import dataclass

from batches.models import Batch
from inventory.models import LateCost, Lot, Movement, Posting
from studio.core.money import allocate
from studio.web.panels import Panel
from studio.web.requests import StudioRequest


@dataclass(frozen=True)
class Use:
    """What a batch had drawn from a lot, in base units, and what of the period's cost falls to it, in millionths.

    `batch` None: all that had left the lot in other ways.
    """

    late: LateCost
    lot: Lot
    batch: Batch | None
    quantity: int
    share: int


def batches_of_late_costs(request: StudioRequest, lates: Sequence[LateCost]) -> Panel | None:
    """The batches that had used the goods by then, each with its share; nothing when there was no use."""
    uses = uses_of(lates)
    return Panel("batches/_late_cost_uses.html", {"uses": uses}) if uses else None


def uses_of(lates: Sequence[LateCost]) -> list[Use]:
    """Every lot's cost of the period over what had left it, by quantity, in two queries for any number of costs.

    As the books stood when the cost was entered: draws that were reversed since are among them. The costs come with
    their posting's costs of the period.
    """
    lots = {cost.lot_id for late in lates for cost in late.posting.period_costs.all()}
    if not lots:
        return []
    left = Movement.objects.filter(lot__in=lots, quantity__lt=0, posting__reverses__isnull=True)
    rows = list(
        left.exclude(posting__kind=Posting.Kind.DECANT)
        .order_by("pk")
        .values_list("lot_id", "posting_id", "posting__reversal", "draw__batch_id", "quantity")
    )
    products = Batch.objects.with_product().in_bulk({row[3] for row in rows if row[3]})
    uses: list[Use] = []
    for late in lates:
        then = late.posting_id
        for cost in late.posting.period_costs.all():
            taken: dict[int | None, int] = {}
            for lot_id, posting_id, reversal_id, batch_id, quantity in rows:
                stood = posting_id < then and (reversal_id is None or reversal_id > then)
                if lot_id == cost.lot_id and stood:
                    taken[batch_id] = taken.get(batch_id, 0) - quantity
            parts = allocate(cost.value, list(taken.values())) if taken else []
            uses += [
                Use(late, cost.lot, products.get(batch_id or 0), quantity, part)
                for (batch_id, quantity), part in zip(taken.items(), parts, strict=True)
            ]
    return uses
