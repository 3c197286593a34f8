"""Mass balance: what came against what went and what is there, and the remainder nothing explains.

Quality practice: pick a lot, take what was received, what was used in each run, what was wasted and what is left, and
reconcile them. Of a lot the books always close, since a count puts the difference into them; here what only a count or
a finding explains is the remainder. Of a batch the remainder is what was weighed in and did not come out.

Plain Python; quantities are base units of what the balance is of.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from batches.lineage.lineage import Flow
from studio.core.percent import WHOLE

Line = tuple[str, int]

CAME = {
    "received": "Received",
    "made": "Made",
    "returned": "Came back",
    "decanted": "Decanted into it",
    "corrected": "Put right",
}
WENT = {
    "used before": "Used before these books",
    "sent before": "Sent out before these books",
    "drawn": "Drawn into batches",
    "decanted": "Decanted from it",
    "dispatched": "Sent out",
    "scrapped": "Scrapped",
    "sampled": "Sampled",
    "sent_back": "Back to the supplier",
}


@dataclass(frozen=True)
class Balance:
    """Both sides of a balance, each line a word and a quantity, and how much of the whole may go unexplained (ppm).

    `explained` says what a remainder is known to be, such as what counts found: above zero for what is missing.
    `allowed` is what was expected to be lost. `closed` is false while more is to come or to go.
    """

    came: tuple[Line, ...]
    went: tuple[Line, ...]
    at_most_ppm: int
    on_hand: int = 0
    explained: tuple[Line, ...] = ()
    allowed: int = 0
    closed: bool = True

    @property
    def whole(self) -> int:
        """All that came."""
        return sum(quantity for _, quantity in self.came)

    @property
    def accounted(self) -> int:
        """All that went or is there."""
        return sum(quantity for _, quantity in self.went) + self.on_hand

    @property
    def remainder(self) -> int:
        """What came and is not accounted for; below zero where more is accounted for than came."""
        return self.whole - self.accounted

    @property
    def unexplained(self) -> int:
        """The remainder beyond what was expected to be lost; nothing where less was lost than that."""
        return self.remainder if self.remainder < 0 else max(self.remainder - self.allowed, 0)

    @property
    def gap(self) -> int:
        """What of the remainder nothing in the books says: nothing, where the books agree. Of a lot only."""
        return self.remainder - sum(quantity for _, quantity in self.explained)

    def of_whole(self, quantity: int) -> Fraction | None:
        """A quantity as a ratio of all that came; None where nothing came."""
        return Fraction(quantity, self.whole) if self.whole > 0 else None

    @property
    def accounted_share(self) -> Fraction | None:
        """The share of what came that is accounted for."""
        return self.of_whole(self.accounted)

    @property
    def remainder_share(self) -> Fraction | None:
        """The remainder as a share of what came."""
        return self.of_whole(self.remainder)

    @property
    def within(self) -> bool:
        """Whether what is unexplained stays within what the studio allows."""
        return abs(self.unexplained) * WHOLE <= self.at_most_ppm * max(self.whole, 0)


def of_lot(flow: Flow, *, on_hand: int, at_most_ppm: int) -> Balance:
    """The balance of a lot. What was put right counts as what came: the paper was wrong, not the shelf."""
    came = {word: flow.came.get(kind, 0) for kind, word in CAME.items()}
    came[CAME["corrected"]] -= flow.went.get("corrected", 0)
    counted = flow.went.get("counted", 0) - flow.came.get("counted", 0)
    explained = (("By counting", counted), ("Found", -flow.came.get("found", 0)))
    return Balance(
        came=_there(came),
        went=_there({word: flow.went.get(kind, 0) for kind, word in WENT.items()}),
        on_hand=on_hand,
        explained=tuple((word, quantity) for word, quantity in explained if quantity),
        at_most_ppm=at_most_ppm,
    )


def of_melt(
    drawn: Mapping[str, int], came_out: Mapping[str, int], *, loss_ppm: int, at_most_ppm: int, over: bool
) -> Balance:
    """The balance of what was weighed into a batch: µg by item, and µg of melt in what came out, by what it is.

    `loss_ppm` is the formula's allowance on top of the melt that is wanted.
    """
    weighed = sum(drawn.values())
    return Balance(
        came=_there(drawn),
        went=_there(came_out),
        allowed=weighed * loss_ppm // (WHOLE + loss_ppm),
        closed=over,
        at_most_ppm=at_most_ppm,
    )


def of_fitted(drawn: int, units: Mapping[str, int], each: int, *, at_most_ppm: int, over: bool) -> Balance:
    """The balance of what was set out with each unit: what was drawn against what the units took, by what became of
    them."""
    return Balance(
        came=_there({"Drawn": drawn}),
        went=_there({word: count * each for word, count in units.items()}),
        closed=over,
        at_most_ppm=at_most_ppm,
    )


def _there(lines: Mapping[str, int]) -> tuple[Line, ...]:
    return tuple((word, quantity) for word, quantity in lines.items() if quantity)
