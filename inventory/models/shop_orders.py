"""How a shop writes the orders it exports, what it calls the studio's products, and which orders came in already."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.urls import reverse

from inventory.models.dispatches import Channel, Dispatch
from inventory.models.items import Item
from inventory.models.selling import CustomerOrder
from studio.models import User


class Shop(models.Model):
    """A shop whose export of orders is brought in: which column says what, kept by the shop's name.

    `columns` names the heading of each column that is read, by what it holds; see `inventory.shop_files.reading`.
    """

    class Becomes(models.TextChoices):
        """What an order of the file becomes here."""

        ORDER = "order", "Orders to be sent from here"
        SENT = "sent", "Dispatches: they have left already"

    name = models.CharField(max_length=60)
    columns = models.JSONField(default=dict)
    channel = models.ForeignKey(Channel, on_delete=models.PROTECT, related_name="shops", null=True)
    becomes = models.CharField(max_length=5, choices=Becomes.choices, default=Becomes.ORDER)
    days = models.CharField(max_length=5, blank=True)

    class Meta:
        ordering = [Lower("name")]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="shop_name_once",
                violation_error_message="A shop of this name is here already.",
            ),
            models.CheckConstraint(name="shop_becomes_is_known", condition=Q(becomes__in=("order", "sent"))),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The shop's page."""
        return reverse("inventory:shop-detail", args=[self.pk])


class ShopProduct(models.Model):
    """What a shop calls one of the studio's products; of a set, how many `pieces`. No item: none of ours, left out."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="products")
    words = models.CharField(max_length=200)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    pieces = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = [Lower("words")]
        constraints = [
            models.UniqueConstraint("shop", "words", name="shop_product_once"),
            models.CheckConstraint(name="shop_product_has_pieces", condition=Q(pieces__range=(1, 1000))),
        ]

    def __str__(self) -> str:
        return self.words


class ShopOrder(models.Model):
    """An order of a shop that came in, by the shop's reference. `digest` is of its goods, not of who ordered them."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="came_in")
    reference = models.CharField(max_length=60)
    digest = models.CharField(max_length=64)
    order = models.OneToOneField(
        CustomerOrder, on_delete=models.PROTECT, related_name="from_shop", null=True, blank=True
    )
    dispatch = models.OneToOneField(
        Dispatch, on_delete=models.PROTECT, related_name="from_shop", null=True, blank=True
    )
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "reference"], name="shop_order_once"),
            models.CheckConstraint(
                name="shop_order_became_something",
                condition=Q(order__isnull=False, dispatch__isnull=True)
                | Q(order__isnull=True, dispatch__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.reference


class WaitingOrders(models.Model):
    """A shop's file that was read and waits to be looked at. It names people: gone when brought in, or a day old."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="waiting")
    name = models.CharField("file", max_length=120)
    content = models.BinaryField()
    choices = models.JSONField(default=dict)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The page that says what is in it and what is wrong."""
        return reverse("inventory:shop-file", args=[self.shop_id, self.pk])
