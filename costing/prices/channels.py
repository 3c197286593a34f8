"""Channels: what selling takes from which day on, and what is asked. What was set is never rewritten."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from django.db import transaction

from costing.models import AskedPrice, ChannelTerms, PriceRounding
from costing.prices.pricing import PricePoints, Tax, Terms, Way
from inventory.customers.customers import channel_named
from inventory.models import Channel, Item
from studio.core.money import CURRENCIES
from studio.core.percent import WHOLE
from studio.models import User

NO_TERMS = Terms()


def terms_of(row: ChannelTerms) -> Terms:
    """Kept terms as plain figures for the arithmetic."""
    return Terms(
        percent_ppm=row.percent_ppm,
        fixed=row.fixed_micros,
        shipping=row.shipping_micros,
        units=Fraction(row.units_milli, 1000),
        tax=Tax(row.tax),
        tax_ppm=row.tax_ppm,
        fee_on_tax=row.fee_on_tax,
        discount_ppm=row.discount_ppm,
        discounted_ppm=row.discounted_ppm,
    )


@dataclass(frozen=True)
class ListPrice:
    """What is asked for a product in a channel on a day, in millionths; `row` None where it follows another price.

    `since` is the day from which it is asked: of a price that follows another, the last on which anything was set that
    it is worked out from.
    """

    price: int
    since: date
    row: AskedPrice | None = None


@dataclass(frozen=True)
class Market:
    """The channels whose terms hold on a day, and what is asked in each; read once for a page."""

    channels: list[Channel]
    rows: Mapping[int, ChannelTerms]
    prices: Mapping[tuple[int, int], AskedPrice] = field(default_factory=dict)

    @classmethod
    def on(cls, day: date, items: Iterable[int] | None = None) -> "Market":
        """As it stands on a day, in two queries; prices of some items, or of all."""
        rows: dict[int, ChannelTerms] = {}
        for row in ChannelTerms.objects.filter(from_on__lte=day).select_related("share_of", "channel"):
            rows.setdefault(row.channel_id, row)
        sold_in = [row.channel for row in rows.values() if not row.channel.retired]
        channels = sorted(sold_in, key=lambda channel: channel.name.lower())
        asked = AskedPrice.objects.filter(from_on__lte=day)
        if items is not None:
            asked = asked.filter(item__in=list(items))
        prices: dict[tuple[int, int], AskedPrice] = {}
        for price in asked.select_related("set_by"):
            prices.setdefault((price.item_id, price.channel_id), price)
        return cls(channels, rows, prices)

    def terms(self, channel_id: int) -> Terms:
        """What selling in a channel takes; nothing where nobody said."""
        row = self.rows.get(channel_id)
        return terms_of(row) if row else NO_TERMS

    def asked(self, item_id: int, channel_id: int) -> ListPrice | None:
        """What is asked for an item in a channel: the price entered there, or else its share of another channel's.

        The share is of that price without the tax in it. None where nothing is asked, or it is no longer sold there.
        """
        kept = self.prices.get((item_id, channel_id))
        if kept is not None:
            return ListPrice(kept.price_micros, kept.from_on, kept) if kept.price_micros is not None else None
        row = self.rows.get(channel_id)
        if row is None or row.share_of_id is None or row.share_ppm is None:
            return None
        other = self.prices.get((item_id, row.share_of_id))
        if other is None or other.price_micros is None:
            return None
        retail = self.terms(row.share_of_id)
        before_tax = other.price_micros / (1 + (retail.tax_rate if retail.tax is Tax.INSIDE else 0))
        set_on = [row.from_on, other.from_on]
        if row.share_of_id in self.rows:
            set_on.append(self.rows[row.share_of_id].from_on)
        return ListPrice(round(Fraction(before_tax) * row.share_ppm / WHOLE), max(set_on))


def price_points(currency: str) -> PricePoints:
    """The studio's price points; the smallest coin where it has none."""
    places = CURRENCIES[currency].places if currency in CURRENCIES else 2
    kept = PriceRounding.objects.first()
    if kept is None:
        return PricePoints(places=places)
    return PricePoints(Way(kept.way), kept.step_micros, tuple(kept.endings) or (0,), places)


@transaction.atomic
def set_price_points(*, way: str, step_micros: int, endings: Iterable[int]) -> PriceRounding:
    """Say which prices this studio asks; `endings` in millionths, each below the step."""
    kept, _ = PriceRounding.objects.update_or_create(
        pk=1, defaults={"way": way, "step_micros": step_micros, "endings": sorted(set(endings))}
    )
    return kept


@transaction.atomic
def open_channel(*, name: str, terms: Mapping[str, Any], by: User, now: datetime) -> Channel:
    """Begin to sell somewhere, on these terms; a channel that goods left by already is the same one."""
    channel = channel_named(name)
    if channel is None:
        raise ValueError("A channel needs a name.")
    set_terms(channel, terms=terms, by=by, now=now)
    return channel


def set_terms(channel: Channel, *, terms: Mapping[str, Any], by: User, now: datetime) -> ChannelTerms:
    """Say what selling in a channel takes from a day on; what held before stays for the days before."""
    return ChannelTerms.objects.create(channel=channel, **terms, set_by=by, set_at=now)


def ask(
    *,
    item: Item,
    channel: Channel,
    price_micros: int | None,
    from_on: date,
    by: User,
    now: datetime,
    note: str = "",
) -> AskedPrice:
    """Ask a price for a product in a channel from a day on; None ends it there."""
    return AskedPrice.objects.create(
        item=item,
        channel=channel,
        price_micros=price_micros,
        from_on=from_on,
        note=note,
        set_by=by,
        set_at=now,
    )
