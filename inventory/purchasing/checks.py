"""What `manage.py check_books` proves about offers and orders; see `inventory.checks`."""

from collections.abc import Iterator

from django.db.models import Count, F, Min, Q

from inventory.models import DeliveryLine, Offer, Order, OrderLine
from studio.core.codes import is_valid


def orders_follow_deliveries() -> Iterator[str]:
    """An order is closed when everything on it arrived or somebody said why the rest is not coming, and not before."""
    lines = OrderLine.objects.filter(order__state__in=("sent", "closed")).with_received()
    short = lines.filter(received__lt=F("packs") * F("pack_quantity"))  # type: ignore[misc]  # annotated above
    lacking = set(short.values_list("order_id", flat=True))
    orders = Order.objects.annotate(line_count=Count("lines")).order_by("pk")
    for pk, code, state, why, line_count in orders.values_list(
        "pk", "code", "state", "ended_because", "line_count"
    ).iterator():
        if not is_valid(code):
            yield f"Order {code} has a code whose check character is wrong."
        if not line_count:
            yield f"Order {code} asks for nothing."
        if state == "closed" and pk in lacking and not why:
            yield f"Order {code} is closed; not everything came, and nobody said why."
        if state == "sent" and pk not in lacking:
            yield f"Order {code} still waits, though everything on it arrived."
        if state == "called_off" and not why:
            yield f"Order {code} is called off and nobody said why."


def deliveries_fit_their_orders() -> Iterator[str]:
    """A line that was ordered is of the item and from the supplier it was ordered of, and the order was sent."""
    tied = DeliveryLine.objects.filter(order_line__isnull=False)
    odd = ~Q(item=F("order_line__item")) | ~Q(delivery__supplier=F("order_line__order__supplier"))
    for pk, delivery_id in tied.filter(odd).order_by("pk").values_list("pk", "delivery_id"):
        yield f"Delivery {delivery_id}: line {pk} is not of the item or the supplier of its order."
    early = tied.filter(
        order_line__order__state__in=("draft", "called_off"), delivery__posting__reversal__isnull=True
    )
    for code in early.order_by().values_list("order_line__order__code", flat=True).distinct():
        yield f"Something came of order {code}, which is a draft or was called off."


def offers_have_prices() -> Iterator[str]:
    """Every offer has a price from the least that can be ordered on."""
    first = Offer.objects.annotate(first=Min("breaks__from_packs"))
    for pk in first.exclude(first=F("minimum_packs")).order_by("pk").values_list("pk", flat=True):
        yield f"Offer {pk} has no price for the least that can be ordered."


CHECKS = (orders_follow_deliveries, deliveries_fit_their_orders, offers_have_prices)
