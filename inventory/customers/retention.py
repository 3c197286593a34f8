"""How long what is personal of customers is kept: so many months after the last of their business, as the studio sets.

Of a shop or a venue the name stays, since it is nobody's; whom to ask for there and how to reach them go. Somebody
whose order, complaint or recall is open is not erased.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import F, Max, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce, Greatest

from inventory.customers.customers import StillOpen, erase, lock_with_orders, still_needed
from inventory.models import Customer, CustomerOrder, Dispatch, Retention, Return
from studio.core.days import begin
from studio.people.signature import Signature


@dataclass(frozen=True)
class Due:
    """A customer whose time is over; `last_at` their last business, the day they were added where there was none."""

    customer: Customer
    last_at: datetime

    @property
    def keeps_name(self) -> bool:
        """Whether only the contact goes."""
        return not self.customer.is_person


def rule() -> Retention:
    """What the studio set; nothing is erased by itself until it did."""
    return Retention.objects.select_related("set_by").filter(pk=1).first() or Retention(pk=1)


@transaction.atomic
def set_rule(months: int | None, *, signature: Signature) -> Retention:
    """Set for how many months customers are kept; None: until erased by hand."""
    return Retention.objects.update_or_create(
        pk=1, defaults={"months": months, "set_by": signature.by, "set_at": signature.recorded_at}
    )[0]


def back(day: date, months: int) -> date:
    """The same day so many months before; the last of its month where there is none such."""
    year, month = divmod(day.year * 12 + day.month - 1 - months, 12)
    for last in (day.day, 30, 29, 28):
        try:
            return date(year, month + 1, min(day.day, last))
        except ValueError:
            continue
    raise AssertionError  # every month has 28 days


def with_last(rows: "QuerySet[Customer]") -> Any:
    """Customers with `last_at`: their latest dispatch, order or return, or when they were written down."""
    theirs = OuterRef("pk")
    sent = _latest(Dispatch.objects.filter(customer=theirs), "customer", "posting__happened_at")
    returned = _latest(
        Return.objects.filter(dispatch__customer=theirs), "dispatch__customer", "posting__happened_at"
    )
    ordered = _latest(CustomerOrder.objects.filter(customer=theirs), "customer", "taken_at")
    return rows.annotate(last_at=Greatest(sent, returned, ordered))


def _latest(rows: QuerySet[Any], of: str, moment: str) -> Coalesce:
    """The latest moment among rows of the outer customer, or when that was written down."""
    latest = rows.order_by().values(of).annotate(latest=Max(moment)).values("latest")
    return Coalesce(Subquery(latest), F("added_at"))


def due(months: int | None, on: date) -> list[Due]:
    """Whom to erase on a day, the longest silent first; one query."""
    if not months:
        return []
    limit = begin(back(on, months))
    personal = Q(is_person=True) | ~Q(contact="") | ~Q(reach="")
    rows = (
        with_last(Customer.objects.all())
        .filter(personal, erased_at=None, last_at__lt=limit)
        .exclude(still_needed())
    )
    return [Due(row, row.last_at) for row in rows.order_by("last_at", "pk")]


@transaction.atomic
def erase_due(on: date, *, signature: Signature) -> int:
    """Erase everybody whose time is over on a day, by the studio's rule; how many they were."""
    many = 0
    lock_with_orders([each.customer.pk for each in due(rule().months, on)])
    # Looked at only now: something may have been opened while the locks were waited for.
    for each in due(rule().months, on):
        try:
            erase(each.customer.pk, signature=signature, keep_name=each.keeps_name)
        except StillOpen:
            continue  # something was opened just now
        many += 1
    return many
