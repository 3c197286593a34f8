"""Customers and channels: known again, written down, put right. The only writer of what is personal.

Two people may have one name. Somebody counts as known when the name is the same and nothing that was given besides
speaks against it; who cannot be told apart by name and how to reach them is one customer.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from operator import or_

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Lower

from inventory.models import Channel, Customer, CustomerOrder, WaitingOrders
from inventory.neighbors import neighbors
from studio.models import User
from studio.people.signature import Signature

REACH_AT_MOST = 500


@dataclass(frozen=True)
class Contact:
    """Somebody as people write them down: a name, whom to ask for, how to reach them."""

    name: str
    contact: str = ""
    reach: str = ""


def one_line(text: str) -> str:
    """A name as it is kept: no spaces around it nor two in a row."""
    return " ".join(text.split())


def channel_named(name: str) -> Channel | None:
    """The channel of this name in whatever capitals, made when it is new; None for no name."""
    name = one_line(name)
    if not name:
        return None
    known = Channel.objects.annotate(low=Lower("name")).filter(low=Lower(Value(name))).first()
    # Somebody else may have added it in between: the constraint decides, and theirs is taken.
    return known or Channel.objects.get_or_create(name=name)[0]


@transaction.atomic
def customer_named(who: Contact | None, *, at: datetime) -> Customer | None:
    """The customer that is meant, written down when nobody fits; None where nobody is named.

    What was not known of them yet is added to what is kept. They are locked, so that nobody erases them meanwhile.
    """
    if who is None or not (name := one_line(who.name)):
        return None
    # Compared by the database, whose index answers; a name in other capitals is the same name.
    same_name = Customer.objects.annotate(low=Lower("name")).filter(low=Lower(Value(name))).order_by("pk")
    known = next((each for each in reversed(_locked(same_name)) if _fits(each, who)), None)
    if known is None:
        return Customer.objects.create(
            name=name, contact=who.contact.strip(), reach=who.reach.strip(), added_at=at
        )
    before = known.contact, known.reach
    known.contact = known.contact or who.contact.strip()
    kept = _ways(known.reach)
    more = [line for plain, line in _ways(who.reach).items() if plain not in kept]
    if len(together := "\n".join(filter(None, (known.reach, *more)))) <= REACH_AT_MOST:
        known.reach = together
    if (known.contact, known.reach) != before:
        known.save(update_fields=["contact", "reach"])
    return known


def _locked(rows: QuerySet[Customer]) -> list[Customer]:
    return list(rows.select_for_update(of=("self",), no_key=True))


def lock_named(names: Iterable[str]) -> None:
    """Lock all customers of these names, by key: for what names many of them one after the other."""
    low = {one_line(name).lower() for name in names}
    _locked(Customer.objects.annotate(low=Lower("name")).filter(low__in=low).order_by("pk"))


def lock_with_orders(customer_ids: Collection[int]) -> None:
    """Lock the orders of these customers, then the customers themselves, each by key."""
    orders = CustomerOrder.objects.filter(customer__in=customer_ids).order_by("pk")
    list(orders.select_for_update(of=("self",), no_key=True).values_list("pk"))
    _locked(Customer.objects.filter(pk__in=customer_ids).order_by("pk"))


def _fits(customer: Customer, who: Contact) -> bool:
    """Whether what is given besides the name speaks for this customer, or at least not against: one way to reach them
    is the same, or one side knows none."""
    given, kept = _ways(who.reach), _ways(customer.reach)
    return not given or not kept or bool(given.keys() & kept.keys())


def _ways(reach: str) -> dict[str, str]:
    """The lines of how to reach somebody, by what they are without spaces and capitals."""
    lines = (line.strip() for line in reach.splitlines())
    return {"".join(line.split()).casefold(): line for line in lines if line}


def customers_like(text: str, user: User, path: str = "") -> Q:
    """Customers whose name has the text, as far as this person may know names; `path` leads to the customer."""
    known = Q(**{f"{path}name__icontains": text})
    return known if user.makes else known & Q(**{f"{path}is_person": False})


@transaction.atomic
def write_customer(customer_id: int, who: Contact, *, is_person: bool) -> Customer:
    """Put right what is written of a customer who was not erased. Raises CustomerGone."""
    customer = Customer.objects.select_for_update(of=("self",), no_key=True).get(pk=customer_id)
    if customer.erased_at:
        raise CustomerGone("This customer was erased. Nothing personal is written here any more.")
    customer.name, customer.contact, customer.reach = (
        one_line(who.name),
        who.contact.strip(),
        who.reach.strip(),
    )
    customer.is_person = is_person
    customer.save(update_fields=["name", "contact", "reach", "is_person"])
    return customer


class CustomerGone(Exception):
    """A customer was erased meanwhile. Its text is a sentence."""


class StillOpen(Exception):
    """A customer waits for an order, which could not be sent any more. Its text is a sentence."""


def still_needed() -> Q:
    """Customers that cannot be erased yet, as a condition: an order is open, or a package above needs them."""
    waiting = CustomerOrder.objects.filter(customer=OuterRef("pk"), state=CustomerOrder.State.OPEN)
    return reduce(or_, (neighbor.customers_needed() for neighbor in neighbors()), Q(Exists(waiting)))


@transaction.atomic
def erase(customer_id: int, *, signature: Signature, keep_name: bool = False) -> Customer:
    """Take away everything personal of a customer: what was sent, and what it was ordered for, stays with its figures.

    The notes of their orders go too, since people write into them, and the files of shops that wait to be brought in,
    since they may name them. `keep_name` for a shop, whose name is nobody's. Calling again changes nothing.
    Raises StillOpen.
    """
    lock_with_orders([customer_id])
    customer = Customer.objects.get(pk=customer_id)
    if customer.erased_at:
        return customer
    waiting = customer.orders.filter(state=CustomerOrder.State.OPEN).order_by("pk").first()
    if waiting:
        raise StillOpen(
            f"Order {waiting.spaced_code} is open, and could not be sent without a name. Send it or call it off first."
        )
    if said := next(
        (said for neighbor in neighbors() if (said := neighbor.why_customer_is_needed(customer))), ""
    ):
        raise StillOpen(said)
    for neighbor in neighbors():
        neighbor.erase_customer(customer, signature)
    WaitingOrders.objects.all().delete()
    customer.orders.exclude(note="").update(note="")
    if keep_name:
        customer.contact = customer.reach = ""
        customer.save(update_fields=["contact", "reach"])
        return customer
    customer.name = customer.contact = customer.reach = ""
    customer.erased_at, customer.erased_by = signature.recorded_at, signature.by
    customer.save(update_fields=["name", "contact", "reach", "erased_at", "erased_by"])
    return customer
