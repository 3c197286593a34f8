"""What is on the shelf, item by item, answered in a fixed number of queries."""

from datetime import date
from typing import TYPE_CHECKING, TypedDict

from django.db.models import BigIntegerField, F, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce, Greatest

from inventory.models import Commitment, DeliveryLine, Item, Lot, OrderLine
from inventory.querysets import sum_of

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations


class Stock(TypedDict):
    """What `items_with_stock` adds to an item: base units, and millionths of the currency unit."""

    on_hand: int
    usable: int
    committed: int
    on_order: int
    value: int


def _on_order() -> Coalesce:
    """What sent orders still have to bring of the outer item; more than was ordered of one line is none of another."""
    standing = DeliveryLine.objects.filter(delivery__posting__reversal__isnull=True)
    came = (
        standing.filter(order_line=OuterRef("pk"))
        .order_by()
        .values("order_line")
        .annotate(total=Sum(F("packs") * F("pack_quantity"), output_field=BigIntegerField()))
        .values("total")
    )
    left = F("packs") * F("pack_quantity") - Coalesce(Subquery(came, output_field=BigIntegerField()), 0)
    totals = (
        OrderLine.objects.filter(item=OuterRef("pk"), order__state="sent")
        .order_by()
        .values("item")
        .annotate(coming=Sum(Greatest(left, 0, output_field=BigIntegerField())))
        .values("coming")
    )
    return Coalesce(Subquery(totals, output_field=BigIntegerField()), 0)


def items_with_stock(on: date) -> "QuerySet[WithAnnotations[Item, Stock]]":
    """Items with `on_hand`, `usable` (neither held nor expired on the day), `committed`, `on_order` and `value`."""
    of_item = Lot.objects.filter(item=OuterRef("pk"), on_hand__gt=0)
    items: QuerySet[Item] = Item.objects.all()
    return items.annotate(
        on_hand=sum_of(of_item, "on_hand"),
        usable=sum_of(of_item.usable(on), "on_hand"),
        committed=sum_of(Commitment.objects.filter(item=OuterRef("pk")), "quantity"),
        on_order=_on_order(),
        value=sum_of(of_item, "value"),
    )
