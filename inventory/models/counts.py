"""Counting the shelf: what was looked for, what was found, and the rules by which counts fall due."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.models.lots import Lot, Reason
from inventory.models.postings import Posting
from inventory.querysets import CountLineQuerySet, CountQuerySet
from studio.fields import ExactIntegerField
from studio.models import User


class CountClass(models.Model):
    """One of the classes A, B and C items fall into by what was used of them in a year.

    `share_ppm` is the share of the yearly value up to which the class reaches, A first; `times_a_year` how often
    its items are counted; `tolerance_ppm` the difference above which a count is looked at a second time.
    """

    letter = models.CharField(max_length=1, unique=True)
    share_ppm = ExactIntegerField()
    times_a_year = models.PositiveSmallIntegerField()
    tolerance_ppm = ExactIntegerField()

    class Meta:
        ordering = ["letter"]
        constraints = [
            models.CheckConstraint(
                name="count_class_is_possible",
                condition=Q(
                    letter__in=("A", "B", "C"),
                    share_ppm__gte=0,
                    share_ppm__lte=1_000_000,
                    times_a_year__gte=1,
                    times_a_year__lte=52,
                    tolerance_ppm__gte=0,
                    tolerance_ppm__lte=1_000_000,
                ),
            )
        ]

    def __str__(self) -> str:
        return f"Class {self.letter}"


class Count(models.Model):
    """One count of a part of the shelf, from the sheet to the posting it ends in."""

    class Scope(models.TextChoices):
        """What a count sheet lists. `of` says which."""

        EVERYTHING = "everything", "Everything on the shelf"
        PLACE = "place", "One shelf or place"
        CLASS = "class", "One class, by yearly value"
        ITEM = "item", "One item"

    class State(models.TextChoices):
        """Where a count stands."""

        OPEN = "open", "Being counted"
        POSTED = "posted", "In the books"
        CALLED_OFF = "called_off", "Called off"

    scope = models.CharField(max_length=10, choices=Scope.choices)
    of = models.CharField(max_length=120, blank=True)
    blind = models.BooleanField(default=False)
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    started_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    posting = models.OneToOneField(
        Posting, on_delete=models.PROTECT, related_name="count", null=True, blank=True
    )
    ended_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = CountQuerySet.as_manager()

    class Meta:
        ordering = ["-started_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="count_ended_says_when", condition=Q(state="open") | Q(ended_at__isnull=False)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_scope_display()}: {self.of}" if self.of else str(self.get_scope_display())

    def get_absolute_url(self) -> str:
        """The count's page."""
        return reverse("inventory:count-detail", args=[self.pk])

    @property
    def what(self) -> str:
        """What is counted, in a few words: a heading, and the reason in the books."""
        if self.scope == self.Scope.PLACE:
            return self.of or "What stands at no place on record"
        if self.scope == self.Scope.CLASS:
            return f"Class {self.of}"
        return self.of or "Everything on the shelf"

    @property
    def is_open(self) -> bool:
        """Whether lots may still be counted."""
        return self.state == self.State.OPEN


class CountLine(models.Model):
    """One lot on a count: what was found of it, in base units, and when it was looked at.

    `counted` is net. Where the container was weighed full, `gross_ug` and `tare_ug` say what the scale showed and
    what the container weighs. A difference above the tolerance is looked at a second time: `first_counted` then keeps
    what the first look gave. What the books said is not kept here; it follows from the movements up to
    `counted_at`, those entered later among them. `tolerance_ppm` is that of the item's class on the day it was
    looked at, so that an old count is judged by the rule it was made under.
    """

    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="lines")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="count_lines")
    counted = ExactIntegerField(null=True, blank=True)
    typed = models.CharField(max_length=60, blank=True)
    gross_ug = ExactIntegerField(null=True, blank=True)
    tare_ug = ExactIntegerField(null=True, blank=True)
    counted_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    first_counted = ExactIntegerField(null=True, blank=True)
    looked_twice = models.BooleanField(default=False)
    tolerance_ppm = ExactIntegerField(null=True, blank=True)
    reason = models.ForeignKey(Reason, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    objects = CountLineQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["count", "lot"], name="count_line_once_per_lot"),
            models.CheckConstraint(
                name="count_line_not_below_zero", condition=Q(counted__isnull=True) | Q(counted__gte=0)
            ),
            models.CheckConstraint(
                name="count_line_says_when",
                condition=Q(counted__isnull=True)
                | Q(counted_at__isnull=False, by__isnull=False, tolerance_ppm__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot_id}: {self.counted}"

    def get_absolute_url(self) -> str:
        """The page on which the lot is counted."""
        return reverse("inventory:count-lot", args=[self.count_id, self.lot.code])
