"""Which lots a set of complaints shares more than their share of all that was sent out would explain.

Plain Python: counts in, exact fractions out. Each complaint counts as one unit, however many jars it speaks of: jars of
one order come from the same shelf, so that they tell no more than one of them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import comb

from batches.chance import together

HARDLY_CHANCE, SELDOM_CHANCE = Fraction(1, 100), Fraction(1, 20)
SMALL_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


@dataclass(frozen=True)
class LotCount:
    """A lot, or lots that always went together (`lots`, by key): how many of the complaints and of all units carry it.

    `complained` of all complaints carry it, and `sent` of all units that were sent out.
    """

    lots: tuple[int, ...]
    complained: int
    sent: int


@dataclass(frozen=True)
class Shared:
    """What the complaints say about one lot: the four counts, the ratio, and the chance of it by chance alone.

    `with_it` and `without` are complaints; `others_with` and `others_without` units sent that nobody complained of.
    `ratio` is the share of complaints that carry it over its share of all units sent; None where none was sent. `chance`
    is of as many or more by chance alone; `corrected` the same after so many lots were looked at.
    """

    lots: tuple[int, ...]
    with_it: int
    without: int
    others_with: int
    others_without: int
    ratio: Fraction | None
    expected: Fraction
    chance: Fraction
    corrected: float

    @property
    def others(self) -> int:
        """All units sent that nobody complained of."""
        return self.others_with + self.others_without

    @property
    def verdict(self) -> str:
        """ "strong", "some" or "none": how far chance is an explanation."""
        if self.corrected <= HARDLY_CHANCE:
            return "strong"
        return "some" if self.corrected <= SELDOM_CHANCE else "none"

    @property
    def chance_words(self) -> str:
        """The chance to two figures."""
        return _in_figures(float(self.chance))

    @property
    def corrected_words(self) -> str:
        """The corrected chance to two figures."""
        return _in_figures(self.corrected)


def _in_figures(chance: float) -> str:
    """A chance to two figures; below one in ten thousand it says no more than that."""
    if chance < 0.0001:
        return "under 0.0001"
    return (
        f"{chance:.4f}".rstrip("0").rstrip(".") if chance < 0.01 else f"{chance:.2f}".rstrip("0").rstrip(".")
    )


def fisher_greater(with_it: int, without: int, others_with: int, others_without: int) -> Fraction:
    """The chance that so many or more of the complaints carry the lot when lots fall to them at random.

    Fisher's exact test, one-sided, in whole numbers: the upper tail of the hypergeometric distribution with the margins of
    the four counts (Fisher 1935, The Design of Experiments, from memory). Raises ValueError for a count below zero.
    """
    if min(with_it, without, others_with, others_without) < 0:
        raise ValueError("Counts are never below zero.")
    complaints, carrying = with_it + without, with_it + others_with
    free = without + others_without
    most = min(complaints, carrying)
    ways = sum(comb(carrying, many) * comb(free, complaints - many) for many in range(with_it, most + 1))
    return Fraction(ways, comb(carrying + free, complaints))


def shared_lots(counts: Iterable[LotCount], *, complaints: int, sent: int, looked_at: int) -> list[Shared]:
    """Every lot with its counts and chances, the least likely by chance first.

    `complaints` in all, `sent` units in all. `looked_at` is how many lots could have stood out, those in no complained
    candle among them: all are corrected for (Holm). Units complained of count as sent even where the books do not say so.
    """
    rows = [(each, _table(each, complaints, sent)) for each in counts]
    chances = [fisher_greater(*table) for _, table in rows]
    unseen = max(looked_at - len(rows), 0)
    corrected = together([float(chance) for chance in chances] + [1.0] * unseen)
    found = [
        _shared(each, table, chance, after)
        for (each, table), chance, after in zip(rows, chances, corrected, strict=False)
    ]
    return sorted(found, key=lambda row: (row.chance, -row.with_it, row.lots))


Table = tuple[int, int, int, int]


def _table(each: LotCount, complaints: int, sent: int) -> Table:
    without = complaints - each.complained
    others_with = max(each.sent - each.complained, 0)
    return each.complained, without, others_with, max(sent - each.sent - without, 0)


def _shared(each: LotCount, table: Table, chance: Fraction, corrected: float) -> Shared:
    with_it, without, others_with, others_without = table
    complaints, carrying, units = with_it + without, with_it + others_with, sum(table)
    told = bool(carrying and complaints)
    return Shared(
        lots=each.lots,
        with_it=with_it,
        without=without,
        others_with=others_with,
        others_without=others_without,
        ratio=Fraction(with_it * units, complaints * carrying) if told else None,
        expected=Fraction(complaints * carrying, units) if units else Fraction(0),
        chance=chance,
        corrected=corrected,
    )


def in_words(rows: Sequence[Shared], *, complaints: int, looked_at: int) -> str:
    """One honest sentence about what was found, small numbers said as such."""
    said = _number(complaints).capitalize()
    if not complaints:
        return "No complaint names a candle whose lots are known, so there is nothing to compare."
    few = f"{said} complaint{'' if complaints == 1 else 's'} can hardly tell"
    if complaints < 3:
        return f"{few}: what they share may well be chance."
    if not rows:
        return "The books know of no lot in these candles."
    best = rows[0]
    if best.verdict == "strong":
        return (
            f"{_of(best.with_it, complaints)} complaints share a lot that is in few of all the candles sent: by chance "
            f"alone that would hardly happen, even among the {looked_at} lots that were looked at."
            f"{' It is a handful of complaints all the same: look before you act.' if complaints < 6 else ''}"
        )
    if best.verdict == "some":
        return (
            f"{_of(best.with_it, complaints)} complaints share a lot more than its share of all candles sent explains. "
            f"Among {looked_at} lots that were looked at this happens seldom by chance, but it does happen."
        )
    return f"{few}: no lot stands out beyond what chance explains among the {looked_at} lots that were looked at."


def _of(some: int, every: int) -> str:
    return (
        f"All {_number(every)}" if some == every else f"{_number(some).capitalize()} of the {_number(every)}"
    )


def _number(count: int) -> str:
    return SMALL_WORDS[count] if count < len(SMALL_WORDS) else str(count)
