"""A count that was corrected with its code on the jars already: one jar fewer was good, and the lot is the same."""

from datetime import datetime, timedelta

from batches.models import Batch, Outcome
from batches.production import finishing
from inventory.models import Lot, Posting
from studio.demonstration.stage import Stage
from studio.people.signature import Signature

WHY = "Counted again while labeling: one had slipped in with wet spots"
DEFECT = "Wet spots"


def count_again(shop: Stage, now: datetime) -> None:
    """The last batch of which nothing has moved since is opened and entered anew; none where there is none such."""
    line = _untouched()
    if line is None:
        return
    opened = now - timedelta(minutes=27)
    finishing.undo_finish(line.batch_id, signature=Signature(shop.people.maker, opened, opened, WHY))
    again = Signature(shop.people.maker, line.posting.happened_at, opened + timedelta(minutes=2))
    result = finishing.Result(line.quantity - 1, scrap={DEFECT: 1})
    finishing.finish(line.batch_id, result, signature=again, without=True)


def _untouched() -> Outcome | None:
    """The last good line that is all a finished batch gave, with its whole lot still waiting to be looked at."""
    lines = Outcome.objects.standing().filter(
        result=Outcome.Result.GOOD,
        quantity__gt=2,
        batch__state=Batch.State.FINISHED,
        lot__awaits_release=True,
        lot__held=False,
    )
    for line in lines.select_related("posting", "lot").order_by("-pk")[:20]:
        moved = Posting.objects.filter(movements__lot=line.lot).count()
        whole = Lot.objects.filter(outcomes=line, on_hand=line.quantity).exists()
        if moved == 1 and whole and line.batch.outcomes.count() == 1:
            return line
    return None
