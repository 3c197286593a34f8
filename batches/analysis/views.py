"""What the runs show: defects and yield against temperatures, lots, fragrance, vessel and person."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import HttpResponse

from batches.analysis import reading
from batches.analysis.factors import POUR, Factor, Look, Run
from batches.analysis.findings import RUNS_AT_LEAST, Finding, Strength, interval, learn, many, percent, pooled
from batches.analysis.forms import LessonForm
from batches.analysis.plots import Strip, scatter, shown, strips
from batches.chance import crowding
from batches.models import Batch, Defect, Flaw, Outcome, Reading
from inventory.models import Kind
from studio.core.temperatures import entry_temperature
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.plots import Plot
from studio.web.requests import StudioRequest, answer, today


@dataclass(frozen=True)
class FindingPart:
    """One finding as the page shows it: its drawing, or its strips with the ends of their scale."""

    finding: Finding
    plot: Plot | None
    strips: Sequence[Strip]
    ends: tuple[str, str]


@dataclass(frozen=True)
class Outline:
    """One outcome over all runs: its share with the interval, and in how many runs it came up."""

    look: Look
    share: str
    low: str
    high: str
    runs: int
    of: int


@allow(see=EVERYONE)
def batch_analysis(request: StudioRequest) -> HttpResponse:
    """What the runs of some days and formulas show about one outcome."""
    of_scrap = Outcome.objects.exclude(defect="").order_by().values_list("defect", flat=True)
    recorded = of_scrap.union(Flaw.objects.order_by().values_list("defect", flat=True))
    defects = reading.defects_known(recorded, Defect.objects.values_list("words", flat=True))
    form = LessonForm(request.GET, defects=defects, today=today())
    form.is_valid()
    formula = form.cleaned_data.get("formula")
    runs = reading.read(reading.ended(*form.days, formula.pk if formula else None))
    if tables.wanted(request):
        return _export(request, runs)
    unit = request.studio.scale

    def write(factor: Factor, figure: float) -> str:
        return shown(factor, figure, unit)

    learned = learn(runs, form.chosen, write)
    parts = [_part(finding, form.chosen, unit) for finding in learned.findings]
    context = {
        "form": form,
        "formula": formula,
        "runs": len(runs),
        "came": f"{many(len(runs))}, {many(sum(run.made for run in runs), 'unit')}",
        "given_up": sum(run.given_up for run in runs),
        "learned": learned,
        "look": form.chosen,
        "outlines": list(_outlines(runs, form)),
        "parts": [part for part in parts if part.finding.standing < Strength.NOTHING],
        "no_difference": [part for part in parts if part.finding.standing == Strength.NOTHING],
        "differing": sum(part.finding.standing == Strength.DIFFERS for part in parts),
        "silent": [part.finding for part in parts if part.finding.standing >= Strength.TOO_FEW],
        "least": RUNS_AT_LEAST,
        "no_heat": not any(POUR.of(run) for run in runs),
        "filtered": bool(request.GET),
    }
    return answer(request, "batches/batch_analysis.html", context, refused=bool(form.errors))


def _part(finding: Finding, look: Look, unit: Any) -> FindingPart:
    if finding.points:
        return FindingPart(finding, scatter(finding, look, unit), (), ("", ""))
    if finding.sides:
        drawn, *ends = strips(finding, look)
        return FindingPart(finding, None, drawn, (ends[0], ends[1]))
    return FindingPart(finding, None, (), ("", ""))


def _outlines(runs: Sequence[Run], form: LessonForm) -> Iterator[Outline]:
    """Every outcome that came up, the yield among them."""
    for look in form.looks.values():
        usable = [run for run in runs if look.of(run) is not None]
        with_it = sum(1 for run in usable if not look.hits or look.hits(run))
        if not usable or not (with_it or look == form.chosen):
            continue
        crowd = crowding((look.hits(run), run.made) for run in usable) if look.hits else 1.0
        low, high = interval(look, usable, crowd)
        yield Outline(look, percent(pooled(look, usable)), percent(low), percent(high), with_it, len(usable))


def _export(request: StudioRequest, runs: Sequence[Run]) -> HttpResponse:
    """Every run with its conditions, its lots and what came out."""
    unit = request.studio.temperature_unit
    kinds = list(Reading.Kind)
    defects = sorted({words for run in runs for words in run.scrap})
    flaws = sorted({words for run in runs for words in run.flawed})
    head = [
        "Batch",
        "Product",
        "Formula",
        "Day",
        "State",
        *(f"{kind.label}, °{unit}" for kind in kinds),
        "Days the wax had been here",
        "Wax lots",
        "Fragrance",
        "Fragrance lots",
        "Vessel",
        "Person who poured",
        "Good",
        "Seconds",
        "To be melted again",
        "Scrap",
        *(f"Scrap: {words or 'no defect given'}" for words in defects),
        *(f"Seconds: {words}" for words in flaws),
        "Yield, % of theoretical",
    ]

    def row(run: Run) -> list[object]:
        named = {key: level.words for key, level in run.levels.items()}
        heats = [run.temperatures.get(kind) for kind in kinds]
        return [
            run.code,
            run.product,
            run.formula,
            run.day,
            (Batch.State.ABANDONED if run.given_up else Batch.State.FINISHED).label,
            *("" if heat is None else Decimal(entry_temperature(round(heat), unit)) for heat in heats),
            "" if run.wax_days is None else round(run.wax_days, 1),
            ", ".join(run.lots.get(Kind.WAX, ())),
            named.get("scent", ""),
            ", ".join(run.lots.get(Kind.FRAGRANCE, ())),
            named.get("vessel", ""),
            named.get("person", ""),
            run.good,
            run.seconds,
            run.rework,
            run.scrapped,
            *(run.scrap.get(words, 0) for words in defects),
            *(run.flawed.get(words, 0) for words in flaws),
            "" if run.reached is None else round(run.reached * 100, 2),
        ]

    return tables.export(request, "runs", head, map(row, runs))
