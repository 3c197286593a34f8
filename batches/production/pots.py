"""What each pot of a batch got of every weighed line, beside its target, and what load that makes of it.

Plain figures in µg, handed over by whoever read them (`batches.production.off_formula_of`). A weight for which nobody
said the pot belongs to no pot: of its line it is then not known by pot what went in, and nothing of it is said to be
within.

Where weights name a pot that the formula does not plan, no pot has a target of its own: each is judged by its load, and
the weights of all pots together.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from batches.formulas.loads import WeighedLoad, Weighing, load_of, pot_number, pot_numbers
from batches.formulas.sheet import Sheet
from batches.formulas.tolerance import tolerance_in_all, tolerance_of
from batches.models import FormulaLine

NOT_KNOWN = "not known by pot"
NOT_PLANNED = "not planned by pot"


@dataclass(frozen=True)
class PotWeight:
    """What one pot got of one line, in µg. `is_known`: every weight of the line names its pot. `is_planned`: the formula
    says what this pot is to get; else target and tolerance are those of all pots together."""

    line: FormulaLine
    target: int
    tolerance: int
    actual: int
    is_known: bool
    is_planned: bool = True

    @property
    def off(self) -> int:
        """How much more than the target; less is negative."""
        return self.actual - self.target

    @property
    def is_over(self) -> bool:
        """Whether more went in than may; what names no pot can only add to it."""
        return self.is_planned and self.off > self.tolerance

    @property
    def is_under(self) -> bool:
        """Whether less went in than may, as far as that is known."""
        return self.is_planned and self.is_known and self.off < -self.tolerance

    @property
    def is_within(self) -> bool:
        """Whether it is known to be as near its target as it has to be."""
        return self.is_planned and self.is_known and abs(self.off) <= self.tolerance


@dataclass(frozen=True)
class Pot:
    """One pot: its number from 1, its weights, and its load; None where there is none yet, or it is not known by pot."""

    number: int
    weights: tuple[PotWeight, ...]
    load: WeighedLoad | None
    is_known: bool

    @property
    def has_something(self) -> bool:
        """Whether anything is known to be in it."""
        return any(weight.actual for weight in self.weights)


def pots_of(
    lines: Sequence[FormulaLine],
    sheet: Sheet,
    weighings: Sequence[Weighing],
    read: Iterable[int | None] = (),
) -> tuple[Pot, ...]:
    """Every pot of a batch with what it got; `read` are the pots that its readings name."""
    planned = len(sheet.pours)
    in_melt = [each for each in weighings if each.line.in_melt]
    numbers = pot_numbers(planned, [*read, *(each.pot for each in in_melt)])
    named = [replace(each, pot=pot_number(each.pot, numbers)) for each in in_melt]
    loose = {each.line.pk for each in named if each.pot is None and each.quantity}
    by_key = {line.pk: line for line in lines}
    targets = [target for target in sheet.targets if target.line.is_weighed]
    division = lines[0].version.division_ug if lines else 1
    as_planned = len(numbers) == planned
    found = []
    for number in numbers:
        here = [each for each in named if each.pot == number]
        actual: dict[int, int] = {}
        for each in here:
            actual[each.line.pk] = actual.get(each.line.pk, 0) + each.quantity
        weights = []
        for target in targets:
            line = by_key[target.line.key]
            if as_planned:
                wanted = target.pours[number - 1]
                allowed = tolerance_of(wanted, line.tolerance_ppm, division)
            else:
                wanted, allowed = target.total, tolerance_in_all(target.pours, line.tolerance_ppm, division)
            got, is_known = actual.get(line.pk, 0), line.pk not in loose
            weights.append(PotWeight(line, wanted, allowed, got, is_known, as_planned))
        found.append(Pot(number, tuple(weights), load_of(here) if not loose else None, not loose))
    return tuple(found)
