"""Planning: where to begin, what a run needs, what is short, which lots; a planned run moved or given other lots."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect

from batches.fetch import batch_of
from batches.formulas.approving import owners_word
from batches.formulas.cautions import particular
from batches.formulas.hazard_labels import hazard_standing
from batches.formulas.loads import load_words
from batches.models import Batch, FormulaVersion
from batches.planning import plans
from batches.planning.forms import STARTS, ChosenForm, ReplanForm, StartForm, take_name
from batches.planning.lot_allocation import ByHand, ChoiceError, chosen_of
from batches.planning.plan_composition import inside_of
from batches.planning.planning import Plan, most_from_shelf, plan_of, plan_of_batch, with_widths
from batches.planning.pours import pours_words
from batches.planning.starting import CannotStart, Start, from_lot, from_order, from_shelf, order_lines
from batches.recipe import RecipeError
from inventory.lots.shelves import shelves
from inventory.models import Lot
from inventory.replenishment.where_to_buy import Shortage, advice
from studio.core.codes import normalise
from studio.core.quantities import Dimension, entry_text
from studio.people.access import MAKERS, allow
from studio.web.filters import whole_number
from studio.web.requests import StudioRequest, answer, sign, today
from studio.web.submissions import once

# The name of the button that asks for the sheet: pressed with nothing chosen, it is told what is missing.
ASKED = "show"
# The name of the tick that a second run like one just planned is meant, and for how long it is asked about.
AGAIN, ASK_WITHIN = "again", timedelta(minutes=10)
NAMES = ("formula", "quantity", "planned_on", "note", "line", "lot")
# What the address must name before anything can be worked out.
ENOUGH = {
    "units": ("formula", "quantity"),
    "order": ("line",),
    "lot": ("lot", "formula"),
    "most": ("formula",),
}


class PlannedBefore(Exception):
    """The same person planned the very same run a moment ago. Carries that `batch`."""

    def __init__(self, batch: Batch) -> None:
        super().__init__(f"Batch {batch.spaced_code} is the same run, planned a moment ago.")
        self.batch = batch


@allow(see=MAKERS, do=MAKERS)
def batch_plan(request: StudioRequest) -> HttpResponse:
    """Choose where to begin, see targets, lots and shortages, and plan the run."""
    sent = request.POST if request.method == "POST" else request.GET
    start = sent.get("start", "units")
    start = start if start in STARTS else "units"
    form = _start_form(request, start)
    context: dict[str, Any] = {
        "form": form,
        "start": start,
        "starts": STARTS,
        "asked": ASKED,
        "any_formula": FormulaVersion.objects.exists(),
    }
    if form.is_bound and form.is_valid():
        try:
            shown = _preview(request, form)
            if request.method == "POST" and (url := _plan(request, form, shown)):
                return redirect(url)
            context |= shown
        except RecipeError as error:
            for _, sentence in error.problems:
                form.add_error("quantity", sentence)
        except CannotStart as error:
            form.add_error(error.field if error.field in form.fields else NON_FIELD_ERRORS, str(error))
    elif version := _version(sent.get("formula", "")):
        context |= {"version": version, **_most(version)}
    chosen = context.get("chosen_form")
    refused = form.is_bound and bool(form.errors or (chosen and chosen.is_bound and chosen.errors))
    return answer(request, "batches/batch_plan.html", context, refused=refused or "planned_before" in context)


def _start_form(request: StudioRequest, start: str) -> StartForm:
    """The form as it was sent, asked for, or not yet filled in enough to be judged."""
    sent = request.POST if request.method == "POST" else request.GET
    typed = {name: sent[name] for name in NAMES if name in sent}
    lot = Lot.objects.filter(code=normalise(typed.get("lot", ""))).first() if start == "lot" else None
    more: dict[str, Any] = {
        "start": start,
        "lines": order_lines(today()) if start == "order" else [],
        "lot": lot,
    }
    if request.method == "POST":
        return StartForm(typed, **more)
    typed.setdefault("planned_on", today().isoformat())
    if ASKED in request.GET or all(typed.get(name) for name in ENOUGH[start]):
        return StartForm(typed, **more)
    return StartForm(initial=typed, **more)


def _version(pk: str) -> FormulaVersion | None:
    versions = FormulaVersion.objects.prefetch_related("lines__item").select_related("formula__item")
    key = whole_number(pk)
    return None if key is None else versions.filter(pk=key).first()


def _most(version: FormulaVersion) -> dict[str, Any]:
    """How many the shelf allows, and how many when others get what they were promised."""
    most = most_from_shelf(version, on=today())
    return {"most": most, "most_spared": most_from_shelf(version, on=today(), spare_promises=True)}


def _started(form: StartForm, version: FormulaVersion) -> Start | None:
    """How many, worked out where the number was left empty. Raises CannotStart, RecipeError."""
    data, day = form.cleaned_data, max(today(), form.cleaned_data["planned_on"])
    if "understood" in data:
        return None
    if form.start == "order":
        return from_order(data["order_line"], today())
    return from_lot(version, data["lot"], day) if form.start == "lot" else from_shelf(version, day)


def _preview(request: StudioRequest, form: StartForm) -> dict[str, Any]:
    """What the run needs and the lots for it, the lot that is to be used up chosen. Raises CannotStart, RecipeError."""
    data = form.cleaned_data
    version = _version(str(data["formula"].pk)) or data["formula"]
    started = _started(form, version)
    quantity = started.quantity if started else data["understood"]
    day = max(today(), data["planned_on"])
    by_hand = _lot_by_hand(version, quantity, form, day)
    plan = with_widths(plan_of(version, quantity, on=day, chosen=by_hand))
    kept = {key: {each.lot.pk: each.quantity for each in hands} for key, hands in by_hand.items()}
    chosen_form = _chosen_form(request, plan, kept, day)
    inside = inside_of(plan)
    item = version.formula.item
    unit = "" if item.dimension is Dimension.COUNT else f" {item.unit}"
    hazards = hazard_standing(version, plan.sheet).cautions(request.studio.market) if version.fill_ug else []
    return {
        "version": version,
        "plan": plan,
        "quantity_text": f"{entry_text(quantity, item.unit)}{unit}",
        "started": started,
        "left_of_lot": _left_of_lot(form, plan),
        "chosen_form": chosen_form,
        "buying": buying(plan, data["planned_on"]),
        "load": load_words(version.lines.all(), plan.sheet, inside),
        "pours": pours_words(plan.sheet, request.studio),
        "cautions": [
            *particular(version, plan.sheet, unit=request.studio.scale, inside=inside),
            *hazards,
        ],
        "owners_word": owners_word(version),
        **_most(version),
    }


def _lot_by_hand(
    version: FormulaVersion, quantity: int, form: StartForm, day: Any
) -> dict[int, list[ByHand]]:
    """The lot that is to be used up, for every line of its item."""
    lot = form.cleaned_data.get("lot")
    if form.start != "lot" or lot is None:
        return {}
    needs = plan_of(version, quantity, on=day).needs
    return {need.line.pk: [ByHand(lot, need.target.total)] for need in needs if need.item.pk == lot.item_id}


def _left_of_lot(form: StartForm, plan: Plan) -> tuple[Lot, int] | None:
    """The lot that is to be used up, and what is left of it afterwards, in base units."""
    lot = form.cleaned_data.get("lot")
    if form.start != "lot" or lot is None:
        return None
    taken = sum(pick.quantity for need in plan.needs for pick in need.picks if pick.lot.pk == lot.pk)
    return lot, lot.on_hand - taken


def _chosen_form(
    request: StudioRequest, plan: Plan, kept: Mapping[int, Mapping[int, int]], day: Any
) -> ChosenForm:
    lots = shelves({need.item.pk for need in plan.needs}, day)
    data = request.POST if request.method == "POST" else None
    return ChosenForm(data, needs=plan.needs, lots=lots, chosen=kept)


def buying(plan: Plan, needed_on: Any) -> list[Any]:
    """What to do about everything that is missing, by need in their order; a handful of queries for any number."""
    short: dict[int, Shortage] = {}
    for need in plan.needs:
        if need.short:
            more = short[need.item.pk].quantity if need.item.pk in short else 0
            short[need.item.pk] = Shortage(need.item, need.short + more, needed_on)
    return list(advice(short.values(), on=today()).values())


def _plan(request: StudioRequest, form: StartForm, shown: dict[str, Any]) -> str | None:
    """Plan the run; None when it was refused, with the sentence where it belongs."""
    data, chosen_form = form.cleaned_data, shown["chosen_form"]
    if not chosen_form.is_valid():
        return None
    signature = sign(request)

    def act() -> str:
        run = {"planned_on": data["planned_on"], "signature": signature}
        quantity = shown["plan"].sheet.quantity
        since = signature.recorded_at - ASK_WITHIN
        if AGAIN not in request.POST and (
            same := plans.planned_lately(data["formula"], quantity, since=since, **run)
        ):
            raise PlannedBefore(same)
        line = data.get("order_line")
        batch = plans.plan(
            data["formula"],
            quantity,
            note=data["note"],
            order_line_id=line.pk if line else None,
            chosen=chosen_form.cleaned_data["chosen"],
            **run,
        )
        messages.success(
            request, f"Batch {batch.spaced_code} is planned and its materials are promised to it."
        )
        return batch.get_absolute_url()

    try:
        return once(request, act)
    except PlannedBefore as error:
        shown["planned_before"] = error.batch
    except plans.BatchError as error:
        form.add_error("formula", str(error))
    except ChoiceError as error:
        explain_choice(error, chosen_form)
    return None


def explain_choice(error: ChoiceError, form: Form) -> None:
    """Put what is wrong with a choice beside its lot, else beside the first of its line."""
    name = take_name(error.line_id, error.lot_id or 0)
    first = next(
        (each for each in form.fields if each.startswith(f"take-{error.line_id}-")), NON_FIELD_ERRORS
    )
    form.add_error(name if name in form.fields else first, str(error))


# A run that is planned


@allow(see=MAKERS, do=MAKERS)
def batch_lots(request: StudioRequest, code: str) -> HttpResponse:
    """Choose which lots an open run takes, in place of the suggestion."""
    batch = batch_of(code)
    if not batch.is_open:
        messages.warning(request, f"Batch {batch.spaced_code} is {batch.get_state_display().lower()}.")
        return redirect(batch)
    drawn = plans.drawn_by_line(batch)
    day = max(today(), batch.planned_on) if batch.state == Batch.State.PLANNED else today()
    plan = plan_of_batch(batch, on=today(), drawn=drawn)
    needs = [need for need in plan.needs if need.left]
    kept = {
        line_id: {each.lot.pk: each.quantity for each in hands if each.quantity}
        for line_id, hands in chosen_of(batch).items()
    }
    lots = shelves({need.item.pk for need in needs}, day)
    form = ChosenForm(request.POST or None, needs=needs, lots=lots, chosen=kept)
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            # A line whose fields were emptied goes back to the suggestion.
            chosen = {need.line.pk: form.cleaned_data["chosen"].get(need.line.pk, {}) for need in needs}
            plans.choose_lots(batch.pk, chosen, on=today())
            messages.success(request, "The lots are kept. What is drawn at the bench counts towards them.")
            return batch.get_absolute_url()

        try:
            return redirect(once(request, act))
        except plans.BatchError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
        except ChoiceError as error:
            explain_choice(error, form)
    context = {"batch": batch, "form": form}
    return answer(request, "batches/batch_lots.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def batch_replan(request: StudioRequest, code: str) -> HttpResponse:
    """Move a planned run to another day, or make more or less of it."""
    batch = batch_of(code)
    if batch.state != Batch.State.PLANNED and request.method != "POST":
        messages.warning(request, f"Batch {batch.spaced_code} was begun; its plan stays as it is.")
        return redirect(batch)
    form = ReplanForm(request.POST or None, batch=batch)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data

        def act() -> str:
            # What was left as it was shown stays as a colleague may have changed it meanwhile.
            now = Batch.objects.get(pk=batch.pk)
            quantity = data["quantity"] if "quantity" in form.changed_data else now.quantity
            planned_on = data["planned_on"] if "planned_on" in form.changed_data else now.planned_on
            plans.replan(batch.pk, quantity=quantity, planned_on=planned_on)
            messages.success(request, "The plan is changed, and what is promised to the run with it.")
            return batch.get_absolute_url()

        try:
            return redirect(once(request, act))
        except RecipeError as error:
            for _, sentence in error.problems:
                form.add_error("quantity", sentence)
        except plans.BatchError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    context = {"batch": batch, "form": form}
    return answer(request, "batches/batch_replan.html", context, refused=form.is_bound)
