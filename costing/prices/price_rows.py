"""A product in a channel: what is asked, what is left of it, and what should be asked instead."""

from dataclasses import dataclass
from fractions import Fraction

from costing.model.unit_cost import UnitCost
from costing.models import ChannelTerms
from costing.prices.channels import ListPrice, Market
from costing.prices.pricing import (
    Change,
    Goal,
    Outcome,
    PriceError,
    PricePoints,
    Terms,
    floor_price,
    outcome,
    price_change,
    price_for,
)
from inventory.models import Channel


@dataclass(frozen=True)
class Wish:
    """What a price should do: leave `ppm` as a margin or a markup."""

    goal: Goal
    ppm: int


@dataclass(frozen=True)
class Suggestion:
    """A price that does what was wished: exactly, on a price point, and what is left there. `refusal` says why not."""

    exact: Fraction | None = None
    price: int | None = None
    sold: Outcome | None = None
    refusal: str = ""


@dataclass(frozen=True)
class ChannelPrice:
    """One product in one channel. `asked` and `sold` None where nothing is asked there; `floor` where none is possible."""

    channel: Channel
    row: ChannelTerms | None
    terms: Terms
    asked: ListPrice | None
    sold: Outcome | None
    floor: Fraction | None
    suggestion: Suggestion

    @property
    def is_loss(self) -> bool:
        """Whether nothing is left after everything."""
        return self.sold is not None and self.sold.profit < 0

    def at(self, price: int, cost: UnitCost) -> Outcome:
        """What is left at another price."""
        return outcome(price, cost, self.terms)


def channel_price(
    item_id: int, cost: UnitCost, channel: Channel, market: Market, points: PricePoints, wish: Wish
) -> ChannelPrice:
    """A product in a channel, with what should be asked there."""
    terms = market.terms(channel.pk)
    asked = market.asked(item_id, channel.pk)
    try:
        floor = floor_price(cost.total, terms)
    except PriceError:
        floor = None
    return ChannelPrice(
        channel=channel,
        row=market.rows.get(channel.pk),
        terms=terms,
        asked=asked,
        sold=outcome(asked.price, cost, terms) if asked else None,
        floor=floor,
        suggestion=suggest(cost, terms, points, wish),
    )


def suggest(cost: UnitCost, terms: Terms, points: PricePoints, wish: Wish) -> Suggestion:
    """The price that does what was wished, on a price point."""
    try:
        exact = price_for(wish.goal, wish.ppm, cost.total, terms)
    except PriceError as error:
        return Suggestion(refusal=str(error))
    if exact <= 0:
        return Suggestion(refusal="Nothing costs anything here yet, so no price can be suggested.")
    price = points.put(exact)
    return Suggestion(exact, price, outcome(price, cost, terms))


def raised(before: Outcome, after: Outcome, cost: UnitCost, units: int, *, labour_varies: bool) -> Change:
    """What another price does to the volume that is needed. `labour_varies`: hands are paid by what is made."""
    labour = cost.labour if labour_varies else Fraction(0)
    return price_change(before.contribution - labour, after.contribution - labour, units)
