"""Offers as tables show them: where each stands on a day, and how old it is."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models.functions import Lower

from inventory.models import Offer


@dataclass(frozen=True)
class OfferRow:
    """An offer as a table shows it: where it stands, as a tone and a word, and how old it is."""

    offer: Offer
    tone: str
    word: str
    age: str

    @property
    def stands(self) -> bool:
        """Whether it may be ordered by."""
        return self.tone == "good"


def age_words(then: date, on: date) -> str:
    """How long ago a day is: "today", "12 days ago", "5 months ago"."""
    days = (on - then).days
    if days < 1:
        return "today"
    if days < 60:
        return "yesterday" if days == 1 else f"{days} days ago"
    # 30.44 days, the mean month of the calendar.
    return f"{days * 100 // 3044} months ago"


def offer_rows(offers: Iterable[Offer], on: date) -> list[OfferRow]:
    """The offers with where each stands on a day; one query more, for any number."""
    offers = list(offers)
    standing = set(
        Offer.objects.standing(on).filter(pk__in=[offer.pk for offer in offers]).values_list("pk", flat=True)
    )
    return [
        OfferRow(offer, *_words(offer, offer.pk in standing, on), age_words(offer.quoted_on, on))
        for offer in offers
    ]


def _words(offer: Offer, standing: bool, on: date) -> tuple[str, str]:
    if offer.withdrawn:
        return "plain", "Withdrawn"
    if standing:
        return "good", "Current"
    return "plain", "Over" if offer.valid_until and offer.valid_until < on else "Replaced"


def standing_offers(on: date, **of: Any) -> list[OfferRow]:
    """The offers that may be ordered by on a day, of one item or one supplier, by pack size."""
    offers = (
        Offer.objects.standing(on).filter(**of).select_related("item", "supplier").prefetch_related("breaks")
    )
    ordered = offers.order_by(Lower("item__name"), "pack_quantity", Lower("supplier__name"), "pk")
    return [OfferRow(offer, "good", "Current", age_words(offer.quoted_on, on)) for offer in ordered]
