"""The parts of the stock pages that lead to batches: of a lot's page, and of a posting's."""

from django.db.models import Q

from batches.lineage.recall_scope import widths
from batches.models import Batch, Draw, Outcome
from inventory.models import Lot, Posting
from studio.web.panels import Panel
from studio.web.requests import StudioRequest

SHOWN = 50


def lot_history(request: StudioRequest, lot: Lot) -> Panel:
    """Made by, and used in: the latest first, reversed draws left out."""
    outcome = (
        Outcome.objects.filter(lot=lot)
        .select_related("batch__version__formula__item", "posting__reversal")
        .select_related("lot__release__by", "lot__release__fill_check")
        .first()
    )
    draws = list(
        Draw.objects.standing()
        .filter(movement__lot=lot)
        .select_related("batch__version__formula__item", "movement__posting")
        .order_by("-movement__posting__happened_at", "-pk")[: SHOWN + 1]
    )
    release = getattr(outcome.lot, "release", None) if outcome else None
    context = {
        "lot": lot,
        "outcome": outcome,
        "release": release,
        "draws": draws[:SHOWN],
        "more": len(draws) > SHOWN,
    }
    return Panel("batches/_lot_history.html", context)


def batch_of_posting(request: StudioRequest, posting: Posting) -> Panel | None:
    """The batch a draw or a yield belongs to, where it is put right; nothing for other postings."""
    about = posting.reverses_id or posting.pk
    of_batch = Q(draws__movement__posting=about) | Q(outcomes__posting=about)
    batch = Batch.objects.filter(of_batch).select_related("version__formula__item").first()
    drawn = posting.kind == Posting.Kind.DRAW and posting.reverses_id is None
    context = {"batch": batch, "leaves_out": drawn}
    return Panel("batches/_posting_batch.html", context) if batch else None


def lot_width(request: StudioRequest, lot: Lot) -> Panel:
    """What a recall of the lot would touch, and where one begins."""
    context = {"lot": lot, "width": widths([lot.pk])[lot.pk]}
    return Panel("batches/_lot_width.html", context)
