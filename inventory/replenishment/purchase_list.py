"""The purchase list: what is due, by supplier, filled up to a least order or to free freight; and the verb that drafts it.

Money in millionths. An item that stands on a draft already is not put on another one.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from django.db import transaction
from django.utils import timezone

from inventory.models import Item, Order, Supplier
from inventory.purchasing import ordering
from inventory.purchasing.ordering import LineRequest, OrderError
from inventory.replenishment import facts as known
from inventory.replenishment.arithmetic import DAYS_IN_A_YEAR, WHOLE
from inventory.replenishment.facts import Source
from inventory.replenishment.forecast_text import SOON_DAYS, by_urgency
from inventory.replenishment.outlook import ReorderForecast, SupplyOption
from inventory.replenishment.quantity import FREIGHT_IS_FREE
from inventory.replenishment.rules import Rules
from studio.people.signature import Signature

PACKS_AT_MOST = 99_999
GO_ALONG_DAYS = 42


@dataclass(frozen=True)
class Line:
    """One item to order of a supplier. `taken`: whether the list proposes it, or somebody ticked it; `because`: why, where
    it is not due yet; `asked`: how many packs somebody wants instead of those proposed."""

    outlook: ReorderForecast
    choice: SupplyOption
    taken: bool
    because: str = ""
    asked: int | None = None

    @property
    def packs(self) -> int:
        """How many packs."""
        return self.asked or self.choice.option.packs

    @property
    def price(self) -> int:
        """What a pack costs when so many are bought, in millionths."""
        return self.choice.source.quoted.price_of(self.packs)

    @property
    def goods(self) -> int:
        """What they come to, in millionths."""
        return self.packs * self.price

    @property
    def item(self) -> Item:
        """What is ordered."""
        return self.outlook.item

    @property
    def is_due(self) -> bool:
        """Whether it has to go out within the week."""
        return self.outlook.order_in is not None and self.outlook.order_in <= SOON_DAYS

    @property
    def is_near(self) -> bool:
        """Whether it will have to go out soon enough to be worth offering along with others."""
        return self.outlook.order_in is not None and self.outlook.order_in <= GO_ALONG_DAYS

    @property
    def may_go_along(self) -> bool:
        """Whether it may be added before its time: not where even the smallest order is too much."""
        return not self.taken and not self.choice.option.too_much

    @property
    def key(self) -> str:
        """What a form calls it by."""
        return f"{self.item.pk}:{self.choice.option.key}"


@dataclass
class Basket:
    """What is ordered of one supplier."""

    supplier: Supplier
    lines: list[Line] = field(default_factory=list)

    @property
    def goods(self) -> int:
        """What the lines that are taken come to."""
        return sum(line.goods for line in self.lines if line.taken)

    @property
    def to_minimum(self) -> int:
        """What is missing to the least the supplier takes."""
        return max((self.supplier.minimum_order or 0) - self.goods, 0)

    @property
    def to_free(self) -> int | None:
        """What is missing to free freight; None where the supplier never sends free, or freight costs nothing."""
        if self.supplier.free_freight_from is None or not self.supplier.freight_per_order:
            return None
        return max(self.supplier.free_freight_from - self.goods, 0)

    @property
    def freight(self) -> int | None:
        """The freight of the order as proposed; None where nobody said."""
        return 0 if self.to_free == 0 else self.supplier.freight_per_order

    def enough_of(self, line: Line) -> int | None:
        """The fewest packs of a line raised to free freight by itself with which the rest brings the order there too."""
        option, quoted = line.choice.option, line.choice.source.quoted
        if not line.taken or line.packs != option.packs or option.why_so_many != FREIGHT_IS_FREE:
            return None
        missing = (self.supplier.free_freight_from or 0) - (self.goods - line.goods)
        least = max(-(-line.outlook.limits.least // quoted.pack), quoted.least_packs, quoted.breaks[0][0], 1)
        fewer = range(least, line.packs)
        return next((packs for packs in fewer if packs * quoted.price_of(packs) >= missing), None)

    @property
    def topped_up(self) -> list[Line]:
        """What was added before its time."""
        return [line for line in self.lines if line.taken and not line.is_due]


def baskets(found: Iterable[ReorderForecast], rules: Rules) -> list[Basket]:
    """The purchase list: suppliers of whom something is due within a week, with what could go along.

    What is due and of which even the smallest order is too much is listed and left to whoever orders.

    Where what is due is below the least the supplier takes, what is needed next is added until it is enough; where
    freight would be free, it is added if keeping it until its own day costs less than the freight.
    """
    by_supplier: dict[int, Basket] = {}
    for outlook in by_urgency(found):
        # The ways to buy are worked out last: most items need none.
        if outlook.order_in is None or outlook.known.drafted or (choice := outlook.best) is None:
            continue
        supplier = choice.source.supplier
        line = Line(outlook, choice, taken=outlook.order_in <= SOON_DAYS)
        if choice.option.too_much:
            line = replace(line, taken=False, because=_too_much(line))
        by_supplier.setdefault(supplier.pk, Basket(supplier)).lines.append(line)
    due = [basket for basket in by_supplier.values() if any(line.is_due for line in basket.lines)]
    for basket in due:
        # By their own day: what waits for a late order comes first in the list of items, but is not needed next.
        basket.lines.sort(key=lambda line: line.outlook.order_in or 0)
        _fill_up(basket, rules)
        basket.lines = [line for line in basket.lines if line.taken or line.is_near]
    return sorted(
        due, key=lambda basket: (basket.lines[0].outlook.order_in or 0, basket.supplier.name.lower())
    )


def as_ticked(listed: Iterable[Basket], ticked: Collection[str], packs: Mapping[str, int]) -> list[Basket]:
    """The same list with what somebody ticked, and how many packs, by `Line.key`."""
    return [
        Basket(
            basket.supplier,
            [replace(line, taken=line.key in ticked, asked=packs.get(line.key)) for line in basket.lines],
        )
        for basket in listed
    ]


def _too_much(line: Line) -> str:
    """Why a line is not proposed although it may be due."""
    beyond = line.item.quantity(line.choice.option.too_much)
    limit = line.outlook.limits.because.removeprefix("as much as ")
    return f"the smallest order is {beyond} more than {limit}: for you to decide"


def _fill_up(basket: Basket, rules: Rules) -> None:
    _add(basket, basket.to_minimum, "to reach the least the supplier takes")
    missing, freight = basket.to_free, basket.supplier.freight_per_order or 0
    if not missing:
        return
    adding, goods, keeping = [], 0, Fraction(0)
    for line in basket.lines:
        if line.may_go_along and goods < missing:
            adding.append(line)
            goods += line.choice.option.goods
            keeping += keeping_cost(line, rules.carrying_ppm)
    if goods >= missing and keeping < freight:
        _add(basket, missing, "so that freight is free")


def keeping_cost(line: Line, carrying_ppm: int) -> Fraction:
    """What it costs to have a line on the shelf earlier than needed, in millionths."""
    early = max(line.outlook.order_in or 0, 0)
    return Fraction(line.choice.option.goods * carrying_ppm * early, WHOLE * DAYS_IN_A_YEAR)


def _add(basket: Basket, missing: int, because: str) -> None:
    """Take what is needed next until so much money is reached."""
    for place, line in enumerate(basket.lines):
        if missing <= 0:
            return
        if line.may_go_along:
            basket.lines[place] = replace(line, taken=True, because=because)
            missing -= line.choice.option.goods


# Drafting


@transaction.atomic
def draft_orders(chosen: Mapping[str, int], *, rules: Rules, signature: Signature) -> list[Order]:
    """Write one draft for each supplier of what was chosen: packs by `Line.key`. All of it or nothing.

    Raises OrderError where an offer no longer stands, or an item got onto a draft meanwhile.
    """
    wanted = {key: packs for key, packs in chosen.items() if packs > 0}
    if not wanted:
        raise OrderError("Tick at least one line.")
    keys = {key: tuple(int(part) for part in key.split(":")) for key in wanted}
    item_ids = {item_id for item_id, _ in keys.values()}
    # Two presses at once stand in line here, so that the second sees the drafts of the first.
    held = Item.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=item_ids).order_by("pk")
    names = {item.pk: item for item in held}
    day = timezone.localtime(signature.happened_at).date()
    of = known.read(day, window=rules.window_days, item_ids=item_ids).of
    lines: dict[Supplier, list[LineRequest]] = {}
    for key, (item_id, source_key) in keys.items():
        item = names.get(item_id)
        source = _source(of[item_id].sources, source_key) if item_id in of else None
        if item is None or source is None or item.no_longer_bought:
            raise OrderError(f"The offer of {item or 'an item'} changed meanwhile. Open the list anew.")
        if of[item_id].drafted:
            raise OrderError(f"{item} is on a draft already. Open the list anew.")
        least = source.quoted.least_packs
        if not least <= wanted[key] <= PACKS_AT_MOST:
            raise OrderError(
                f"Of {item} at least {least} packs can be ordered, and at most {PACKS_AT_MOST:,}."
            )
        if wanted[key] * source.quoted.pack > max(item.plausible_limit, least * source.quoted.pack):
            raise OrderError(
                f"{item.quantity(wanted[key] * source.quoted.pack)} of {item} is more than is expected at once. Check "
                "the packs, or raise the limit on the item's page."
            )
        lines.setdefault(source.supplier, []).append(
            LineRequest(item, wanted[key], source.quoted.pack, source.typed_pack)
        )
    by_name = sorted(lines, key=lambda supplier: supplier.name.lower())
    return [ordering.draft(supplier=each, wanted=lines[each], signature=signature) for each in by_name]


def _source(sources: Iterable[Source], key: int) -> Source | None:
    return next((each for each in sources if each.quoted.key == key), None)
