"""Batches: planned, looked at, printed, read, finished."""

from typing import Any, NamedTuple

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from batches.fetch import batch_of
from batches.formulas.approving import owners_word
from batches.formulas.cautions import particular
from batches.formulas.loads import load_words
from batches.formulas.process_steps import steps
from batches.models import Batch, Outcome
from batches.output.yields import came_out
from batches.planning import plans
from batches.planning.fill_each import each_words, fill_of, melt_words
from batches.planning.plan_composition import inside_of
from batches.planning.planning import plan_of_batch
from batches.planning.pours import pours_words
from batches.production import runs
from batches.production.forms import LabourForm, ReadingForm
from batches.production.off_formula_of import last_pot, made_of
from batches.production.outcome_context import outcome_context
from batches.production.restoring import wax_words
from inventory.ledger import books, closing
from inventory.ledger.overrides import overrides_used, stopped_uses_of
from inventory.models import Item
from inventory.replenishment import one_offs
from studio.core.days import begin
from studio.core.quantities import to_unit
from studio.core.temperatures import format_temperature
from studio.people.access import EVERYONE, MAKERS, allow
from studio.people.signature import Signature
from studio.web import panels, tables
from studio.web.filters import Choice, Filters, Search
from studio.web.forms import ReasonForm
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table


@allow(see=EVERYONE)
def batch_list(request: StudioRequest) -> HttpResponse:
    """Runs by state, the latest first."""
    filters = Filters(
        request,
        Choice("state", "Show", {"": "All runs", **dict(Batch.State.choices)}),
        Search("Formula has"),
    )
    batches = Batch.objects.with_product().prefetch_related(
        Prefetch("outcomes", Outcome.objects.select_related("posting__reversal"))
    )
    if state := filters["state"]:
        batches = batches.filter(state=state)
    if text := filters["q"]:
        batches = batches.filter(version__formula__name__icontains=text)
    batches = BATCHES.sorted(request, batches)
    if tables.wanted(request):
        return BATCHES.file(request, map(_row, batches.iterator(chunk_size=1000)))
    page = page_of(request, batches)
    context = {"page": page, "table": BATCHES.shown(request, list(map(_row, page))), "filters": filters}
    return answer(request, "batches/batch_list.html", context)


class BatchRow(NamedTuple):
    """A batch and what came of it, by the names of `came_out`, in base units."""

    batch: Batch
    came: dict[str, int]

    @property
    def item(self) -> Item:
        """What it makes."""
        return self.batch.item


def _row(batch: Batch) -> BatchRow:
    return BatchRow(batch, came_out(batch.outcomes.all()))


def _came(heading: str, key: str) -> Column:
    return Column(heading, lambda row: row.came[key], Format.QUANTITY)


BATCHES = Table(
    "batches",
    "Batches",
    [
        Column("Batch", "batch.code", Format.CODE, link="batch.get_absolute_url", sort=("code",)),
        Column("Product", "item.name", title="Makes", sort=("version__formula__item__name",)),
        Column("Formula version", "batch.version"),
        Column("State", "batch.get_state_display"),
        Column("Planned on", "batch.planned_on", Format.DAY, sort=("planned_on",)),
        Column("Finished", "batch.finished_at", Format.TIME),
        Column("Planned", "batch.quantity", Format.QUANTITY),
        _came("Good", "good"),
        _came("Seconds", "second"),
        _came("Scrap", "scrap"),
        _came("To be melted again", "rework"),
        Column("Unit", "item.unit"),
        Column("Melt recovered, g", lambda row: to_unit(row.came["melt"], "g"), Format.RATIO),
    ],
    page=("batch", "product", "state", "planned_on", "planned", "good", "seconds", "scrap"),
)


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
    made = made_of(batch)
    draws = list(
        batch.draws.with_lots()
        .select_related("movement__posting__bench_entry")
        .order_by("movement__posting__happened_at", "pk")
    )
    plan = plan_of_batch(batch, on=day, drawn=plans.drawn_by_line(batch))
    fill = fill_of(batch.version, plan.weighed)
    stands = [draw for draw in draws if not hasattr(draw.movement.posting, "reversal")]
    lines, inside = list(batch.version.lines.all()), inside_of(plan, stands)
    context = {
        "batch": batch,
        "plan": plan,
        "draws": draws,
        "overrides": overrides_used([draw.movement.posting_id for draw in stands]),
        "stopped_uses": stopped_uses_of([draw.movement.posting_id for draw in stands]),
        "one_off": one_offs.all_one_off({draw.movement.posting_id for draw in stands}),
        **outcome_context(batch, stands),
        "readings": batch.readings.select_related("by", "struck", "bench_entry__taken_back_by"),
        "several_pours": len(made.pots) > 1,
        "notes": batch.notes.select_related("by", "bench_entry__taken_back_by"),
        "photos": batch.photos.select_related("by", "bench_entry__taken_back_by").defer("data"),
        "labour": batch.labour.select_related("person", "taken_back"),
        "minutes": sum(entry.minutes for entry in batch.labour.all()),
        "reading_form": reading or ReadingForm(studio=studio, pots=made.pots[-1].number),
        "labour_form": labour or LabourForm(initial={"person": request.user.pk, "worked_on": day}),
        "fill_each": each_words(fill, studio),
        "fill_now": melt_words(fill, batch.quantity, studio),
        "load": load_words(lines, plan.sheet, inside),
        "made": made,
        "stops": [(pot, wax_words(made, pot)) for pot in made.pots if pot.load and pot.load.above],
        "pours": pours_words(plan.sheet, studio),
        "steps": steps(batch.version, studio.scale),
        "cautions": particular(batch.version, plan.sheet, unit=studio.scale, inside=inside),
        "owners_word": owners_word(batch.version),
        "panels": panels.shown("batch", request, batch),
        "refused_form": next((form for form in (reading, labour) if form is not None), None),
    }
    return answer(request, "batches/batch_detail.html", context, refused=bool(context["refused_form"]))


@allow(do=MAKERS)
def batch_read(request: StudioRequest, code: str) -> HttpResponse:
    """Record a temperature."""
    batch = batch_of(code)
    form = ReadingForm(request.POST, studio=request.studio, pots=last_pot(batch))
    if form.is_valid():
        data = form.cleaned_data
        signature = sign(request, happened_at=data["at"])

        def act() -> str:
            runs.take_reading(
                batch.pk,
                data["kind"],
                data["temperature"],
                note=data["note"],
                signature=signature,
                pot=data.get("pot"),
            )
            return batch.get_absolute_url() + "#readings"

        try:
            return redirect(once(request, act))
        except plans.BatchError as error:
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

        try:
            return redirect(once(request, act))
        except books.BooksClosed as error:
            form.add_error("worked_on", str(error))
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
        except (plans.BatchError, books.BookError) as error:
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
    return with_reason(request, batch_of(code), plans.call_off, context)


@allow(see=MAKERS, do=MAKERS)
def batch_strike_reading(request: StudioRequest, code: str, pk: int) -> HttpResponse:
    """Strike out a temperature that was noted wrongly."""
    batch = batch_of(code)
    reading = get_object_or_404(batch.readings.select_related("by"), pk=pk)
    read = format_temperature(reading.temperature_mc, request.studio.scale)
    context = {
        "heading": "Strike a reading out",
        "what": f"{reading.get_kind_display()}: {read}, by {reading.by}, "
        f"{timezone.localtime(reading.at):%d %b %Y, %H:%M}, will count no longer; it stays on record with your reason. "
        "Note the right one afterwards.",
        "button": "Strike it out",
        "done": "The reading is struck out. Note the right one under Readings.",
    }

    def act(batch_id: int, *, signature: Signature) -> None:
        runs.strike_reading(reading.pk, signature=signature)

    return with_reason(request, batch, act, context)


@allow(see=MAKERS, do=MAKERS)
def batch_labour_take_back(request: StudioRequest, code: str, pk: int) -> HttpResponse:
    """Take back minutes that were noted wrongly."""
    batch = batch_of(code)
    entry = get_object_or_404(batch.labour.select_related("person"), pk=pk, takes_back=None)
    context = {
        "heading": "Take minutes back",
        "what": f"{entry.minutes} minutes of {entry.person}, {entry.get_step_display().lower()}, on "
        f"{entry.worked_on:%d %b %Y}, will count no longer; the entry stays on record with your reason. "
        "Note the right ones afterwards.",
        "button": "Take them back",
        "done": "The minutes are taken back. Note the right ones under Labour.",
        "closed": closing.put_right_when(begin(entry.worked_on)),
    }

    def act(batch_id: int, *, signature: Signature) -> None:
        runs.take_back_labour(entry.pk, signature=signature)

    return with_reason(request, batch, act, context)
