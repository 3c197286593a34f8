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
from studio.web.tables import Column, Format, Table


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
        return _runs_table(runs, request.studio.temperature_unit).file(request, runs)
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


def _runs_table(runs: Sequence[Run], unit: str) -> Table:
    """Every run with its conditions, its lots and what came out; a column for each defect that any of them knows."""
    defects = sorted({words for run in runs for words in run.scrap})
    flaws = sorted({words for run in runs for words in run.flawed})

    def heat(kind: Reading.Kind) -> Column:
        def value(run: Run) -> Decimal | None:
            milli_c = run.temperatures.get(kind)
            return None if milli_c is None else Decimal(entry_temperature(round(milli_c), unit))

        return Column(f"{kind.label}, °{unit}", value, Format.RATIO)

    def level(heading: str, key: str) -> Column:
        return Column(heading, lambda run: run.levels[key].words if key in run.levels else "")

    def lots(heading: str, kind: Kind) -> Column:
        return Column(heading, lambda run: ", ".join(run.lots.get(kind, ())))

    def counted(heading: str, of: str, words: str) -> Column:
        return Column(heading, lambda run: getattr(run, of).get(words, 0), Format.NUMBER)

    return Table(
        "runs",
        "Runs",
        [
            Column("Batch", "code"),
            Column("Product", "product"),
            Column("Formula", "formula"),
            Column("Day", "day", Format.DAY),
            Column("State", _state_of),
            *map(heat, Reading.Kind),
            Column("Days the wax had been here", lambda run: _rounded(run.wax_days, 1), Format.RATIO),
            lots("Wax lots", Kind.WAX),
            level("Fragrance", "scent"),
            lots("Fragrance lots", Kind.FRAGRANCE),
            level("Vessel", "vessel"),
            level("Person who poured", "person"),
            Column("Good", "good", Format.NUMBER),
            Column("Seconds", "seconds", Format.NUMBER),
            Column("To be melted again", "rework", Format.NUMBER),
            Column("Scrap", "scrapped", Format.NUMBER),
            *(counted(f"Scrap: {words or 'no defect given'}", "scrap", words) for words in defects),
            *(counted(f"Seconds: {words}", "flawed", words) for words in flaws),
            Column("Yield, % of theoretical", lambda run: _rounded(run.reached, 2, 100), Format.RATIO),
        ],
    )


def _state_of(run: Run) -> str:
    return str((Batch.State.ABANDONED if run.given_up else Batch.State.FINISHED).label)


def _rounded(number: Any, places: int, times: int = 1) -> Any:
    return None if number is None else round(number * times, places)
