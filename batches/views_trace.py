"""From a code to what went in and what came out."""

from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from batches.models import Batch
from batches.trace import backward, balance, forward, outline
from inventory.models import Lot
from studio.access import EVERYONE, allow
from studio.codes import is_valid, near, normalise, spaced
from studio.requests import StudioRequest, answer, today


def _find(code: str) -> tuple[Lot | None, Batch | None]:
    lot = Lot.objects.select_related("item", "supplier", "delivery_line__delivery").filter(code=code).first()
    batch = None if lot else Batch.objects.with_product().filter(code=code).first()
    return lot, batch


@allow(see=EVERYONE)
def trace(request: StudioRequest) -> HttpResponse:
    """Ask for a code."""
    text = request.GET.get("code", "").replace("\x00", "").strip()[:60]
    context: dict[str, object] = {"text": text}
    if text:
        code = normalise(text)
        lot, batch = _find(code)
        if lot or batch:
            return redirect("batches:trace-code", code=code)
        codes = near(code)
        context["misses"] = [
            *Lot.objects.filter(code__in=codes).select_related("item")[:10],
            *Batch.objects.filter(code__in=codes).with_product()[:10],
        ]
        context["unknown"] = spaced(code) if is_valid(code) else text
    context["latest"] = (
        Batch.objects.with_product().order_by("-finished_at", "-pk").exclude(finished_at=None)[:8]
    )
    return answer(request, "batches/trace.html", context)


@allow(see=EVERYONE)
def trace_code(request: StudioRequest, code: str) -> HttpResponse:
    """Both ways from a lot or a batch, with the lot's balance."""
    lot, batch = _find(normalise(code))
    if lot:
        came, went = backward(lots=[lot]), forward(lots=[lot])
    elif batch:
        came, went = backward(batches=[batch]), forward(batches=[batch])
    else:
        raise Http404
    context = {
        "lot": lot,
        "batch": batch,
        "came": came[0],
        "came_steps": outline(came[0]),
        "went": went[0],
        "went_steps": outline(went[0]),
        "balance": balance(lot) if lot else None,
        "day": today(),
    }
    return answer(request, "batches/trace_code.html", context)
