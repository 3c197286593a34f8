"""When and where to buy what is missing: what is on its way, who offers it, and the last day to order.

How long an order takes is the same as in `inventory.replenishment`, from real deliveries or as stated. But nothing lies on
the shelf that a run could wait with, so the last day to order allows for a delivery that is slow: as slow as all but so
many of a hundred, by the item's service level. Where nobody ever said and nothing was seen, it says so.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from inventory.models import DeliveryLine, Item, Offer, OrderLine, Supplier
from inventory.purchasing import lead_times
from inventory.purchasing.lead_time import LeadTime
from inventory.purchasing.ordering import expected_lines
from inventory.replenishment import rules
from inventory.replenishment.arithmetic import z_of

SUPPLIERS_SHOWN = 3


@dataclass(frozen=True)
class Shortage:
    """So many base units of an item that are missing on a day."""

    item: Item
    quantity: int
    needed_on: date


@dataclass(frozen=True)
class Source:
    """A supplier of what is missing. `lead` None: nobody said and nothing was seen; `allowed_days` is it with its spread.

    `order_by` is the last day to order; ordered today it is there about `there_on`.
    """

    supplier: Supplier
    offer: Offer | None
    lead: LeadTime | None
    allowed_days: int | None = None
    order_by: date | None = None
    there_on: date | None = None
    missed: bool = False  # the last day to order has passed


@dataclass(frozen=True)
class Advice:
    """What to do about one thing that is missing.

    `coming` are lines of sent orders still to come, the first first; `covered_on` the day they cover what is missing.
    """

    missing: Shortage
    coming: list[OrderLine] = field(default_factory=list)
    covered_on: date | None = None
    sources: list[Source] = field(default_factory=list)

    @property
    def comes_in_time(self) -> bool:
        """Whether what is on order covers it by the day."""
        return self.covered_on is not None and self.covered_on <= self.missing.needed_on

    @property
    def words(self) -> str:
        """The one thing to do, in a sentence without its end."""
        if self.missing.item.made_here:
            return "Made here: plan a run of it first"
        if self.comes_in_time and self.covered_on:
            return f"On order: comes {_day(self.covered_on)}"
        best = next(iter(self.sources), None)
        if best and best.order_by and not best.missed:
            return f"Order by {_day(best.order_by)} from {best.supplier}"
        if best and best.there_on and best.there_on <= self.missing.needed_on:
            return f"Order today from {best.supplier}: comes about {_day(best.there_on)}, in time unless it is slow"
        if self.covered_on:
            return f"On order, but comes {_day(self.covered_on)}: move the run"
        if best is None:
            return "No supplier of it is on record"
        if best.there_on is None:
            return f"Order from {best.supplier}; no lead time is on record"
        return f"Ordered today it comes about {_day(best.there_on)}: move the run"


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def advice(missing: Iterable[Shortage], *, on: date) -> dict[int, Advice]:
    """What to do about each, by item; a handful of queries for any number."""
    wanted = {each.item.pk: each for each in missing}
    if not wanted:
        return {}
    bought = {pk for pk, each in wanted.items() if not each.item.made_here}
    coming = expected_lines(bought)
    sources = _sources(bought, wanted, on)
    found = {}
    for pk, each in wanted.items():
        lines = coming.get(pk, [])
        found[pk] = Advice(each, lines, _covered_on(each.quantity, lines, on), sources.get(pk, []))
    return found


def _covered_on(quantity: int, lines: Iterable[OrderLine], on: date) -> date | None:
    """The day on which lines still to come cover a quantity; a day that has passed or is not known tells nothing."""
    for line in lines:
        day = line.order.expected_on
        if day is None or day < on:
            continue
        quantity -= line.outstanding
        if quantity <= 0:
            return day
    return None


def _sources(items: set[int], wanted: Mapping[int, Shortage], on: date) -> dict[int, list[Source]]:
    """Who sells these, the soonest first: by a standing offer, else who delivered it before."""
    offers: dict[tuple[int, int], Offer] = {}
    standing = Offer.objects.standing(on).filter(item__in=items).select_related("supplier")
    for offer in standing.order_by("pk"):
        key = (offer.item_id, offer.supplier_id)
        if key not in offers or _stated(offer) < _stated(offers[key]):
            offers[key] = offer
    suppliers: dict[tuple[int, int], tuple[Supplier, Offer | None]] = {
        key: (offer.supplier, offer) for key, offer in offers.items()
    }
    before = DeliveryLine.objects.filter(item__in=items, delivery__posting__reversal__isnull=True)
    pairs = set(before.order_by().values_list("item", "delivery__supplier").distinct())
    sold = Supplier.objects.filter(deliveries__lines__item__in=items)
    known = {supplier.pk: supplier for supplier in sold.distinct()}
    for item_id, supplier_id in sorted(pairs - suppliers.keys()):
        suppliers[item_id, supplier_id] = (known[supplier_id], None)
    known_leads, in_force = lead_times.read(on), rules.in_force()
    found: dict[int, list[Source]] = {}
    for (item_id, _), (supplier, by_offer) in suppliers.items():
        lead = known_leads.lead_of(item_id, supplier, by_offer.lead_days if by_offer else None)
        each = wanted[item_id]
        z = z_of(each.item.service_ppm or in_force.service_ppm)
        found.setdefault(item_id, []).append(_source(supplier, by_offer, lead, z, each.needed_on, on))
    for sources in found.values():
        sources.sort(
            key=lambda source: (source.there_on or date.max, source.offer is None, source.supplier.pk)
        )
        del sources[SUPPLIERS_SHOWN:]
    return found


def _stated(offer: Offer) -> int:
    lead = offer.lead_days if offer.lead_days is not None else offer.supplier.lead_days
    return 10**6 if lead is None else lead


def _source(
    supplier: Supplier, offer: Offer | None, lead: LeadTime | None, z: float, needed_on: date, on: date
) -> Source:
    if lead is None:
        return Source(supplier, offer, None)
    allowed = lead.within(z)
    order_by = needed_on - timedelta(days=allowed)
    there_on = on + timedelta(days=lead.days)
    return Source(supplier, offer, lead, allowed, order_by, there_on, missed=order_by < on)
