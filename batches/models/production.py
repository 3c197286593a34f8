"""A production run: what went in, what was read, who worked on it, and what came out."""

from datetime import date

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.urls import reverse

from batches.models.formulas import FormulaLine, FormulaVersion
from batches.querysets import BatchQuerySet, DrawQuerySet, OutcomeQuerySet
from inventory.models import Grade, Item, Lot, Movement, Posting
from studio.codes import spaced
from studio.fields import ExactIntegerField
from studio.models import User


class Batch(models.Model):
    """One production run of one formula version. Its code stands on every jar."""

    class State(models.TextChoices):
        """Where the run has got to."""

        PLANNED = "planned", "Planned"
        STARTED = "started", "In progress"
        FINISHED = "finished", "Finished"
        CALLED_OFF = "called_off", "Called off"
        ABANDONED = "abandoned", "Given up"

    code = models.CharField(max_length=12, unique=True)
    version = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="batches")
    quantity = ExactIntegerField()
    planned_on = models.DateField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.PLANNED)
    note = models.TextField(blank=True, max_length=2000)
    planned_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)

    objects = BatchQuerySet.as_manager()

    class Meta:
        ordering = ["-planned_on", "-pk"]
        verbose_name_plural = "batches"
        constraints = [
            models.CheckConstraint(name="batch_makes_something", condition=Q(quantity__gt=0)),
            models.CheckConstraint(
                name="batch_finished_says_when",
                condition=Q(state="finished", finished_at__isnull=False)
                | (~Q(state="finished") & Q(finished_at__isnull=True)),
            ),
        ]
        indexes = [
            # "Which runs are open?": the Today page and the batch list.
            models.Index(fields=["state", "planned_on"], name="batch_by_state"),
            # "Which runs came last?": the batch list, and the cost of runs.
            models.Index(fields=["planned_on", "id"], name="batch_by_day"),
            models.Index(fields=["finished_at", "id"], name="batch_by_finish"),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        """The batch's page."""
        return reverse("batches:batch-detail", args=[self.code])

    @property
    def spaced_code(self) -> str:
        """The code in groups of three, as it is written on the jar."""
        return spaced(self.code)

    @property
    def is_open(self) -> bool:
        """Whether something can still be drawn into it."""
        return self.state in {self.State.PLANNED, self.State.STARTED}

    @property
    def item(self) -> Item:
        """What it makes."""
        return self.version.formula.item

    @property
    def tone(self) -> str:
        """The tone of the state's mark."""
        tones = {"planned": "plain", "started": "attention", "finished": "good", "abandoned": "problem"}
        return tones.get(self.state, "plain")


class Draw(models.Model):
    """What a batch took from a lot for one line of its formula: the movement that says how much."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="draws")
    line = models.ForeignKey(FormulaLine, on_delete=models.PROTECT, related_name="draws")
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="draw")

    objects = DrawQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"draw {self.pk}"

    @property
    def quantity(self) -> int:
        """Base units taken."""
        return -self.movement.quantity

    @property
    def value(self) -> int:
        """What they were worth, in millionths."""
        return -self.movement.value


class Reading(models.Model):
    """A temperature read while a batch was made."""

    class Kind(models.TextChoices):
        """What was measured."""

        MELT = "melt", "Wax at its hottest"
        FRAGRANCE = "fragrance", "Fragrance added at"
        POUR = "pour", "Poured at"
        ROOM = "room", "Room"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="readings")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    temperature_mc = ExactIntegerField()
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.temperature_mc}"


class Labour(models.Model):
    """Minutes somebody worked on a batch."""

    class Step(models.TextChoices):
        """What the time was spent on."""

        WEIGH = "weigh", "Weighing and melting"
        POUR = "pour", "Pouring"
        FINISH = "finish", "Hand finishing"
        LABEL = "label", "Labelling and packing"
        OTHER = "other", "Other"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="labour")
    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    step = models.CharField(max_length=8, choices=Step.choices)
    minutes = models.PositiveIntegerField()
    worked_on = models.DateField()
    recorded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["worked_on", "pk"]
        verbose_name_plural = "labour"

    def __str__(self) -> str:
        return f"{self.minutes} min {self.get_step_display()}"


class Outcome(models.Model):
    """One line of a batch's yield: how much came out good, as seconds, to be melted again, or scrap and why.

    Good units, seconds and recovered melt (a lot of another item, by weight) became a lot; scrap and units to be
    melted again did not. A batch may be finished in parts; the lines of one part share its posting, and count while
    that posting stands.
    """

    class Result(models.TextChoices):
        """What became of it."""

        GOOD = "good", "Good"
        SECOND = "second", "Seconds"
        SCRAP = "scrap", "Scrap"
        REWORK = "rework", "To be melted again"
        MELT = "melt", "Melt recovered"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="outcomes")
    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="outcomes")
    result = models.CharField(max_length=6, choices=Result.choices)
    quantity = ExactIntegerField()
    defect = models.CharField(max_length=60, blank=True)
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="outcome", null=True, blank=True)

    objects = OutcomeQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="outcome_is_positive", condition=Q(quantity__gt=0)),
            models.CheckConstraint(
                name="outcome_scrap_makes_no_lot",
                condition=Q(result__in=("scrap", "rework"), lot__isnull=True)
                | (~Q(result__in=("scrap", "rework")) & Q(lot__isnull=False)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.result}"

    @property
    def grade(self) -> Grade:
        """The grade of the lot it became."""
        return Grade.SECOND if self.result == self.Result.SECOND else Grade.FIRST

    @property
    def item(self) -> Item:
        """What it is a quantity of: the batch's product, or what the melt became."""
        return self.lot.item if self.lot and self.result == self.Result.MELT else self.batch.item

    @property
    def tone(self) -> str:
        """The tone of the result's mark."""
        tones = {"good": "good", "second": "attention", "scrap": "problem", "rework": "attention"}
        return tones.get(self.result, "plain")


class Defect(models.Model):
    """What goes wrong with a candle, in the words of the studio's own list."""

    words = models.CharField(max_length=60)
    retired = models.BooleanField(
        default=False, help_text="Stays on what was recorded and is no longer offered."
    )

    class Meta:
        ordering = [Lower("words")]
        constraints = [
            models.UniqueConstraint(
                Lower("words"),
                name="defect_words_once",
                violation_error_message="This defect is on the list already.",
            )
        ]

    def __str__(self) -> str:
        return self.words


def ready_on(version: FormulaVersion, poured_on: date) -> date | None:
    """The day a pour of this version has cured; None when it needs no cure."""
    return date.fromordinal(poured_on.toordinal() + version.cure_days) if version.cure_days else None
