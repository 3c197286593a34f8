"""What the value of goods holds, by dated rules, and the figures of a closing."""

from django.db import models
from django.db.models import Q

from inventory.models import Closing
from studio.core.percent import WHOLE
from studio.fields import ExactIntegerField
from studio.models import User


class GoodsRule(models.Model):
    """What is counted into goods from a day on. The books carry material; labour and overhead are added, or not.

    `normal_loss_ppm` is how many units, for each good one, a batch may lose before the loss is abnormal. One rule holds
    for a whole report: that of its last day.
    """

    class Blends(models.TextChoices):
        """Where blends made here stand."""

        IN_PROGRESS = "in_progress", "with what is in progress"
        RAW = "raw", "with raw materials"

    from_on = models.DateField("from")
    with_labour = models.BooleanField("labour of those employed", default=True)
    with_owner = models.BooleanField("the owner's own labour", default=False)
    with_overhead = models.BooleanField("overhead", default=True)
    normal_loss_ppm = ExactIntegerField("normal loss", default=50_000)
    blends = models.CharField(
        "blends count", max_length=11, choices=Blends.choices, default=Blends.IN_PROGRESS
    )
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="normal_loss_is_a_share",
                condition=Q(normal_loss_ppm__gte=0, normal_loss_ppm__lte=WHOLE),
            ),
            models.CheckConstraint(
                name="goods_rule_knows_where_blends_stand", condition=Q(blends__in=("in_progress", "raw"))
            ),
        ]

    def __str__(self) -> str:
        return f"from {self.from_on}"


class ClosedFigure(models.Model):
    """One figure of the report as it stood when the books were closed, in millionths: it must come out the same."""

    closing = models.ForeignKey(Closing, on_delete=models.PROTECT, related_name="figures")
    name = models.CharField(max_length=40)
    value = ExactIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["closing", "name"], name="closed_figure_once"),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.value}"
