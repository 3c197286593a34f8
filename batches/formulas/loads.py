"""The fragrance load of a formula beside every published maximum, each on its own basis.

A wax states how much fragrance it holds, mostly of wax; a fragrance how much of itself may be used, mostly of the finished
product (IFRA certificates; common practice). 10 % of wax is 9.09 % of melt, so neither is read for the other.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from batches.formulas.recipe import Basis
from batches.formulas.sheet import Sheet
from batches.models import FormulaLine
from inventory.models import Item, Kind, LoadBasis
from studio.percent import WHOLE, format_percent


@dataclass(frozen=True)
class Load:
    """What is in the melt beside what an item states at most. Plain ratios, 8 % is 2/25.

    For a wax `of_wax` and `of_melt` are the load of all fragrance together, for anything else of the item itself.
    `maximum` is None where none is on record.
    """

    item: Item
    of_wax: Fraction
    of_melt: Fraction
    maximum: Fraction | None

    @property
    def ratio(self) -> Fraction:
        """The load on the basis of the item's own maximum; of wax where there is none."""
        return self.of_melt if self.item.maximum_load_basis == LoadBasis.OF_MELT else self.of_wax

    @property
    def is_above(self) -> bool:
        """Whether it goes beyond the maximum; exactly at it does not."""
        return self.maximum is not None and self.ratio > self.maximum

    @property
    def is_asked_for(self) -> bool:
        """Whether its maximum is asked for: of every wax and every fragrance. Others are judged where they state one."""
        return self.item.kind in (Kind.WAX, Kind.FRAGRANCE)

    @property
    def words(self) -> str:
        """The load both ways: "8 % of wax = 7.41 % of melt"."""
        return (
            f"{format_percent(self.of_wax * WHOLE)} of wax = {format_percent(self.of_melt * WHOLE)} of melt"
        )

    @property
    def ratio_words(self) -> str:
        """The load on the basis of the maximum."""
        return self._words(self.ratio)

    @property
    def maximum_words(self) -> str:
        """The maximum with its basis; empty where there is none."""
        return "" if self.maximum is None else self._words(self.maximum)

    def _words(self, ratio: Fraction) -> str:
        # With more decimals where two would make a load that is above its maximum look the same.
        close = self.is_above and format_percent(self.ratio * WHOLE) == format_percent(
            (self.maximum or 0) * WHOLE
        )
        shown = format_percent(ratio * WHOLE, 4 if close else 2)
        return f"{shown} {self.item.get_maximum_load_basis_display()}"


def loads(lines: Iterable[FormulaLine], sheet: Sheet | None) -> list[Load]:
    """One for every item of the melt, in the order of the lines; none where there is no wax or no fragrance.

    A blend of fragrances alone is not burned as it is: its maximum is judged in the candle it goes into.
    """
    if sheet is None or sheet.load_of_melt is None or not sheet.wax:
        return []
    of_item: dict[int, Fraction] = {}
    for target in sheet.targets:
        if target.line.is_weighed:
            of_item[target.line.item_id] = of_item.get(target.line.item_id, Fraction(0)) + target.exact
    return _beside(lines, of_item, sheet.wax, sheet.melt, sheet.fragrance)


def _beside(
    lines: Iterable[FormulaLine],
    of_item: Mapping[int, Fraction],
    wax: Fraction,
    melt: Fraction,
    fragrance: Fraction,
) -> list[Load]:
    found = {}
    for line in lines:
        item = line.item
        if item.pk not in of_item or item.pk in found:
            continue
        part = fragrance if item.kind == Kind.WAX else of_item[item.pk]
        known = item.maximum_load_ppm
        found[item.pk] = Load(
            item, part / wax, part / melt, None if known is None else Fraction(known, WHOLE)
        )
    return list(found.values())


@dataclass(frozen=True)
class Weighed:
    """The load that a run really got, all its pots together, and the items whose maximum it is above."""

    of_wax: Fraction
    of_melt: Fraction
    above: tuple[Load, ...]

    @property
    def words(self) -> str:
        """The load both ways."""
        return (
            f"{format_percent(self.of_wax * WHOLE)} of wax = {format_percent(self.of_melt * WHOLE)} of melt"
        )

    @property
    def above_words(self) -> str:
        """Which maximum it is above, as a sentence; empty where it is above none."""
        said = ", and ".join(
            f"{load.ratio_words} is above the {load.maximum_words} stated for {load.item}"
            for load in self.above
        )
        return f"As it was weighed, the load of {said}." if said else ""


def weighed_load(lines: Iterable[FormulaLine], drawn: Mapping[int, int]) -> Weighed | None:
    """The load of what was drawn, in µg by line; None until both wax and fragrance were."""
    melt = [line for line in lines if line.basis != Basis.PER_UNIT and drawn.get(line.pk)]
    of_item: dict[int, Fraction] = {}
    for line in melt:
        of_item[line.item_id] = of_item.get(line.item_id, Fraction(0)) + drawn[line.pk]
    wax = Fraction(sum(drawn[line.pk] for line in melt if line.basis == Basis.WAX_SHARE))
    scent = Fraction(sum(drawn[line.pk] for line in melt if line.item.kind == Kind.FRAGRANCE))
    if not wax or not scent:
        return None
    whole = sum(of_item.values(), Fraction(0))
    above = [load for load in _beside(melt, of_item, wax, whole, scent) if load.is_above]
    return Weighed(scent / wax, scent / whole, tuple(above))
