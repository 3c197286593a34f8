"""Where a plan begins: an order's line, a lot to use up, or all that the shelf allows. Gives how many, and in words why."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from batches.formulas.approved import made_first
from batches.models import FormulaVersion
from batches.planning.planning import most_from_shelf, most_of_lot
from inventory.ledger.books import BookError, check_usable_on
from inventory.models import CustomerOrderLine, Item, Lot
from inventory.sales_orders.order_standing import OrderLineStatus, standings


class CannotStart(Exception):
    """Nothing can be worked out from this beginning. Its text is a sentence; `field` names what it is about."""

    def __init__(self, sentence: str, field: str) -> None:
        super().__init__(sentence)
        self.field = field


@dataclass(frozen=True)
class Start:
    """How many to make, in base units of the product, and how that was worked out."""

    quantity: int
    words: str


def order_lines(on: date) -> list[OrderLineStatus]:
    """Lines of open orders of which something is still to be sent, the first wanted first."""
    return [line for lines in standings(on).values() for line in lines if line.left]


def version_for(item: Item) -> FormulaVersion | None:
    """The version to pour a product from; see `versions_for`."""
    return versions_for({item.pk}).get(item.pk)


def versions_for(item_ids: Collection[int]) -> dict[int, FormulaVersion]:
    """The version to pour each product from, with its lines; see `made_first`."""
    versions = made_first(FormulaVersion.objects.filter(formula__item__in=item_ids))
    found: dict[int, FormulaVersion] = {}
    for version in versions.select_related("formula").prefetch_related("lines__item"):
        found.setdefault(version.formula.item_id, version)
    return found


def from_order(line: CustomerOrderLine, on: date) -> Start:
    """What an order's line still wants, less what is ready and what is coming. Raises CannotStart."""
    found = next((each for each in order_lines(on) if each.line.pk == line.pk), None)
    if found is None:
        raise CannotStart("Nothing more is to be sent of this line. Choose another.", "line")
    words = _order_words(found)
    if not found.to_pour:
        raise CannotStart(
            f"{words}: nothing is left to pour. To pour more all the same, say how many.", "line"
        )
    return Start(found.to_pour, f"{words}; so {found.item.quantity(found.to_pour)} to pour")


def _order_words(found: OrderLineStatus) -> str:
    quantity = found.item.quantity
    parts = [f"{quantity(found.line.quantity)} wanted"]
    for amount, word in (
        (found.sent, "sent"),
        (found.ready, "ready"),
        (found.curing, "curing"),
        (found.making, "being made"),
    ):
        if amount:
            parts.append(f"{quantity(amount)} {word}")
    return ", ".join(parts)


def from_lot(version: FormulaVersion, lot: Lot, on: date) -> Start:
    """As many as this lot alone covers of its item, with all else on the shelf. Raises CannotStart, RecipeError."""
    if lot.item_id not in {line.item_id for line in version.lines.all()}:
        raise CannotStart(f"{version} uses no {lot.item}. Choose another formula.", "formula")
    try:
        check_usable_on(lot, on)
    except BookError as error:
        raise CannotStart(str(error), "lot") from error
    most = most_of_lot(version, lot, on=on)
    makes = version.formula.item
    if not most.quantity:
        raise CannotStart(f"Not one can be made of it: {most.limit_name} is the limit.", "lot")
    limit = f"{most.limit_name} is the limit"
    if most.limit_item_id == lot.item_id:
        limit = "with one more the lot would not be enough"
    return Start(most.quantity, f"Lot {lot.spaced_code} covers {makes.quantity(most.quantity)}; {limit}")


def from_shelf(version: FormulaVersion, on: date) -> Start:
    """As many as the shelf allows. Raises CannotStart, RecipeError."""
    most = most_from_shelf(version, on=on)
    if not most.quantity:
        raise CannotStart(f"Not one can be made: {most.limit_name} is the limit.", "formula")
    limit = f"; {most.limit_name} is the limit" if most.limit_name else ""
    return Start(
        most.quantity, f"The shelf has enough for {version.formula.item.quantity(most.quantity)}{limit}"
    )
