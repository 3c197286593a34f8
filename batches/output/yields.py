"""What came out of a batch beside what was planned and what the draws would have given, and in which parts.

Theoretical yield is what the material drawn would give with no loss; the share reached is the actual yield over it, at
the same phase. The model is how makers of drugs count (21 CFR 210.3(b)(17)-(19)); it is no rule for candles, so no page
or paper names it. Quantities are in base units of the product.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from batches.models import Batch, Outcome
from inventory.models import Item, Posting
from studio.core.numerals import decimal_text

Result = Outcome.Result
MADE = (Result.GOOD, Result.SECOND, Result.SCRAP, Result.REWORK)


def came_out(outcomes: Iterable[Outcome]) -> dict[str, int]:
    """Base units by result, undone finishings left out; recovered melt in µg of whatever it became.

    Expects each posting with its reversal.
    """
    results = dict.fromkeys(Result.values, 0)
    for outcome in outcomes:
        if not hasattr(outcome.posting, "reversal"):
            results[outcome.result] += outcome.quantity
    return results


@dataclass(frozen=True)
class Yield:
    """A batch's yield so far. `melt_ug` is what was drawn into the pot; `fill_ug` is None for a blend."""

    planned: int
    came: Mapping[str, int]
    melt_ug: int
    fill_ug: int | None

    @property
    def made(self) -> int:
        """Everything that came out as the product, whatever became of it."""
        return sum(self.came[result] for result in MADE)

    @property
    def actual(self) -> int:
        """The actual yield: what can be used or sold, good and seconds."""
        return self.came[Result.GOOD] + self.came[Result.SECOND]

    @property
    def theoretical(self) -> Fraction | None:
        """What the melt drawn would give with no loss; None where none was drawn."""
        return Fraction(self.melt_ug, self.fill_ug or 1) if self.melt_ug else None

    @property
    def of_theoretical(self) -> Fraction | None:
        """The share of it that was reached."""
        return self.actual / self.theoretical if self.theoretical else None

    @property
    def of_planned(self) -> Fraction:
        """The share of what was planned."""
        return Fraction(self.actual, self.planned)

    @property
    def still_out(self) -> int:
        """What was planned and has not come out yet."""
        return max(self.planned - self.made, 0)

    def theoretical_words(self, item: Item) -> str:
        """The theoretical yield as the page writes it: units to a tenth, a blend in its unit."""
        if self.theoretical is None:
            return ""
        if self.fill_ug is None:
            return item.quantity(round(self.theoretical))
        return decimal_text(round(self.theoretical * 10), 1)


def yield_of(batch: Batch, came: Mapping[str, int], melt_ug: int) -> Yield:
    """The yield of a batch with its version."""
    return Yield(batch.quantity, came, melt_ug, batch.version.fill_ug)


@dataclass
class OutputPart:
    """What came out at one time."""

    number: int
    posting: Posting
    outcomes: list[Outcome]


def parts_of(outcomes: Iterable[Outcome]) -> list[OutputPart]:
    """The parts a batch came out in, the first first. Expects standing outcomes in order, each with its posting."""
    parts: list[OutputPart] = []
    for outcome in outcomes:
        if not parts or parts[-1].posting.pk != outcome.posting_id:
            parts.append(OutputPart(len(parts) + 1, outcome.posting, []))
        parts[-1].outcomes.append(outcome)
    return parts
