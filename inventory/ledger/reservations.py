"""Stock promised to what will need it: a planned batch, a customer's order. The only writer of commitments."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

from django.db import transaction

from inventory.models import Commitment, CustomerOrder


@transaction.atomic
def commit(source: str, needs: Mapping[int, int], needed_on: date) -> None:
    """Replace what `source` (a batch's or an order's code) will need: base units by item id. Nothing: no need left."""
    Commitment.objects.filter(source=source).delete()
    Commitment.objects.bulk_create(
        Commitment(source=source, item_id=item_id, quantity=quantity, needed_on=needed_on)
        for item_id, quantity in sorted(needs.items())
        if quantity > 0
    )


@dataclass(frozen=True)
class Promise:
    """What needs so much of an item, and when: a customer's order, or a batch, which stock knows by its code alone."""

    commitment: Commitment
    order: CustomerOrder | None


def promises_of(item_ids: Collection[int]) -> dict[int, list[Promise]]:
    """What these items are promised to, by item, the first needed first; two queries for any number."""
    rows = list(Commitment.objects.filter(item__in=item_ids).order_by("needed_on", "pk"))
    codes = {row.source for row in rows}
    orders = (
        {
            order.code: order
            for order in CustomerOrder.objects.filter(code__in=codes).select_related("customer")
        }
        if codes
        else {}
    )
    found: dict[int, list[Promise]] = {item_id: [] for item_id in item_ids}
    for row in rows:
        found[row.item_id].append(Promise(row, orders.get(row.source)))
    return found


def promised_words(promises: Collection[Promise]) -> str:
    """What an item is promised to, counted: "2 runs, 1 order"."""
    orders = sum(each.order is not None for each in promises)
    runs = len(promises) - orders
    parts = [(runs, "run"), (orders, "order")]
    return ", ".join(f"{count} {word}{'' if count == 1 else 's'}" for count, word in parts if count)
