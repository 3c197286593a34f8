"""A count of output that was wrong, of which some left since: its lot is adjusted, and every shipment stays as it is."""

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Sum
from django.urls import reverse

from batches.models import Outcome
from inventory.models import Lot, Movement
from studio.quantities import QuantityError, format_quantity, parse_quantity


@dataclass
class Gone:
    """A line of output that is not whole on the shelf, and what somebody typed it really was."""

    outcome: Outcome
    lot: Lot
    typed: str = ""
    error: str = ""

    @property
    def word(self) -> str:
        """What became of it, in a word."""
        return self.outcome.get_result_display().lower()

    def adjust(self, text: str) -> str:
        """Where the lot is adjusted, with what it then holds and why filled in; "" with `error` where that cannot be."""
        self.typed = text
        item, lot = self.lot.item, self.lot
        try:
            came = parse_quantity(text, item.dimension, unit=item.unit)
        except QuantityError as error:
            self.error = str(error)
            return ""
        on_hand = lot.on_hand + came - self.outcome.quantity
        if came == self.outcome.quantity:
            self.error = "That is what is recorded. Nothing needs adjusting."
        elif on_hand <= 0:
            gone = item.quantity(self.outcome.quantity - lot.on_hand)
            self.error = f"{gone} left already, so more than that came out. Check the figure."
        if self.error:
            return ""
        batch = self.outcome.batch
        recorded = item.quantity(self.outcome.quantity)
        note = f"{item.quantity(came)} {self.word} came of batch {batch.spaced_code}, not {recorded}"
        asked = {"on_hand": format_quantity(on_hand, item.unit), "note": note}
        return f"{reverse('inventory:lot-put-right', args=[lot.code])}?{urlencode(asked)}"


def gone(part: Sequence[Outcome]) -> list[Gone]:
    """The lines of a part of which some left since. Each outcome comes with its lot and the lot's item."""
    lines = [(each, each.lot) for each in part if each.lot]
    kept = _samples([lot.pk for _, lot in lines])
    return [Gone(each, lot) for each, lot in lines if lot.on_hand + kept.get(lot.pk, 0) < each.quantity]


def _samples(lots: Sequence[int]) -> dict[int, int]:
    """Samples taken of lots, which opening a batch again puts back."""
    taken = Movement.objects.standing().filter(
        lot__in=lots, kind=Movement.Kind.SAMPLED, posting__reason="Retained sample"
    )
    return {lot: -total for lot, total in taken.order_by().values_list("lot").annotate(Sum("quantity"))}


def adjusted(lots: Sequence[Lot]) -> list[tuple[Lot, int]]:
    """Lots whose quantity was adjusted after it was recorded, and by how much. One query."""
    moved = Movement.objects.standing().filter(lot__in=lots, kind=Movement.Kind.CORRECTED).order_by()
    changes = dict(moved.values_list("lot").annotate(Sum("quantity")))
    return [(lot, changes[lot.pk]) for lot in lots if changes.get(lot.pk)]
