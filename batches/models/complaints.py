"""Complaints: what somebody said about a candle, which candle it was, and what came of it."""

from datetime import timedelta

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from batches.danger_signs import signs_of_danger
from batches.models.production import Batch
from batches.querysets import ComplaintQuerySet
from inventory.models import Channel, Customer, Item, Lot
from studio.core.codes import spaced
from studio.models import User


class Complaint(models.Model):
    """What somebody said about a candle. `batches.complaints.complaining` is the only writer.

    The candle is known by its lot, or by the batch code on the jar, or, where the code is lost, only as a product sold on
    a channel between two days. Whatever may name a person (who it was, what was said and answered, the photos) can be
    erased; what it was about and what came of it stays.
    """

    class Kind(models.TextChoices):
        """What it is about, the worst of it, from the harmless to the grave."""

        SCENT = "scent", "Scent"
        LOOK = "look", "Look"
        BURN = "burn", "How it burns"
        SMOKE = "smoke", "Smoke or soot"
        GLASS = "glass", "Cracked or broken vessel"
        INJURY = "injury", "Somebody was hurt"

    class State(models.TextChoices):
        """How far it has got."""

        OPEN = "open", "Open"
        ANSWERED = "answered", "Answered"
        CLOSED = "closed", "Closed"

    class Outcome(models.TextChoices):
        """What the customer got."""

        REPLACED = "replaced", "Replaced"
        REFUNDED = "refunded", "Refunded"
        ADVISED = "advised", "Advised"
        REFUSED = "refused", "Nothing: not ours to answer for"

    code = models.CharField(max_length=12, unique=True)
    kind = models.CharField(max_length=6, choices=Kind.choices)
    fire = models.BooleanField(default=False)
    what = models.TextField("what happened", blank=True, max_length=2000)
    units = models.PositiveIntegerField(default=1)
    happened_on = models.DateField(null=True, blank=True)
    told_at = models.DateTimeField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="complaints")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="complaints", null=True, blank=True)
    batch = models.ForeignKey(
        Batch, on_delete=models.PROTECT, related_name="complaints", null=True, blank=True
    )
    channel = models.ForeignKey(
        Channel, on_delete=models.PROTECT, related_name="complaints", null=True, blank=True
    )
    sold_from = models.DateField(null=True, blank=True)
    sold_until = models.DateField(null=True, blank=True)
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, related_name="complaints", null=True, blank=True
    )
    reference = models.CharField("order reference", max_length=60, blank=True)
    cause = models.TextField(blank=True, max_length=2000)
    answer = models.TextField(blank=True, max_length=2000)
    outcome = models.CharField(max_length=8, choices=Outcome.choices, blank=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.OPEN)
    taken_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)

    objects = ComplaintQuerySet.as_manager()

    class Meta:
        ordering = ["-told_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="complaint_closed_says_when",
                condition=Q(state="closed", closed_at__isnull=False)
                | (~Q(state="closed") & Q(closed_at__isnull=True)),
            ),
            models.CheckConstraint(name="complaint_is_about_something", condition=Q(units__gt=0)),
            models.CheckConstraint(
                name="complaint_period_runs_forward",
                condition=Q(sold_from__isnull=True)
                | Q(sold_until__isnull=True)
                | Q(sold_from__lte=F("sold_until")),
            ),
            models.CheckConstraint(
                name="complaint_erased_names_nobody",
                condition=Q(erased_at__isnull=True)
                | Q(customer__isnull=True, reference="", what="", answer=""),
            ),
        ]
        indexes = [
            # "Which complaints are not closed, and which came last?": Today and the list.
            models.Index(fields=["state", "told_at"], name="complaint_by_state"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.item}"

    def get_absolute_url(self) -> str:
        """The complaint's page."""
        return reverse("batches:complaint-detail", args=[self.code])

    @property
    def spaced_code(self) -> str:
        """The code in groups of three."""
        return spaced(self.code)

    @property
    def is_grave(self) -> bool:
        """Whether somebody was hurt or something caught fire."""
        return self.fire or self.kind == self.Kind.INJURY

    @property
    def signs_of_danger(self) -> tuple[str, ...]:
        """Why it may have to be reported to an authority, in words. Empty does not say that it need not be."""
        return signs_of_danger(self.kind, fire=self.fire, told=self.what)

    @property
    def may_be_reportable(self) -> bool:
        """Whether anything in it says that it may have to be reported to an authority."""
        return bool(self.signs_of_danger)

    @property
    def is_known(self) -> bool:
        """Whether the lot or the batch of the candle is known."""
        return self.lot_id is not None or self.batch_id is not None

    @property
    def candle_code(self) -> str:
        """The code that leads to the candle: of its lot, else of its batch; empty where neither is known."""
        candle = self.lot or self.batch
        return candle.code if candle else ""

    @property
    def tone(self) -> str:
        """The mark beside its state."""
        if self.state == self.State.CLOSED:
            return "good"
        return "problem" if self.may_be_reportable else "attention"

    @property
    def took(self) -> timedelta | None:
        """How long it took from being told of it to closing it; None while it is not closed."""
        return self.closed_at - self.told_at if self.closed_at else None


class ComplaintChange(models.Model):
    """Something about a complaint was changed: what it said before and after, by whom and when. Only ever added.

    Of words that may name a person it keeps only that they were changed.
    """

    complaint = models.ForeignKey(Complaint, on_delete=models.PROTECT, related_name="changes")
    what = models.CharField(max_length=40)
    before = models.CharField(max_length=200, blank=True)
    after = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.what}: {self.before} → {self.after}"


class ComplaintPhoto(models.Model):
    """A photo of what was complained about. Only ever added; erased with the names when nobody may keep them any more.

    `data` is left out of every list: read it for one photo at a time. Erased, it is empty.
    """

    complaint = models.ForeignKey(Complaint, on_delete=models.PROTECT, related_name="photos")
    text = models.CharField("what it shows", max_length=200, blank=True)
    media_type = models.CharField(max_length=40)
    digest = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    data = models.BinaryField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return self.text or f"photo {self.pk}"
