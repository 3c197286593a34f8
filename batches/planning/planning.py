"""What a run needs, what is on the shelf for it, and which lots to take."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

from batches.formulas.sheet import HowMany, Sheet, Target, batch_sheet, how_many
from batches.formulas.tolerance import tolerance_in_all, too_coarse
from batches.lineage.recall_scope import Width, widths
from batches.models import Batch, FormulaLine, FormulaVersion
from batches.planning.lot_allocation import ByHand, chosen_of, taken_by_hand
from inventory.lots.shelves import as_shelf, shelves
from inventory.lots.suggestion import Pick, Shelf, suggest_lots
from inventory.models import Commitment, Item, Lot


@dataclass(frozen=True)
class SuggestedLot:
    """A lot to take, and how much of it, in base units. `allowed`: on hold or expired, and the owner lets it be used.

    `width`: what carries some of it already, where that was asked.
    """

    lot: Lot
    quantity: int
    allowed: bool = False
    width: Width | None = None


@dataclass(frozen=True)
class Need:
    """One line of the sheet beside the shelf. Quantities in the item's base unit.

    `left` is the target less what was drawn; `short` what no usable lot covers; `promised` what other batches
    and orders have been promised of the item, when that leaves too little for this one; `gap` how much too little.
    `by_hand`: somebody chose lots; `notes` say which of those could not be taken as they were chosen.
    """

    line: FormulaLine
    target: Target
    drawn: int
    left: int
    picks: tuple[SuggestedLot, ...]
    short: int
    promised: int
    reason: str
    gap: int = 0
    by_hand: bool = False
    notes: tuple[str, ...] = ()

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
    def pours_words(self) -> str:
        """What goes into each pot, equal ones together: "2 × 460 g + 359 g"; "" where there is one pot."""
        if len(self.target.pours) < 2:
            return ""
        groups = [(amount, len(list(same))) for amount, same in groupby(self.target.pours)]
        quantity = self.item.quantity
        return " + ".join(
            f"{count} × {quantity(amount)}" if count > 1 else quantity(amount) for amount, count in groups
        )

    @property
    def tolerance(self) -> int:
        """What the whole may be off by, in µg, all pours together; nothing where something is counted."""
        if not self.is_weighed:
            return 0
        return tolerance_in_all(self.target.pours, self.line.tolerance_ppm, self.line.version.division_ug)

    @property
    def coarse(self) -> str:
        """What there is to say of a scale whose steps are large for what is weighed; else empty."""
        if not self.is_weighed:
            return ""
        return too_coarse(self.target.pours, self.line.version.division_ug)

    @property
    def is_covered(self) -> bool:
        """Whether the target was drawn already, within its tolerance."""
        return self.drawn > 0 and self.left <= self.tolerance


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

    @property
    def widest(self) -> SuggestedLot | None:
        """The lot that most batches carry already, where that was asked and any does."""
        picks = [pick for need in self.needs for pick in need.picks if pick.width and pick.width.batches]
        return max(picks, key=lambda pick: pick.width.batches if pick.width else 0, default=None)


def plan_of(
    version: FormulaVersion,
    quantity: int,
    *,
    on: date,
    drawn: Mapping[int, int] | None = None,
    source: str = "",
    chosen: Mapping[int, Sequence[ByHand]] | None = None,
) -> Plan:
    """The sheet for `quantity`, with lots for what is not `drawn` yet (base units by line): those `chosen` by hand for a
    line, as far as they may be used and hold enough, and suggested ones for the rest.

    `source` is the batch's own code, whose commitments are not counted against it. Raises RecipeError.
    """
    drawn, chosen = drawn or {}, chosen or {}
    sheet = batch_sheet(version.recipe(), quantity)
    lines = {line.pk: line for line in version.lines.all()}
    for line in lines.values():
        line.version = version
    item_ids = {target.line.item_id for target in sheet.targets}
    on_shelf = shelves(item_ids, on)
    by_id = {lot.pk: lot for lots in on_shelf.values() for lot in lots}
    free = {item_id: [as_shelf(lot) for lot in lots] for item_id, lots in on_shelf.items()}
    promised = _promised(item_ids, source)
    # What was chosen for a line is there for no line before it.
    first = sorted(sheet.targets, key=lambda target: target.line.key not in chosen)
    needs: dict[int, Need] = {}
    for target in first:
        item_id, key = target.line.item_id, target.line.key
        left = max(target.total - drawn.get(key, 0), 0)
        hand = taken_by_hand(left, chosen.get(key, ()), free[item_id], on)
        rest = _after(free[item_id], hand.picks)
        suggestion = suggest_lots(left - hand.quantity, rest)
        free[item_id] = _after(rest, suggestion.picks)
        remaining = sum(shelf.on_hand for shelf in free[item_id])
        gap = max(promised.get(item_id, 0) - remaining, 0)
        needs[key] = Need(
            line=lines[key],
            target=target,
            drawn=drawn.get(key, 0),
            left=left,
            picks=tuple(
                _suggested(by_id[lot_id], quantity, on)
                for lot_id, quantity in _together(hand.picks, suggestion.picks).items()
            ),
            short=suggestion.short,
            promised=promised.get(item_id, 0) if gap else 0,
            reason=_why(hand.quantity, suggestion.reason if left - hand.quantity else ""),
            gap=gap,
            by_hand=bool(hand.quantity),
            notes=hand.notes,
        )
    return Plan(sheet, tuple(needs[target.line.key] for target in sheet.targets))


def _why(by_hand: int, reason: str) -> str:
    """Why these lots, in a sentence or two."""
    if not by_hand:
        return reason or "Nothing is needed."
    return f"Chosen by hand. The rest: {reason[:1].lower()}{reason[1:]}" if reason else "Chosen by hand."


def _together(*picks: Sequence[Pick]) -> dict[int, int]:
    """Base units by lot, in order; a lot that is named twice once."""
    found: dict[int, int] = {}
    for pick in (pick for each in picks for pick in each):
        found[pick.lot_id] = found.get(pick.lot_id, 0) + pick.quantity
    return found


def plan_of_batch(batch: Batch, *, on: date, drawn: Mapping[int, int]) -> Plan:
    """The plan of a batch as it stands, with the lots that were chosen for it.

    A run that is still to come takes lots that may be used on its day.
    """
    if batch.state == Batch.State.PLANNED:
        on = max(on, batch.planned_on)
    chosen = chosen_of(batch) if batch.is_open else {}
    return plan_of(batch.version, batch.quantity, on=on, drawn=drawn, source=batch.code, chosen=chosen)


def with_widths(plan: Plan) -> Plan:
    """The plan with what a recall of each of its lots would reach already; a few queries for any number of lots."""
    found = widths({pick.lot.pk for need in plan.needs for pick in need.picks})
    needs = (
        replace(need, picks=tuple(replace(pick, width=found[pick.lot.pk]) for pick in need.picks))
        for need in plan.needs
    )
    return replace(plan, needs=tuple(needs))


def _suggested(lot: Lot, quantity: int, on: date) -> SuggestedLot:
    return SuggestedLot(lot, quantity, allowed=lot.held or lot.expired(on))


def _after(shelf: list[Shelf], picks: Sequence[Pick]) -> list[Shelf]:
    """The shelf with these picks taken off, since two lines may use one item."""
    taken = {pick.lot_id: pick.quantity for pick in picks}
    return [replace(lot, on_hand=lot.on_hand - taken.get(lot.lot_id, 0)) for lot in shelf]


def _promised(item_ids: set[int], source: str) -> dict[int, int]:
    """What others have been promised of these items, in base units."""
    promised: dict[int, int] = {}
    others = Commitment.objects.filter(item__in=item_ids).exclude(source=source)
    for item_id, quantity in others.values_list("item_id", "quantity"):
        promised[item_id] = promised.get(item_id, 0) + quantity
    return promised


def most_from_shelf(version: FormulaVersion, *, on: date, spare_promises: bool = False) -> HowMany:
    """How many can be made of what is on the shelf, and which item is the limit.

    `spare_promises`: leaving alone what other batches and orders have been promised.
    """
    recipe = version.recipe()
    item_ids = {line.item_id for line in recipe.lines}
    available = {item_id: sum(lot.on_hand for lot in lots) for item_id, lots in shelves(item_ids, on).items()}
    if spare_promises:
        promised = _promised(item_ids, "")
        available = {key: max(there - promised.get(key, 0), 0) for key, there in available.items()}
    return how_many(recipe, available)


def most_of_lot(version: FormulaVersion, lot: Lot, *, on: date) -> HowMany:
    """How many can be made so that this lot alone covers its item, and everything else is on the shelf."""
    recipe = version.recipe()
    item_ids = {line.item_id for line in recipe.lines} - {lot.item_id}
    available = {
        item_id: sum(each.on_hand for each in lots) for item_id, lots in shelves(item_ids, on).items()
    }
    return how_many(recipe, available | {lot.item_id: lot.on_hand})
