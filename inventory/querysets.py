"""The questions asked of stock, each a queryset that composes with the others."""

from datetime import date, datetime
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from inventory.models import Item, LateCost, Lot, Movement, PeriodCost, Posting  # noqa: F401


class ItemQuerySet(models.QuerySet["Item"]):
    """Questions about items."""

    def current(self) -> "ItemQuerySet":
        """Items still offered in forms."""
        return self.filter(retired=False)

    def materials(self) -> "ItemQuerySet":
        """Everything a batch may draw: all but finished goods."""
        return self.exclude(kind="finished")


class LotQuerySet(models.QuerySet["Lot"]):
    """Questions about lots."""

    def on_shelf(self) -> "LotQuerySet":
        """Lots with something left in them."""
        return self.filter(on_hand__gt=0)

    def usable(self, on: date) -> "LotQuerySet":
        """Lots that may be used on a day: neither held nor past their expiry."""
        return self.filter(Q(expires_on__isnull=True) | Q(expires_on__gte=on), held=False)

    def expiring(self, by: date) -> "LotQuerySet":
        """Lots with something left that expire on or before a day."""
        return self.on_shelf().filter(expires_on__lte=by)

    def first_to_expire(self) -> "LotQuerySet":
        """In the order the shelf should be used up: expiry, then arrival."""
        return self.order_by(models.F("expires_on").asc(nulls_last=True), "arrived_at", "pk")


class PostingQuerySet(models.QuerySet["Posting"]):
    """Questions about postings."""

    def standing(self) -> "PostingQuerySet":
        """Postings that were not reversed and are no reversal."""
        return self.filter(reversal__isnull=True, reverses__isnull=True)

    def to_review(self) -> "PostingQuerySet":
        """Standing postings that booked stock as found along with something else, and that nobody has looked at yet."""
        return (
            self.standing()
            .exclude(kind="found")
            .filter(movements__kind="found", review__isnull=True)
            .distinct()
        )


class MovementQuerySet(models.QuerySet["Movement"]):
    """Questions about movements."""

    def standing(self) -> "MovementQuerySet":
        """Movements of postings that were not reversed and are no reversal."""
        return self.filter(posting__reversal__isnull=True, posting__reverses__isnull=True)

    def in_order(self) -> "MovementQuerySet":
        """As things happened: by the event's time, then as recorded."""
        return self.order_by("posting__happened_at", "posting_id", "pk")


class LateCostQuerySet(models.QuerySet["LateCost"]):
    """Questions about costs billed after their delivery."""

    def with_shares(self) -> "LateCostQuerySet":
        """With the posting and the lots its lines and costs of the period are about, in a few queries for any number."""
        return self.select_related("posting__by", "posting__reversal__by").prefetch_related(
            "posting__movements__lot__item", "posting__period_costs__lot__item"
        )


class PeriodCostQuerySet(models.QuerySet["PeriodCost"]):
    """Questions about costs of the period."""

    def between(self, first: datetime, end: datetime) -> "PeriodCostQuerySet":
        """Those that happened at or after `first` and before `end`; a reversal counts when what it reverses happened."""
        return self.filter(posting__happened_at__gte=first, posting__happened_at__lt=end)

    def with_causes(self) -> "PeriodCostQuerySet":
        """With the lot and what led to the cost, in the same query."""
        return self.select_related(
            "lot__item", "posting__late_cost__delivery", "posting__reverses__late_cost__delivery"
        )
