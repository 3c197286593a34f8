"""What stock asks of packages further up the house, which know batches; the arrows of the house point down.

A package answers by a `Neighbor` of its own, named in `studio.wiring`. Each question may be asked for any number of keys
at once, and is answered in a fixed number of queries.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from functools import cache

from django.conf import settings
from django.db.models import Q
from django.utils.module_loading import import_string

from inventory.models import Customer
from studio.people.signature import Signature


class Neighbor:
    """A package further up as stock sees it; what is not overridden has nothing to say."""

    def units_being_made(self, line_ids: Collection[int]) -> Mapping[int, int]:
        """Base units that open batches will still bring for lines of sales orders, by the line's key."""
        return {}

    def materials_of_orders(self, on: date) -> Iterable[tuple[int, date, int]]:
        """What open sales orders will take of materials though no batch is planned for them yet: item, the day it is
        needed, base units."""
        return ()

    def products_never_approved(self, item_ids: Collection[int]) -> Collection[int]:
        """Of these products those whose design was never approved, by key."""
        return ()

    def lots_never_approved(self, lot_ids: Collection[int]) -> Collection[int]:
        """Of these lots of finished goods those of a design that was never approved, by key."""
        return ()

    def lots_of_codes(self, codes: Collection[str]) -> Mapping[str, Sequence[int]]:
        """The lots (by key) that codes of another kind, such as a batch's, stand for."""
        return {}

    def lots_instead(self, lot_ids: Collection[int]) -> Mapping[int, Sequence[int]]:
        """By the keys of lots that ended those that the package made, and the keys of the lots in their place."""
        return {}

    def results_awaited(self, lot_ids: Collection[int]) -> Mapping[int, tuple[str, str]]:
        """By the keys of lots that ended those whose result is still to be entered: a sentence that says so, and where."""
        return {}

    def why_customer_is_needed(self, customer: Customer) -> str:
        """Why a customer cannot be erased yet, a sentence; empty where nothing speaks against it."""
        return ""

    def customers_needed(self) -> Q:
        """All customers that cannot be erased yet, as a condition."""
        return Q(pk__in=())

    def erase_customer(self, customer: Customer, signature: Signature) -> None:
        """Erase what names a customer who is being erased."""


@cache
def neighbors() -> tuple[Neighbor, ...]:
    """All of them, in the order they are named."""
    return tuple(import_string(name)() for name in settings.NEIGHBORS)
