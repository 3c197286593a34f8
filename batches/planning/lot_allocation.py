"""Lots that somebody chose for a run in place of the suggestion: kept, and held against what the shelf can give.

A choice is a plan, not a fact: what was drawn counts towards it, and where a lot has become unusable or too small in the
meantime it is said and the suggestion takes its place.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.db.models import Sum

from batches.formulas.sheet import batch_sheet
from batches.models import Batch, ChosenLot, Draw, FormulaLine
from inventory.ledger.books import BookError, check_usable_on
from inventory.lots.suggestion import Pick, Shelf
from inventory.models import Item, Lot


class ChoiceError(Exception):
    """A lot cannot be chosen as it was. Its text is a sentence; `line_id` and `lot_id` say for what."""

    def __init__(self, sentence: str, line_id: int, lot_id: int | None = None) -> None:
        super().__init__(sentence)
        self.line_id, self.lot_id = line_id, lot_id


@dataclass(frozen=True)
class ByHand:
    """A lot chosen for a line, and how much of it is still to be taken, in base units."""

    lot: Lot
    quantity: int


@dataclass(frozen=True)
class Hand:
    """What the chosen lots give: picks, base units in all, and a sentence for each that gives less than was chosen."""

    picks: tuple[Pick, ...]
    quantity: int
    notes: tuple[str, ...]


# Base units by lot, by line of the formula.
Chosen = Mapping[int, Mapping[int, int]]


def taken_by_hand(left: int, chosen: Sequence[ByHand], shelf: Sequence[Shelf], on: date) -> Hand:
    """What the chosen lots give towards `left` base units, from the usable lots on the shelf."""
    there = {lot.lot_id: lot.on_hand for lot in shelf}
    picks, notes = [], []
    for each in chosen:
        wanted = min(each.quantity, left)
        taken = min(wanted, there.get(each.lot.pk, 0))
        if taken < wanted:
            notes.append(_note(each, wanted, taken, there, on))
        if taken:
            picks.append(Pick(each.lot.pk, each.lot.code, taken))
            left -= taken
    return Hand(tuple(picks), sum(pick.quantity for pick in picks), tuple(notes))


def _note(each: ByHand, wanted: int, taken: int, there: Mapping[int, int], on: date) -> str:
    lot, quantity = each.lot, each.lot.item.quantity
    if lot.pk in there:
        return f"Lot {lot.spaced_code} was chosen for {quantity(wanted)} and has {quantity(taken)}; the rest is suggested."
    state = lot.state(on)[1].lower()
    return f"Lot {lot.spaced_code} was chosen and is {state} now; other lots are suggested in its place."


def chosen_of(batch: Batch) -> dict[int, list[ByHand]]:
    """What was chosen for a batch and not drawn yet, by line; two queries, one where nothing was chosen."""
    rows = list(ChosenLot.objects.filter(batch=batch).select_related("lot__item").order_by("pk"))
    if not rows:
        return {}
    drawn = _drawn(batch)
    found: dict[int, list[ByHand]] = {}
    for row in rows:
        left = max(row.quantity - drawn.get((row.line_id, row.lot_id), 0), 0)
        found.setdefault(row.line_id, []).append(ByHand(row.lot, left))
    return found


def _drawn(batch: Batch) -> dict[tuple[int, int], int]:
    """Base units drawn into a batch so far, by line and lot; one query."""
    taken = Draw.objects.standing().filter(batch=batch).order_by().values_list("line", "movement__lot")
    return {
        (line_id, lot_id): -total
        for line_id, lot_id, total in taken.annotate(total=Sum("movement__quantity"))
    }


@transaction.atomic
def choose(batch: Batch, chosen: Chosen, *, on: date) -> None:
    """Keep which lots a batch, which is locked and open, is to take for these lines; none for a line: as suggested.

    What was drawn already is kept besides, so the quantities are those still to be taken. The lots must be of the line's
    item, usable on `on` and hold what is asked of them in all; a line asks for no more than it still needs. Lines that
    are not named keep what was chosen. Raises ChoiceError.
    """
    lines = {
        line.pk: line for line in FormulaLine.objects.filter(version=batch.version_id).select_related("item")
    }
    lots = Lot.objects.select_related("item").in_bulk({lot_id for lots in chosen.values() for lot_id in lots})
    targets = {
        target.line.key: target.total
        for target in batch_sheet(batch.version.recipe(), batch.quantity).targets
    }
    drawn = _drawn(batch)
    for (line_id, _), quantity in drawn.items():
        targets[line_id] -= quantity
    asked: dict[int, int] = {}
    for line_id, takes in chosen.items():
        if line_id not in lines:
            raise ChoiceError("This line is not in the batch's formula. Reload the page.", line_id)
        for lot_id, quantity in takes.items():
            _check(lines[line_id], lots.get(lot_id), lot_id, quantity, asked, on)
        if (total := sum(takes.values())) > targets[line_id]:
            raise ChoiceError(_too_much(lines[line_id].item, max(targets[line_id], 0), total), line_id)
    ChosenLot.objects.filter(batch=batch, line__in=chosen).delete()
    ChosenLot.objects.bulk_create(
        ChosenLot(
            batch=batch, line_id=line_id, lot_id=lot_id, quantity=quantity + drawn.get((line_id, lot_id), 0)
        )
        for line_id, takes in chosen.items()
        for lot_id, quantity in takes.items()
    )


def _too_much(item: Item, needed: int, total: int) -> str:
    return f"{item.quantity(total)} of {item} are chosen and {item.quantity(needed)} are needed. Take less of one lot."


def _check(
    line: FormulaLine, lot: Lot | None, lot_id: int, quantity: int, asked: dict[int, int], on: date
) -> None:
    """Refuse a lot that cannot give so much to a line; `asked` is what other lines ask of each lot."""
    if lot is None or quantity <= 0:
        raise ChoiceError("Choose a lot that is there, and a quantity above zero.", line.pk, lot_id)
    if lot.item_id != line.item_id:
        raise ChoiceError(f"Lot {lot.spaced_code} is {lot.item}, not {line.item}.", line.pk, lot_id)
    try:
        check_usable_on(lot, on)
    except BookError as error:
        raise ChoiceError(str(error), line.pk, lot_id) from error
    asked[lot_id] = asked.get(lot_id, 0) + quantity
    if asked[lot_id] > lot.on_hand:
        raise ChoiceError(
            f"Lot {lot.spaced_code} holds {lot.item.quantity(lot.on_hand)}; {lot.item.quantity(asked[lot_id])} are "
            "chosen of it.",
            line.pk,
            lot_id,
        )
