"""Which products and lots are of a design that was never approved, for the pages that sell and send them.

Designs belong to a package further up, which says so; see `tell_what_was_never_approved`.
"""

from collections.abc import Callable, Collection, Iterable

from inventory.models import Item, Lot

# Of so many keys those of designs that were never approved: of products, or of lots.
Unapproved = Callable[[Collection[int]], Collection[int]]
_of_products: list[Unapproved] = []
_of_lots: list[Unapproved] = []
NOT_APPROVED = "not approved"


def tell_what_was_never_approved(products: Unapproved, lots: Unapproved) -> None:
    """Have a package further up say which designs were never approved; called while Django starts."""
    for tellers, told in ((_of_products, products), (_of_lots, lots)):
        if told not in tellers:
            tellers.append(told)


def products_not_approved(items: Iterable[Item]) -> set[int]:
    """Those of some products whose design was never approved, by key; one query for any number."""
    keys = {item.pk for item in items}
    return {pk for told in _of_products for pk in told(keys)} if keys else set()


def lots_not_approved(lots: Iterable[Lot]) -> set[int]:
    """Those of some lots of finished goods whose design was never approved, by key; a few queries for any number."""
    keys = {lot.pk for lot in lots}
    return {pk for told in _of_lots for pk in told(keys)} if keys else set()


def design_cell(is_unapproved: bool) -> str:
    """The cell of the column Design in a table that leaves: empty of what was approved, or is not made here."""
    return NOT_APPROVED if is_unapproved else ""
