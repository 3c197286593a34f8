"""What is looked at before goods are sold: fill weights, and the release of a lot."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from batches.models.production import Batch
from inventory.models import Lot
from studio.fields import ExactIntegerField
from studio.models import Market, User


class FillCheck(models.Model):
    """A sample of net weights of one batch against the weight its label declares. Never changed; made anew."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="fill_checks")
    declared_ug = ExactIntegerField("declared")
    market = models.CharField(max_length=2, choices=Market.choices)
    lot_size = models.PositiveIntegerField("units in the lot")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="fill_check_declares_something", condition=Q(declared_ug__gt=0, lot_size__gt=0)
            ),
        ]

    def __str__(self) -> str:
        return f"fill check {self.pk}"

    def get_absolute_url(self) -> str:
        """The check's page."""
        return reverse("batches:fill-detail", args=[self.pk])


class FillWeight(models.Model):
    """One net weight of a fill check, in the order they were weighed."""

    check_of = models.ForeignKey(FillCheck, on_delete=models.PROTECT, related_name="weights")
    number = models.PositiveIntegerField()
    net_ug = ExactIntegerField("net")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["check_of", "number"], name="fill_weight_number_once"),
            models.CheckConstraint(name="fill_weight_is_positive", condition=Q(net_ug__gt=0)),
        ]

    def __str__(self) -> str:
        return str(self.net_ug)


class Release(models.Model):
    """A person looked at a lot of finished goods and let it go on sale, and what they had looked at."""

    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="release")
    label_right = models.BooleanField("label right")
    warning_on = models.BooleanField("warning label on every unit")
    fill_check = models.ForeignKey(
        FillCheck, on_delete=models.PROTECT, related_name="releases", null=True, blank=True
    )
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"released by {self.by_id}"
