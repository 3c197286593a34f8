"""What finished runs of a formula took and gave: what the standard goes by where nobody set one."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Sum
from django.utils import timezone

from batches.models import Batch, Labour, Outcome
from batches.output.yields import MADE


@dataclass(frozen=True)
class PastRun:
    """A finished run: base units planned, made, and lost of those (anything but good); minutes by task."""

    batch_id: int
    finished_on: date
    quantity: int
    made: int
    lost: int
    minutes: Mapping[str, int]


def read_past_runs(formulas: Collection[int]) -> dict[int, list[PastRun]]:
    """The finished runs of these formulas, by formula, the latest first; three queries."""
    batches = Batch.objects.filter(version__formula__in=formulas, state=Batch.State.FINISHED)
    keys = batches.order_by().values("pk")
    minutes: dict[int, dict[str, int]] = {}
    labour = Labour.objects.filter(batch__in=keys).order_by().values_list("batch", "step")
    for batch_id, step, spent in labour.annotate(spent=Sum("minutes")):
        minutes.setdefault(batch_id, {})[step] = int(spent)
    came: dict[int, dict[str, int]] = {}
    outcomes = Outcome.objects.standing().filter(batch__in=keys, result__in=MADE).order_by()
    for batch_id, result, quantity in outcomes.values_list("batch", "result").annotate(of=Sum("quantity")):
        came.setdefault(batch_id, {})[result] = int(quantity)
    found: dict[int, list[PastRun]] = {}
    rows = batches.order_by("-finished_at", "-pk").values_list(
        "pk", "version__formula", "finished_at", "quantity"
    )
    for batch_id, formula_id, finished_at, quantity in rows:
        results = came.get(batch_id, {})
        made = sum(results.values())
        found.setdefault(formula_id, []).append(
            PastRun(
                batch_id=batch_id,
                finished_on=timezone.localtime(finished_at).date(),
                quantity=quantity,
                made=made,
                lost=made - results.get(Outcome.Result.GOOD, 0),
                minutes=minutes.get(batch_id, {}),
            )
        )
    return found
