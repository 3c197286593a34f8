"""Reads the runs that are to be learned from, in as many queries for one as for forty thousand.

Runs that fill vessels and have come to an end, finished or given up; what was undone, reversed or taken back is left
out. Blends are not among them: nothing is poured into units.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Count, QuerySet, Sum

from batches.analysis.factors import Level, Run
from batches.models import Batch, Draw, Flaw, Labour, Outcome, Reading
from batches.models.formulas import DRAWN_INTO_THE_POT
from inventory.models import Kind
from studio.core.codes import spaced

Result = Outcome.Result
DAY_S = 86_400


def ended(first: date, last: date, formula_id: int | None = None) -> QuerySet[Batch]:
    """The runs planned for a day from `first` to `last`, of one formula or of all, in the order of their days."""
    batches = Batch.objects.filter(
        state__in=(Batch.State.FINISHED, Batch.State.ABANDONED),
        planned_on__range=(first, last),
        version__fill_ug__isnull=False,
    )
    if formula_id is not None:
        batches = batches.filter(version__formula=formula_id)
    return batches.order_by("planned_on", "pk")


@dataclass
class _Told:
    """What was gathered of one run so far. Lots as base units by level, people as minutes or grams by name."""

    came: dict[str, int] = field(default_factory=dict)
    scrap: dict[str, int] = field(default_factory=dict)
    flawed: dict[str, int] = field(default_factory=dict)
    temperatures: dict[str, float] = field(default_factory=dict)
    melt_ug: int = 0
    lots: dict[str, dict[Level, int]] = field(default_factory=dict)
    items: dict[str, dict[Level, int]] = field(default_factory=dict)
    wax_days: dict[Level, float] = field(default_factory=dict)
    drew: dict[Level, int] = field(default_factory=dict)
    poured: dict[Level, int] = field(default_factory=dict)

    def levels(self) -> dict[str, Level]:
        """The level of each factor: of several lots, items or people the one that gave most."""
        found = {
            "wax_lot": _most(self.lots.get(Kind.WAX)),
            "fragrance_lot": _most(self.lots.get(Kind.FRAGRANCE)),
            "scent": _most(self.items.get(Kind.FRAGRANCE)),
            "vessel": _most(self.items.get(Kind.VESSEL)),
            "person": _most(self.poured or self.drew),
        }
        return {key: level for key, level in found.items() if level}


def _most(amounts: dict[Level, int] | None) -> Level | None:
    """The one with most of it, the first of equals."""
    return max(amounts, key=amounts.__getitem__) if amounts else None


def read(batches: QuerySet[Batch]) -> list[Run]:
    """These runs with what came out, what was read, and what and who took part. Seven queries."""
    told: dict[int, _Told] = {}
    rows = list(
        batches.values_list(
            "pk",
            "code",
            "planned_on",
            "state",
            "version__fill_ug",
            "version__formula__name",
            "version__formula__item__name",
        )
    )
    told = {row[0]: _Told() for row in rows}
    these = batches.order_by().values("pk")
    _outcomes(told, these)
    _flaws(told, these)
    _readings(told, these)
    _draws(told, these)
    _labour(told, these)
    return [_run(row, told[row[0]]) for row in rows]


def _run(row: tuple[Any, ...], told: _Told) -> Run:
    _, code, planned_on, state, fill_ug, formula, product = row
    levels = told.levels()
    return Run(
        code=code,
        formula=formula,
        product=product,
        day=planned_on,
        good=told.came.get(Result.GOOD, 0),
        seconds=told.came.get(Result.SECOND, 0),
        rework=told.came.get(Result.REWORK, 0),
        scrap=told.scrap,
        flawed=told.flawed,
        theoretical=told.melt_ug / fill_ug if told.melt_ug else None,
        temperatures=told.temperatures,
        wax_days=told.wax_days.get(levels["wax_lot"]) if "wax_lot" in levels else None,
        levels=levels,
        lots={kind: tuple(level.words for level in lots) for kind, lots in told.lots.items()},
        given_up=state == Batch.State.ABANDONED,
    )


def _outcomes(told: dict[int, _Told], these: QuerySet[Batch, Any]) -> None:
    outcomes = Outcome.objects.standing().filter(batch__in=these).exclude(result=Result.MELT)
    rows = outcomes.values_list("batch", "result", "defect").annotate(units=Sum("quantity"))
    for batch, result, defect, units in rows.order_by("batch", "result", "defect"):
        run = told[batch]
        if result == Result.SCRAP:
            run.scrap[defect] = units
        else:
            run.came[result] = run.came.get(result, 0) + units


def _flaws(told: dict[int, _Told], these: QuerySet[Batch, Any]) -> None:
    flaws = Flaw.objects.filter(outcome__batch__in=these, outcome__posting__reversal__isnull=True)
    rows = flaws.order_by().values_list("outcome__batch", "defect").annotate(units=Sum("quantity"))
    for batch, defect, units in rows:
        told[batch].flawed[defect] = units


def _readings(told: dict[int, _Told], these: QuerySet[Batch, Any]) -> None:
    """The mean of each kind; what was struck out or taken back is left out."""
    readings = Reading.objects.standing().filter(batch__in=these)
    rows = readings.values_list("batch", "kind").annotate(total=Sum("temperature_mc"), times=Count("pk"))
    for batch, kind, total, times in rows.order_by("batch", "kind"):
        told[batch].temperatures[kind] = total / times


def _draws(told: dict[int, _Told], these: QuerySet[Batch, Any]) -> None:
    draws = Draw.objects.standing().filter(batch__in=these)
    weighed = draws.filter(DRAWN_INTO_THE_POT).order_by().values_list("batch")
    for batch, total in weighed.annotate(total=Sum("movement__quantity")):
        told[batch].melt_ug = -total
    rows = draws.filter(movement__lot__item__kind__in=(Kind.WAX, Kind.FRAGRANCE, Kind.VESSEL)).values_list(
        "batch",
        "movement__lot__item__kind",
        "movement__lot__item__name",
        "movement__lot__code",
        "movement__lot__arrived_at",
        "movement__posting__happened_at",
        "movement__posting__by__first_name",
        "movement__posting__by__last_name",
        "movement__posting__by__username",
        "movement__quantity",
    )
    for batch, kind, item, code, arrived_at, happened_at, *name, quantity in rows.order_by("pk").iterator():
        run = told[batch]
        lot, of = Level(spaced(code), item, code), Level(item)
        _add(run.lots.setdefault(kind, {}), lot, -quantity)
        _add(run.items.setdefault(kind, {}), of, -quantity)
        if kind == Kind.WAX:
            _add(run.drew, _person(*name), -quantity)
            run.wax_days[lot] = (happened_at - arrived_at).total_seconds() / DAY_S


def _labour(told: dict[int, _Told], these: QuerySet[Batch, Any]) -> None:
    labour = Labour.objects.standing().filter(batch__in=these, step=Labour.Step.POUR)
    rows = labour.values_list("batch", "person__first_name", "person__last_name", "person__username")
    for batch, *name, minutes in rows.annotate(total=Sum("minutes")).order_by("batch", "person"):
        _add(told[batch].poured, _person(*name), minutes)


def _add(amounts: dict[Level, int], level: Level, amount: int) -> None:
    amounts[level] = amounts.get(level, 0) + amount


def _person(first: str, last: str, username: str) -> Level:
    """Somebody, as everywhere else; two of one name stay two."""
    return Level(f"{first} {last}".strip() or username, username)


def defects_known(recorded: Iterable[str], listed: Iterable[str]) -> list[str]:
    """Every defect's words once, in the order of the alphabet."""
    return sorted(
        {words for words in (*recorded, *listed) if words}, key=lambda words: (words.lower(), words)
    )
