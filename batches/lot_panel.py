"""The part of a lot's page that tells which batch made it and which batches used it."""

from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from batches.models import Draw, Outcome
from inventory.models import Lot
from studio.requests import StudioRequest

SHOWN = 50


def lot_history(request: StudioRequest, lot: Lot) -> SafeString:
    """Made by, and used in: the latest first, reversed draws left out."""
    outcome = (
        Outcome.objects.filter(lot=lot)
        .select_related("batch__version__formula__item", "posting__reversal")
        .first()
    )
    draws = list(
        Draw.objects.standing()
        .filter(movement__lot=lot)
        .select_related("batch__version__formula__item", "movement__posting")
        .order_by("-movement__posting__happened_at", "-pk")[: SHOWN + 1]
    )
    context = {"lot": lot, "outcome": outcome, "draws": draws[:SHOWN], "more": len(draws) > SHOWN}
    return render_to_string("batches/_lot_history.html", context, request)
