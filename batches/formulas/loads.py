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
    items = {line.item_id: line.item for line in lines if line.item_id in of_item}
    return _beside(items.values(), of_item, sheet.wax, sheet.melt, sheet.fragrance)


def _beside(
    items: Iterable[Item],
    of_item: Mapping[int, Fraction],
    wax: Fraction,
    melt: Fraction,
    fragrance: Fraction,
) -> list[Load]:
    found = []
    for item in items:
        part = fragrance if item.kind == Kind.WAX else of_item[item.pk]
        known = item.maximum_load_ppm
        found.append(Load(item, part / wax, part / melt, None if known is None else Fraction(known, WHOLE)))
    return found


def worst_of_pours(lines: Iterable[FormulaLine], sheet: Sheet | None) -> list[Load]:
    """The loads of the rounded targets, each item's highest of all pots: what the scale will make of them.

    None where there is no wax or no fragrance.
    """
    if sheet is None or sheet.load_of_melt is None or not sheet.wax:
        return []
    by_key = {line.pk: line for line in lines}
    worst: dict[int, Load] = {}
    for place in range(len(sheet.pours)):
        found = load_of(
            Weighing(by_key[target.line.key], None, target.pours[place], place + 1)
            for target in sheet.targets
            if target.line.is_weighed
        )
        for load in found.loads if found else ():
            known = worst.get(load.item.pk)
            if known is None or load.ratio > known.ratio:
                worst[load.item.pk] = load
    return list(worst.values())


@dataclass(frozen=True)
class Weighing:
    """What was weighed of one lot for one line, in µg. `pot` counts from 1; None where nobody said which it was."""

    line: FormulaLine
    lot_id: int | None
    quantity: int
    pot: int | None = None


@dataclass(frozen=True)
class Part:
    """µg of one item in a melt. `is_wax`: it counts as what loads are measured on."""

    item: Item
    quantity: Fraction
    is_wax: bool


def parts_of(weighings: Iterable[Weighing]) -> list[Part]:
    """The items that weighed lines are made of, in the order of the weighings: each line is its own item.

    The one place where lines and lots become quantities of items. What a lot of melt is itself made of is to be told
    apart here.
    """
    return [
        Part(each.line.item, Fraction(each.quantity), each.line.basis == Basis.WAX_SHARE)
        for each in weighings
        if each.quantity
    ]


@dataclass(frozen=True)
class Weighed:
    """The load that a pot, or a whole batch, really got, beside every maximum."""

    of_wax: Fraction
    of_melt: Fraction
    loads: tuple[Load, ...]

    @property
    def above(self) -> tuple[Load, ...]:
        """The items whose maximum it is above."""
        return tuple(load for load in self.loads if load.is_above)

    @property
    def words(self) -> str:
        """The load both ways."""
        return (
            f"{format_percent(self.of_wax * WHOLE)} of wax = {format_percent(self.of_melt * WHOLE)} of melt"
        )

    @property
    def above_what(self) -> str:
        """Which maximum it is above: "11.1 % of wax is above the 10 % of wax stated for soy wax"; empty where none."""
        return ", and ".join(
            f"{load.ratio_words} is above the {load.maximum_words} stated for {load.item}"
            for load in self.above
        )

    @property
    def above_words(self) -> str:
        """Which maximum it is above, as a sentence; empty where it is above none."""
        return f"As it was weighed, the load of {self.above_what}." if self.above else ""


def load_of(weighings: Iterable[Weighing]) -> Weighed | None:
    """The load of what was weighed together; None until both wax and fragrance were."""
    parts = parts_of(weighings)
    of_item: dict[int, Fraction] = {}
    items: dict[int, Item] = {}
    for part in parts:
        items.setdefault(part.item.pk, part.item)
        of_item[part.item.pk] = of_item.get(part.item.pk, Fraction(0)) + part.quantity
    wax = sum((part.quantity for part in parts if part.is_wax), Fraction(0))
    scent = sum((part.quantity for part in parts if part.item.kind == Kind.FRAGRANCE), Fraction(0))
    if not wax or not scent:
        return None
    melt = sum(of_item.values(), Fraction(0))
    return Weighed(scent / wax, scent / melt, tuple(_beside(items.values(), of_item, wax, melt, scent)))


def weighed_load(lines: Iterable[FormulaLine], drawn: Mapping[int, int]) -> Weighed | None:
    """The load of what was drawn, in µg by line; None until both wax and fragrance were."""
    return load_of(Weighing(line, None, drawn.get(line.pk, 0)) for line in lines if line.in_melt)
