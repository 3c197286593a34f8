"""What Ninefold Lane sends besides its sales, and what comes back: samples, a gift, replacements, a return on hold.

And what it knows of the people: shops and markets by name, how to reach customers of the web shop, one who asked to be
forgotten, and a file of the web shop's own orders. All of it invented.
"""

from collections.abc import Callable

from inventory.customers import customers, retention
from inventory.customers.customers import Contact
from inventory.lots import write_offs
from inventory.lots.moving import Taking
from inventory.models import Customer, Dispatch, Grade, Lot, Reason, Shop
from inventory.sales_orders.order_standing import ready_lots
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from inventory.shop_files import import_service
from inventory.shop_files.planning import plan_of
from inventory.shop_files.reading import Product
from studio.demonstration import story
from studio.demonstration.work import Workshop
from studio.models import User
from studio.people.signature import Signature

MONTHS_KEPT = 36
COLUMNS = {
    "reference": "Order no.",
    "product": "Article",
    "quantity": "Pieces",
    "day": "Ordered on",
    "customer": "Name",
    "email": "E-mail",
    "address": "Ship to",
}
BOOKS, FAIR = "Hollow Oak Books (invented shop)", "Nowhere-on-Marsh school fair"
FILE = "web-shop-orders.csv"
Ago = Callable[[int, User], Signature]


class Sending:
    """The packing table on days that are told whatever the dice say."""

    def __init__(self, shop: Workshop) -> None:
        self.shop = shop

    def days(self) -> dict[int, Callable[[], None]]:
        """The events by days before the last."""
        return {
            story.FORGOTTEN_DAYS_AGO: self.forget,
            61: self.samples,
            47: self.gift,
            27: self.cracked,
            16: self.drowned,
        }

    def forget(self) -> None:
        """A customer asked to be forgotten, which made the owner think of how long the others are kept."""
        owner = self.shop.people.owner
        retention.set_rule(MONTHS_KEPT, signature=self.shop.sign(owner, 9 * 60 + 20))
        forgotten = Customer.objects.filter(name=story.FORGOTTEN).first()
        if forgotten:
            customers.erase(forgotten.pk, signature=self.shop.sign(owner, 9 * 60 + 25, "Asked for it"))

    def samples(self) -> None:
        """Two tins for a shop that thinks of taking them."""
        self._send(2, Contact(BOOKS), Dispatch.Kind.SAMPLE)

    def gift(self) -> None:
        """One for a raffle."""
        self._send(1, Contact(FAIR), Dispatch.Kind.GIFT)

    def cracked(self) -> None:
        """A jar arrived cracked: it came back, was scrapped, and another went out in its place."""
        dispatch, lot = self._latest_web()
        if lot is None or dispatch is None:
            return
        shop = self.shop
        (back,) = self._take_back(dispatch, lot, "The glass was cracked when it arrived")
        reason = Reason.objects.filter(kind=Reason.Kind.SCRAP, retired=False).order_by("pk")[0]
        signature = shop.sign(shop.people.owner, 11 * 60 + 20, f"{reason.words}: cracked in the post")
        write_offs.take_out(back.pk, 1, kind=Reason.Kind.SCRAP, signature=signature)
        self._send(1, dispatch.customer, Dispatch.Kind.REPLACEMENT, dispatch.reference, lot.item_id)

    def drowned(self) -> None:
        """A candle whose wick drowned came back; nobody has looked at it yet."""
        dispatch, lot = self._latest_web()
        if lot is not None and dispatch is not None:
            self._take_back(dispatch, lot, "Went out by itself on the second evening; half burned")

    def _latest_web(self) -> tuple[Dispatch | None, Lot | None]:
        """The last parcel of the web shop that is a week old, and its first lot."""
        shop = self.shop
        sent = Dispatch.objects.standing().filter(channel__name="Web shop", returns=None)
        before = shop.sign(shop.people.owner, 0).happened_at
        dispatch = sent.filter(posting__happened_at__lt=before).order_by("-posting__happened_at")[6:7].first()
        if dispatch is None:
            return None, None
        return dispatch, dispatch.posting.movements.order_by("pk")[0].lot

    def _take_back(self, dispatch: Dispatch, lot: Lot, why: str) -> list[Lot]:
        signature = self.shop.sign(self.shop.people.maker, 10 * 60 + 40, why)
        return dispatching.take_back(dispatch.pk, [Back(lot.pk, 1, "Returns shelf")], signature=signature)

    def _send(
        self,
        quantity: int,
        to: Contact | Customer | None,
        kind: Dispatch.Kind,
        reference: str = "",
        item_id: int | None = None,
    ) -> None:
        lots = ready_lots(self.shop.day).filter(grade=Grade.FIRST, on_hand__gte=quantity)
        if item_id:
            lots = lots.filter(item=item_id)
        if lot := lots.order_by("arrived_at", "pk").first():
            signature = self.shop.sign(self.shop.people.owner, 11 * 60 + 40)
            taking = [Taking(lot.pk, quantity)]
            dispatching.send(taking, to=to, kind=kind, reference=reference, signature=signature)


def tell_who_is_who() -> None:
    """Shops, markets and venues are no private persons."""
    named = (*story.SHOPS, *story.MARKETS, *story.EVENTS, BOOKS, FAIR)
    for customer in Customer.objects.filter(name__in=named):
        who = Contact(customer.name, customer.contact, customer.reach)
        customers.write_customer(customer.pk, who, is_person=False)


def bring_in_orders(shop: Workshop, ago: Ago) -> None:
    """Three orders of the web shop, brought in from its own file by columns that are kept."""
    owner, rows = shop.people.owner, ["Order no.;Ordered on;Name;E-mail;Ship to;Article;Pieces"]
    names = ("Cedar & Black Tea, amber jar", "Rain on Slate, amber jar", "Gift card")
    for place, customer in enumerate(story.CUSTOMERS[:2]):
        lane = f"{place + 3} Nowhere Row, Nowhere-on-Marsh"
        rows.append(
            f"W-{9101 + place};{shop.today};{customer};{story.reach_of(customer)};{lane};{names[place]};{place + 1}"
        )
    rows.append(f"W-9103;{shop.today};{story.CUSTOMERS[2]};;;{names[2]};1")
    kept, _ = Shop.objects.get_or_create(
        name="Web shop", defaults={"channel": customers.channel_named("Web shop"), "columns": COLUMNS}
    )
    keys = ("cedar_jar", "rain_jar")
    known = {
        words: Product(shop.products[key].item.pk if key in shop.products else None)
        for words, key in zip(names, keys, strict=False)
    }
    import_service.keep_products(kept.pk, {**known, names[2]: Product(None)})
    signature = ago(25, owner)
    data = "\n".join(rows).encode()
    waiting = import_service.keep(kept, FILE, data, by=owner, now=signature.recorded_at)
    plan = plan_of(waiting, shop.today)
    if plan.ready:
        import_service.bring_in(waiting.pk, shown=plan.fingerprint, signature=signature)
