"""A shop's orders are brought in: whole or not at all, and an order that came in once never again.

Locking: the shop's row, so that two files of it stand in line, and all customers it names; then as sending and taking
orders do.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from inventory.customers.customers import Contact, lock_named
from inventory.models import Shop, ShopOrder, ShopProduct, WaitingOrders
from inventory.sales_orders import customer_orders
from inventory.sales_orders.customer_orders import OrderHead
from inventory.shipments import dispatching
from inventory.shop_files.planning import NewOrder, OrderPlan, moment_of, plan_of
from inventory.shop_files.reading import FIELDS, Product, count_words
from studio.models import User
from studio.people.signature import Signature
from studio.web.reading_tables import pack
from studio.web.reading_xlsx import read_table

WAITS = timedelta(days=1)  # the file names people
WAITING_AT_MOST = 20


class NotAsShown(Exception):
    """What would come in is no longer what was shown. Its text is a sentence."""


def drop_old(now: datetime) -> None:
    """Files that waited too long go, whoever they name."""
    WaitingOrders.objects.filter(at__lt=now - WAITS).delete()


def still_waiting(now: datetime) -> QuerySet[WaitingOrders]:
    """Files that may still be brought in."""
    return WaitingOrders.objects.filter(at__gte=now - WAITS)


@transaction.atomic
def keep(shop: Shop, name: str, data: bytes, *, by: User, now: datetime) -> WaitingOrders:
    """Read a shop's file and keep what was read until it is brought in; old ones go.

    Raises studio.web.reading_tables.UnreadableTable.
    """
    read = read_table(data, count_words)
    drop_old(now)
    newest = WaitingOrders.objects.values_list("pk", flat=True)[: WAITING_AT_MOST - 1]
    WaitingOrders.objects.exclude(pk__in=list(newest)).delete()
    return WaitingOrders.objects.create(shop=shop, name=name, content=pack(read), by=by, at=now)


@transaction.atomic
def keep_columns(shop_id: int, columns: Mapping[str, str], days: str) -> Shop:
    """Keep which heading stands for what, and how the shop writes days."""
    shop = Shop.objects.get(pk=shop_id)
    shop.columns = {name: text for name, text in columns.items() if name in FIELDS and text}
    shop.days = days
    shop.save(update_fields=["columns", "days"])
    return shop


@transaction.atomic
def keep_products(shop_id: int, products: Mapping[str, Product]) -> None:
    """Keep what the shop's words stand for; what was kept before is put right."""
    shop = Shop.objects.select_for_update().get(pk=shop_id)
    for words, product in products.items():
        kept = {"item_id": product.item_id, "pieces": product.pieces}
        ShopProduct.objects.update_or_create(shop=shop, words=words, defaults=kept)


@transaction.atomic
def bring_in(waiting_id: int, *, shown: str, signature: Signature) -> OrderPlan:
    """Bring in what is new in a kept file, or nothing at all; the plan that was carried out.

    `shown` is the fingerprint of what its person saw. Raises NotAsShown, and what sending and taking orders raise.
    """
    rows = still_waiting(signature.recorded_at).filter(pk=waiting_id)
    Shop.objects.select_for_update().filter(pk__in=rows.values("shop")).first()
    # Looked at only now: whoever was first may have brought it in.
    waiting = rows.select_related("shop__channel").first()
    if waiting is None:
        raise NotAsShown(
            "This file is not here any more: it was brought in, or it waited for more than a day."
        )
    plan = plan_of(waiting, timezone.localdate(signature.recorded_at))
    if not plan.ready or plan.fingerprint != shown:
        raise NotAsShown("The shelf or the orders changed since this was shown. Look at it again.")
    lock_named(each.order.customer for each in plan.new)
    for each in plan.new:
        _bring(waiting.shop, each, signature)
    waiting.delete()
    return plan


def _bring(shop: Shop, each: NewOrder, signature: Signature) -> None:
    order, channel = each.order, shop.channel.name if shop.channel else ""
    reach = "\n".join(order.reach)
    kept = ShopOrder(
        shop=shop,
        reference=order.reference,
        digest=order.digest,
        by=signature.by,
        at=signature.recorded_at,
    )
    if shop.becomes == Shop.Becomes.ORDER:
        # When it was ordered has passed; it is wanted as soon as it can be.
        day = timezone.localdate(signature.recorded_at)
        said = OrderHead(order.customer, day, reach=reach, channel=channel, reference=order.reference)
        kept.order = customer_orders.take(said, order.wanted, signature=signature)
    else:
        kept.dispatch = dispatching.send(
            [taking for _, taking in each.picks],
            to=Contact(order.customer, reach=reach) if order.customer else None,
            channel=channel,
            reference=order.reference,
            signature=signature.at(moment_of(order, signature.recorded_at)),
        )
    kept.save(force_insert=True)
