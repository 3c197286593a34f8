"""The fragrance load of a formula beside every published maximum, each on its own basis.

A wax states how much fragrance it holds, mostly of wax; a fragrance how much of itself may be used, mostly of the finished
product (IFRA certificates; common practice). 10 % of wax is 9.09 % of melt, so neither is read for the other.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from batches.formulas.sheet import Sheet
from batches.lineage.composition import Composition
from batches.models import FormulaLine
from batches.recipe import Basis
from inventory.models import Item, Kind, LoadBasis
from studio.core.percent import WHOLE, format_percent


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


Inside = Mapping[
    int, Composition
]  # what is in the melt taken for a line, by the line's key; others are what they are


@dataclass
class Contents:
    """What is in a pot or a whole melt, exactly, in µg (or any one measure): by item that is judged, and what counts as
    wax and scent.

    `inner` are base items within blends, which are judged only where they state a maximum: the blend states its own.
    `carried` are those that came along in recovered melt. `unknown` says of what it is not known what is in it.
    """

    wax: Fraction = Fraction(0)
    scent: Fraction = Fraction(0)
    melt: Fraction = Fraction(0)
    of_item: dict[Item, Fraction] = field(default_factory=dict)
    inner: dict[Item, Fraction] = field(default_factory=dict)
    carried: dict[Item, Fraction] = field(default_factory=dict)
    unknown: dict[str, Fraction] = field(default_factory=dict)

    @property
    def unknown_words(self) -> str:
        """What is not known, as a sentence; empty where everything is."""
        return Composition({}, unknown=self.unknown).unknown_words

    @property
    def has_load(self) -> bool:
        """Whether there is wax and fragrance, or something that may hold either."""
        return bool(self.unknown) or bool(self.wax and self.scent)

    def judged(self) -> list[Load]:
        """One for every item of the melt, in order; those inside blends behind, where they state a maximum."""
        if not self.scent or not (self.wax or self.unknown):
            return []
        items = dict(self.of_item)
        for item, amount in self.inner.items():
            if item in items or item.maximum_load_ppm is not None:
                items[item] = items.get(item, Fraction(0)) + amount
        return [self._load(item, amount) for item, amount in items.items()]

    def _load(self, item: Item, amount: Fraction) -> Load:
        part = self.scent if item.kind == Kind.WAX else amount
        known = item.maximum_load_ppm
        maximum = None if known is None else Fraction(known, WHOLE)
        # What is not known may all be wax, so a load that is above a maximum here is above it whatever it is.
        wax = self.wax + sum(self.unknown.values(), Fraction(0))
        return Load(item, part / wax, part / self.melt, maximum)


def contents_of(amounts: Iterable[tuple[FormulaLine, Fraction, Composition | None]]) -> Contents:
    """What so much of each line makes together, each with what is in it where that is more than its item.

    The one place where weighed lines become quantities of items. Lines that go with each unit are to be left out.
    """
    pot = Contents()
    for line, amount, portion in amounts:
        item = line.item
        pot.melt += amount
        if portion is None or portion.whole is not None:
            _plus(pot.of_item, item, amount)
            pot.wax += amount if line.basis == Basis.WAX_SHARE else 0
            pot.scent += amount if item.kind == Kind.FRAGRANCE else 0
            for part, share in (portion.parts if portion else {}).items():
                if part != item:
                    _plus(pot.inner, part, amount * share)
            continue
        pot.wax += amount * portion.wax
        pot.scent += amount * portion.scent
        if item.maximum_load_ppm is not None:
            _plus(pot.of_item, item, amount)
        for part, share in portion.parts.items():
            _plus(pot.of_item, part, amount * share)
            _plus(pot.carried, part, amount * share)
        for words, share in portion.unknown.items():
            pot.unknown[words] = pot.unknown.get(words, Fraction(0)) + amount * share
    return pot


def _plus(sums: dict[Item, Fraction], item: Item, amount: Fraction) -> None:
    sums[item] = sums.get(item, Fraction(0)) + amount


def planned_pot(lines: Iterable[FormulaLine], sheet: Sheet, inside: Inside) -> Contents:
    """What the sheet puts into the pot, exactly."""
    exact = {target.line.key: target.exact for target in sheet.targets if target.line.is_weighed}
    return contents_of((line, exact[line.pk], inside.get(line.pk)) for line in lines if line.pk in exact)


def loads(lines: Iterable[FormulaLine], sheet: Sheet | None, inside: Inside | None = None) -> list[Load]:
    """One for every item of the melt, in the order of the lines; none where there is no wax or no fragrance.

    `inside` says what is in melt that was recovered, and in blends (see `batches.lineage.composition`); its fragrance,
    wax and dye count with all the other. Of what is not known `unknown_in` tells.

    A blend of fragrances alone is not burned as it is: its maximum is judged in the candle it goes into.
    """
    if sheet is None or not sheet.wax:
        return []
    return planned_pot(lines, sheet, inside or {}).judged()


def unknown_in(lines: Iterable[FormulaLine], inside: Inside) -> str:
    """Of which melt of these lines it is not known what is in it, as a sentence; empty where everything is."""
    portions = (inside[line.pk] for line in lines if line.pk in inside)
    unknown = {words: share for portion in portions for words, share in portion.unknown.items()}
    return Composition({}, unknown=unknown).unknown_words


def load_words(lines: Iterable[FormulaLine], sheet: Sheet, inside: Inside) -> str:
    """The planned load both ways, with what recovered melt brings along; empty where there is no fragrance."""
    pot = planned_pot(lines, sheet, inside)
    if pot.unknown:
        return f"not known. {pot.unknown_words}"
    if not pot.scent:
        return ""
    of_melt = f"{format_percent(pot.scent / pot.melt * WHOLE)} of melt"
    return f"{format_percent(pot.scent / pot.wax * WHOLE)} of wax = {of_melt}" if pot.wax else of_melt


def worst_of_pours(
    lines: Iterable[FormulaLine], sheet: Sheet | None, inside: Inside | None = None
) -> list[Load]:
    """The loads of the rounded targets, each item's highest of all pots: what the scale will make of them.

    None where there is no wax or no fragrance.
    """
    if sheet is None or not sheet.wax:
        return []
    by_key = {line.pk: line for line in lines}
    within = inside or {}
    worst: dict[int, Load] = {}
    for place in range(len(sheet.pours)):
        pot = contents_of(
            (by_key[target.line.key], Fraction(target.pours[place]), within.get(target.line.key))
            for target in sheet.targets
            if target.line.is_weighed
        )
        for load in pot.judged():
            known = worst.get(load.item.pk)
            if known is None or load.ratio > known.ratio:
                worst[load.item.pk] = load
    return list(worst.values())


@dataclass(frozen=True)
class Weighing:
    """What was weighed of one lot for one line, in µg. `pot` counts from 1; None where nobody said which it was.

    `portion` says what is in the lot where that is more than its item: recovered melt, or a scented blend.
    """

    line: FormulaLine
    lot_id: int | None
    quantity: int
    pot: int | None = None
    portion: Composition | None = None


def pot_numbers(planned: int, named: Iterable[int | None]) -> list[int]:
    """The pots of a batch, in order: those its formula plans, and every other that a weight or a reading named.

    What was weighed into a pot of its own stays melt of its own, also where the batch was corrected to a version that
    plans fewer pots: averaged with another, a load above a maximum would read as one that is right.
    """
    return sorted({*range(1, planned + 1), *(number for number in named if number)})


def pot_number(said: int | None, pots: Sequence[int]) -> int | None:
    """Which of these pots a weight went into; None where nobody said. One pot needs nobody to say which it was."""
    return pots[0] if len(pots) == 1 else said


@dataclass(frozen=True)
class WeighedLoad:
    """The load that a pot, or a whole batch, really got, beside every maximum. `wax` and `melt` are what it holds, in µg.

    `unknown` says of which melt it is not known what is in it, as a sentence: then the loads are what is known of it.
    """

    of_wax: Fraction
    of_melt: Fraction
    loads: tuple[Load, ...]
    wax: Fraction
    melt: Fraction
    unknown: str = ""

    @property
    def above(self) -> tuple[Load, ...]:
        """The items whose maximum it is above."""
        return tuple(load for load in self.loads if load.is_above)

    @property
    def words(self) -> str:
        """The load both ways, or that it is not known."""
        if self.unknown:
            return f"not known. {self.unknown}"
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


def load_of(weighings: Iterable[Weighing]) -> WeighedLoad | None:
    """The load of what was weighed together; None until both wax and fragrance were, or something that may hold them."""
    pot = contents_of(
        (each.line, Fraction(each.quantity), each.portion) for each in weighings if each.quantity
    )
    if not pot.has_load:
        return None
    of_wax = pot.scent / pot.wax if pot.wax else Fraction(0)
    return WeighedLoad(
        of_wax, pot.scent / pot.melt, tuple(pot.judged()), pot.wax, pot.melt, pot.unknown_words
    )
