"""What is to come of each item: how long it lasts, by when to order, and how much of whom.

One `ReorderForecast` an item, worked out from `facts` and the rules in force; no query of its own. Days are counted
from today, which is 0; quantities are base units.
"""

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from inventory.purchasing.lead_time import LeadTime
from inventory.replenishment import arithmetic
from inventory.replenishment.daily_forecast import STANDS_FOR_DAYS
from inventory.replenishment.facts import Source
from inventory.replenishment.item_forecast import YEAR, Ahead
from inventory.replenishment.quantity import Limits, Option, options
from studio.core.percent import WHOLE

# With little history nobody knows whether it will go on: no more than this is proposed on top of what is needed.
LITTLE_COVER = 91


@dataclass(frozen=True)
class SupplyOption:
    """One way to buy an item, with whom and how long it takes. Ordered today it would be there on `there_on`, None where
    nobody knows; `too_late` where nothing would be left by then."""

    option: Option
    source: Source
    lead: LeadTime | None
    there_on: date | None = None
    too_late: bool = False

    @property
    def packs_words(self) -> str:
        """The packs in words: 2 × 2.5 kg."""
        return f"{self.option.packs} × {self.source.typed_pack}"

    @property
    def alone_too_small(self) -> int:
        """What is missing to the least the supplier takes an order for, in millionths."""
        return max((self.source.supplier.minimum_order or 0) - self.option.goods, 0)


@dataclass
class ReorderForecast(Ahead):
    """One item's outlook: what is ahead of it, and the ways to buy it."""

    @cached_property
    def source(self) -> Source | None:
        """The source the dates are reckoned with: the only one, or that of the order that is proposed.

        How much may be bought, and so of whom, hangs on when it comes, and that on who sends it. Where two suppliers
        hand on to each other, the slower one is taken: its date is the safe one.
        """
        sources = self.known.sources
        if self.given or len({each.supplier.pk for each in sources}) < 2:
            return self.given or (sources[0] if sources else None)
        source = self.source_of(self._options(Limits())[0].key)
        tried: dict[int, Source] = {}
        while source.supplier.pk not in tried:
            tried[source.supplier.pk] = source
            best = replace(self, given=source).best
            if best is None or best.source.supplier == source.supplier:
                return source
            source = best.source
        found = [(lead.mean if (lead := self.lead_of(each)) else 0, -pk, each) for pk, each in tried.items()]
        return max(found, key=lambda each: each[:2])[2]

    def source_of(self, key: int) -> Source:
        """The source an option is of."""
        return next(each for each in self.known.sources if each.quoted.key == key)

    @cached_property
    def limits(self) -> Limits:
        """What the next order must bring at least and may bring at most."""
        day = self.arrives_in
        level = self.level_at(day)
        # Back to the reorder point: with less than that, the next order would have to go out on the same day.
        least = max((self.point or 0) - level, 0) if self.order_in is not None else 0

        def used_in(days: int) -> int:
            return self.forecast.through(day + days) - self.forecast.through(day)

        ends = [(least + used_in(YEAR), "as much as a year uses")]
        if self.leaning_on.is_little:
            ends.append((least + used_in(LITTLE_COVER), "three months' use, as there is little to go by"))
        if life := self.item.shelf_life_days:
            ends.append((max(used_in(life) - level, 0), "as much as will be used before it expires"))
        if room := self.item.room_for:
            ends.append((max(room - max(level, 0), 0), "as much as there is room for"))
        most, because = min(ends)
        return Limits(least, most, because) if self.is_used else Limits()

    def _options(self, limits: Limits) -> list[Option]:
        yearly = self.leaning_on.rate * YEAR
        day = self.arrives_in if limits.most is not None else 0
        cover = limits.least + self.forecast.through(day + STANDS_FOR_DAYS) - self.forecast.through(day)
        return options(
            [each.quoted for each in self.known.sources],
            yearly=yearly,
            order_cost=self.rules.order_cost,
            carrying_ppm=self.rules.carrying_ppm,
            limits=limits,
            cover=cover,
        )

    @cached_property
    def choices(self) -> list[SupplyOption]:
        """Every way to buy it, the best first."""
        if not self.may_be_bought or not self.known.sources or not self.is_used:
            return []
        found = []
        for option in self._options(self.limits):
            source = self.source_of(option.key)
            lead = self.lead_of(source)
            comes_in = lead.days if lead else None
            too_late = comes_in is not None and self.runs_out is not None and comes_in > self.runs_out
            found.append(SupplyOption(option, source, lead, self.on(comes_in), too_late))
        return found

    @property
    def sooner(self) -> SupplyOption | None:
        """Where the proposed order comes after nothing is left: the one that comes first of those that come sooner."""
        best = self.best
        if best is None or not best.too_late or best.lead is None:
            return None
        found = [each for each in self.choices if each.lead and each.lead.days < best.lead.days]
        return min(found, key=lambda each: each.lead.days if each.lead else 0, default=None)

    @property
    def best(self) -> SupplyOption | None:
        """The way to buy it."""
        return self.choices[0] if self.choices else None

    @property
    def economic(self) -> float | None:
        """The economic quantity in base units without packs, breaks or limits, at the price of the best choice."""
        best, cost = self.best, self.rules.order_cost
        yearly = float(self.leaning_on.rate * YEAR)
        if best is None or cost is None or not yearly:
            return None
        price = best.option.price / best.option.pack
        holding = price * self.rules.carrying_ppm / WHOLE
        return arithmetic.economic_quantity(yearly, cost + best.option.freight, holding)
