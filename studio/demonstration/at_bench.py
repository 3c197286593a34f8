"""A run half weighed up at the bench: the wax of the first pot, a slip taken back, a temperature, a note."""

from collections.abc import Callable
from uuid import UUID, uuid5

from batches.bench import entries as bench
from batches.models import Batch, BenchEntry, Reading
from batches.planning import planning
from inventory.models import Kind
from studio.demonstration.goods import G
from studio.models import User
from studio.people.signature import Signature

PITCHER = 1_240 * G  # what the pouring pitcher weighs
SPACE = UUID("6e1c64a0-57c5-4f2d-9c53-0d1f0a4f9b11")
Ago = Callable[[int, User], Signature]


def weigh_up(batch: Batch, maker: User, ago: Ago) -> None:
    """What the maker entered in the last half hour. `ago` signs for so many minutes before now."""
    numbers = iter(range(100))

    def enter(minutes: int, kind: str, **said: object) -> BenchEntry:
        # Keys of a known space: the same seed and instant give the same books.
        key = uuid5(SPACE, f"{batch.code} {next(numbers)}")
        entered = bench.Entered(key=key, kind=kind, **said)  # type: ignore[arg-type]
        return bench.take_in(batch.pk, entered, digest=key.hex, signature=ago(minutes, maker))

    day = ago(0, maker).happened_at.date()
    for need in planning.plan_of_batch(batch, on=day, drawn={}).weighed:
        if need.item.kind != Kind.WAX or not need.picks:
            continue
        pick = need.picks[0]
        quantity = min(need.target.pours[0], pick.quantity)
        weighed = {
            "line_id": need.line.pk,
            "pour": 1,
            "lot_id": pick.lot.pk,
            "gross_ug": quantity + PITCHER,
            "tare_ug": PITCHER,
            "quantity": quantity,
        }
        slip = enter(27, BenchEntry.Kind.DRAW, **weighed | {"quantity": quantity + PITCHER, "tare_ug": 0})
        enter(26, BenchEntry.Kind.UNDO, takes_back=slip.key)
        enter(25, BenchEntry.Kind.DRAW, **weighed)
    enter(20, BenchEntry.Kind.READING, reading=Reading.Kind.ROOM, temperature_mc=20_500)
    enter(12, BenchEntry.Kind.NOTE, text="The first flakes were damp; spread them out before weighing.")
