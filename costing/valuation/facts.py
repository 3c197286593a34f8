"""What is known of batches and lots at an instant: what `costing.valuation.carried` works with, in few queries."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from batches.formulas.sheet import pots_for
from batches.models import Batch, Outcome
from costing.model.job_cost import ChargedOn, Labour, OverheadRule
from costing.rates.rates import Rates
from costing.valuation import ledger_as_of
from costing.valuation.carried import NOTHING, Added, CarryingBatch, CarryingLot
from costing.valuation.ledger_as_of import Instant

Line = tuple[int, str, int, int | None]


@dataclass(frozen=True)
class _Worked:
    """One line of labour: what it cost, its hours, and whether the owner worked them."""

    cost: int
    hours: Fraction
    owner: bool


@dataclass(frozen=True)
class _Pot:
    fill_ug: int | None
    loss_ppm: int
    pot_ug: int | None


class Facts:
    """Batches and lots as they stood, by key. `in_pots` is what each batch drew less what it gave, in millionths."""

    def __init__(self, at: Instant, rates: Rates) -> None:
        self.at, self.rates, self.minutes_without_rate = at, rates, 0
        self._rules: dict[date, tuple[OverheadRule, ...]] = {}
        drawn, given, lines, worked = (
            ledger_as_of.drawn(at),
            ledger_as_of.given(at),
            ledger_as_of.outcomes(at),
            self._worked(),
        )
        over = ledger_as_of.over(at)
        keys = drawn.keys() | given.keys() | worked.keys() | {batch_id for batch_id, *_ in lines}
        value = {key: drawn.get(key, (0, 0))[0] for key in keys}
        self.in_pots = {key: value[key] - given.get(key, (0, 0))[0] for key in keys}
        self.batches = {
            key: CarryingBatch(NOTHING, value[key] - given.get(key, (0, 0))[1], key in over) for key in keys
        }
        self._take_what_came(lines)
        self._take_what_was_added(worked, {key: ug for key, (_, ug) in drawn.items()})
        self.items = ledger_as_of.made_here()
        for batch_id, lot_id, taken in ledger_as_of.drawn_of_made(at, self.items):
            self.batches[batch_id].drew.append((lot_id, taken))
        carrying = ledger_as_of.carrying(at, self.items)
        self.item_of = {lot_id: item_id for lot_id, (item_id, _, _) in carrying.items()}
        self.lots = self._lots({lot_id: (came, held) for lot_id, (_, came, held) in carrying.items()})

    def _worked(self) -> dict[int, list[_Worked]]:
        found: dict[int, list[_Worked]] = defaultdict(list)
        rates: dict[tuple[int, date, str], int | None] = {}
        for batch_id, person_id, step, on, by_owner, minutes in ledger_as_of.labour(self.at):
            key = person_id, on, step
            if key not in rates:
                rates[key] = self.rates.per_hour(person_id, on, step)
            if (rate := rates[key]) is None:
                self.minutes_without_rate += minutes
            cost = Labour(minutes, rate or 0).cost
            found[batch_id].append(_Worked(cost, Fraction(minutes, 60), by_owner))
        return found

    def _take_what_came(self, lines: Iterable[Line]) -> None:
        """Good units carry; where none is good seconds do, as in the books. Recovered melt takes material alone."""
        results = Outcome.Result
        seconds: dict[int, dict[int, int]] = defaultdict(dict)
        for batch_id, result, quantity, lot_id in lines:
            batch = self.batches[batch_id]
            if result in {results.SCRAP, results.REWORK}:
                batch.lost += quantity
            elif result != results.MELT and lot_id:
                batch.good += quantity
                (batch.made if result == results.GOOD else seconds[batch_id])[lot_id] = quantity
        for batch_id, made in seconds.items():
            self.batches[batch_id].made = self.batches[batch_id].made or made

    def _take_what_was_added(self, worked: Mapping[int, list[_Worked]], melts: Mapping[int, int]) -> None:
        """What each batch cost beyond material: its work, and overhead by the rules of the day it ended, or was planned."""
        ends = ledger_as_of.ended_on(self.at)
        columns = ("quantity", "planned_on", "version__fill_ug", "version__loss_ppm", "version__pot_ug")
        for key, quantity, planned_on, *pot in Batch.objects.order_by().values_list("pk", *columns):
            batch = self.batches.get(key)
            if batch is None:
                continue
            batch.planned = quantity
            lines, melt_ug = worked.get(key, []), melts.get(key, 0)
            vessel = _Pot(*pot)
            charged = ChargedOn(
                sum((line.hours for line in lines), Fraction(0)),
                sum(line.cost for line in lines),
                0 if vessel.fill_ug is None else batch.good + batch.lost,
                pots_for(vessel, quantity) if melt_ug else 0,
                melt_ug,
            )
            day = ends[key] if batch.over and key in ends else min(planned_on, self.at.day)
            batch.own = Added(
                sum(line.cost for line in lines if not line.owner),
                sum(line.cost for line in lines if line.owner),
                sum(charged.cost(rule) for rule in self._rules_on(day)),
            )

    def _rules_on(self, day: date) -> tuple[OverheadRule, ...]:
        if day not in self._rules:
            self._rules[day] = self.rates.rules_on(day)
        return self._rules[day]

    def _lots(self, carrying: Mapping[int, tuple[int, int]]) -> dict[int, CarryingLot]:
        maker = {lot_id: key for key, batch in self.batches.items() for lot_id in batch.made}
        out: dict[int, list[tuple[int, int]]] = defaultdict(list)
        filled: dict[int, int] = defaultdict(int)
        into: dict[int, tuple[int, int]] = {}
        for posting, lot_id, quantity in ledger_as_of.poured(self.at, self.items):
            if quantity < 0:
                out[posting].append((lot_id, -quantity))
            else:
                into[lot_id] = posting, quantity
                filled[posting] += quantity
        back = ledger_as_of.came_back(self.at)
        lots = {}
        for lot_id, (took_in, held) in carrying.items():
            posting, poured = into.get(lot_id, (0, 0))
            lots[lot_id] = CarryingLot(
                took_in,
                held,
                maker.get(lot_id),
                out.get(posting, ()),
                (poured, filled.get(posting, 0)),
                back.get(lot_id),
            )
        return lots
