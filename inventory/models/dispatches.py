"""Goods that leave to somebody and goods that come back: who has what, of which lot, through which channel.

Whatever is personal stands in `Customer` and nowhere else, so that it can be erased in one place: quantities, lots,
channels and order references stay as they are, and an erased customer still counts as one.
"""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.urls import reverse

from inventory.models.lots import Lot
from inventory.models.postings import Posting
from inventory.querysets import DispatchQuerySet
from studio.fields import ExactIntegerField
from studio.models import User


class Channel(models.Model):
    """Where goods are sold or given away: the web shop, a market, wholesale."""

    name = models.CharField(max_length=60)
    retired = models.BooleanField(default=False, help_text="Stays on what was sent and is no longer offered.")

    class Meta:
        ordering = [Lower("name")]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="dispatch_channel_name_once",
                violation_error_message="A channel of this name exists already.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Customer(models.Model):
    """Somebody who gets goods: a person, a shop, a market, a venue. `inventory.customers.customers` is the only writer.

    As text it is a number and never a name, so that nothing personal is shown, exported or logged by accident; pages
    for people who may know ask `display_name`.
    """

    name = models.CharField(max_length=120, blank=True)
    contact = models.CharField("whom to ask for", max_length=120, blank=True)
    reach = models.TextField("how to reach them", max_length=500, blank=True)
    is_person = models.BooleanField("a private person", default=True)
    added_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True, blank=True)
    erased_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = [Lower("name"), "pk"]
        constraints = [
            models.CheckConstraint(
                name="customer_erased_has_nothing_personal",
                condition=Q(erased_at__isnull=True) | Q(name="", contact="", reach=""),
            ),
            models.CheckConstraint(
                name="customer_has_a_name", condition=Q(erased_at__isnull=False) | ~Q(name="")
            ),
        ]
        indexes = [
            # "Is this somebody we know?": each sending, each order, a shop's orders brought in.
            models.Index(Lower("name"), name="customer_by_name"),
        ]

    def __str__(self) -> str:
        return f"Erased customer {self.pk}" if self.erased_at else f"Customer {self.pk}"

    def get_absolute_url(self) -> str:
        """The customer's page."""
        return reverse("inventory:customer-detail", args=[self.pk])

    @property
    def known_name(self) -> str:
        """The name, for pages that only owner and makers see; the number once erased."""
        return self.name or str(self)

    def display_name(self, user: User) -> str:
        """What this person may call them: owner and makers by name, all others by number; a shop goes by its name."""
        if self.erased_at or (self.is_person and not user.makes):
            return str(self)
        return self.known_name

    def reached(self, user: User) -> str:
        """How they are reached on one line, for owner and makers; empty where it is not known."""
        return ", ".join(filter(None, (self.contact, *self.reach.splitlines()))) if user.makes else ""


def party_called(customer: Customer | None, channel: Channel | None, user: User) -> str:
    """Who got goods, as far as this person may know: a customer, or whoever bought on a channel."""
    if customer:
        return customer.display_name(user)
    return f"Unknown, {channel}" if channel else "Not on record"


class Dispatch(models.Model):
    """Goods leaving by lot, to a customer where one is known. Its lots are the movements of its posting."""

    class Kind(models.TextChoices):
        """Why they leave."""

        SALE = "sale", "Sale"
        WHOLESALE = "wholesale", "Wholesale"
        EVENT = "event", "Event order"
        SAMPLE = "sample", "Sample"
        GIFT = "gift", "Gift"
        REPLACEMENT = "replacement", "Replacement"

    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="dispatch")
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.SALE)
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, related_name="dispatches", null=True, blank=True
    )
    channel = models.ForeignKey(
        Channel, on_delete=models.PROTECT, related_name="dispatches", null=True, blank=True
    )
    reference = models.CharField("order reference", max_length=60, blank=True)

    objects = DispatchQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="dispatch_kind_is_known",
                condition=Q(kind__in=("sale", "wholesale", "event", "sample", "gift", "replacement")),
            )
        ]
        indexes = [
            # "What was sent for this order reference?": the search box, tracing, a shop's orders brought in.
            models.Index(fields=["reference"], condition=~Q(reference=""), name="dispatch_by_reference"),
        ]

    def __str__(self) -> str:
        return f"Dispatch {self.pk}"

    def get_absolute_url(self) -> str:
        """The dispatch's page."""
        return reverse("inventory:dispatch-detail", args=[self.pk])

    @property
    def party(self) -> tuple[int | None, int | None]:
        """Whom it went to, by key: the customer, or else the channel."""
        return (self.customer_id, None) if self.customer_id else (None, self.channel_id)

    @property
    def to(self) -> str:
        """Who got it, by number; "not on record" where nobody was named. Wants its customer read along."""
        return str(self.customer) if self.customer else "not on record"

    def to_for(self, user: User) -> str:
        """Who got it, as far as this person may know. Wants its customer read along."""
        return self.customer.display_name(user) if self.customer else "not on record"


class DispatchChange(models.Model):
    """What was put right of a dispatch's head: to whom, why, by which channel or order. Customers by number only."""

    dispatch = models.ForeignKey(Dispatch, on_delete=models.PROTECT, related_name="changes")
    what = models.CharField(max_length=30)
    before = models.CharField(max_length=80, blank=True)
    after = models.CharField(max_length=80, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.what}: {self.before} → {self.after}"


class Return(models.Model):
    """Goods of a dispatch that came back. `inventory.shipments.dispatching` is the only writer."""

    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="goods_return")
    dispatch = models.ForeignKey(Dispatch, on_delete=models.PROTECT, related_name="returns")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"Return {self.pk}"


class ReturnLine(models.Model):
    """So many base units of `source`, the lot that was sent, came back as `lot`: one of its own, on hold."""

    goods_return = models.ForeignKey(Return, on_delete=models.PROTECT, related_name="lines")
    source = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="came_back_as")
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="came_back_from")
    quantity = ExactIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="return_line_brings_something", condition=Q(quantity__gt=0)),
            models.CheckConstraint(name="return_line_is_a_lot_of_its_own", condition=~Q(source=F("lot"))),
        ]

    def __str__(self) -> str:
        return f"{self.source_id} → {self.lot_id}: {self.quantity}"


class Retention(models.Model):
    """How long customers are kept after the last that was sent to them or taken back; None: until erased by hand."""

    months = models.PositiveSmallIntegerField(null=True, blank=True)
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    set_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(name="retention_is_one_row", condition=Q(pk=1)),
            models.CheckConstraint(
                name="retention_is_possible", condition=Q(months__isnull=True) | Q(months__range=(1, 240))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.months} months" if self.months else "until erased by hand"
