"""What is to come of one item, given from whom it is bought: how long it lasts, and by when to order.

Days are counted from today, which is 0; quantities are base units. How much, and of whom, is `outlook`.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from inventory.models import Item, Kind
from inventory.purchasing.lead_time import LeadTime, lead_time
from inventory.replenishment import arithmetic, demand, projection
from inventory.replenishment.daily_forecast import STANDS_FOR_DAYS, Forecast, Requirement, forecast
from inventory.replenishment.facts import Coming, ItemFacts, Source
from inventory.replenishment.rules import Rules

# An order that should have come is taken to come tomorrow.
LATE_ORDER_COMES = 1
# A year of `forecast`; more than that in one order is money asleep.
YEAR = arithmetic.DAYS_IN_A_YEAR


@dataclass
class Ahead:
    """What is ahead of one item on `day`. `then` is the mean rate that takes over on a day, when an item this one takes
    the place of has run out."""

    known: ItemFacts
    day: date
    rules: Rules
    took: Mapping[int, list[int]]
    past: demand.Demand
    then: tuple[int, demand.Demand] | None = None
    # What may take its place while it is still bought.
    other: "Ahead | None" = None
    # The source to reckon with, where it is not to be chosen.
    given: Source | None = None

    @property
    def item(self) -> Item:
        """The item."""
        return self.known.item

    @property
    def is_bought(self) -> bool:
        """Whether it comes from suppliers at all."""
        return self.item.kind != Kind.FINISHED and not self.item.made_here

    @property
    def may_be_bought(self) -> bool:
        """Whether it is still to be bought."""
        return self.is_bought and not self.item.no_longer_bought

    @property
    def service_ppm(self) -> int:
        """The service level tried out, else the item's own, else the studio's."""
        return self.rules.tried_ppm or self.item.service_ppm or self.rules.service_ppm

    @property
    def z(self) -> float:
        """Standard deviations of safety."""
        return arithmetic.z_of(self.service_ppm)

    @cached_property
    def leaning_on(self) -> demand.Demand:
        """The demand the reorder point rests on: with that of an item it takes the place of."""
        return self.then[1] if self.then else self.past

    @cached_property
    def forecast(self) -> Forecast:
        """Use from today to the horizon."""
        return self._use(self.known.wanted)

    def _use(self, wanted: Iterable[Requirement]) -> Forecast:
        then = (self.then[0], self.then[1].rate) if self.then else None
        used_today = self.known.used.get(self.day.toordinal(), 0)
        return forecast(self.past, wanted, last=self.horizon, then=then, used_today=used_today)

    @cached_property
    def horizon(self) -> int:
        """How many days are told: those of the rules, or, where a delivery takes as long, four weeks more than that."""
        leads = [lead.days for each in self.known.sources if (lead := self.lead_of(each))]
        return max(self.rules.horizon_days, max(leads, default=0) + demand.FOUR_WEEKS)

    # From whom, and how long it takes

    @cached_property
    def source(self) -> Source | None:
        """The source the dates are reckoned with: the given one, else the first there is."""
        return self.given or next(iter(self.known.sources), None)

    @cached_property
    def lead(self) -> LeadTime | None:
        """How long the source takes; None where nothing is known."""
        return self.lead_of(self.source) if self.source else None

    def lead_of(self, source: Source) -> LeadTime | None:
        """How long a source takes, from real deliveries or as stated."""
        supplier = source.supplier
        return lead_time(
            of_item=self.known.took.get(supplier.pk, ()),
            of_supplier=self.took.get(supplier.pk, ()),
            offer_says=source.lead_days,
            supplier_says=supplier.lead_days,
        )

    # Levels and days

    def spread_of(self, found: demand.Demand) -> float:
        """The standard deviation of what is used of a demand while one waits for a delivery, base units."""
        lead = self.lead
        if lead is None:
            return 0.0
        return arithmetic.spread_over(found.spread_now, found.now, lead.mean, lead.sd)

    def level_of(self, found: demand.Demand) -> float:
        """The reorder point for a demand, where a lead time is known."""
        lead = self.lead
        if lead is None:
            return 0.0
        told = {"demand": found.now, "demand_sd": found.spread_now, "lead": lead.mean, "lead_sd": lead.sd}
        if found.is_lumpy:
            return arithmetic.lumpy_reorder_point(self.z, **told, below=found.below, below_sd=found.below_sd)
        return arithmetic.reorder_point(self.z, **told)

    def keep_of(self, found: demand.Demand) -> int:
        """The safety stock for a demand in base units, rounded up: what the reorder point holds beyond the mean."""
        waiting = found.now * self.lead.mean if self.lead else 0.0
        return max(arithmetic.up(self.level_of(found) - waiting), 0)

    @cached_property
    def spread(self) -> float:
        """The standard deviation of what is used while one waits for a delivery, base units."""
        return self.spread_of(self.leaning_on)

    @cached_property
    def keep(self) -> int:
        """The safety stock in base units, rounded up."""
        return self.keep_of(self.leaning_on)

    @cached_property
    def point(self) -> int | None:
        """The reorder point in base units, rounded up; None without a lead time."""
        if self.lead is None:
            return None
        return max(arithmetic.up(self.level_of(self.leaning_on)), 0)

    def comes_on(self, coming: Coming) -> int | None:
        """The day from today on which an order is reckoned to come; None where nobody knows."""
        when = coming.expected_on
        if when is None:
            source = next(
                (each for each in self.known.sources if each.supplier.pk == coming.supplier_id), None
            )
            lead = self.lead_of(source) if source else None
            if lead is None or coming.sent_on is None:
                return None
            when = coming.sent_on + timedelta(days=lead.days)
        days = (when - self.day).days
        return days if days >= 0 else LATE_ORDER_COMES

    @cached_property
    def coming(self) -> dict[int, int]:
        """What is reckoned to come, by day."""
        found: dict[int, int] = {}
        for each in self.known.coming:
            day = self.comes_on(each)
            if day is not None:
                found[day] = found.get(day, 0) + each.quantity
        return found

    @cached_property
    def levels(self) -> projection.Projection:
        """The level day by day, without any order that is not sent yet."""
        return projection.project(
            self.known.shelf, self.forecast, self.coming, keeps_days=self.item.shelf_life_days
        )

    @cached_property
    def cover(self) -> int | None:
        """Days until what may be used today is used up or gone off, nothing more coming; None where nothing is used."""
        usable = self.known.usable
        if not usable:
            first = self.forecast.day_of(1)
            return None if first is None else max(first - 1, 0)
        # Where nothing was used today yet, today is one of the days it lasts.
        ahead = int(not self.known.used.get(self.day.toordinal()) and self.forecast.usual[0] > 0)
        if any(each.until is not None and each.until < self.forecast.last for each in self.known.shelf):
            alone = projection.project(self.known.shelf, self.forecast, {})
            gone = projection.first_below(alone.levels, 1)
            if gone is not None and self.is_used:
                return gone if alone.expired[gone] else gone + ahead
        last = self.forecast.day_of(usable)
        return None if last is None else last + ahead

    @property
    def a_year(self) -> int:
        """What a year from now will use."""
        return self.forecast.through(YEAR) - self.forecast.usual[0]

    @property
    def is_used(self) -> bool:
        """Whether any use is to be expected."""
        return bool(self.forecast.total[-1] or self.forecast.after)

    @cached_property
    def runs_out(self) -> int | None:
        """The day nothing is left, with what is on order; None when not before the horizon."""
        return projection.runs_out(self.levels.levels, self.forecast) if self.is_used else None

    @cached_property
    def crosses(self) -> int | None:
        """The day on which what is there and on order, added up, comes down to the reorder point."""
        if self.point is None or not self.is_used or self.then:
            return None
        late = sum(each.quantity for each in self.known.coming) - sum(self.levels.arrived)
        position = [level + late for level in self.levels.levels]
        still = 0
        for day in range(len(position) - 1, -1, -1):
            position[day] += still
            still += self.levels.arrived[day]
        return next((day for day, level in enumerate(position) if level <= self.point), None)

    @cached_property
    def order_in(self) -> int | None:
        """The last day to order, from today; below zero: that many days ago. None: not within the horizon, or unknown."""
        if self.lead is None or not self.may_be_bought or not self.is_used:
            return None
        levels = self.levels.levels
        if self.then:
            # Until another item's use comes on top, its own safety stock is enough.
            spare = self.keep - self.keep_of(self.past)
            levels = [level + spare * (day < self.then[0]) for day, level in enumerate(levels)]
        return projection.last_day_to_order(levels, self.keep, self.lead.mean)

    @property
    def is_below_safety(self) -> bool:
        """Whether less than the safety stock is left today: the last day to order was then, or before it."""
        return self.lead is not None and self.order_in is not None and -self.order_in >= int(self.lead.mean)

    @property
    def arrives_in(self) -> int:
        """The day on which an order sent in time would come."""
        begins = max(self.order_in, 0) if self.order_in is not None else self.forecast.last
        return begins + (self.lead.days if self.lead else 0)

    def on(self, day: int | None) -> date | None:
        """A day counted from today as a date."""
        return None if day is None else self.day + timedelta(days=day)

    @property
    def order_by(self) -> date | None:
        """The last day to order."""
        return self.on(self.order_in)

    def level_at(self, day: int) -> int:
        """The level at the end of a day, also of one beyond the horizon."""
        beyond = self.forecast.through(day) - self.forecast.through(self.forecast.last)
        return self.levels.at(day) - max(beyond, 0)

    def up_to(self, review_days: int) -> int | None:
        """What to fill up to when orders are placed only every so many days; None without a lead time."""
        if self.lead is None:
            return None
        found, days = self.leaning_on, review_days + self.lead.mean
        if found.is_lumpy:
            # What is used between two fixed days is in it already, so nothing goes below unseen.
            spread = arithmetic.spread_over(found.spread_now, found.now, days)
            level = arithmetic.skewed(self.z, found.now * days, spread)
        else:
            level = arithmetic.order_up_to(
                self.z, demand=found.now, demand_sd=found.spread_now, review=review_days, lead=self.lead.mean
            )
        return max(arithmetic.up(level), 0) + self.beyond_usual(review_days + self.lead.days)

    def beyond_usual(self, days: int) -> int:
        """What plans want in so many days from now beyond the use that is usual in them."""
        return max(self.forecast.through(days) - self._use(()).through(days), 0)

    @property
    def to_spare(self) -> int:
        """What is there beyond its own use and safety stock until an order of today would come."""
        until = self.lead.days if self.lead else STANDS_FOR_DAYS
        return max(min(self.levels.levels[: until + 1]) - self.keep, 0)

    # What goes off

    @cached_property
    def goes_off(self) -> list[tuple[date, int]]:
        """What expires before it will be used, by its last good day: first to expire, first used."""
        found, there, lost = [], 0, 0
        for last in sorted(self.known.expires):
            there += self.known.expires[last]
            left = there - lost - self.forecast.through((last - self.day).days)
            if left > 0:
                found.append((last, left))
                lost += left
        return found

    # As pages show it

    @property
    def day_out(self) -> date | None:
        """The day nothing is left."""
        return self.on(self.runs_out)

    @property
    def day_crossed(self) -> date | None:
        """The day the reorder point is reached."""
        return self.on(self.crosses)

    @property
    def mean_a_day(self) -> int:
        """Mean use of a day, rounded up."""
        return arithmetic.up(self.past.mean)

    @property
    def expected_a_day(self) -> int:
        """What is expected of a day now, rounded up."""
        return arithmetic.up(self.past.now)

    @property
    def spread_a_day(self) -> int:
        """The spread of a day's use, rounded up."""
        return arithmetic.up(self.past.sd)

    @property
    def below(self) -> int:
        """By how much one day's use takes the level below the reorder point on average, where it comes in lumps."""
        return arithmetic.up(self.leaning_on.below)

    @property
    def spread_waiting(self) -> int:
        """The spread of use while one waits, rounded up."""
        return arithmetic.up(self.spread)
