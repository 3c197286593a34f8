"""The stock books: postings, their movements, and what hangs on them."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from inventory.models.items import Item
from inventory.models.lots import Lot, Override
from inventory.querysets import MovementQuerySet, PeriodCostQuerySet, PostingQuerySet
from studio.fields import ExactIntegerField
from studio.models import User


class Posting(models.Model):
    """One event in the stock books: who, when, why. Never changed; a mistake is reversed."""

    class Kind(models.TextChoices):
        """What happened."""

        RECEIPT = "receipt", "Receipt"
        DECANT = "decant", "Decanting"
        DRAW = "draw", "Draw"
        YIELD = "yield", "Yield"
        DISPATCH = "dispatch", "Dispatch"
        RETURN = "return", "Return"
        SCRAP = "scrap", "Scrap"
        SAMPLE = "sample", "Sample"
        SENT_BACK = "sent_back", "Back to supplier"
        FOUND = "found", "Found"
        CORRECTION = "correction", "Quantity put right"
        COUNT = "count", "Count"
        OPENING = "opening", "Opening stock"
        EARLIER = "earlier", "From earlier records"
        REVALUATION = "revaluation", "Cost correction"
        REVERSAL = "reversal", "Reversal"

    kind = models.CharField(max_length=12, choices=Kind.choices)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="postings")
    reason = models.CharField(max_length=300, blank=True)
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="reversal", null=True, blank=True
    )

    objects = PostingQuerySet.as_manager()

    class Meta:
        ordering = ["-happened_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="posting_not_before_it_happened", condition=Q(happened_at__lte=F("recorded_at"))
            ),
            models.CheckConstraint(
                name="posting_reversal_names_what_it_reverses",
                condition=Q(kind="reversal", reverses__isnull=False)
                | (~Q(kind="reversal") & Q(reverses__isnull=True)),
            ),
        ]
        indexes = [
            # "What happened lately, and what were things worth on that day?": the books and valuation.
            models.Index(fields=["happened_at", "id"], name="posting_happened_at"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.pk}"

    def get_absolute_url(self) -> str:
        """The posting's page."""
        return reverse("inventory:posting-detail", args=[self.pk])


class Movement(models.Model):
    """One line of a posting: a lot, a signed quantity in base units, a signed value in millionths."""

    class Kind(models.TextChoices):
        """Where the quantity came from or went. A reversal keeps the kind and turns the sign."""

        RECEIVED = "received", "Received"
        MADE = "made", "Made"
        FOUND = "found", "Found"
        DECANTED = "decanted", "Decanted"
        DRAWN = "drawn", "Drawn"
        DISPATCHED = "dispatched", "Dispatched"
        RETURNED = "returned", "Came back"
        SCRAPPED = "scrapped", "Scrapped"
        SAMPLED = "sampled", "Sampled"
        SENT_BACK = "sent_back", "Sent back"
        CORRECTED = "corrected", "Put right"
        COUNTED = "counted", "Count difference"
        REVALUED = "revalued", "Cost corrected"

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="movements")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements", db_index=False)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    quantity = ExactIntegerField()
    value = ExactIntegerField()

    objects = MovementQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="movement_moves_something", condition=~Q(quantity=0) | ~Q(value=0))
        ]
        indexes = [
            # "What happened to this lot?": its page, its running balance, tracing and check_books.
            models.Index(fields=["lot", "posting"], name="movement_of_lot"),
            # "Which postings booked stock as found?": what waits to be looked at on the Today page.
            models.Index(fields=["posting"], condition=Q(kind="found"), name="movement_found"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.quantity}"


# What counts as use of an item.
USES = (Movement.Kind.DRAWN, Movement.Kind.DISPATCHED)


class PeriodCost(models.Model):
    """The part of a cost correction that no stock is left to carry: a cost of the period, tied to its lot."""

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="period_costs")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="period_costs")
    value = ExactIntegerField()

    objects = PeriodCostQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return str(self.value)


class OverrideUse(models.Model):
    """A posting took a lot that was on hold or past its expiry, because the owner had allowed it."""

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="override_uses")
    override = models.ForeignKey(Override, on_delete=models.PROTECT, related_name="uses")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["posting", "override"], name="override_use_once"),
        ]

    def __str__(self) -> str:
        return f"{self.posting_id}: {self.override_id}"


class StoppedUse(models.Model):
    """A posting took a lot that could not be used when it was recorded, because it had gone in already; the reason says
    how that came about. It is flagged for review, and what it went into is put on hold.
    """

    class Stop(models.TextChoices):
        """What stood against the lot."""

        HELD = "held", "on hold"
        EXPIRED = "expired", "past its expiry"
        CURING = "curing", "still curing"
        UNRELEASED = "unreleased", "not yet released"

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="stopped_uses")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="stopped_uses")
    stop = models.CharField(max_length=10, choices=Stop.choices)
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["posting", "lot"], name="stopped_use_once"),
            models.CheckConstraint(name="stopped_use_says_why", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} {self.stop}: {self.reason}"


class Review(models.Model):
    """Somebody looked at a posting that was flagged, such as a draw of more than the books held."""

    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="review")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"looked at by {self.by_id}"


class Commitment(models.Model):
    """Stock that a planned batch or an order will need, by date. `source` is the code of what needs it."""

    source = models.CharField(max_length=40, db_index=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="commitments")
    quantity = ExactIntegerField()
    needed_on = models.DateField()

    class Meta:
        ordering = ["needed_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["source", "item"], name="commitment_once_per_source_and_item"),
            models.CheckConstraint(name="commitment_is_positive", condition=Q(quantity__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.source}: {self.quantity}"
