"""Runs planned for customers' orders: what they will still bring, told to the stock pages."""

from collections.abc import Collection

from django.db.models import Q, Sum

from batches.models import Batch, Outcome
from inventory.models import CustomerOrder
from studio.web.panels import Panel
from studio.web.requests import StudioRequest


def being_made(line_ids: Collection[int]) -> dict[int, int]:
    """Units that open runs planned for these lines of orders have still to bring, by line; one query."""
    stands = Q(outcomes__posting__reversal__isnull=True) & ~Q(outcomes__result=Outcome.Result.MELT)
    came = Sum("outcomes__quantity", filter=stands)
    runs = Batch.objects.unfinished().filter(order_line__in=line_ids).annotate(came=came)
    found: dict[int, int] = {}
    for line_id, quantity, came_out in runs.order_by().values_list("order_line", "quantity", "came"):
        if line_id is not None:
            found[line_id] = found.get(line_id, 0) + max(quantity - (came_out or 0), 0)
    return found


def runs_of_order(request: StudioRequest, order: CustomerOrder) -> Panel | None:
    """The runs planned for an order, for its page; nothing where there are none."""
    runs = list(Batch.objects.filter(order_line__order=order).with_product().order_by("planned_on", "pk"))
    return Panel("batches/_runs_of_order.html", {"runs": runs}) if runs else None


def lots_of_codes(codes: Collection[str]) -> dict[str, list[int]]:
    """The lots (by key) that batches of these codes became: what the symbol on a jar stands for; one query."""
    made = Outcome.objects.standing().filter(batch__code__in=codes).exclude(lot=None)
    found: dict[str, list[int]] = {}
    for code, lot_id in made.order_by("pk").values_list("batch__code", "lot"):
        if lot_id is not None:
            found.setdefault(code, []).append(lot_id)
    return found
