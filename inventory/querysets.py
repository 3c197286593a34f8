"""The questions asked of stock, each a queryset that composes with the others."""

from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models import BigIntegerField, Exists, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce, Lower

if TYPE_CHECKING:
    from inventory.models import (  # noqa: F401
        Count,
        CountLine,
        Dispatch,
        Document,
        Item,
        LateCost,
        Lot,
        Movement,
        Offer,
        OneOff,
        Order,
        OrderLine,
        PeriodCost,
        Posting,
    )


def sum_of(rows: QuerySet[Any], field: str, *, of: str = "item") -> Coalesce:
    """The sum of `field` over rows of the outer item, or lot (`of`), 0 where there are none."""
    totals = rows.order_by().values(of).annotate(total=Sum(field)).values("total")
    return Coalesce(Subquery(totals, output_field=BigIntegerField()), 0)


class ItemQuerySet(models.QuerySet["Item"]):
    """Questions about items."""

    def current(self) -> "ItemQuerySet":
        """Items still offered in forms."""
        return self.filter(retired=False)

    def materials(self) -> "ItemQuerySet":
        """Everything a batch may draw: all but finished goods."""
        return self.exclude(kind="finished")

    def needing_safety_sheet(self) -> "ItemQuerySet":
        """What is melted and was bought; the same rule as `Item.needs_safety_sheet`."""
        return self.current().filter(kind__in=("wax", "fragrance", "dye", "additive"), made_here=False)


def may_be_used(on: date) -> Q:
    """Lots neither held nor past their expiry on a day, or allowed by the owner all the same."""
    free = Q(expires_on__isnull=True) | Q(expires_on__gte=on)
    return (free & Q(held=False)) | Q(allowed_until__gte=on)


class LotQuerySet(models.QuerySet["Lot"]):
    """Questions about lots."""

    def on_shelf(self) -> "LotQuerySet":
        """Lots with something left in them."""
        return self.filter(on_hand__gt=0)

    def usable(self, on: date) -> "LotQuerySet":
        """Lots that may be used on a day: neither held nor past their expiry, or allowed by the owner all the same."""
        return self.filter(may_be_used(on))

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
        """Standing postings that nobody has looked at yet: they booked stock as found along with something else, or took
        a lot that was stopped.

        What earlier records say was found was looked at then.
        """
        every = self.model._default_manager.order_by()
        found = every.exclude(kind__in=("found", "earlier")).filter(movements__kind="found")
        stopped = every.filter(stopped_uses__isnull=False)
        flagged = found.values("pk").union(stopped.values("pk"))
        return self.standing().filter(pk__in=flagged, review__isnull=True)


class MovementQuerySet(models.QuerySet["Movement"]):
    """Questions about movements."""

    def standing(self) -> "MovementQuerySet":
        """Movements of postings that were not reversed and are no reversal."""
        return self.filter(posting__reversal__isnull=True, posting__reverses__isnull=True)

    def in_order(self) -> "MovementQuerySet":
        """As things happened: by the event's time, then as recorded."""
        return self.order_by("posting__happened_at", "posting_id", "pk")


class DispatchQuerySet(models.QuerySet["Dispatch"]):
    """Questions about goods that left to somebody."""

    def standing(self) -> "DispatchQuerySet":
        """Those that were not reversed."""
        return self.filter(posting__reversal__isnull=True)

    def with_heads(self) -> "DispatchQuerySet":
        """With who, where and when, in the same query."""
        return self.select_related("customer", "channel", "posting__by", "posting__reversal__by")


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
        """Those that happened at or after `first` and before `end`; a reversal counts when what it reverses happened, or,
        where the books were closed there, at the first moment after."""
        return self.filter(posting__happened_at__gte=first, posting__happened_at__lt=end)

    def with_causes(self) -> "PeriodCostQuerySet":
        """With the lot and what led to the cost, in the same query."""
        return self.select_related(
            "lot__item", "posting__late_cost__delivery", "posting__reverses__late_cost__delivery"
        )


class OfferQuerySet(models.QuerySet["Offer"]):
    """Questions about offers."""

    def standing(self, on: date) -> "OfferQuerySet":
        """Offers that may be ordered by on a day: the latest of each supplier, item and pack, not withdrawn, not over."""
        made = self.filter(withdrawn=False, quoted_on__lte=on)
        later = made.filter(
            supplier=OuterRef("supplier"), item=OuterRef("item"), pack_quantity=OuterRef("pack_quantity")
        ).filter(
            Q(quoted_on__gt=OuterRef("quoted_on")) | Q(quoted_on=OuterRef("quoted_on"), pk__gt=OuterRef("pk"))
        )
        return made.filter(~Exists(later)).filter(Q(valid_until__isnull=True) | Q(valid_until__gte=on))


class OrderLineQuerySet(models.QuerySet["OrderLine"]):
    """Questions about lines of purchase orders."""

    def with_received(self) -> "OrderLineQuerySet":
        """With `received`, in base units: what deliveries that still stand brought of the line."""
        standing = Q(arrivals__delivery__posting__reversal__isnull=True)
        brought = Sum(F("arrivals__packs") * F("arrivals__pack_quantity"), filter=standing)
        return self.annotate(received=Coalesce(brought, 0, output_field=BigIntegerField()))

    def expected(self) -> "OrderLineQuerySet":
        """Lines of sent orders of which something is still to come, with `received`."""
        rows = self.filter(order__state="sent").with_received()
        return rows.filter(received__lt=F("packs") * F("pack_quantity"))  # type: ignore[misc]  # annotated above


class OrderQuerySet(models.QuerySet["Order"]):
    """Questions about purchase orders."""

    def sent(self) -> "OrderQuerySet":
        """Orders of which goods are still expected."""
        return self.filter(state="sent")

    def with_progress(self) -> "OrderQuerySet":
        """With `line_count`, and `arrival_count`: how many lines of standing deliveries brought something of it."""
        standing = Q(lines__arrivals__delivery__posting__reversal__isnull=True)
        return self.annotate(
            line_count=models.Count("lines", distinct=True),
            arrival_count=models.Count("lines__arrivals", filter=standing, distinct=True),
        )


class DocumentQuerySet(models.QuerySet["Document"]):
    """Questions about papers."""

    def kept(self) -> "DocumentQuerySet":
        """Papers neither withdrawn nor erased."""
        return self.filter(withdrawn=False, erased=False)

    def valid(self, on: date) -> "DocumentQuerySet":
        """Kept papers whose last day, where one is written on them, has not passed."""
        return self.kept().filter(Q(valid_until__isnull=True) | Q(valid_until__gte=on))


class CountQuerySet(models.QuerySet["Count"]):
    """Questions about counts."""

    def being_counted(self) -> "CountQuerySet":
        """Counts that are not in the books yet."""
        return self.filter(state="open")


class CountLineQuerySet(models.QuerySet["CountLine"]):
    """Questions about what was found of single lots."""

    def looked_at(self) -> "CountLineQuerySet":
        """Lots somebody counted."""
        return self.filter(counted__isnull=False)

    def waiting(self) -> "CountLineQuerySet":
        """Lots nobody counted yet."""
        return self.filter(counted__isnull=True)

    def standing(self) -> "CountLineQuerySet":
        """What was found in counts that are in the books and were not reversed, where all agreed among them."""
        return self.looked_at().filter(count__state="posted", count__posting__reversal__isnull=True)

    def last_look(self) -> "CountLine | None":
        """The latest of these looks that is in the books, with its count."""
        return self.standing().select_related("count", "by").order_by("-counted_at", "-pk").first()

    def by_place(self) -> "CountLineQuerySet":
        """In the order one walks along the shelf."""
        expiry = F("lot__expires_on").asc(nulls_last=True)
        return self.order_by("lot__place", Lower("lot__item__name"), expiry, "pk")


class OneOffQuerySet(models.QuerySet["OneOff"]):
    """Questions about what will not be repeated."""

    def standing(self) -> "OneOffQuerySet":
        """The latest record of each posting, where it says that the posting is not to be repeated."""
        later = self.model.objects.filter(posting=OuterRef("posting"), pk__gt=OuterRef("pk"))
        return self.filter(~Exists(later), is_one_off=True)
