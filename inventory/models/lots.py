"""Lots, and what was written on them by hand."""

from datetime import date

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.urls import reverse

from inventory.models.buying import DeliveryLine
from inventory.models.items import Item, Supplier
from inventory.querysets import LotQuerySet
from studio.core.codes import spaced
from studio.fields import ExactIntegerField
from studio.models import User


class Grade(models.TextChoices):
    """First quality or seconds. Bought goods are always first quality."""

    FIRST = "first", "First quality"
    SECOND = "second", "Seconds"


class Lot(models.Model):
    """A quantity of one item from one delivery, decanting or batch, with its own code, cost and history.

    `on_hand` and `value` are cached from the movements; only `inventory.ledger.books` writes them. `held` and
    `allowed_until` are cached from the latest hold record and the latest override; only `inventory.lots.holding` writes
    them. `manage.py check_books` proves them all.
    """

    code = models.CharField(max_length=12, unique=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="lots")
    grade = models.CharField(max_length=6, choices=Grade.choices, default=Grade.FIRST)
    supplier = models.ForeignKey(
        Supplier, on_delete=models.PROTECT, related_name="lots", null=True, blank=True
    )
    supplier_lot = models.CharField("supplier's lot", max_length=60, blank=True)
    delivery_line = models.ForeignKey(
        DeliveryLine, on_delete=models.PROTECT, related_name="lots", null=True, blank=True
    )
    arrived_at = models.DateTimeField()
    expires_on = models.DateField("expires", null=True, blank=True)
    ready_on = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=60, blank=True)
    container = models.CharField(
        max_length=40, blank=True, help_text="What it stands in, for example jar 3 or 25 lb pail."
    )
    tare_ug = ExactIntegerField("tare", null=True, blank=True)
    opened_on = models.DateField("opened", null=True, blank=True)
    held = models.BooleanField(default=False)
    awaits_release = models.BooleanField(default=False)
    allowed_until = models.DateField(null=True, blank=True)
    on_hand = ExactIntegerField(default=0)
    value = ExactIntegerField(default=0)

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["-arrived_at", "-pk"]
        constraints = [
            models.CheckConstraint(name="lot_never_below_zero", condition=Q(on_hand__gte=0)),
            models.CheckConstraint(name="lot_value_never_below_zero", condition=Q(value__gte=0)),
            models.CheckConstraint(
                name="empty_lot_is_worth_nothing", condition=Q(on_hand__gt=0) | Q(value=0)
            ),
        ]
        indexes = [
            # "What is on the shelf of this item, oldest first?": item pages, suggestions, planning.
            models.Index(fields=["item", "expires_on"], condition=Q(on_hand__gt=0), name="lot_on_shelf"),
            # "Which lots came last?": the list of lots.
            models.Index(fields=["arrived_at", "id"], name="lot_arrived_at"),
            # "Which lots carry this supplier's lot number?": the search box and a supplier's recall notice.
            models.Index(fields=["supplier_lot"], condition=~Q(supplier_lot=""), name="lot_by_supplier_lot"),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        """The lot's page."""
        return reverse("inventory:lot-detail", args=[self.code])

    @property
    def spaced_code(self) -> str:
        """The code in groups of three, as it is written on the jar."""
        return spaced(self.code)

    def expired(self, on: date) -> bool:
        """Whether the lot may no longer be used on this day; its last good day is the expiry date itself."""
        return self.expires_on is not None and self.expires_on < on

    def allowed(self, on: date) -> bool:
        """Whether the owner lets it be used on this day although it is on hold or past its expiry."""
        return self.allowed_until is not None and self.allowed_until >= on

    def state(self, on: date) -> tuple[str, str]:
        """Tone and word for the lot's condition on a day."""
        if self.on_hand == 0:
            return "plain", "Used up"
        if self.allowed(on) and (self.held or self.expired(on)):
            return "attention", "On hold, allowed" if self.held else "Expired, allowed"
        if self.held:
            return "problem", "On hold"
        if self.expired(on):
            return "problem", "Expired"
        if self.ready_on and self.ready_on > on:
            return "attention", "Curing"
        if self.awaits_release:
            return "attention", "To be released"
        return "good", "Free to use"


class Reason(models.Model):
    """A short reason for taking stock out or putting it right, from the list the studio keeps."""

    class Kind(models.TextChoices):
        """What the reason is for; the same words as the posting it stands under."""

        SCRAP = "scrap", "Scrap"
        SAMPLE = "sample", "Sample"
        SENT_BACK = "sent_back", "Back to supplier"
        FOUND = "found", "Found"
        CORRECTION = "correction", "Quantity put right"
        COUNT = "count", "Count"

    kind = models.CharField(max_length=12, choices=Kind.choices)
    words = models.CharField(max_length=80)
    retired = models.BooleanField(
        default=False, help_text="Stays on what was posted and is no longer offered."
    )

    class Meta:
        ordering = ["kind", Lower("words")]
        constraints = [
            models.UniqueConstraint(
                "kind",
                Lower("words"),
                name="reason_words_once",
                violation_error_message="This reason is on the list already.",
            )
        ]

    def __str__(self) -> str:
        return self.words


class HoldRecord(models.Model):
    """A lot was put on hold or released: by whom, when and why. `owner_decides`: only the owner may end this hold.

    A reason is of any length: whether something was found before is told by it, and what is cut off would be lost.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="hold_records")
    held = models.BooleanField()
    owner_decides = models.BooleanField(default=False)
    reason = models.TextField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{'held' if self.held else 'released'}: {self.reason}"


class Override(models.Model):
    """The owner lets a lot on hold or past its expiry be used until a day, or (no day) takes that back."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="overrides")
    until = models.DateField(null=True, blank=True)
    reason = models.TextField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"allowed until {self.until}" if self.until else "no longer allowed"


class LotChange(models.Model):
    """Something written on a lot was put right: its place, its expiry, the supplier's number. Never the books."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="changes")
    what = models.CharField(max_length=30)
    before = models.CharField(max_length=80, blank=True)
    after = models.CharField(max_length=80, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.what}: {self.before} → {self.after}"
