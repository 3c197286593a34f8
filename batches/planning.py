"""What a run needs, what is on the shelf for it, and which lots to take."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from batches.models import Batch, FormulaLine, FormulaVersion
from batches.sheet import HowMany, Sheet, Target, batch_sheet, how_many
from inventory.models import Commitment, Item, Lot
from inventory.stock import as_shelf, shelves
from inventory.suggestion import Shelf, Suggestion, suggest_lots


@dataclass(frozen=True)
class SuggestedLot:
    """A lot to take, and how much of it, in base units. `allowed`: on hold or expired, and the owner lets it be used."""

    lot: Lot
    quantity: int
    allowed: bool = False


@dataclass(frozen=True)
class Need:
    """One line of the sheet beside the shelf. Quantities in the item's base unit.

    `left` is the target less what was drawn; `short` what no usable lot covers; `promised` what other batches
    and orders have been promised of the item, when that leaves too little for this one.
    """

    line: FormulaLine
    target: Target
    drawn: int
    left: int
    picks: tuple[SuggestedLot, ...]
    short: int
    promised: int
    reason: str

    @property
    def item(self) -> Item:
        """The item of the line."""
        return self.line.item

    @property
    def off(self) -> int:
        """How much more than the target was drawn; less is negative."""
        return self.drawn - self.target.total

    @property
    def is_weighed(self) -> bool:
        """Whether it goes into the pot."""
        return self.target.line.is_weighed

    @property
    def is_untouched(self) -> bool:
        """Whether the batch needs some and nothing of it was drawn."""
        return self.target.total > 0 and not self.drawn

    @property
    def is_covered(self) -> bool:
        """Whether the target was drawn already, within a scale division."""
        return self.drawn > 0 and self.left <= self.line.version.division_ug * self.is_weighed


@dataclass(frozen=True)
class Plan:
    """A batch sheet with the shelf beside it."""

    sheet: Sheet
    needs: tuple[Need, ...]

    @property
    def weighed(self) -> list[Need]:
        """What goes into the pot."""
        return [need for need in self.needs if need.is_weighed]

    @property
    def counted(self) -> list[Need]:
        """What goes with each unit."""
        return [need for need in self.needs if not need.is_weighed]

    @property
    def short(self) -> list[Need]:
        """What the shelf does not cover."""
        return [need for need in self.needs if need.short]

    @property
    def lots(self) -> int:
        """How many lots the suggestion takes: the width of a recall."""
        return len({pick.lot.pk for need in self.needs for pick in need.picks})


def plan_of(
    version: FormulaVersion,
    quantity: int,
    *,
    on: date,
    drawn: Mapping[int, int] | None = None,
    source: str = "",
) -> Plan:
    """The sheet for `quantity`, lots suggested for what is not `drawn` yet (base units by line).

    `source` is the batch's own code, whose commitments are not counted against it. Raises RecipeError.
    """
    drawn = drawn or {}
    sheet = batch_sheet(version.recipe(), quantity)
    lines = {line.pk: line for line in version.lines.all()}
    for line in lines.values():
        line.version = version
    item_ids = {target.line.item_id for target in sheet.targets}
    on_shelf = shelves(item_ids, on)
    by_id = {lot.pk: lot for lots in on_shelf.values() for lot in lots}
    free = {item_id: [as_shelf(lot) for lot in lots] for item_id, lots in on_shelf.items()}
    promised = _promised(item_ids, source)
    needs = []
    for target in sheet.targets:
        item_id = target.line.item_id
        left = max(target.total - drawn.get(target.line.key, 0), 0)
        suggestion = suggest_lots(left, free[item_id])
        free[item_id] = _after(free[item_id], suggestion)
        remaining = sum(shelf.on_hand for shelf in free[item_id])
        needs.append(
            Need(
                line=lines[target.line.key],
                target=target,
                drawn=drawn.get(target.line.key, 0),
                left=left,
                picks=tuple(_suggested(by_id[pick.lot_id], pick.quantity, on) for pick in suggestion.picks),
                short=suggestion.short,
                promised=promised.get(item_id, 0) if promised.get(item_id, 0) > remaining else 0,
                reason=suggestion.reason,
            )
        )
    return Plan(sheet, tuple(needs))


def plan_of_batch(batch: Batch, *, on: date, drawn: Mapping[int, int]) -> Plan:
    """The plan of a batch as it stands."""
    return plan_of(batch.version, batch.quantity, on=on, drawn=drawn, source=batch.code)


def _suggested(lot: Lot, quantity: int, on: date) -> SuggestedLot:
    return SuggestedLot(lot, quantity, allowed=lot.held or lot.expired(on))


def _after(shelf: list[Shelf], suggestion: Suggestion) -> list[Shelf]:
    """The shelf with the suggestion taken off, since two lines may use one item."""
    taken = {pick.lot_id: pick.quantity for pick in suggestion.picks}
    return [replace(lot, on_hand=lot.on_hand - taken.get(lot.lot_id, 0)) for lot in shelf]


def _promised(item_ids: set[int], source: str) -> dict[int, int]:
    """What others have been promised of these items, in base units."""
    promised: dict[int, int] = {}
    others = Commitment.objects.filter(item__in=item_ids).exclude(source=source)
    for item_id, quantity in others.values_list("item_id", "quantity"):
        promised[item_id] = promised.get(item_id, 0) + quantity
    return promised


def most_from_shelf(version: FormulaVersion, *, on: date) -> HowMany:
    """How many can be made of what is on the shelf, and which item is the limit."""
    recipe = version.recipe()
    on_shelf = shelves({line.item_id for line in recipe.lines}, on)
    return how_many(recipe, {item_id: sum(lot.on_hand for lot in lots) for item_id, lots in on_shelf.items()})
