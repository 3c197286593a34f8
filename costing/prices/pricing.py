"""What to charge: from a unit's cost and a channel's terms to a price, and from a price back to what is left of it.

Money is in millionths of the currency as exact fractions; rates are parts per million. Nothing here reads the database
or the clock, and nothing is rounded except where a price is put on a price point.

The net price n is what the studio keeps of a sale before its fees: without tax and after discounts. A margin is a share
of n, a markup a share of the cost; the same 30 % is 13.00 as a markup on 10.00 and 14.29 as a margin.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import ceil, floor

from costing.model.unit_cost import UnitCost
from studio.core.percent import WHOLE, format_percent

Money = Fraction | int


class PriceError(ValueError):
    """No price can do what was asked. `str()` is a sentence for a person."""


class Tax(StrEnum):
    """Where sales tax or VAT stands."""

    NONE = "none"
    INSIDE = "inside"  # the price on the tag holds it
    ADDED = "added"  # it comes on top of the price on the tag


class Goal(StrEnum):
    """What a percentage is a share of: the price, or the cost."""

    MARGIN = "margin"
    MARKUP = "markup"


@dataclass(frozen=True)
class Terms:
    """What selling in a channel takes.

    `percent_ppm` of the sale, of what is paid with tax where `fee_on_tax`; `fixed` and `shipping` for each order (or
    market day) of `units` pieces. `discount_ppm` is taken off the price asked for `discounted_ppm` of what is sold.
    """

    percent_ppm: int = 0
    fixed: int = 0
    shipping: int = 0
    units: Fraction = Fraction(1)
    tax: Tax = Tax.NONE
    tax_ppm: int = 0
    fee_on_tax: bool = True
    discount_ppm: int = 0
    discounted_ppm: int = WHOLE

    @property
    def tax_rate(self) -> Fraction:
        """Tax as a plain ratio of the net price."""
        return Fraction(0) if self.tax is Tax.NONE else Fraction(self.tax_ppm, WHOLE)

    @property
    def fee_rate(self) -> Fraction:
        """Percentage fees as a plain ratio of the net price."""
        return Fraction(self.percent_ppm, WHOLE) * (1 + (self.tax_rate if self.fee_on_tax else 0))

    @property
    def fixed_each(self) -> Fraction:
        """Fixed fees and shipping that one unit bears."""
        return Fraction(self.fixed + self.shipping) / self.units

    @property
    def kept_of_asked(self) -> Fraction:
        """The net price as a plain ratio of the price asked: less discounts, less the tax that is in it."""
        after_discount = 1 - Fraction(self.discount_ppm * self.discounted_ppm, WHOLE**2)
        return after_discount / (1 + (self.tax_rate if self.tax is Tax.INSIDE else 0))

    def net(self, asked: Money) -> Fraction:
        """What is kept of a price asked, before fees."""
        return asked * self.kept_of_asked

    def asked(self, net: Money) -> Fraction:
        """The price to ask so that `net` is kept. Raises PriceError where discounts leave nothing of it."""
        if not self.kept_of_asked:
            raise PriceError("A discount of 100 % on everything leaves nothing of any price.")
        return net / self.kept_of_asked


@dataclass(frozen=True)
class Outcome:
    """What becomes of one unit sold at `asked`; millionths, ratios plain, None where nothing can be divided by.

    `paid` is what the customer pays on average, `tax` the part that is handed on, `net` what is kept before `fees`.
    `contribution` is net less fees less material: what is left to pay hands, roof and profit. `profit` is after all.
    """

    asked: Fraction
    paid: Fraction
    tax: Fraction
    net: Fraction
    fees: Fraction
    contribution: Fraction
    profit: Fraction
    margin: Fraction | None
    markup: Fraction | None
    per_hour: Fraction | None
    per_kg: Fraction | None


def outcome(asked: Money, cost: UnitCost, terms: Terms) -> Outcome:
    """What is left of a price, and what that is for each hands-on hour and each kilogram of melt."""
    net = terms.net(asked)
    tax = net * terms.tax_rate
    fees = net * terms.fee_rate + terms.fixed_each
    contribution = net - fees - cost.material
    profit = contribution - cost.labour - cost.overhead
    return Outcome(
        asked=Fraction(asked),
        paid=net + tax,
        tax=tax,
        net=net,
        fees=fees,
        contribution=contribution,
        profit=profit,
        margin=profit / net if net else None,
        markup=profit / cost.total if cost.total else None,
        per_hour=contribution * 60 / cost.minutes if cost.minutes else None,
        per_kg=contribution * 10**9 / cost.melt_ug if cost.melt_ug else None,
    )


def price_for(goal: Goal, ppm: int, cost: Money, terms: Terms) -> Fraction:
    """The price to ask, unrounded, so that `ppm` of the net price (margin) or of the cost (markup) is left.

    p = (unit cost + fixed fees) / (1 − margin − percentage fees), or (unit cost × (1 + markup) + fixed fees) /
    (1 − percentage fees). Raises PriceError when margin and fees leave nothing to pay the cost with.
    """
    share = Fraction(ppm, WHOLE) if goal is Goal.MARGIN else Fraction(0)
    left = 1 - share - terms.fee_rate
    if left <= 0:
        fees = format_percent(terms.fee_rate * WHOLE)
        if goal is Goal.MARGIN and ppm:
            raise PriceError(
                f"A margin of {format_percent(ppm)} and fees of {fees} leave nothing to pay the candle with. "
                "Together they must stay below 100 %."
            )
        raise PriceError(f"Fees of {fees} leave nothing to pay the candle with. They must stay below 100 %.")
    wanted = cost * (1 + Fraction(ppm, WHOLE)) if goal is Goal.MARKUP else Fraction(cost)
    return terms.asked((wanted + terms.fixed_each) / left)


def floor_price(cost: Money, terms: Terms) -> Fraction:
    """The price at which nothing is left and nothing is lost: a margin of zero. Raises PriceError."""
    return price_for(Goal.MARGIN, 0, cost, terms)


def price_for_hour(per_hour: Money, cost: UnitCost, terms: Terms) -> Fraction:
    """The price to ask so that each hands-on hour contributes `per_hour`. Raises PriceError."""
    return floor_price(cost.material + per_hour * cost.minutes / 60, terms)


def minutes_for_hour(per_hour: Money, contribution: Money) -> Fraction | None:
    """How many hands-on minutes a unit may take so that an hour contributes `per_hour`; None where none can."""
    return Fraction(contribution) * 60 / per_hour if per_hour > 0 and contribution > 0 else None


@dataclass(frozen=True)
class BreakEven:
    """How many units pay a fixed sum, and what they bring in."""

    units: int
    sales: Fraction


def break_even(fixed: Money, contribution: Money, net: Money) -> BreakEven | None:
    """The fewest units whose contribution covers `fixed`; None when a unit contributes nothing."""
    if contribution <= 0:
        return None
    units = ceil(Fraction(fixed) / contribution)
    return BreakEven(units, units * Fraction(net))


@dataclass(frozen=True)
class Change:
    """What another price does: the volume, a plain ratio of today's, that earns the same as today.

    `units` of today's `of` must still be sold. None where today's or the new unit contributes nothing.
    """

    volume: Fraction | None
    of: int
    units: int | None

    @property
    def may_lose(self) -> Fraction | None:
        """The share of today's volume that may be lost; below zero where more has to be sold."""
        return None if self.volume is None else 1 - self.volume


def price_change(before: Money, after: Money, units: int) -> Change:
    """From contribution `before` to contribution `after` of a unit, at `units` sold today."""
    if before <= 0 or after <= 0:
        return Change(None, units, None)
    volume = Fraction(before) / after
    return Change(volume, units, ceil(volume * units))


class Way(StrEnum):
    """How a suggested price is put on a price point."""

    NONE = "none"
    UP = "up"
    NEAREST = "nearest"


@dataclass(frozen=True)
class PricePoints:
    """The prices a studio asks: multiples of `step` plus one of `endings`, both in millionths."""

    way: Way = Way.NONE
    step: int = 1_000_000
    endings: Sequence[int] = (0,)
    places: int = 2

    def put(self, price: Money) -> int:
        """The price point for a price above zero: the next one up, or the nearest, of two equally near the higher.

        Without price points the price is rounded up to the smallest coin, so that it never earns less than asked for.
        """
        if self.way is Way.NONE:
            coin: int = 10 ** (6 - self.places)
            return ceil(Fraction(price) / coin) * coin
        base = floor(Fraction(price) / self.step)
        found = [(base + around) * self.step + ending for around in (-1, 0, 1) for ending in self.endings]
        points = sorted(point for point in found if point > 0)
        if self.way is Way.UP:
            return next(point for point in points if point >= price)
        return min(points, key=lambda point: (abs(point - price), -point))
