"""What every product earns in every channel: for a piece, a kilogram of melt and an hour of hands, ranked."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from statistics import median

from django.db.models import Sum

from costing.prices.channels import Market
from costing.prices.pricing import Outcome, PriceError, Terms, minutes_for_hour, outcome, price_for_hour
from costing.standard.product_costs import ProductCost
from inventory.models import Channel, Movement

SOLD_DAYS = 90
Sold = Mapping[tuple[int, int], int]


@dataclass(frozen=True)
class Earning:
    """A product sold in a channel. `sold` is how many left for it lately; None where none did.

    `minutes` a unit might take, and `price` to ask, so that an hour brings what is wanted; None where no figure would.
    """

    product: ProductCost
    channel: Channel
    terms: Terms
    outcome: Outcome
    sold: int | None
    rank: int = 0
    minutes: Fraction | None = None
    price: Fraction | None = None

    @property
    def reaches(self) -> bool:
        """Whether an hour brings what is wanted as things are."""
        return self.minutes is not None and self.minutes >= self.product.cost.minutes


def sold_lately(now: datetime) -> dict[tuple[int, int], int]:
    """How many of each product left for each channel in the last days, by item and channel."""
    rows = (
        Movement.objects.standing()
        .filter(
            kind=Movement.Kind.DISPATCHED,
            posting__happened_at__gt=now - timedelta(days=SOLD_DAYS),
            posting__dispatch__channel__isnull=False,
        )
        .order_by()
        .values_list("lot__item", "posting__dispatch__channel")
        .annotate(sent=Sum("quantity"))
    )
    return {(item, channel): -int(sent) for item, channel, sent in rows}


def earnings(
    products: Sequence[ProductCost], market: Market, sold: Sold, per_hour: int | None
) -> tuple[list[Earning], Fraction | None]:
    """What is asked and earned, the best hour first and what no hour is known of last; and the hour it is held against.

    `per_hour` None holds everything against the middle of what there is.
    """
    found = []
    for each in products:
        for channel in market.channels:
            asked = market.asked(each.item.pk, channel.pk)
            if asked is None:
                continue
            terms = market.terms(channel.pk)
            left = outcome(asked.price, each.cost, terms)
            found.append(Earning(each, channel, terms, left, sold.get((each.item.pk, channel.pk))))
    hours = [each.outcome.per_hour for each in found if each.outcome.per_hour is not None]
    wanted = Fraction(per_hour) if per_hour else Fraction(median(hours)) if hours else None
    found.sort(key=_order)
    return [_held(each, rank, wanted) for rank, each in enumerate(found, 1)], wanted


def _order(each: Earning) -> tuple[bool, Fraction, str, str]:
    hour = each.outcome.per_hour
    return hour is None, -(hour or Fraction(0)), each.product.item.name.lower(), each.channel.name.lower()


def _held(each: Earning, rank: int, wanted: Fraction | None) -> Earning:
    """With its rank, and what time or price would bring what is wanted."""
    minutes = price = None
    if wanted is not None and each.outcome.per_hour is not None:
        minutes = minutes_for_hour(wanted, each.outcome.contribution)
        try:
            price = price_for_hour(wanted, each.product.cost, each.terms)
        except PriceError:
            price = None
    return Earning(each.product, each.channel, each.terms, each.outcome, each.sold, rank, minutes, price)


@dataclass(frozen=True)
class Slow:
    """A product that looks best by one measure and yet earns least for an hour; `earning` is its best channel."""

    earning: Earning
    looks: str


def slow_finish(rows: Sequence[Earning]) -> Slow | None:
    """The product that earns least for an hour, where it sells well or leaves most for a piece; else None.

    It sells well where as much of it left as of the middle one of the others.
    """
    by_item: dict[int, list[Earning]] = {}
    for each in rows:
        if each.outcome.per_hour is not None:
            by_item.setdefault(each.product.item.pk, []).append(each)
    if len(by_item) < 2:
        return None
    worst = min(by_item, key=lambda item: max(each.outcome.per_hour or 0 for each in by_item[item]))
    sold = {item: sum(each.sold or 0 for each in told) for item, told in by_item.items()}
    piece = {item: max(each.outcome.contribution for each in told) for item, told in by_item.items()}
    looks = []
    others = [told for item, told in sold.items() if item != worst]
    if sold[worst] > max(others):
        looks.append("sells most of all")
    elif sold[worst] and sold[worst] >= median(others):
        looks.append("sells well")
    if piece[worst] > max(left for item, left in piece.items() if item != worst):
        looks.append("leaves most of all for a piece")
    if not looks:
        return None
    best = max(by_item[worst], key=lambda each: each.outcome.per_hour or 0)
    return Slow(best, " and ".join(looks))
