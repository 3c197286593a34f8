"""What Ninefold Lane decided about buying: its rules, its suppliers' terms, what is no longer bought or may stand in."""

from datetime import timedelta

from django.db.models import Sum

from inventory.models import Item, Movement
from inventory.purchasing.offers import Break, enter_offer
from inventory.replenishment import one_offs
from inventory.replenishment.rules import set_rules
from studio.demonstration.goods import KG
from studio.demonstration.stage import Stage
from studio.people.signature import Signature

CENT = 10_000
# Least order, freight of an order, free from; in cents, None where there is no such thing.
TERMS = {
    "wax": (30_000, 6_800, 150_000),
    "scent": (15_000, 1_450, 40_000),
    "pound": (20_000, 3_900, None),
    "glass": (25_000, 5_400, 90_000),
    "paper": (7_500, 980, 30_000),
}


def decide(shop: Stage, signature: Signature) -> None:
    """Set the rules and terms, replace a lid, and leave one event out of the usual use."""
    figures = {"service_ppm": 950_000, "window_days": 90, "carrying_ppm": 200_000, "horizon_days": 120}
    set_rules({**figures, "order_cost": 1_200 * CENT}, signature=signature)
    for key, (least, freight, free_from) in TERMS.items():
        supplier = shop.suppliers[key]
        supplier.minimum_order, supplier.freight_per_order = least * CENT, freight * CENT
        supplier.free_freight_from = None if free_from is None else free_from * CENT
        supplier.save(update_fields=["minimum_order", "freight_per_order", "free_freight_from"])
    wax = shop.items["soy"]
    wax.room_for = 400 * KG
    # The best seller, and the scent of the weeks before December, must not run out.
    for key in ("cedar", "clove"):
        shop.items[key].service_ppm = 980_000
        shop.items[key].save(update_fields=["service_ppm"])
    wax.save(update_fields=["room_for"])
    _replace_a_lid(shop, signature)
    _stand_in_for_the_jar(shop, signature)
    _give_up_a_scent(shop)
    _leave_out_a_wedding(shop, signature)


def _replace_a_lid(shop: Stage, signature: Signature) -> None:
    """The jar's lid is pressed no more; another one is offered in its place."""
    old = shop.items["lid_jar"]
    new = Item.objects.create(
        name="Black lid, jar, cork liner", kind=old.kind, unit=old.unit, place=old.place
    )
    enter_offer(
        supplier=shop.suppliers["glass"],
        item=new,
        pack_quantity=100,
        typed_pack="100",
        breaks=[Break(1, 4_350 * CENT), Break(5, 4_180 * CENT)],
        quoted_on=shop.today,
        signature=signature,
    )
    old.no_longer_bought, old.replaced_by = True, new
    old.save(update_fields=["no_longer_bought", "replaced_by"])


def _stand_in_for_the_jar(shop: Stage, signature: Signature) -> None:
    """Clear jars of the same glass and shape can take the amber ones' place."""
    amber = shop.items["jar"]
    clear = Item.objects.create(
        name="Clear jar, 220 g",
        kind=amber.kind,
        unit=amber.unit,
        place=amber.place,
        notes="The same glass and shape as the amber jar, for when that cannot be had.",
    )
    enter_offer(
        supplier=shop.suppliers["glass"],
        item=clear,
        pack_quantity=48,
        typed_pack="48",
        breaks=[Break(1, 5_280 * CENT)],
        quoted_on=shop.today,
        signature=signature,
    )
    amber.replaced_by = clear
    amber.save(update_fields=["replaced_by"])


def _give_up_a_scent(shop: Stage) -> None:
    """The scent that did not sell is used up and not bought again."""
    hay = shop.items["hay"]
    hay.no_longer_bought = True
    hay.save(update_fields=["no_longer_bought"])


def _leave_out_a_wedding(shop: Stage, signature: Signature) -> None:
    """The largest draw of bowls of late was for one wedding."""
    drawn = Movement.objects.standing().filter(
        lot__item=shop.items["bowl"],
        kind=Movement.Kind.DRAWN,
        posting__happened_at__gte=signature.happened_at - timedelta(days=80),
    )
    largest = drawn.order_by().values_list("posting").annotate(used=Sum("quantity")).order_by("used").first()
    if largest:
        kept = signature.because("Bowls for one wedding; they will not marry twice.")
        one_offs.mark(largest[0], one_off=True, signature=kept)
