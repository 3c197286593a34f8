"""Rates, each with the day from which it holds, so that a change never rewrites the past."""

from django.db import models
from django.db.models import Q

from studio.fields import ExactIntegerField
from studio.models import User


class LabourRate(models.Model):
    """What an hour of work costs from a day on: for one person, or for everybody without a rate of their own."""

    from_on = models.DateField("from")
    person = models.ForeignKey(
        User,
        on_delete=models.PROTECT,
        related_name="labour_rates",
        null=True,
        blank=True,
        help_text="Leave empty for everybody without a rate of their own.",
    )
    per_hour = ExactIntegerField("per hour")
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [models.CheckConstraint(name="labour_rate_not_negative", condition=Q(per_hour__gte=0))]

    def __str__(self) -> str:
        return f"{self.per_hour} from {self.from_on}"


class OverheadRate(models.Model):
    """What a batch bears of rent, energy and the rest, from a day on: one rule at a time."""

    class Basis(models.TextChoices):
        """What overhead is measured by."""

        LABOUR_HOUR = "per_labour_hour", "for each hour of labour"
        BATCH = "per_batch", "for each batch"
        UNIT = "per_unit", "for each unit poured"
        OF_LABOUR = "of_labour", "as a share of labour cost"

    from_on = models.DateField("from")
    basis = models.CharField(max_length=16, choices=Basis.choices)
    amount = ExactIntegerField(help_text="Millionths of the currency, or parts per million of labour.")
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [models.CheckConstraint(name="overhead_rate_not_negative", condition=Q(amount__gte=0))]

    def __str__(self) -> str:
        return f"{self.amount} {self.basis} from {self.from_on}"
