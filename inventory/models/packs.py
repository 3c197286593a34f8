"""How much is in one case, roll or ream of what a supplier sends, as it was said when it was first asked."""

from django.db import models
from django.db.models import Q

from inventory.models.items import Item, Supplier
from studio.fields import ExactIntegerField
from studio.models import User


class PackContent(models.Model):
    """What one pack of a kind holds, of one item of one supplier, in base units. Only added to; the newest counts."""

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="pack_contents")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="pack_contents")
    word = models.CharField(max_length=12)
    quantity = ExactIntegerField()
    said_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    said_at = models.DateTimeField()

    class Meta:
        ordering = ["said_at", "pk"]
        constraints = [models.CheckConstraint(name="pack_content_is_positive", condition=Q(quantity__gt=0))]

    def __str__(self) -> str:
        return f"{self.word}: {self.quantity}"
