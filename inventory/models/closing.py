"""The books closed up to a day, and what stood on the shelf then."""

from django.db import models
from django.db.models import F, Q

from inventory.models.items import Item
from studio.fields import ExactIntegerField
from studio.models import User


class Closing(models.Model):
    """The owner closed the books through a day: nothing is posted any more at any time before `until`.

    `until` is the first instant after the day on the studio's clock as it was then. It is never taken back; what was
    wrong before it is put right at the first moment after it.
    """

    through = models.DateField(unique=True)
    until = models.DateTimeField()
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-until"]
        constraints = [
            models.CheckConstraint(name="closing_of_the_past", condition=Q(until__lte=F("at"))),
        ]

    def __str__(self) -> str:
        return f"closed through {self.through}"


class ClosedStock(models.Model):
    """What there was of an item, in base units and millionths, when the books were closed: they must still say so."""

    closing = models.ForeignKey(Closing, on_delete=models.PROTECT, related_name="stock")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    quantity = ExactIntegerField()
    value = ExactIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["closing", "item"], name="closed_stock_once_for_an_item"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} worth {self.value}"
