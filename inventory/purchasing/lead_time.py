"""How long deliveries take: from real ones, else as stated, and which of the two was taken.

Days from the day an order was sent to the day its goods came. Plain Python.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt

# So many deliveries tell a mean and a spread; of fewer, what the supplier states comes first. Common practice, no source.
ENOUGH = 3


@dataclass(frozen=True)
class LeadTime:
    """Mean and spread in days, from `count` deliveries (0: stated), and where it is from, as the end of a sentence."""

    mean: float
    sd: float
    count: int
    said: str

    @property
    def days(self) -> int:
        """Whole days to allow, rounded up."""
        return ceil(self.mean - 1e-9)

    def within(self, z: float) -> int:
        """Whole days to allow where nothing lies on the shelf to wait with: `z` standard deviations beyond the mean."""
        return ceil(self.mean + max(z, 0.0) * self.sd - 1e-9)

    @property
    def is_measured(self) -> bool:
        """Whether real deliveries were measured."""
        return self.count > 0

    @property
    def is_thin(self) -> bool:
        """Whether it rests on too few deliveries, or on what was stated alone: then no spread is known."""
        return self.count < ENOUGH


def lead_time(
    *,
    of_item: Sequence[int],
    of_supplier: Sequence[int],
    offer_says: int | None,
    supplier_says: int | None,
) -> LeadTime | None:
    """The lead time of an item from a supplier; None where nothing is known.

    `of_item` are the days of real deliveries of this item by this supplier, `of_supplier` of its orders whatever was on
    them. Three of the item, else three of the supplier, else what is stated, else the one or two there are.
    """
    if len(of_item) >= ENOUGH:
        return _measured(of_item, f"{len(of_item)} deliveries of it")
    if len(of_supplier) >= ENOUGH:
        return _measured(of_supplier, f"{len(of_supplier)} deliveries of this supplier, whatever came")
    few = of_item or of_supplier
    real = f"; {_few(few)}" if few else ""
    if offer_says is not None:
        return LeadTime(float(offer_says), 0.0, 0, f"what the offer states{real}")
    if supplier_says is not None:
        return LeadTime(float(supplier_says), 0.0, 0, f"what the supplier states{real}")
    if few:
        return LeadTime(sum(few) / len(few), 0.0, len(few), f"{_few(few)} only; nothing is stated")
    return None


def _few(days: Sequence[int]) -> str:
    took = " and ".join(str(each) for each in days)
    return f"one delivery, which took {took} days" if len(days) == 1 else f"two deliveries, of {took} days"


def _measured(days: Sequence[int], said: str) -> LeadTime:
    count = len(days)
    mean = sum(days) / count
    return LeadTime(mean, sqrt(sum((each - mean) ** 2 for each in days) / (count - 1)), count, said)
