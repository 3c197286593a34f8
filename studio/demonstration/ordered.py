"""What customers of the demonstration want: a shop and an event that wait, one that has its candles, and a run for one."""

from collections.abc import Callable
from datetime import date, timedelta

from batches.models import Batch
from batches.planning import plans
from batches.planning.planning import plan_of
from inventory.lots.moving import Taking
from inventory.lots.shelves import shelves
from inventory.models import CustomerOrder, Lot
from inventory.sales_orders import customer_orders
from inventory.sales_orders.customer_orders import OrderHead
from inventory.sales_orders.order_standing import ready_lots, standings
from inventory.shipments import for_order
from studio.demonstration import story
from studio.demonstration.stage import working_day
from studio.demonstration.work import Workshop
from studio.models import User
from studio.people.signature import Signature

FAVOURS = 48
TO_POUR = 18
Ago = Callable[[int, User], Signature]


def take_orders(shop: Workshop, ago: Ago) -> None:
    """Three orders of the last hour: one sent, a shop's with something still to pour, an event's with its run planned."""
    owner, maker = shop.people.owner, shop.people.maker
    _send_one(shop, ago(54, owner), ago(46, maker))
    shelf_refill = OrderHead(
        story.SHOPS[0],
        working_day(shop.today + timedelta(days=5)),
        contact="Ottoline Marsh",
        reach="orders@paper-heron.example",
        channel="Wholesale",
        reference="PH-118",
        note="Before ten in the morning, through the yard.",
    )
    wanted = {
        shop.products["cedar_jar"].item.pk: 24,
        shop.products["rain_jar"].item.pk: _shelved(shop, "rain_jar") + TO_POUR,
    }
    customer_orders.take(shelf_refill, wanted, signature=ago(44, owner))
    feast = OrderHead(
        story.EVENTS[0],
        shop.today + timedelta(days=26),
        contact="Wilf Harrow",
        reach="555 0142",
        channel="Event",
        note="One at each place; plain lids.",
    )
    wanted = {shop.products["cedar_tin"].item.pk: _ready(shop, "cedar_tin") + FAVOURS}
    order = customer_orders.take(feast, wanted, signature=ago(42, owner))
    _plan_by_hand(shop, order, ago(40, owner))


def _ready(shop: Workshop, key: str) -> int:
    lots = ready_lots(shop.today).filter(item=shop.products[key].item, grade="first")
    return sum(lots.values_list("on_hand", flat=True))


def _shelved(shop: Workshop, key: str) -> int:
    """All that is on the shelf and not on hold, what cures and waits for its release among it."""
    lots = Lot.objects.on_shelf().filter(item=shop.products[key].item, grade="first", held=False)
    return sum(lots.values_list("on_hand", flat=True))


def _send_one(shop: Workshop, taken: Signature, sent: Signature) -> None:
    """A small order of what is on the shelf, taken and sent within the hour."""
    lots = ready_lots(shop.today).filter(grade="first", on_hand__gte=2).order_by("arrived_at", "pk")
    lot: Lot | None = lots.exclude(item=shop.products["cedar_tin"].item).first()
    if lot is None:
        return
    said = OrderHead(story.CUSTOMERS[0], shop.today, channel="Web shop", reference="W-9001")
    order = customer_orders.take(said, {lot.item_id: 2}, signature=taken)
    for_order.send(order.pk, [Taking(lot.pk, 2)], signature=sent)


def _plan_by_hand(shop: Workshop, order: CustomerOrder, signature: Signature) -> Batch:
    """The run for an order, with the lots of its dearest line chosen by hand: the last to arrive, kept together."""
    line = standings(shop.today, order=order)[order.pk][0]
    version = shop.products["cedar_tin"].current()
    day: date = working_day(shop.today + timedelta(days=1))
    quantity = line.to_pour or FAVOURS
    need = next(
        need for need in plan_of(version, quantity, on=day).needs if need.line.recipe_line().is_fragrance
    )
    lots = sorted(shelves([need.item.pk], day)[need.item.pk], key=lambda lot: (lot.arrived_at, lot.pk))
    chosen = {need.line.pk: {lots[-1].pk: min(need.left, lots[-1].on_hand)}} if lots else {}
    return plans.plan(
        version,
        quantity,
        planned_on=day,
        note="The newest bottle, so that all of them smell alike.",
        signature=signature,
        order_line_id=line.line.pk,
        chosen=chosen,
    )
