"""Rates and standards, each with the day from which it holds, so that a change never rewrites the past."""

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q

from batches.models import Formula, Labour
from studio.core.numerals import decimal_text
from studio.core.percent import WHOLE
from studio.fields import ExactIntegerField
from studio.models import User


class LabourRate(models.Model):
    """What an hour of work costs from a day on: of one person, of one task, of both, or of everybody else."""

    from_on = models.DateField("from")
    person = models.ForeignKey(
        User,
        on_delete=models.PROTECT,
        related_name="labour_rates",
        null=True,
        blank=True,
        help_text="Leave empty for everybody without a rate of their own.",
    )
    task = models.CharField("for", max_length=8, choices=Labour.Step.choices, blank=True, default="")
    per_hour = ExactIntegerField("per hour")
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [models.CheckConstraint(name="labour_rate_not_negative", condition=Q(per_hour__gte=0))]

    def __str__(self) -> str:
        return f"{self.per_hour} from {self.from_on}"


class OverheadRate(models.Model):
    """What a batch bears of rent, energy and the rest, from a day on.

    Several hold at a time, told apart by `name`; a later one of the same name takes its place. `amount` is what is
    charged. Where it was worked out from what a month costs at normal capacity, `per_month` and `capacity` (thousandths
    of what the basis counts) say so; what is really made in a month then changes nothing (IAS 2, fixed overhead).
    """

    class Basis(models.TextChoices):
        """What overhead is measured by."""

        LABOUR_HOUR = "per_labour_hour", "for each hour of labour"
        BATCH = "per_batch", "for each batch"
        UNIT = "per_unit", "for each unit poured"
        MELT = "per_melt", "for each pot melted"
        KILOGRAM = "per_kg", "for each kilogram of melt"
        OF_LABOUR = "of_labour", "as a share of labour cost"

    name = models.CharField("what for", max_length=40, blank=True, default="")
    from_on = models.DateField("from")
    basis = models.CharField(max_length=16, choices=Basis.choices)
    amount = ExactIntegerField(help_text="Millionths of the currency, or parts per million of labour.")
    per_month = ExactIntegerField("costs a month", null=True, blank=True)
    capacity = ExactIntegerField("normal capacity", null=True, blank=True)
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [
            models.CheckConstraint(name="overhead_rate_not_negative", condition=Q(amount__gte=0)),
            models.CheckConstraint(
                name="overhead_capacity_with_its_cost",
                condition=Q(per_month__isnull=True, capacity__isnull=True)
                | Q(per_month__gte=0, capacity__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.basis} from {self.from_on}"

    @property
    def label(self) -> str:
        """What it is for, in words."""
        return self.name or "Overhead"

    @property
    def normal_words(self) -> str:
        """The normal capacity with what is counted: `45 hours`. Empty where none is kept."""
        if self.capacity is None:
            return ""
        counted = {
            "per_labour_hour": "hours",
            "per_batch": "batches",
            "per_unit": "units",
            "per_melt": "pots",
            "per_kg": "kg of melt",
            "of_labour": "of labour cost",
        }
        return f"{decimal_text(self.capacity, 3)} {counted[self.basis]}"


class OverheadPaid(models.Model):
    """What overhead really came to in a month, named by its first day. Only added; the latest for a month counts."""

    month = models.DateField()
    amount = ExactIntegerField()
    note = models.CharField(max_length=120, blank=True)
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-month", "-pk"]
        verbose_name_plural = "overhead paid"
        constraints = [
            models.CheckConstraint(name="overhead_paid_not_negative", condition=Q(amount__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.amount} in {self.month:%Y-%m}"


class WorkStandard(models.Model):
    """How long a product should take and how much of it is lost, as the studio set it from a day on.

    `spoilage_ppm` is the share of the units made that is expected to be no good; None: as the last runs showed.
    """

    formula = models.ForeignKey(Formula, on_delete=models.PROTECT, related_name="work_standards")
    from_on = models.DateField("from")
    spoilage_ppm = ExactIntegerField("expected to be lost", null=True, blank=True)
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="expected_loss_is_a_share",
                condition=Q(spoilage_ppm__isnull=True) | Q(spoilage_ppm__gte=0, spoilage_ppm__lt=WHOLE),
            )
        ]

    def __str__(self) -> str:
        return f"{self.formula_id} from {self.from_on}"


class WorkStep(models.Model):
    """One task of a standard: minutes for each batch, and seconds for each unit (for a blend, each kilogram)."""

    standard = models.ForeignKey(WorkStandard, on_delete=models.PROTECT, related_name="steps")
    task = models.CharField(max_length=8, choices=Labour.Step.choices)
    batch_minutes = models.PositiveIntegerField(
        "minutes a batch", default=0, validators=[MaxValueValidator(10_000)]
    )
    unit_seconds = models.PositiveIntegerField(
        "seconds each", default=0, validators=[MaxValueValidator(100_000)]
    )

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["standard", "task"], name="work_step_once")]

    def __str__(self) -> str:
        return f"{self.task}: {self.batch_minutes} min, {self.unit_seconds} s each"
