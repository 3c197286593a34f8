"""The bench: its page, what the tablet asks, and what it sends. Answers to scripts are JSON, refusals with a sentence."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, render
from django.templatetags.static import static
from django.utils import timezone

from batches.bench import entries as bench
from batches.bench.forms import EntryForm, digest_of
from batches.bench.state import bench_state, entry_state, lot_state
from batches.fetch import batch_of
from batches.models import BatchPhoto
from batches.planning.plans import BatchError
from batches.production.meanwhile import Meanwhile
from inventory.ledger import books
from inventory.models import Lot
from studio.core.codes import normalise
from studio.people.access import EVERYONE, MAKERS, allow, public
from studio.people.signature import Signature
from studio.web.requests import StudioRequest, answer, shown_picture, sign

SCRIPTS = (
    "bench",
    "bench_codes",
    "bench_frame",
    "bench_keys",
    "bench_lots",
    "bench_scale",
    "bench_screen",
    "bench_sender",
    "bench_steps",
    "bench_store",
    "bench_sums",
    "bench_weighing",
)


def _state(request: StudioRequest, code: str) -> dict[str, Any]:
    return {
        **bench_state(batch_of(code), request.studio, request.user, timezone.now()),
        "token": get_token(request),
    }


@allow(see=MAKERS)
def batch_bench(request: StudioRequest, code: str) -> HttpResponse:
    """One material at a time. The page brings what it shows along, so that it also opens without the network."""
    batch = batch_of(code)
    state = bench_state(batch, request.studio, request.user, timezone.now()) | {"token": get_token(request)}
    return answer(request, "batches/batch_bench.html", {"batch": batch, "state": json.dumps(state)})


@allow(see=MAKERS)
def bench_state_json(request: StudioRequest, code: str) -> HttpResponse:
    """The batch as it stands, for the tablet; with `?code=`, what is known of that code instead."""
    if "code" in request.GET:
        return JsonResponse(_asked(request.GET["code"]))
    return JsonResponse(_state(request, code))


def _asked(text: str) -> dict[str, Any]:
    """A lot the tablet does not know, emptied ones included."""
    code = normalise(text[:60])
    lot = Lot.objects.filter(code=code).select_related("item").first()
    return {"lot": lot_state(lot, timezone.now()) if lot else None}


@allow(do=MAKERS)
def bench_entries(request: StudioRequest, code: str) -> HttpResponse:
    """Take in one entry. 200 with what is saved; 422 and a sentence when it cannot be; 409 when it is not this one's."""
    batch = batch_of(code)
    form = EntryForm(request.POST, request.FILES)
    if not form.is_valid():
        return _refused(form.sentence(), "form")
    data = form.cleaned_data
    if data["by"] != request.user.pk:
        sentence = "This was entered by somebody else. It waits on the tablet until they sign in again."
        return _refused(sentence, "person", status=409)
    digest = digest_of(request.POST, data["photo"])
    try:
        entry = bench.take_in(batch.pk, form.entered(), digest=digest, signature=_sign(request, data))
    except bench.BenchClash as clash:
        return _refused(str(clash), "clash", status=409, saved=entry_state(clash.entry, request.studio))
    except books.LotShort as error:
        missing = error.lot.item.quantity(error.short)
        sentence = f"{error} If the scale is right, book {missing} as found; it is marked to be looked at."
        return _refused(sentence, "short", lot=error.lot_id, missing=missing)
    except books.LotStopped as error:
        sentence = f"{error} If it went in already, say why: it is recorded, and what comes of this batch is put on hold."
        return _refused(sentence, "lot", lot=error.lot_id, stopped=error.stop)
    except books.BookError as error:
        return _refused(str(error), "lot", lot=error.lot_id)
    except Meanwhile as error:
        return _refused(str(error), "meanwhile")
    except BatchError as error:
        return _refused(str(error), "batch")
    return JsonResponse({"entry": entry_state(entry, request.studio)})


def _refused(sentence: str, why: str, status: int = 422, **more: Any) -> JsonResponse:
    return JsonResponse({"refused": why, "sentence": sentence, **more}, status=status)


def _sign(request: StudioRequest, data: dict[str, Any]) -> Signature:
    """When it happened: as long before now as the tablet's own clock says, however wrong that clock is."""
    signature = sign(request)
    ago = timedelta(milliseconds=max(data["sent_at"] - data["at"], 0))
    since = datetime(1970, 1, 2, tzinfo=UTC)
    return signature.at(signature.recorded_at - min(ago, signature.recorded_at - since))


@allow(see=EVERYONE)
def batch_photo(request: StudioRequest, code: str, pk: int) -> HttpResponse:
    """A photo of the batch, as it was written anew."""
    photo = get_object_or_404(BatchPhoto, pk=pk, batch__code=normalise(code))
    return shown_picture(photo.data, photo.media_type, f"batch-{normalise(code)}-{pk}")


@public("GET", "HEAD")
def bench_worker(request: StudioRequest) -> HttpResponse:
    """The script that lets the bench open again without the network. It lies here so that it reaches no further."""
    kept = [static(f"studio/{name}.js") for name in (*SCRIPTS, "studio", "bench_leave")]
    kept += [static("studio/studio.css"), static("studio/mark.svg")]
    response = render(request, "batches/bench_worker.js", {"kept": json.dumps(kept)})
    response["Content-Type"] = "text/javascript; charset=utf-8"
    response["Cache-Control"] = "no-cache"
    return response
