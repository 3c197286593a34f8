"""What the studio decides about buying: its rules, and what it knows will not be repeated."""

from django.db import models
from django.db.models import Q

from inventory.models.postings import Posting
from inventory.querysets import OneOffQuerySet
from studio.fields import ExactIntegerField
from studio.models import User

# Common practice, no source; the page marks them so until the owner sets them.
USUAL_SERVICE_PPM = 950_000
USUAL_WINDOW_DAYS = 90
USUAL_CARRYING_PPM = 200_000
USUAL_HORIZON_DAYS = 120


class ReorderRules(models.Model):
    """By which figures it is worked out what to buy: one row.

    `service_ppm` is the share of order cycles in which nothing should run out; `carrying_ppm` what a year on the
    shelf costs, as a share of the price; `order_cost` what placing and taking in one order costs, freight apart, None
    where nobody said; `set_at` is None while the figures are the usual ones and nobody looked at them.
    """

    service_ppm = ExactIntegerField("service level", default=USUAL_SERVICE_PPM)
    window_days = models.PositiveSmallIntegerField("days looked back", default=USUAL_WINDOW_DAYS)
    carrying_ppm = ExactIntegerField("a year on the shelf costs", default=USUAL_CARRYING_PPM)
    order_cost = ExactIntegerField("placing an order costs", null=True, blank=True)
    horizon_days = models.PositiveSmallIntegerField("days looked ahead", default=USUAL_HORIZON_DAYS)
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    set_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(name="reorder_rules_are_one_row", condition=Q(pk=1)),
            models.CheckConstraint(
                name="reorder_rules_are_possible",
                condition=Q(
                    service_ppm__gte=500_000,
                    service_ppm__lte=999_900,
                    window_days__gte=14,
                    window_days__lte=365,
                    carrying_ppm__gte=0,
                    carrying_ppm__lte=2_000_000,
                    horizon_days__gte=28,
                    horizon_days__lte=365,
                ),
            ),
            models.CheckConstraint(
                name="order_cost_is_not_negative",
                condition=Q(order_cost__isnull=True) | Q(order_cost__gte=0),
            ),
        ]

    def __str__(self) -> str:
        return "Rules of buying"


class OneOff(models.Model):
    """Somebody said that a posting was for something that will not come again, or (`is_one_off` false) took it back.

    The latest record of a posting counts.
    """

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="one_off_records")
    is_one_off = models.BooleanField()
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = OneOffQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{'one-off' if self.is_one_off else 'usual'}: {self.reason}"
