"""What suppliers quoted to Ninefold Lane, and the orders it sent them; all of it invented.

Quoted once at the beginning and again, dearer, half a year ago. The orders the workshop needs are written by the stage;
here are those that show something: one that is late, one of which part came, one called off, and a draft.
"""

from dataclasses import replace
from datetime import timedelta

from inventory.models import Order
from inventory.purchasing import ordering
from inventory.purchasing.offers import Break, enter_offer
from inventory.purchasing.ordering import LineRequest
from studio.core.quantities import parse_quantity
from studio.demonstration import goods
from studio.demonstration.goods import CENT
from studio.demonstration.stage import Stage
from studio.people.signature import Signature

RISE_DAYS_AGO = 183


class Buying:
    """The buyer's desk: offers, and the orders that are told whatever the dice say."""

    def __init__(self, shop: Stage) -> None:
        self.shop = shop
        self.part: Order | None = None

    def quote(self, percent: dict[str, int]) -> None:
        """Every supplier in `percent` quotes what it sells today, at so many percent of the first prices."""
        shop = self.shop
        for place, each in enumerate(goods.ITEMS):
            if each.supplier not in percent:
                continue
            for number, offer in enumerate(dict.fromkeys(each.offers)):
                item = shop.items[each.key]
                shop.asked[each.key, offer.holds] = prices = goods.asked(each, offer, percent[each.supplier])
                enter_offer(
                    supplier=shop.suppliers[each.supplier],
                    item=item,
                    pack_quantity=parse_quantity(offer.holds, item.dimension),
                    typed_pack=offer.holds,
                    breaks=[Break(packs, cents * CENT) for packs, cents in prices],
                    quoted_on=shop.day,
                    minimum_packs=prices[0][0],
                    supplier_code=f"{each.supplier[0].upper()}{100 + place}-{number + 1}",
                    signature=shop.sign(shop.people.owner, 7 * 60 + 30 + place % 30),
                )

    def first_prices(self) -> None:
        """What everything costs on the first day."""
        self.quote({each.key: 100 for each in goods.SUPPLIERS})

    def rise(self) -> None:
        """Half a year ago everything but paper became dearer."""
        self.quote({"wax": 104, "scent": 106, "pound": 105, "glass": 103})

    def another_source(self) -> None:
        """A second supplier offers the scent that is used most, by the pound and for two months only."""
        shop = self.shop
        item = shop.items["rain"]
        enter_offer(
            supplier=shop.suppliers["pound"],
            item=item,
            pack_quantity=parse_quantity("5 lb", item.dimension),
            typed_pack="5 lb",
            breaks=[Break(2, 11_950 * CENT), Break(6, 11_200 * CENT)],
            quoted_on=shop.day,
            valid_until=shop.day + timedelta(days=60),
            minimum_packs=2,
            lead_days=14,
            supplier_code="P900-5",
            note="To compare; a sample smelled the same.",
            signature=shop.sign(shop.people.owner, 8 * 60 + 15),
        )

    def ordered_twice(self) -> None:
        """An order that was called off an hour after it was sent."""
        shop = self.shop
        order = self._send("paper", [("box_bowl", "25", 2)])
        ordering.call_off(
            order.pk,
            signature=shop.sign(shop.people.owner, 10 * 60, "The same boxes were ordered on Monday."),
        )

    def wait_for_quince(self) -> None:
        """The scent that cannot be had is promised, and the day has passed by now."""
        self._send("scent", [("quince", "2.5 kg", 2)], expected_in=39)

    def try_the_other(self) -> None:
        """The second supplier gets a first order."""
        self._send("pound", [("rain", "5 lb", 2)])

    def order_dyes(self) -> None:
        """Dyes, of which not all will come at once."""
        self.part = self._send("scent", [("green", "100 g", 3), ("slate", "100 g", 1)], expected_in=15)

    def some_dyes_came(self) -> None:
        """One tin of each; two are outstanding."""
        shop = self.shop
        if self.part is None:
            return
        green, slate = self.part.lines.order_by("pk")
        offers = {each.key: each.offers[0] for each in goods.ITEMS if each.offers}
        arrivals = [
            replace(shop.arrival(key, offers[key], 1), order_line_id=line.pk)
            for key, line in (("green", green), ("slate", slate))
        ]
        shop.receive("scent", arrivals, minute=8 * 60 + 35)

    def draft(self, signature: Signature) -> None:
        """Labels and boxes, and a scent for which nobody has quoted a large pack yet."""
        wanted = [self._wanted("front_jar", "250", 2), self._wanted("box_jar", "50", 6)]
        ordering.draft(
            supplier=self.shop.suppliers["paper"],
            wanted=[*wanted, self._wanted("ribbon", "25 m", 1)],
            note="Please pack the boxes flat.",
            signature=signature,
        )

    def _send(
        self, supplier: str, lines: list[tuple[str, str, int]], expected_in: int | None = None
    ) -> Order:
        shop = self.shop
        expected_on = shop.day + timedelta(days=expected_in) if expected_in else None
        wanted = [self._wanted(*line) for line in lines]
        return shop.send_order(supplier, wanted, minute=9 * 60, expected_on=expected_on)

    def _wanted(self, key: str, holds: str, packs: int) -> LineRequest:
        item = self.shop.items[key]
        return LineRequest(item, packs, parse_quantity(holds, item.dimension), holds)
