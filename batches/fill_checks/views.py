"""Fill checks of a batch: weights entered, held against the market's rule, and plotted."""

from fractions import Fraction
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from batches.fetch import batch_of
from batches.fill_checks import control_chart, spread
from batches.fill_checks.checking import WORDS, CannotCheck, check_fill, judged, nets_of
from batches.fill_checks.forms import ChartForm, FillForm
from batches.fill_checks.net_contents import Judgement
from batches.fill_checks.plots import sentences, weight_plots
from batches.formulas.fine_weights import fine_unit
from batches.models import Batch, FillCheck
from batches.output.yields import came_out, yield_of
from inventory.models import Unit
from studio.core.quantities import entry_text
from studio.models import Market
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web.requests import StudioRequest, answer, sign
from studio.web.submissions import once


@allow(see=MAKERS, do=MAKERS)
def fill_add(request: StudioRequest, code: str) -> HttpResponse:
    """Enter net weights of a batch's units."""
    batch = batch_of(code)
    if batch.version.fill_ug is None or batch.state in {Batch.State.PLANNED, Batch.State.CALLED_OFF}:
        messages.warning(request, f"Nothing of batch {batch.spaced_code} was filled into units.")
        return redirect(batch)
    form = FillForm(
        request.POST or None, batch=batch, studio=request.studio, initial=_initial(request, batch)
    )
    if request.method == "POST" and form.is_valid():
        try:
            url = once(request, lambda: _checked(request, batch, form.cleaned_data))
        except CannotCheck as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
        else:
            return redirect(url)
    return answer(request, "batches/fill_form.html", {"form": form, "batch": batch}, refused=form.is_bound)


def _checked(request: StudioRequest, batch: Batch, data: dict[str, Any]) -> str:
    check = check_fill(
        batch.pk,
        data["nets"],
        declared_ug=data["declared"],
        market=Market(data["market"]),
        lot_size=data["lot_size"],
        note=data["note"],
        signature=sign(request, happened_at=data["happened_at"]),
    )
    messages.success(request, f"{len(data['nets'])} weights are kept.")
    return check.get_absolute_url()


def _initial(request: StudioRequest, batch: Batch) -> dict[str, Any]:
    """What is likely: the weight the version declares, the rule of the market, and as many units as came out."""
    version = batch.version
    outcomes = batch.outcomes.standing().select_related("posting__reversal", "lot__item")
    made = yield_of(batch, came_out(outcomes), 0).made
    return {
        "declared": entry_text(version.declared_ug or version.fill_ug or 0, fine_unit(request.studio)),
        "market": request.studio.market,
        "lot_size": made or batch.quantity,
    }


@allow(see=EVERYONE)
def fill_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One fill check: its figures, the market's rule, the control chart and what the filling can do."""
    checks = FillCheck.objects.select_related("batch__version__formula__item", "by").prefetch_related(
        "weights"
    )
    check = get_object_or_404(checks, pk=pk)
    unit = fine_unit(request.studio)
    nets, judgement = nets_of(check), judged(check, unit)
    form = ChartForm(_asked(request, check, judgement, unit), unit=unit)
    asked = form.cleaned_data if form.is_bound and form.is_valid() else {}
    size = asked.get("group") or 1
    chart = control_chart.of_subgroups(nets, size) if size > 1 else control_chart.of_individuals(nets)
    low, high = _limits(check, judgement, asked)
    if not form.is_bound:
        form = ChartForm(initial={"group": size, **ChartForm.typed(low, high, unit)}, unit=unit)
    division = check.batch.version.division_ug
    context = {
        "check": check,
        "batch": check.batch,
        "unit": unit,
        "nets": nets,
        "mean": spread.mean(nets),
        "deviation": spread.deviation(nets),
        "least": min(nets),
        "most": max(nets),
        "judgement": judgement,
        "tone_word": WORDS[judgement.verdict],
        "too_coarse": judgement.too_coarse(division),
        "division": division,
        "form": form,
        "chart": chart,
        "size": size,
        "plots": weight_plots(chart, unit) if chart else [],
        "sentences": sentences(chart) if chart else [],
        **_capability(nets, chart, low, high),
    }
    return answer(request, "batches/fill_detail.html", context, refused=form.is_bound and bool(form.errors))


def _asked(
    request: StudioRequest, check: FillCheck, judgement: Judgement, unit: Unit
) -> dict[str, str] | None:
    """How the drawing was asked for, limits that were left empty filled in; None when it was not."""
    if not any(name in request.GET for name in ("group", "low", "high")):
        return None
    usual = ChartForm.typed(*_limits(check, judgement, {}), unit)
    return {name: request.GET.get(name, "") or usual.get(name, "") for name in ("group", "low", "high")}


def _limits(check: FillCheck, judgement: Judgement, asked: dict[str, Any]) -> tuple[int, int]:
    """The limits the filling is held against in µg: typed, or what is declared give or take the tolerance."""
    low, high = asked.get("low"), asked.get("high")
    below, above = check.declared_ug - judgement.tolerance, check.declared_ug + judgement.tolerance
    return (below if low is None else low), (above if high is None else high)


def _capability(nets: list[int], chart: control_chart.Chart | None, low: int, high: int) -> dict[str, Any]:
    """What the filling can do: by σ from the ranges, and by the deviation of all weights."""
    context: dict[str, Any] = {"low": low, "high": high, "few": len(nets) < control_chart.ENOUGH}
    if chart is None or low >= high:
        return context
    limits = Fraction(low), Fraction(high)
    deviation = spread.deviation(nets)
    middle = spread.mean(nets)
    context["by_ranges"] = control_chart.capability(middle, chart.sigma, *limits)
    if deviation is not None:
        context["by_all"] = control_chart.capability(middle, deviation, *limits)
    return context
