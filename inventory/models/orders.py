"""What suppliers quoted, and what was ordered of them."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from inventory.models.items import Item, Supplier
from inventory.querysets import OfferQuerySet, OrderLineQuerySet, OrderQuerySet
from studio.core.codes import spaced
from studio.fields import ExactIntegerField
from studio.models import User


class Offer(models.Model):
    """What a supplier asks for one size of pack of an item, from a day on.

    An offer is never changed: a new quotation is a new row, and what was asked before stays as price history. One
    entered by mistake is withdrawn.
    """

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="offers")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="offers")
    pack_quantity = ExactIntegerField()
    typed_pack = models.CharField(max_length=60)
    supplier_code = models.CharField("supplier's article number", max_length=60, blank=True)
    minimum_packs = models.PositiveIntegerField(default=1)
    lead_days = models.PositiveIntegerField("stated lead time", null=True, blank=True)
    quoted_on = models.DateField()
    valid_until = models.DateField(null=True, blank=True)
    withdrawn = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    objects = OfferQuerySet.as_manager()

    class Meta:
        ordering = ["-quoted_on", "-pk"]
        constraints = [
            models.CheckConstraint(name="offer_pack_is_positive", condition=Q(pack_quantity__gt=0)),
            models.CheckConstraint(name="offer_minimum_is_positive", condition=Q(minimum_packs__gt=0)),
            models.CheckConstraint(
                name="offer_ends_after_it_began",
                condition=Q(valid_until__isnull=True) | Q(valid_until__gte=F("quoted_on")),
            ),
        ]
        indexes = [
            # "What did suppliers ask for this item, the latest first?": the item's page, orders, costing.
            models.Index(fields=["item", "-quoted_on"], name="offer_of_item"),
        ]

    def __str__(self) -> str:
        return f"{self.typed_pack} from {self.supplier_id}"

    def get_absolute_url(self) -> str:
        """The offer's page."""
        return reverse("inventory:offer-detail", args=[self.pk])


class OfferBreak(models.Model):
    """The price of one pack when at least so many are ordered at once. The first break begins at the minimum."""

    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, related_name="breaks")
    from_packs = models.PositiveIntegerField()
    price = ExactIntegerField()

    class Meta:
        ordering = ["from_packs"]
        constraints = [
            models.UniqueConstraint(fields=["offer", "from_packs"], name="offer_break_once"),
            models.CheckConstraint(name="offer_break_from_one", condition=Q(from_packs__gt=0)),
            models.CheckConstraint(name="offer_price_is_not_negative", condition=Q(price__gte=0)),
        ]

    def __str__(self) -> str:
        return f"from {self.from_packs}: {self.price}"


class Order(models.Model):
    """What was asked of one supplier on one paper: a purchase order."""

    class State(models.TextChoices):
        """Where an order stands. Part received is a sent order of which some came; see `OrderQuerySet`."""

        DRAFT = "draft", "Draft"
        SENT = "sent", "Sent"
        CLOSED = "closed", "Closed"
        CALLED_OFF = "called_off", "Called off"

    code = models.CharField(max_length=12, unique=True)
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="orders")
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    note = models.TextField("note to the supplier", blank=True, max_length=1000)
    expected_on = models.DateField("expected", null=True, blank=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    sent_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=300, blank=True)

    objects = OrderQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="order_state_is_known",
                condition=Q(state__in=("draft", "sent", "closed", "called_off")),
            ),
            models.CheckConstraint(
                name="order_sent_names_its_time",
                condition=Q(state__in=("draft", "called_off")) | Q(sent_at__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        """The order's page."""
        return reverse("inventory:order-detail", args=[self.code])

    @property
    def spaced_code(self) -> str:
        """The code in groups of three, as it is printed."""
        return spaced(self.code)

    @property
    def is_draft(self) -> bool:
        """Whether it may still be changed."""
        return self.state == self.State.DRAFT

    @property
    def is_sent(self) -> bool:
        """Whether goods are still expected."""
        return self.state == self.State.SENT


class OrderLine(models.Model):
    """One line of a purchase order: so many packs of an item. `price` is of one pack, None where it is not known."""

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="order_lines")
    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    packs = models.PositiveIntegerField()
    pack_quantity = ExactIntegerField()
    typed_pack = models.CharField(max_length=60)
    price = ExactIntegerField(null=True, blank=True)
    supplier_code = models.CharField("supplier's article number", max_length=60, blank=True)

    objects = OrderLineQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="order_line_orders_something", condition=Q(packs__gt=0, pack_quantity__gt=0)
            ),
            models.CheckConstraint(
                name="order_price_is_not_negative", condition=Q(price__isnull=True) | Q(price__gte=0)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.packs} × {self.typed_pack}"

    @property
    def quantity(self) -> int:
        """Everything on the line, in the item's base unit."""
        return self.packs * self.pack_quantity

    @property
    def outstanding(self) -> int:
        """What is still to come, in base units; only where the line was read with what came of it."""
        received: int = self.received  # type: ignore[attr-defined]  # see OrderLineQuerySet.with_received
        return max(self.quantity - received, 0)

    @property
    def total(self) -> int | None:
        """The price of the whole line in millionths; None where it is not known."""
        return None if self.price is None else self.packs * self.price
