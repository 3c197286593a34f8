"""Batches: planned, looked at, printed, read, finished."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from batches import runs
from batches.approving import owners_word
from batches.cautions import particular
from batches.forms import LabourForm, PlanForm, ReadingForm
from batches.models import Batch, FormulaVersion, Outcome
from batches.outcome_context import outcome_context
from batches.planning import most_from_shelf, plan_of, plan_of_batch
from batches.recipe import RecipeError
from batches.ticket import ticket_pdf
from batches.ticket_of import load_words, pours_words, steps, ticket_of
from batches.yields import came_out
from inventory import books
from inventory.holding import overrides_used
from studio import panels, tables
from studio.access import EVERYONE, MAKERS, allow
from studio.codes import normalise
from studio.forms import ReasonForm
from studio.quantities import to_unit
from studio.requests import StudioRequest, answer, page_of, sign, today
from studio.submissions import once


def batch_of(code: str) -> Batch:
    """The batch of a code in whatever way it was typed into the address, with its product and lines."""
    batches = Batch.objects.select_related("version__formula__item", "planned_by")
    return get_object_or_404(batches.prefetch_related("version__lines__item"), code=normalise(code))


@allow(see=EVERYONE)
def batch_list(request: StudioRequest) -> HttpResponse:
    """Runs by state, the latest first."""
    state = request.GET.get("state", "")
    text = request.GET.get("q", "").replace("\x00", "").strip()[:100]
    batches = Batch.objects.with_product().prefetch_related(
        Prefetch("outcomes", Outcome.objects.select_related("posting__reversal"))
    )
    if state in Batch.State.values:
        batches = batches.filter(state=state)
    if text:
        batches = batches.filter(version__formula__name__icontains=text)
    if tables.wanted(request):
        return _export(request, batches)
    page = page_of(request, batches)
    rows = [(batch, came_out(batch.outcomes.all())) for batch in page]
    context = {"page": page, "rows": rows, "states": Batch.State.choices, "state": state, "text": text}
    return answer(request, "batches/batch_list.html", context)


def _export(request: StudioRequest, batches: Any) -> HttpResponse:
    head = [
        "Batch",
        "Product",
        "Formula version",
        "State",
        "Planned on",
        "Finished",
        "Planned",
        "Good",
        "Seconds",
        "Scrap",
        "To be melted again",
        "Unit",
        "Melt recovered, g",
    ]

    def row(batch: Batch) -> list[object]:
        unit = batch.item.unit
        came = came_out(batch.outcomes.all())
        figures = [batch.quantity, came["good"], came["second"], came["scrap"], came["rework"]]
        return [
            batch.code,
            batch.item.name,
            str(batch.version),
            batch.get_state_display(),
            batch.planned_on,
            batch.finished_at,
            *(tables.exact_cell(to_unit(figure, unit)) for figure in figures),
            unit,
            tables.exact_cell(to_unit(came["melt"], "g")),
        ]

    return tables.export(request, "batches", head, map(row, batches.iterator(chunk_size=1000)))


# The name of the button that asks for the sheet: pressed with nothing chosen, it is told what is missing.
ASKED = "show"


@allow(see=MAKERS, do=MAKERS)
def batch_plan(request: StudioRequest) -> HttpResponse:
    """Choose a formula and a quantity, see targets, lots and shortages, and plan the run."""
    chosen = {
        name: request.GET[name]
        for name in ("formula", "quantity", "planned_on", "note")
        if name in request.GET
    }
    chosen.setdefault("planned_on", today().isoformat())
    if request.method == "POST":
        form = PlanForm(request.POST)
    elif (chosen.get("formula") and chosen.get("quantity")) or ASKED in request.GET:
        form = PlanForm(chosen)
    else:
        form = PlanForm(initial=chosen)
    context: dict[str, Any] = {"form": form, "asked": ASKED, "any_formula": FormulaVersion.objects.exists()}
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        try:
            if request.method == "POST":
                return redirect(once(request, lambda: _planned(request, data)))
            context |= _preview(request, data["formula"], data["understood"])
        except RecipeError as error:
            for _, sentence in error.problems:
                form.add_error("quantity", sentence)
        except runs.BatchError as error:
            form.add_error("formula", str(error))
    elif version := _version(chosen.get("formula", "")):
        context["most"] = most_from_shelf(version, on=today())
        context["version"] = version
    return answer(request, "batches/batch_plan.html", context, refused=bool(form.is_bound and form.errors))


def _planned(request: StudioRequest, data: dict[str, Any]) -> str:
    batch = runs.plan(
        data["formula"],
        data["understood"],
        planned_on=data["planned_on"],
        note=data["note"],
        signature=sign(request),
    )
    messages.success(request, f"Batch {batch.spaced_code} is planned and its materials are promised to it.")
    return batch.get_absolute_url()


def _version(pk: str) -> FormulaVersion | None:
    versions = FormulaVersion.objects.prefetch_related("lines__item").select_related("formula__item")
    return versions.filter(pk=int(pk)).first() if pk.isascii() and pk.isdigit() and len(pk) < 18 else None


def _preview(request: StudioRequest, version: FormulaVersion, quantity: int) -> dict[str, Any]:
    full = (
        FormulaVersion.objects.prefetch_related("lines__item")
        .select_related("formula__item")
        .get(pk=version.pk)
    )
    plan = plan_of(full, quantity, on=today())
    studio = request.studio
    return {
        "version": full,
        "plan": plan,
        "most": most_from_shelf(full, on=today()),
        "load": load_words(plan.sheet),
        "pours": pours_words(plan.sheet, studio),
        "cautions": particular(full, plan.sheet, unit=studio.scale),
        "owners_word": owners_word(full),
    }


@allow(see=EVERYONE)
def batch_detail(request: StudioRequest, code: str) -> HttpResponse:
    """The record of one run: what it needs, what went in, what was read, what came out."""
    return _detail(request, batch_of(code))


def _detail(
    request: StudioRequest,
    batch: Batch,
    *,
    reading: ReadingForm | None = None,
    labour: LabourForm | None = None,
) -> HttpResponse:
    studio = request.studio
    day = today()
    draws = list(batch.draws.with_lots().order_by("movement__posting__happened_at", "pk"))
    drawn: dict[int, int] = {}
    for draw in draws:
        if not hasattr(draw.movement.posting, "reversal"):
            drawn[draw.line_id] = drawn.get(draw.line_id, 0) + draw.quantity
    plan = plan_of_batch(batch, on=day, drawn=drawn)
    stands = [draw for draw in draws if not hasattr(draw.movement.posting, "reversal")]
    context = {
        "batch": batch,
        "plan": plan,
        "draws": draws,
        "overrides": overrides_used([draw.movement.posting_id for draw in stands]),
        **outcome_context(batch, stands),
        "readings": batch.readings.select_related("by"),
        "labour": batch.labour.select_related("person"),
        "minutes": sum(entry.minutes for entry in batch.labour.all()),
        "reading_form": reading or ReadingForm(studio=studio),
        "labour_form": labour or LabourForm(initial={"person": request.user.pk, "worked_on": day}),
        "load": load_words(plan.sheet),
        "pours": pours_words(plan.sheet, studio),
        "steps": steps(batch.version, studio.scale),
        "cautions": particular(batch.version, plan.sheet, unit=studio.scale),
        "owners_word": owners_word(batch.version),
        "panels": panels.shown("batch", request, batch),
        "refused_form": next((form for form in (reading, labour) if form is not None), None),
    }
    return answer(request, "batches/batch_detail.html", context, refused=bool(context["refused_form"]))


@allow(see=EVERYONE)
def batch_ticket(request: StudioRequest, code: str) -> HttpResponse:
    """The printed batch ticket."""
    batch = batch_of(code)
    plan = plan_of_batch(batch, on=today(), drawn=runs.drawn_by_line(batch))
    url = request.build_absolute_uri(batch.get_absolute_url())
    printed = f"Printed {timezone.localtime():%d %b %Y, %H:%M} by {request.user}"
    ticket = ticket_of(
        batch,
        plan,
        request.studio,
        batch.draws.standing().with_lots(),
        url=url,
        printed=printed,
        owners_word=owners_word(batch.version),
    )
    name = f'inline; filename="batch-{batch.code}.pdf"'
    return HttpResponse(
        ticket_pdf(ticket), content_type="application/pdf", headers={"Content-Disposition": name}
    )


@allow(do=MAKERS)
def batch_read(request: StudioRequest, code: str) -> HttpResponse:
    """Record a temperature."""
    batch = batch_of(code)
    form = ReadingForm(request.POST, studio=request.studio)
    if form.is_valid():
        data = form.cleaned_data
        signature = sign(request, happened_at=data["at"])

        def act() -> str:
            runs.take_reading(
                batch.pk, data["kind"], data["temperature"], note=data["note"], signature=signature
            )
            return batch.get_absolute_url() + "#readings"

        try:
            return redirect(once(request, act))
        except runs.BatchError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    return _detail(request, batch, reading=form)


@allow(do=MAKERS)
def batch_labour(request: StudioRequest, code: str) -> HttpResponse:
    """Note minutes worked."""
    batch = batch_of(code)
    form = LabourForm(request.POST)
    if form.is_valid():
        data = form.cleaned_data

        def act() -> str:
            runs.note_labour(
                batch,
                person_id=data["person"].pk,
                step=data["step"],
                minutes=data["minutes"],
                worked_on=data["worked_on"],
                signature=sign(request),
            )
            return batch.get_absolute_url() + "#labour"

        return redirect(once(request, act))
    return _detail(request, batch, labour=form)


def with_reason(request: StudioRequest, batch: Batch, act: Any, context: dict[str, Any]) -> HttpResponse:
    """A page that says what will happen, asks why, and does it. `context` is what it says."""
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        signature = sign(request, reason=form.cleaned_data["reason"])

        def do() -> str:
            act(batch.pk, signature=signature)
            return batch.get_absolute_url()

        try:
            url = once(request, do)
        except (runs.BatchError, books.BookError) as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
        else:
            messages.success(request, context["done"])
            return redirect(url)
    context |= {"form": form, "batch": batch}
    return answer(request, "batches/batch_reason.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def batch_call_off(request: StudioRequest, code: str) -> HttpResponse:
    """Call off a run that nothing was drawn into."""
    context = {
        "heading": "Call the batch off",
        "what": "Its materials are free again. The code stays on record and is not used for another batch.",
        "button": "Call it off",
        "done": "The batch is called off.",
    }
    return with_reason(request, batch_of(code), runs.call_off, context)
