"""Labour, overhead and abnormal loss in goods: what each batch added, and how much of it is still here.

Figures as they stood at one instant go in, and what is on the shelf and in the pots comes out. What a batch added lies in
the good units it made, by quantity; what leaves a lot takes its share along into other batches, containers and back from
customers. Abnormal loss is taken out of goods as its batch ends (IAS 2, read in summaries: abnormal waste is no cost of
inventory). Plain arithmetic in millionths; nothing here reads the database or the clock.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from costing.model.job_cost import split_spoilage
from studio.core.money import share
from studio.core.percent import WHOLE


@dataclass(frozen=True)
class Added:
    """Millionths beyond what the books carry: labour of those employed, the owner's, overhead, and material that is
    taken out of goods as abnormal loss (below zero)."""

    labour: int = 0
    owner: int = 0
    overhead: int = 0
    material: int = 0

    def __add__(self, other: "Added") -> "Added":
        return Added(*(a + b for a, b in zip(self.parts, other.parts, strict=True)))

    def __sub__(self, other: "Added") -> "Added":
        return Added(*(a - b for a, b in zip(self.parts, other.parts, strict=True)))

    @property
    def parts(self) -> tuple[int, int, int, int]:
        """The four sums."""
        return self.labour, self.owner, self.overhead, self.material

    def part(self, part: int, whole: int) -> "Added":
        """The share that `part` of `whole` carries, each rounded half to even."""
        if whole <= 0 or not part:
            return NOTHING
        return Added(*(share(sum_, part, whole) if sum_ else 0 for sum_ in self.parts))


NOTHING = Added()


@dataclass(frozen=True)
class CarryingLot:
    """A lot that may carry: what it took in and holds, in base units, and where it came from (one of the three).

    `filled_from`: pairs of parent and base units, and `share` what it got of all that was filled then.
    """

    took_in: int
    on_hand: int
    batch: int | None = None
    filled_from: Sequence[tuple[int, int]] = ()
    share: tuple[int, int] = (0, 0)
    came_back_from: int | None = None


@dataclass
class CarryingBatch:
    """A batch at the instant: its own work and overhead, the material the books took into it, and what it drew and made.

    `made` are the units of each lot that carries; `good`, `lost` and `planned` units of the product. `material` has what
    recovered melt took along left out.
    """

    own: Added
    material: int = 0
    over: bool = False
    good: int = 0
    lost: int = 0
    planned: int = 0
    drew: list[tuple[int, int]] = field(default_factory=list)
    made: dict[int, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Carried:
    """What lies in lots on the shelf, by lot; in batches that are not over; and what was abnormal loss until then.

    `abnormal.material` is above zero; the other parts of it left goods with it. `added` is all that was ever added.
    """

    lots: dict[int, Added]
    batches: dict[int, Added]
    abnormal: Added
    added: Added


def carried(
    batches: Mapping[int, CarryingBatch], lots: Mapping[int, CarryingLot], normal_loss_ppm: int
) -> Carried:
    """Work out what is carried where. Batches and lots are named by their keys."""
    told = _Flow(batches, lots, normal_loss_ppm)
    in_pots = {key: told.left_in_pot(key) for key, batch in batches.items() if not batch.over}
    abnormal = sum((told.batch(key)[1] for key in batches), NOTHING)
    on_shelf = {
        key: told.lot(key).part(lot.on_hand, lot.took_in) for key, lot in lots.items() if lot.on_hand > 0
    }
    return Carried(
        {key: added for key, added in on_shelf.items() if added != NOTHING},
        {key: added for key, added in in_pots.items() if added != NOTHING},
        abnormal,
        sum((batch.own for batch in batches.values()), NOTHING),
    )


class _Flow:
    """What each lot and batch carries, each worked out once."""

    def __init__(
        self, batches: Mapping[int, CarryingBatch], lots: Mapping[int, CarryingLot], normal_loss_ppm: int
    ) -> None:
        self.batches, self.lots, self.normal = batches, lots, normal_loss_ppm
        self._lots: dict[int, Added] = {}
        self._batches: dict[int, tuple[Added, Added]] = {}

    def lot(self, key: int) -> Added:
        """All that a lot ever carried."""
        if key in self._lots:
            return self._lots[key]
        # A lot cannot come out of itself; should the books ever say so, it carries nothing.
        self._lots[key] = NOTHING
        lot, found = self.lots.get(key), NOTHING
        if lot is None:
            return NOTHING
        if lot.batch is not None:
            batch = self.batches[lot.batch]
            made = sum(batch.made.values())
            whole = made if batch.over else max(made, batch.planned)
            found = self.batch(lot.batch)[0].part(batch.made.get(key, 0), whole)
        elif lot.filled_from:
            poured = sum((self._out_of(parent, taken) for parent, taken in lot.filled_from), NOTHING)
            found = poured.part(*lot.share)
        elif lot.came_back_from is not None:
            found = self._out_of(lot.came_back_from, lot.took_in)
        self._lots[key] = found
        return found

    def _out_of(self, key: int, quantity: int) -> Added:
        lot = self.lots.get(key)
        return self.lot(key).part(quantity, lot.took_in) if lot else NOTHING

    def batch(self, key: int) -> tuple[Added, Added]:
        """What a batch passes on to what it made, and what of it is abnormal loss."""
        if key in self._batches:
            return self._batches[key]
        self._batches[key] = NOTHING, NOTHING
        batch = self.batches[key]
        held = batch.own + sum((self._out_of(lot, taken) for lot, taken in batch.drew), NOTHING)
        lost = self._abnormal(batch, held) if batch.over else NOTHING
        self._batches[key] = held - lost, lost
        return self._batches[key]

    def _abnormal(self, batch: CarryingBatch, held: Added) -> Added:
        """What was lost beyond the normal share of all that was made, of each part and of the material."""
        whole = Added(held.labour, held.owner, held.overhead, held.material + batch.material)
        if not sum(batch.made.values()):
            return whole
        if not batch.lost:
            return NOTHING
        # Counted in millionths of a unit: the normal share of a small batch is no whole number of units.
        counts = batch.good * WHOLE, batch.lost * WHOLE, batch.good * self.normal
        return Added(*(split_spoilage(part, *counts).abnormal for part in whole.parts))

    def left_in_pot(self, key: int) -> Added:
        """What a batch that goes on holds beyond what its parts took along."""
        gone = sum((self.lot(lot) for lot in self.batches[key].made), NOTHING)
        return self.batch(key)[0] - gone
