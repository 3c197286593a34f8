"""A batch in two pots that went off its load: the fragrance of both went into the first, and it was poured.

Entered at the bench as a maker would. In sum every weight is right; pot by pot none of the fragrance is. What came of it is
on hold until the owner decides. Nothing here is left to chance.
"""

from datetime import datetime, timedelta
from uuid import UUID, uuid5

from batches.bench import entries as bench
from batches.formulas import writing
from batches.models import Batch, BatchNote, BenchEntry, Formula, Reading
from batches.planning import planning, plans
from batches.production import finishing
from inventory.models import Item, Kind, Unit
from studio.demonstration.goods import G
from studio.demonstration.stage import Stage
from studio.people.signature import Signature

SPACE = UUID("0d9b7c52-2a53-4a0e-8f64-5b1e0f6f2c77")
TINS, FILL = 10, 60 * G
PITCHER = 480 * G
# Of the fragrance of both pots the first got this much, in percent.
FIRST_GOT = 75


def two_pots(shop: Stage, now: datetime) -> None:
    """Ten small tins in two pots of five, an hour ago; none where the shelf has too little."""
    batch = _planned(shop, now)
    if batch is None:
        return
    maker, numbers = shop.people.maker, iter(range(100))

    def enter(minutes: int, kind: str, **said: object) -> BenchEntry:
        key = uuid5(SPACE, f"{batch.code} {next(numbers)}")
        at = now - timedelta(minutes=minutes)
        entered = bench.Entered(key=key, kind=kind, **said)  # type: ignore[arg-type]
        return bench.take_in(batch.pk, entered, digest=key.hex, signature=Signature(maker, at, at))

    plan = planning.plan_of_batch(batch, on=shop.today, drawn={})
    for pour, minutes in ((1, 70), (2, 62)):
        for need in plan.weighed:
            wanted = need.target.pours[pour - 1]
            if need.item.kind == Kind.FRAGRANCE:
                first = need.target.total * FIRST_GOT // 100 // G * G
                wanted = first if pour == 1 else need.target.total - first
            enter(
                minutes,
                BenchEntry.Kind.DRAW,
                line_id=need.line.pk,
                pour=pour,
                lot_id=need.picks[0].lot.pk,
                quantity=wanted,
                gross_ug=wanted + PITCHER,
                tare_ug=PITCHER,
            )
        enter(minutes - 2, BenchEntry.Kind.NOTE, note_kind=BatchNote.Kind.STIRRED, seconds=120, pour=pour)
        above = "The load was above the maximum for the wax and the fragrance." if pour == 1 else ""
        enter(
            minutes - 4,
            BenchEntry.Kind.READING,
            reading=Reading.Kind.POUR,
            temperature_mc=60_000,
            pour=pour,
            poured_above=above,
        )
    for need in plan.counted:
        pick = need.picks[0]
        enter(66, BenchEntry.Kind.DRAW, line_id=need.line.pk, pour=1, lot_id=pick.lot.pk, quantity=need.left)
    done = now - timedelta(minutes=20)
    finishing.finish(batch.pk, finishing.Result(good=TINS), signature=Signature(maker, done, done))


def _planned(shop: Stage, now: datetime) -> Batch | None:
    """The batch, planned from a formula of its own that takes wax and scent of a tin that is made often."""
    owner = shop.people.owner
    like = shop.products["cedar_tin"].current()
    melt = [
        line for line in like.lines.select_related("item") if line.item.kind in (Kind.WAX, Kind.FRAGRANCE)
    ]
    parts = [line for line in like.lines.select_related("item") if line.item.kind in (Kind.WICK, Kind.VESSEL)]
    item = Item.objects.create(name="Small tin, poured in two pots", kind=Kind.FINISHED, unit=Unit.EACH)
    formula = Formula.objects.create(name="Small tin, poured in two pots", item=item)
    at = now - timedelta(minutes=95)
    process = {
        "fill_ug": FILL,
        "loss_ppm": 0,
        "pot_ug": TINS // 2 * FILL,
        "division_ug": G,
        "stir_minutes": 2,
        "pour_from_mc": 56_000,
        "pour_to_mc": 64_000,
        "notes": "Two small pots on the hotplate.",
    }
    lines = [
        writing.Ingredient(line.item, line.basis, line.amount, 0, line.tolerance_ppm)
        for line in (*melt, *parts)
    ]
    version = writing.write_version(formula, process, lines, signature=Signature(owner, at, at))
    at = now - timedelta(minutes=90)
    plan = planning.plan_of(version, TINS, on=shop.today)
    if plan.short or any(len(need.picks) != 1 for need in plan.needs):
        return None
    return plans.plan(version, TINS, planned_on=shop.today, signature=Signature(owner, at, at))
