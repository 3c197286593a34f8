"""Formulas in numbered versions, and the batches that are made from them."""

from datetime import date

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.urls import reverse

from batches.querysets import BatchQuerySet, DrawQuerySet, OutcomeQuerySet
from batches.recipe import Basis, Recipe, RecipeLine
from inventory.models import Grade, Item, Kind, Lot, Movement, Posting
from studio.codes import spaced
from studio.fields import ExactIntegerField
from studio.models import User
from studio.percent import format_percent


class Formula(models.Model):
    """What one product or blend is made of and how, in numbered versions."""

    name = models.CharField(max_length=120)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="formulas", verbose_name="makes")
    retired = models.BooleanField(default=False)

    class Meta:
        ordering = [Lower("name")]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="formula_name_once",
                violation_error_message="A formula of this name exists already.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The formula's page."""
        return reverse("batches:formula-detail", args=[self.pk])


class FormulaVersion(models.Model):
    """One numbered version. Once a batch was planned from it, it never changes; the database refuses it."""

    class State(models.TextChoices):
        """How far a version has got. Trade words."""

        TRIAL = "trial", "Trial"
        APPROVED = "approved", "Approved"
        RETIRED = "retired", "Retired"

    formula = models.ForeignKey(Formula, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.TRIAL)
    fill_ug = ExactIntegerField("fill weight", null=True, blank=True)
    loss_ppm = ExactIntegerField("loss allowance", default=0)
    pot_ug = ExactIntegerField("pot takes", null=True, blank=True)
    division_ug = ExactIntegerField("scale's division", default=1_000_000)
    heat_to_mc = ExactIntegerField("heat to", null=True, blank=True)
    fragrance_at_mc = ExactIntegerField("add fragrance at", null=True, blank=True)
    pour_from_mc = ExactIntegerField("pour from", null=True, blank=True)
    pour_to_mc = ExactIntegerField("pour to", null=True, blank=True)
    rest_hours = models.PositiveIntegerField("rest before finishing", null=True, blank=True)
    cure_days = models.PositiveIntegerField("cure", default=0)
    notes = models.TextField("working notes", blank=True, max_length=2000)
    what_changed = models.CharField("what changed and why", max_length=300, blank=True)
    written_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["formula", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["formula", "number"], name="formula_version_number_once"),
            models.CheckConstraint(
                name="formula_state_is_known", condition=Q(state__in=["trial", "approved", "retired"])
            ),
            models.CheckConstraint(
                name="pour_window_is_a_window",
                condition=Q(pour_from_mc__isnull=True)
                | Q(pour_to_mc__isnull=True)
                | Q(pour_from_mc__lte=F("pour_to_mc")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.formula}, version {self.number}"

    def get_absolute_url(self) -> str:
        """The version's page."""
        return reverse("batches:version-detail", args=[self.formula_id, self.number])

    def recipe(self) -> Recipe:
        """The version as plain figures for the arithmetic. Reads its lines."""
        return Recipe(
            lines=tuple(line.recipe_line() for line in self.lines.all()),
            fill_ug=self.fill_ug,
            loss_ppm=self.loss_ppm,
            pot_ug=self.pot_ug,
            division_ug=self.division_ug,
        )


class FormulaLine(models.Model):
    """One thing in a formula, on its basis: parts per million of wax or melt, or base units per unit made."""

    class BasisChoice(models.TextChoices):
        """What the amount is a share of, in words."""

        WAX_SHARE = Basis.WAX_SHARE.value, "share of the wax"
        OF_WAX = Basis.OF_WAX.value, "% of wax"
        OF_MELT = Basis.OF_MELT.value, "% of melt"
        PER_UNIT = Basis.PER_UNIT.value, "per unit"

    version = models.ForeignKey(FormulaVersion, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="formula_lines")
    basis = models.CharField(max_length=9, choices=BasisChoice.choices)
    amount = ExactIntegerField()
    spare_ppm = ExactIntegerField(default=0)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="formula_line_has_an_amount", condition=Q(amount__gt=0)),
            models.CheckConstraint(name="formula_line_spare_not_negative", condition=Q(spare_ppm__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.item}: {self.amount_words}"

    def recipe_line(self) -> RecipeLine:
        """The line as plain figures."""
        return RecipeLine(
            key=self.pk,
            item_id=self.item_id,
            name=self.item.name,
            basis=Basis(self.basis),
            amount=self.amount,
            spare_ppm=self.spare_ppm,
            is_fragrance=self.item.kind == Kind.FRAGRANCE,
        )

    @property
    def amount_words(self) -> str:
        """The amount with its basis, for the eye."""
        if self.basis == Basis.PER_UNIT:
            spare = f", {format_percent(self.spare_ppm)} spare" if self.spare_ppm else ""
            return f"{self.item.quantity(self.amount)} per unit{spare}"
        share = format_percent(self.amount, places=4)
        return {
            Basis.WAX_SHARE: f"{share} of the wax",
            Basis.OF_WAX: f"{share} of wax",
            Basis.OF_MELT: f"{share} of melt",
        }[Basis(self.basis)]


class Batch(models.Model):
    """One production run of one formula version. Its code stands on every jar."""

    class State(models.TextChoices):
        """Where the run has got to."""

        PLANNED = "planned", "Planned"
        STARTED = "started", "In progress"
        FINISHED = "finished", "Finished"
        CALLED_OFF = "called_off", "Called off"

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
        return {"planned": "plain", "started": "attention", "finished": "good", "called_off": "plain"}[
            self.state
        ]


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
    """One line of a batch's yield: how much came out good, as seconds, or scrap and why.

    Good units and seconds became a lot; scrap did not. The lines of one finishing share its posting, and count
    while that posting stands.
    """

    class Result(models.TextChoices):
        """What became of it."""

        GOOD = "good", "Good"
        SECOND = "second", "Seconds"
        SCRAP = "scrap", "Scrap"

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
                condition=Q(result="scrap", lot__isnull=True) | (~Q(result="scrap") & Q(lot__isnull=False)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.result}"

    @property
    def grade(self) -> Grade:
        """The grade of the lot it became."""
        return Grade.SECOND if self.result == self.Result.SECOND else Grade.FIRST


# The trade's words for what goes wrong with a container candle. Common practice, read on trade pages.
DEFECTS = (
    "Sinkhole",
    "Wet spots",
    "Frosting",
    "Rough top",
    "Cracking",
    "Air bubbles",
    "Jump lines",
    "Discolouration",
    "Sweating",
    "Wick off centre",
    "Chipped vessel",
    "Underfilled",
    "Other",
)


def ready_on(version: FormulaVersion, poured_on: date) -> date | None:
    """The day a pour of this version has cured; None when it needs no cure."""
    return date.fromordinal(poured_on.toordinal() + version.cure_days) if version.cure_days else None
