"""What arrived: deliveries, their lines, and what was billed for them afterwards."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.models.items import Item, Supplier
from inventory.models.orders import OrderLine
from inventory.querysets import LateCostQuerySet
from studio.fields import ExactIntegerField


class Delivery(models.Model):
    """One arrival of goods: who sent it, on which paper, and what carriage cost."""

    class Spread(models.TextChoices):
        """How freight and duty are shared over the lines."""

        VALUE = "value", "by what the lines cost"
        WEIGHT = "weight", "by weight (every line must be weighed)"

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="deliveries")
    reference = models.CharField("invoice or delivery note", max_length=60, blank=True)
    freight = ExactIntegerField(default=0)
    spread = models.CharField(max_length=6, choices=Spread.choices, default=Spread.VALUE)
    posting = models.OneToOneField("Posting", on_delete=models.PROTECT, related_name="delivery")

    class Meta:
        ordering = ["-pk"]
        constraints = [models.CheckConstraint(name="freight_is_not_negative", condition=Q(freight__gte=0))]

    def __str__(self) -> str:
        return self.reference or f"Delivery {self.pk}"

    def get_absolute_url(self) -> str:
        """The delivery's page."""
        return reverse("inventory:delivery-detail", args=[self.pk])


class DeliveryLine(models.Model):
    """One line of the supplier's invoice, as it was typed and as it was understood."""

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="delivery_lines")
    order_line = models.ForeignKey(
        OrderLine, on_delete=models.PROTECT, related_name="arrivals", null=True, blank=True
    )
    packs = models.PositiveIntegerField(default=1)
    pack_quantity = ExactIntegerField()
    typed_quantity = models.CharField(max_length=60)
    typed_price = models.CharField(max_length=60)
    goods_value = ExactIntegerField()
    freight_value = ExactIntegerField(default=0)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.packs} × {self.typed_quantity}"

    @property
    def quantity(self) -> int:
        """Everything on the line, in the item's base unit."""
        return self.packs * self.pack_quantity

    @property
    def landed_value(self) -> int:
        """Price plus the line's share of freight, in millionths."""
        return self.goods_value + self.freight_value


class LateCost(models.Model):
    """Freight or duty billed after its delivery, or a credit for it (below zero). Why: the reason of its posting."""

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="late_costs")
    posting = models.OneToOneField("Posting", on_delete=models.PROTECT, related_name="late_cost")
    amount = ExactIntegerField()
    spread = models.CharField(max_length=6, choices=Delivery.Spread.choices)
    reference = models.CharField("invoice or credit note", max_length=60, blank=True)

    objects = LateCostQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(name="late_cost_is_not_nothing", condition=~Q(amount=0))]

    def __str__(self) -> str:
        return self.reference or f"Billed later {self.pk}"
