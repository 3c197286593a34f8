"""A production run: what went in, what was read, who worked on it, and what came out."""

from datetime import date

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.urls import reverse

from batches.models.formulas import FormulaLine, FormulaVersion
from batches.querysets import BatchQuerySet, DrawQuerySet, LabourQuerySet, OutcomeQuerySet, ReadingQuerySet
from inventory.models import CustomerOrderLine, Grade, Item, Lot, Movement, Posting
from studio.core.codes import spaced
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
    order_line = models.ForeignKey(
        CustomerOrderLine, on_delete=models.PROTECT, related_name="batches", null=True, blank=True
    )
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


class ChosenLot(models.Model):
    """A lot that somebody chose for one line of a planned batch, in place of the suggestion, and how much of it.

    It changes until it is drawn: a plan, not a fact.
    """

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="chosen_lots")
    line = models.ForeignKey(FormulaLine, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="chosen_for")
    quantity = ExactIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(name="chosen_lot_once_for_a_line", fields=["batch", "line", "lot"]),
            models.CheckConstraint(name="chosen_lot_takes_something", condition=Q(quantity__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of lot {self.lot_id}"


class Draw(models.Model):
    """What a batch took from a lot for one line of its formula: the movement that says how much.

    `pot` counts from 1 and is what was said where it was recorded; None where nobody said, or nothing goes into a pot.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="draws")
    line = models.ForeignKey(FormulaLine, on_delete=models.PROTECT, related_name="draws")
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="draw")
    pot = models.PositiveIntegerField(null=True, blank=True)

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

    @property
    def in_pot(self) -> int | None:
        """Which pot it went into, as it was said; None where nobody said. Reads the posting's bench entry."""
        if self.pot is not None:
            return self.pot
        entry = getattr(self.movement.posting, "bench_entry", None)
        return entry.pour if entry else None


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
    pot = models.PositiveIntegerField(null=True, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.temperature_mc}"

    @property
    def pour(self) -> int | None:
        """Which pot it was read in, from 1, as was said; None where nobody said. Of the room it says nothing."""
        if self.kind == self.Kind.ROOM:
            return None
        if self.pot is not None:
            return self.pot
        entry = getattr(self, "bench_entry", None)
        return entry.pour if entry else None

    @property
    def stands(self) -> bool:
        """Whether it was neither struck out nor taken back at the bench."""
        return not hasattr(self, "struck") and not hasattr(
            getattr(self, "bench_entry", None), "taken_back_by"
        )


class StruckReading(models.Model):
    """A temperature that was noted wrongly: it stays on record, struck out with a reason, and counts no longer."""

    reading = models.OneToOneField(Reading, on_delete=models.PROTECT, related_name="struck")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="struck_reading_says_why", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.reading}, struck out"


class Labour(models.Model):
    """Minutes somebody worked on a batch. `by_owner` says whether that person owned the studio when it was noted: reports
    tell the owner's own work apart, and who takes over later changes nothing of it.

    Minutes noted wrongly stay, and so do those below zero that take them back, with the reason.
    """

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
    minutes = models.IntegerField()
    worked_on = models.DateField()
    by_owner = models.BooleanField("the owner's own work", default=False)
    recorded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="taken_back", null=True, blank=True
    )
    reason = models.CharField(max_length=300, blank=True)

    objects = LabourQuerySet.as_manager()

    class Meta:
        ordering = ["worked_on", "pk"]
        verbose_name_plural = "labour"
        constraints = [
            models.CheckConstraint(
                condition=Q(takes_back=None, minutes__gte=0) | Q(takes_back__isnull=False, minutes__lte=0),
                name="labour_minutes_are_worked_or_taken_back",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.minutes} min {self.get_step_display()}"

    @property
    def rate_on(self) -> date:
        """The day whose rate it is paid at: what takes minutes back costs what they did. Reads `takes_back`."""
        return self.takes_back.worked_on if self.takes_back else self.worked_on

    @property
    def stands(self) -> bool:
        """Whether it was worked and not taken back; asks once for each entry unless `taken_back` was read with it."""
        return self.takes_back_id is None and not hasattr(self, "taken_back")


class Outcome(models.Model):
    """One line of a batch's yield: how much came out good, as seconds, to be melted again, or scrap and why.

    Good units, seconds and recovered melt (a lot of another item, by weight) became a lot; scrap did not. Units to be
    melted again make no lot themselves, the melt in them does: `emptied` says of which units it is, and `weighed` whether
    it was weighed or is their fill weight. Those recorded before have no such melt.

    A batch may be finished in parts; the lines of one part share its posting, and count while that posting stands.

    A result that was taken back and is entered anew goes into the lot it had, whose code may be on the jars: several
    lines may name one lot, of which one at the most stands. `begins` is the lot where the line is its first, so that
    `lot.outcome` tells the batch and the result of a lot, whatever became of them.
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
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="outcomes", null=True, blank=True)
    begins = models.OneToOneField(
        Lot, on_delete=models.PROTECT, related_name="outcome", null=True, blank=True, editable=False
    )
    emptied = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="melt", null=True, blank=True
    )
    weighed = models.BooleanField(default=True)

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
            models.CheckConstraint(
                name="outcome_begins_its_own_lot", condition=Q(begins__isnull=True) | Q(begins=F("lot"))
            ),
            models.CheckConstraint(
                name="outcome_melt_of_emptied_units",
                condition=Q(emptied__isnull=True) | Q(result="melt"),
            ),
            models.CheckConstraint(
                name="outcome_unweighed_melt_is_of_units",
                condition=Q(weighed=True) | Q(emptied__isnull=False),
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
    def melt_words(self) -> str:
        """Of recovered melt, where it is from and whether it was weighed; else empty."""
        if self.emptied_id is None:
            return ""
        return (
            "of the units to remelt"
            if self.weighed
            else "of the units to remelt, by their fill weight; not weighed"
        )

    @property
    def tone(self) -> str:
        """The tone of the result's mark."""
        tones = {"good": "good", "second": "attention", "scrap": "problem", "rework": "attention"}
        return tones.get(self.result, "plain")


class Flaw(models.Model):
    """What is wrong with some of the seconds of a yield, in the words of the studio's list."""

    outcome = models.ForeignKey(Outcome, on_delete=models.PROTECT, related_name="flaws")
    defect = models.CharField(max_length=60)
    quantity = ExactIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="flaw_is_positive", condition=Q(quantity__gt=0)),
            models.UniqueConstraint(fields=["outcome", "defect"], name="flaw_once_for_a_yield"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.defect}"


class BatchEnd(models.Model):
    """A batch came to its end (+1), finished or given up, or was opened again (-1): when, and by whom.

    Added up over what had happened by an instant they say whether the batch was over then.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="ends")
    sign = models.SmallIntegerField()
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="batch_end_or_opened_again", condition=Q(sign__in=(1, -1))),
        ]
        indexes = [
            # "Which batches came to their end in this period?": stock value and cost of goods.
            models.Index(fields=["happened_at", "batch"], name="batch_end_happened_at"),
        ]

    def __str__(self) -> str:
        return f"batch {self.batch_id} {'over' if self.sign > 0 else 'opened again'}"


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
