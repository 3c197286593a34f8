"""Setting how long a product should take and how much of it is lost, from a day on."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from batches.models import Batch, Formula
from costing.models import WorkStandard, WorkStep
from costing.rates.rates import RateError
from studio.core.days import begin
from studio.models import User


@transaction.atomic
def set_work_standard(
    *,
    formula: Formula,
    from_on: date,
    steps: Mapping[str, tuple[int, int]],
    spoilage_ppm: int | None,
    by: User,
    now: datetime,
) -> WorkStandard:
    """Set minutes for each batch and seconds for each unit (of a blend: each kilogram), by task, from a day on.

    Without steps, and without a share that is lost, the last runs say so again. Raises RateError where runs that were
    held against another standard would be held against this one.
    """
    today = timezone.localtime(now).date()
    settled = WorkStandard.objects.filter(formula=formula, set_at__lt=begin(today))
    if from_on < today and settled.exists():
        done = Batch.objects.filter(version__formula=formula, planned_on__gte=from_on, planned_on__lt=today)
        if done.exists():
            raise RateError(
                f"Runs since {from_on:%d %b %Y} ({done.count()}) were held against another standard. "
                "Let the new one begin today."
            )
    standard = WorkStandard.objects.create(
        formula=formula, from_on=from_on, spoilage_ppm=spoilage_ppm, set_by=by, set_at=now
    )
    WorkStep.objects.bulk_create(
        WorkStep(standard=standard, task=task, batch_minutes=minutes, unit_seconds=seconds)
        for task, (minutes, seconds) in steps.items()
        if minutes or seconds
    )
    return standard
