"""Which lots a posting took that something stood against: by the owner's override, or with a reason, to be reviewed."""

from collections.abc import Iterable

from django.db.models import QuerySet

from inventory.models import Override, StoppedUse


def overrides_used(posting_ids: Iterable[int]) -> QuerySet[Override]:
    """What the owner had allowed for these postings, each once, with the lot and the name."""
    used = Override.objects.filter(uses__posting__in=list(posting_ids)).distinct()
    return used.select_related("by", "lot__item").order_by("pk")


def stopped_uses_of(posting_ids: Iterable[int]) -> QuerySet[StoppedUse]:
    """The lots that these postings took although something stood against them, with the lot, the reason and the name."""
    uses = StoppedUse.objects.filter(posting__in=list(posting_ids))
    return uses.select_related("posting__by", "lot__item").order_by("pk")
