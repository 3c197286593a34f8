"""Candles that are melted and poured again: a few wet tins became tins of odd lots, and one more waits.

It happens in the last hour, with what is on the shelf then, so that nothing told before hangs on it.
"""

from collections.abc import Callable
from datetime import datetime, timedelta

from batches.models import Batch, FormulaVersion, Outcome
from batches.planning import planning, plans
from batches.production import finishing, runs
from batches.production.finishing import Recovered, Result
from inventory.lots.moving import Taking
from inventory.models import Lot
from studio.demonstration.goods import G
from studio.demonstration.work import Workshop
from studio.people.signature import Signature

MADE, WET, WET_LATER = 6, 2, 1
SCENTED = ("cedar_tin", "cedar_jar")  # whose melt is kept as recovered cedar melt
LOST = 2 * G  # what stays in the two vessels when they are emptied


def remelt(shop: Workshop, now: datetime) -> None:
    """A run of which two are melted again and poured as an odd lot, and one waits; nothing where the shelf is bare."""

    def ago(minutes: int) -> Signature:
        happened_at = now - timedelta(minutes=minutes)
        return Signature(shop.people.maker, happened_at, happened_at + timedelta(seconds=30))

    version = next((v for v in (shop.products[key].current() for key in SCENTED) if _covered(shop, v)), None)
    if version is None or not version.fill_ug:
        return
    kept_as = shop.items["again"]
    batch = plans.plan(version, MADE, planned_on=shop.today, signature=ago(29))
    _draw_all(shop, batch, ago(28))
    weighed = Recovered(kept_as, WET * version.fill_ug - LOST, of_remelt=True)
    first = Result(good=2, rework=WET, recovered=[weighed])
    finishing.finish(batch.pk, first, signature=ago(27), without=True, last=False)
    unweighed = Recovered(kept_as, WET_LATER * version.fill_ug, of_remelt=True, weighed=False)
    rest = Result(good=MADE - 2 - WET - WET_LATER, rework=WET_LATER, recovered=[unweighed])
    finishing.finish(batch.pk, rest, signature=ago(26), without=True)
    _pour_again(shop, batch, ago)


def _covered(shop: Workshop, version: FormulaVersion) -> bool:
    return planning.most_from_shelf(version, on=shop.today).quantity >= MADE


def _draw_all(shop: Workshop, batch: Batch, signature: Signature) -> None:
    plan = planning.plan_of_batch(batch, on=shop.today, drawn={})
    for need in plan.needs:
        takings = [Taking(pick.lot.pk, pick.quantity) for pick in need.picks]
        runs.draw_line(batch.pk, need.line.pk, takings, signature=signature)


def _pour_again(shop: Workshop, batch: Batch, ago: Callable[[int], Signature]) -> None:
    """One odd tin of the melt of the first two."""
    lot = Lot.objects.get(outcome__batch=batch, outcome__result=Outcome.Result.MELT, outcome__weighed=True)
    odd = shop.products["odd_tin"].current()
    if planning.most_from_shelf(odd, on=shop.today).quantity < 1:
        return
    again = plans.plan(odd, 1, planned_on=shop.today, note="Of the two wet ones.", signature=ago(25))
    plan = planning.plan_of_batch(again, on=shop.today, drawn={})
    for need in plan.needs:
        own = need.item.pk == lot.item_id
        takings = (
            [Taking(lot.pk, need.left)]
            if own
            else [Taking(pick.lot.pk, pick.quantity) for pick in need.picks]
        )
        runs.draw_line(again.pk, need.line.pk, takings, signature=ago(24))
    finishing.finish(again.pk, Result(good=1), signature=ago(23))
