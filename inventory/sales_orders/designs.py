"""Which products and lots are of a design that was never approved, for the pages that sell and send them.

Designs belong to a package further up, which says so; see `inventory.neighbors`.
"""

from collections.abc import Iterable

from inventory.models import Item, Lot
from inventory.neighbors import neighbors

NOT_APPROVED = "not approved"


def products_not_approved(items: Iterable[Item]) -> set[int]:
    """Those of some products whose design was never approved, by key; one query for any number."""
    keys = {item.pk for item in items}
    return (
        {pk for neighbor in neighbors() for pk in neighbor.products_never_approved(keys)} if keys else set()
    )


def lots_not_approved(lots: Iterable[Lot]) -> set[int]:
    """Those of some lots of finished goods whose design was never approved, by key; a few queries for any number."""
    keys = {lot.pk for lot in lots}
    return {pk for neighbor in neighbors() for pk in neighbor.lots_never_approved(keys)} if keys else set()


def design_cell(is_unapproved: bool) -> str:
    """The cell of the column Design in a table that leaves: empty of what was approved, or is not made here."""
    return NOT_APPROVED if is_unapproved else ""
