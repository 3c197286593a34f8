"""How long deliveries took, read from the books for every item and supplier: one place for whoever asks by when to order.

The rule that makes a lead time of them is `lead.lead_time`.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Max
from django.utils import timezone

from inventory.models import DeliveryLine, Supplier
from inventory.purchasing.lead_time import LeadTime, lead_time
from studio.core.days import begin

# How far back deliveries tell how long they take.
LEAD_DAYS_BACK = 730


@dataclass(frozen=True)
class Leads:
    """Days from order to the last arrival: of each item by supplier, and of a supplier's orders whatever was on them.

    `lines` are how many items those orders had in all, by supplier.
    """

    of_item: dict[tuple[int, int], list[int]]
    of_orders: dict[int, list[int]]
    lines: dict[int, int]

    def lead_of(self, item_id: int, supplier: Supplier, offer_says: int | None) -> LeadTime | None:
        """How long an item takes from a supplier; None where nothing is known."""
        return lead_time(
            of_item=self.of_item.get((item_id, supplier.pk), ()),
            of_supplier=self.of_orders.get(supplier.pk, ()),
            offer_says=offer_says,
            supplier_says=supplier.lead_days,
        )


def read(day: date) -> Leads:
    """What came of orders in the two years before a day, of all items; one query."""
    standing = DeliveryLine.objects.filter(
        order_line__isnull=False,
        delivery__posting__reversal__isnull=True,
        delivery__posting__happened_at__gte=begin(day - timedelta(days=LEAD_DAYS_BACK)),
        order_line__order__sent_at__isnull=False,
    )
    order = "order_line__order"
    columns = ("order_line__item", order, f"{order}__supplier", f"{order}__sent_at")
    rows = standing.order_by().values_list(*columns).annotate(came=Max("delivery__posting__happened_at"))
    orders: dict[int, tuple[int, int]] = {}
    of_item: dict[tuple[int, int], list[int]] = defaultdict(list)
    lines: dict[int, int] = defaultdict(int)
    for item_id, order_id, supplier_id, sent_at, came in rows:
        days = _days_between(sent_at, came)
        of_item[item_id, supplier_id].append(days)
        lines[supplier_id] += 1
        orders[order_id] = supplier_id, max(days, orders.get(order_id, (0, 0))[1])
    of_orders: dict[int, list[int]] = defaultdict(list)
    for supplier_id, days in orders.values():
        of_orders[supplier_id].append(days)
    return Leads(of_item, of_orders, lines)


def _days_between(sent_at: datetime, came: datetime) -> int:
    return max((timezone.localtime(came).date() - timezone.localtime(sent_at).date()).days, 0)
