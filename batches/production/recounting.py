"""A count of output that was wrong, of which some left since: its lot is adjusted, and every shipment stays as it is."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Sum
from django.urls import reverse

from batches.models import Outcome
from inventory.lots.write_offs import seen_of
from inventory.models import Lot, Movement
from studio.core.quantities import QuantityError, format_quantity, parse_quantity

# What brings the books to what is there, of which nothing came or left: by hand, by a count, or as found.
PUT_RIGHT = (Movement.Kind.CORRECTED, Movement.Kind.COUNTED, Movement.Kind.FOUND)


@dataclass
class Gone:
    """A line of output that is not whole on the shelf, and what somebody typed it really was.

    `changed` is by how much the books were put right already.
    """

    outcome: Outcome
    lot: Lot
    changed: int = 0
    typed: str = ""
    error: str = ""

    @property
    def word(self) -> str:
        """What became of it, in a word."""
        return self.outcome.get_result_display().lower()

    @property
    def counted(self) -> int:
        """How much came out by the books as they are now."""
        return self.outcome.quantity + self.changed

    def adjust(self, text: str) -> str:
        """Where the lot is adjusted, with what it then holds and why filled in; "" with `error` where that cannot be."""
        self.typed = text
        item, lot = self.lot.item, self.lot
        try:
            came = parse_quantity(text, item.dimension, unit=item.unit)
        except QuantityError as error:
            self.error = str(error)
            return ""
        on_hand = lot.on_hand + came - self.counted
        if came == self.counted:
            self.error = self._recorded_words()
        elif on_hand <= 0:
            left = item.quantity(self.counted - lot.on_hand)
            self.error = f"{left} left already, so more than that came out. Check the figure."
        if self.error:
            return ""
        batch = self.outcome.batch
        note = f"{item.quantity(came)} {self.word} came of batch {batch.spaced_code}, not {item.quantity(self.counted)}"
        asked = {"on_hand": format_quantity(on_hand, item.unit), "note": note, "seen": seen_of(lot)}
        return f"{reverse('inventory:lot-put-right', args=[lot.code])}?{urlencode(asked)}"

    def _recorded_words(self) -> str:
        quantity = self.lot.item.quantity
        if not self.changed:
            return "That is what is recorded. Nothing needs adjusting."
        return (
            f"{quantity(self.outcome.quantity)} was recorded, and the lot was adjusted to {quantity(self.counted)} since. "
            "Nothing needs adjusting."
        )


def gone(part: Sequence[Outcome]) -> list[Gone]:
    """The lines of a part of which some left since. Each outcome comes with its lot and the lot's item."""
    lines = [(each, each.lot) for each in part if each.lot]
    lots = [lot.pk for _, lot in lines]
    kept, changed = _samples(lots), _changes(lots, PUT_RIGHT)
    return [
        Gone(each, lot, changed.get(lot.pk, 0))
        for each, lot in lines
        if lot.on_hand + kept.get(lot.pk, 0) < each.quantity
    ]


def _samples(lots: Sequence[int]) -> dict[int, int]:
    """Samples taken of lots, which opening a batch again puts back."""
    taken = Movement.objects.standing().filter(
        lot__in=lots, kind=Movement.Kind.SAMPLED, posting__reason="Retained sample"
    )
    return {lot: -total for lot, total in taken.order_by().values_list("lot").annotate(Sum("quantity"))}


def adjusted(lots: Sequence[Lot]) -> list[tuple[Lot, int]]:
    """Lots whose quantity was adjusted after it was recorded, and by how much. One query."""
    changes = _changes([lot.pk for lot in lots], (Movement.Kind.CORRECTED,))
    return [(lot, changes[lot.pk]) for lot in lots if changes.get(lot.pk)]


def _changes(lots: Sequence[int], kinds: Collection[Movement.Kind]) -> dict[int, int]:
    moved = Movement.objects.standing().filter(lot__in=lots, kind__in=kinds).order_by()
    return dict(moved.values_list("lot").annotate(Sum("quantity")))
