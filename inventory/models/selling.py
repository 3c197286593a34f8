"""What customers ordered: so many of which goods, by when."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.models.dispatches import Channel, Customer, Dispatch
from inventory.models.items import Item
from studio.core.codes import spaced
from studio.fields import ExactIntegerField
from studio.models import User


class CustomerOrder(models.Model):
    """What somebody wants to have from the studio: a shop, an event, a customer of the web shop.

    What was sent of it is asked of its dispatches. `inventory.sales_orders.customer_orders` is the only writer.
    """

    class State(models.TextChoices):
        """How far it has got."""

        OPEN = "open", "Open"
        SENT = "sent", "Sent"
        CALLED_OFF = "called_off", "Called off"

    code = models.CharField(max_length=12, unique=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="orders")
    channel = models.ForeignKey(
        Channel, on_delete=models.PROTECT, related_name="orders", null=True, blank=True
    )
    reference = models.CharField("order reference", max_length=60, blank=True)
    wanted_on = models.DateField("wanted on")
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    note = models.TextField(blank=True, max_length=2000)
    taken_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()
    closed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["wanted_on", "pk"]
        constraints = [
            models.CheckConstraint(
                name="customer_order_state_is_known", condition=Q(state__in=("open", "sent", "called_off"))
            ),
            models.CheckConstraint(
                name="customer_order_closed_says_when",
                condition=Q(state="open", closed_at__isnull=True)
                | (~Q(state="open") & Q(closed_at__isnull=False)),
            ),
        ]
        indexes = [
            # "Which orders are still to be sent, and by when?": the list, the plan, the Today page.
            models.Index(fields=["state", "wanted_on"], name="customer_order_by_day"),
        ]

    def __str__(self) -> str:
        return f"Order {self.spaced_code}"

    def get_absolute_url(self) -> str:
        """The order's page."""
        return reverse("inventory:customer-order-detail", args=[self.code])

    @property
    def spaced_code(self) -> str:
        """The code in groups of three."""
        return spaced(self.code)

    @property
    def is_open(self) -> bool:
        """Whether something may still be sent for it."""
        return self.state == self.State.OPEN


class CustomerOrderLine(models.Model):
    """So many of one product."""

    order = models.ForeignKey(CustomerOrder, on_delete=models.PROTECT, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="customer_order_lines")
    quantity = ExactIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(name="customer_order_item_once", fields=["order", "item"]),
            models.CheckConstraint(name="customer_order_line_wants_something", condition=Q(quantity__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.item_id}: {self.quantity}"


class OrderDispatch(models.Model):
    """A dispatch that was sent for a customer's order."""

    order = models.ForeignKey(CustomerOrder, on_delete=models.PROTECT, related_name="dispatches")
    dispatch = models.OneToOneField(Dispatch, on_delete=models.PROTECT, related_name="for_order")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.order_id}: {self.dispatch_id}"
