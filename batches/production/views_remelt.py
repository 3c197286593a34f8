"""Melt that waits to be poured again: recovered from a pot, or in units that are to be remelted."""

from typing import Any

from django.http import HttpResponse

from batches.lineage.composition import Composition, compositions
from batches.lineage.lineage import Key
from batches.models import Outcome
from studio.core.percent import WHOLE, format_percent
from studio.people.access import EVERYONE, allow
from studio.web.requests import StudioRequest, answer, page_of


@allow(see=EVERYONE)
def remelt_list(request: StudioRequest) -> HttpResponse:
    """What waits, the oldest first: how much, of which batch, and which scents are in it."""
    waiting = Outcome.objects.standing().filter(result=Outcome.Result.MELT, lot__on_hand__gt=0)
    waiting = waiting.select_related("lot__item", "batch__version__formula__item", "emptied", "posting")
    page = page_of(request, waiting.order_by("posting__happened_at", "pk"))
    known = compositions([outcome.lot_id for outcome in page if outcome.lot_id])
    rows = [(outcome, _words(known[Key("lot", outcome.lot_id or 0)])) for outcome in page]
    context: dict[str, Any] = {"page": page, "rows": rows}
    return answer(request, "batches/remelt_list.html", context)


def _words(portion: Composition) -> str:
    """The scents in it, as shares of its weight."""
    if portion.unknown:
        return f"Not known. {portion.unknown_words}"
    said = (f"{item} {format_percent(share * WHOLE)}" for item, share in portion.scents.items())
    return ", ".join(said) or "No fragrance"
