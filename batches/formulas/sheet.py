"""The batch sheet: what to weigh and count for one run, worked out from a recipe.

Plain arithmetic in integers and fractions; nothing here reads the database or the clock. Mass is in
micrograms, rates are in parts per million (ppm), counts and lengths in the item's base unit.

With N units of fill weight f and a loss allowance a, the melt is M = N·f·(1 + a). Rates r are on the wax,
rates t on the melt, so the wax is W = M·(1 − Σt) / (1 + Σr) and everything adds up to M exactly. Derived; a
trade page sets the two readings of a load side by side ("What Does Fragrance Load Mean?", 19 Aug 2016).

A dye or additive belongs to the melt on whatever basis it was entered. p grams for each unit are wanted in the jar,
and a jar is filled with f of M, so the pot gets D = N·p·(1 + a): the share p/f of the melt, as if it had been entered as
a rate t = p/f. A jar then holds D·f/M = p. The wax gives way, W = M·(1 − Σt − Σp/f) / (1 + Σr), and the fill weight
stays the fill weight. Derived.

What the scale can show may carry a load over a maximum that the exact figures keep: 130.91 g and 1,309.09 g are 10 % of
wax, 131 g and 1,309 g are 10.008 %. There a step is taken off the fragrance, pot by pot, until the rounded load is
within every maximum.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Protocol

from batches.recipe import Basis, Problem, Recipe, RecipeError, RecipeLine, check_recipe
from studio.core.percent import WHOLE
from studio.core.quantities import QUANTITY_LIMIT, round_to_division

__all__ = [
    "POUR_LIMIT",
    "Basis",
    "HowMany",
    "Pour",
    "Recipe",
    "RecipeError",
    "RecipeLine",
    "Sheet",
    "Target",
    "batch_sheet",
    "check_recipe",
    "how_many",
    "pots_for",
]

POUR_LIMIT = 1_000  # more pours than this is a mistyped pot, not a run

# Lines with the base units of their item for one unit made; quantities per pour with how many such pours.
Amounts = list[tuple[RecipeLine, Fraction]]
Groups = list[tuple[Fraction, int]]


@dataclass(frozen=True)
class Target:
    """What to weigh or count of one line: the exact figure, and what the scale can show of it, pour by pour.

    A PER_UNIT line is set out once, so it has a single pour. `total` is the sum of `pours`.
    """

    line: RecipeLine
    exact: Fraction
    pours: tuple[int, ...]
    total: int

    @property
    def rounds_away(self) -> bool:
        """Whether the scale is too coarse to weigh this line at all in some pour."""
        return 0 in self.pours


@dataclass(frozen=True)
class Pour:
    """One pot: its number from 1, its melt as weighed (µg) and how many units it fills (None for a blend)."""

    number: int
    melt_ug: int
    units: int | None


@dataclass(frozen=True)
class Sheet:
    """The whole plan. `melt`, `wax` and `fragrance` are exact µg; loads are plain ratios (8 % is 2/25).

    A load is None where it has no meaning: no fragrance, or nothing of the wax to measure it against.
    The weighed loads come from the rounded targets: what the scale will make of the load.
    """

    quantity: int
    melt: Fraction
    wax: Fraction
    fragrance: Fraction
    targets: tuple[Target, ...]
    pours: tuple[Pour, ...]
    load_of_wax: Fraction | None
    load_of_melt: Fraction | None
    weighed_load_of_wax: Fraction | None
    weighed_load_of_melt: Fraction | None


@dataclass(frozen=True)
class HowMany:
    """The most that can be made, and the item that stops it there.

    The item is None when something else does: what the books can hold, or a thousand pours of the pot.
    """

    quantity: int
    limit_item_id: int | None
    limit_name: str | None


def batch_sheet(recipe: Recipe, quantity: int) -> Sheet:
    """Work out the sheet for `quantity` units, or for a blend `quantity` µg.

    Masses are rounded to the scale's division in each pour (nearest, half to even: NIST SP 811 B.7), and down where
    rounding alone would carry a load above a maximum; what goes with each unit is rounded up to a whole base
    unit. A run too large for the pot is split into the
    fewest pours that fit, as equal as whole units allow, because a vessel is filled from one pot; a blend
    splits into equal pours.

    Raises RecipeError with every problem of the recipe, or with what is wrong with the quantity.
    """
    if problems := check_recipe(recipe) or _quantity_problems(recipe, quantity):
        raise RecipeError(problems)
    groups = _pour_groups(recipe, quantity)
    amounts = _exact_amounts(recipe)
    pots = [rounded for size, count in groups for rounded in [_rounded(recipe, amounts, size)] * count]
    targets = tuple(
        _target(line, quantity * each, [pot.get(place, 0) for pot in pots])
        for place, (line, each) in enumerate(amounts)
    )
    weighed = [target for target in targets if target.line.is_weighed]
    pours = _pours(recipe, groups, weighed)
    melt = quantity * recipe.unit_melt
    wax = melt * recipe.wax_of_melt
    weighed_wax = sum(target.total for target in weighed if target.line.basis is Basis.WAX_SHARE)
    fragrances = [target for target in weighed if target.line.is_fragrance]
    fragrance = sum((target.exact for target in fragrances), Fraction(0))
    weighed_fragrance = sum(target.total for target in fragrances)

    def load(part: Fraction | int, whole: Fraction | int) -> Fraction | None:
        return Fraction(part) / whole if fragrances and whole else None

    return Sheet(
        quantity=quantity,
        melt=melt,
        wax=wax,
        fragrance=fragrance,
        targets=targets,
        pours=pours,
        load_of_wax=load(fragrance, wax),
        load_of_melt=load(fragrance, melt),
        weighed_load_of_wax=load(weighed_fragrance, weighed_wax),
        weighed_load_of_melt=load(weighed_fragrance, sum(pour.melt_ug for pour in pours)),
    )


def how_many(recipe: Recipe, available: Mapping[int, int]) -> HowMany:
    """The largest quantity whose rounded totals are covered by what is there.

    Rounded to the nearest step: where the sheet takes a step off a fragrance to stay below a maximum it needs less, so
    what is answered is always there, and at such a quantity there may be enough for one unit more.

    `available` gives base units by item id; an item that is absent is not there at all. The limiting item
    is the one that falls short, by the largest share of its need, at one unit (or µg) more.

    Raises RecipeError when the recipe itself is wrong.

    Why the answer is exact: with the number of pours fixed, one unit more makes one pour larger and none
    smaller, and rounding never turns a larger figure into a smaller total, so within one number of pours a
    binary search is enough. From one number to the next the total may drop (two pours of 0.6 g weigh 2 g on a
    1 g scale, three of 0.4 g weigh nothing), so each number is tried, from the largest down.
    """
    if problems := check_recipe(recipe):
        raise RecipeError(problems)
    amounts = _exact_amounts(recipe)

    def fits(quantity: int) -> bool:
        return all(need <= available.get(item, 0) for item, need in _needs(recipe, amounts, quantity).items())

    quantity = _largest_fit(recipe, fits, _ceiling(recipe, amounts, available))
    limit = _scarcest(_needs(recipe, amounts, quantity + 1), available)
    name = next((line.name for line in recipe.lines if line.item_id == limit), None)
    return HowMany(quantity, limit, name)


class Pot(Protocol):
    """What decides how many pots a run takes; a `Recipe`, or a version."""

    @property
    def fill_ug(self) -> int | None: ...
    @property
    def loss_ppm(self) -> int: ...
    @property
    def pot_ug(self) -> int | None: ...


def pots_for(pot: Pot, quantity: int) -> int:
    """How many pots of melt a run of `quantity` units, or for a blend µg, is heated in."""
    return _pour_count(Recipe((), pot.fill_ug, pot.loss_ppm, pot.pot_ug, 1), quantity)


def _quantity_problems(recipe: Recipe, quantity: int) -> list[Problem]:
    if quantity <= 0:
        what = "how much of the blend to make" if recipe.fill_ug is None else "how many units to make"
        return [(None, f"Enter {what}, above zero.")]
    if quantity * _largest_amount(recipe, _exact_amounts(recipe)) > QUANTITY_LIMIT:
        return [(None, "That is more than the books can hold. Enter a smaller quantity.")]
    if (count := _pour_count(recipe, quantity)) > POUR_LIMIT:
        return [(None, f"That would take {count:,} pours. Make less at a time, or choose a larger pot.")]
    return []


def _target(line: RecipeLine, exact: Fraction, pours: Sequence[int]) -> Target:
    if not line.is_weighed:
        return Target(line, exact, (ceil(exact),), ceil(exact))
    return Target(line, exact, tuple(pours), sum(pours))


def _rounded(recipe: Recipe, amounts: Amounts, size: Fraction) -> dict[int, int]:
    """What the scale is to show of each weighed line, by its place, for a pot of `size` units, or of a blend µg.

    A load that is within a maximum by the exact figures stays within it.
    """
    exact = {place: size * each for place, (line, each) in enumerate(amounts) if line.is_weighed}
    shown = {place: round_to_division(amount, recipe.division_ug) for place, amount in exact.items()}
    lines = [line for line, _ in amounts]
    limits = [limit for limit in _limits(lines) if not _is_above(limit, lines, exact)]
    while over := next((limit for limit in limits if _is_above(limit, lines, shown)), None):
        parts = [place for place in over.parts if shown[place] > 0]
        most = max(parts, key=lambda place: shown[place] - exact[place])
        shown[most] = max(shown[most] - recipe.division_ug, 0)
    return shown


@dataclass(frozen=True)
class _Limit:
    """What some lines, by their places, may come to at most together: a ratio of the wax, or of the melt."""

    parts: tuple[int, ...]
    maximum: Fraction
    is_of_melt: bool


def _limits(lines: Sequence[RecipeLine]) -> list[_Limit]:
    """Every maximum: a wax's on all fragrance together, any other item's on all its own lines."""
    weighed = [(place, line) for place, line in enumerate(lines) if line.is_weighed]
    found: dict[int, _Limit] = {}
    for _, line in weighed:
        if line.maximum_ppm is None or line.item_id in found:
            continue
        parts = tuple(
            place
            for place, other in weighed
            if (other.is_fragrance if line.is_wax else other.item_id == line.item_id)
        )
        found[line.item_id] = _Limit(parts, Fraction(line.maximum_ppm, WHOLE), line.maximum_is_of_melt)
    return list(found.values())


def _is_above(limit: _Limit, lines: Sequence[RecipeLine], amounts: Mapping[int, Fraction | int]) -> bool:
    """Whether amounts by place go beyond a maximum; exactly at it they do not. Without wax no load is judged."""
    part = sum((amounts[place] for place in limit.parts), Fraction(0))
    wax = sum(
        (amount for place, amount in amounts.items() if lines[place].basis is Basis.WAX_SHARE), Fraction(0)
    )
    whole = sum(amounts.values(), Fraction(0)) if limit.is_of_melt else wax
    return bool(wax) and part > limit.maximum * whole


def _pours(recipe: Recipe, groups: Groups, weighed: list[Target]) -> tuple[Pour, ...]:
    sizes = [size for size, count in groups for _ in range(count)]
    return tuple(
        Pour(
            number=index + 1,
            melt_ug=sum(target.pours[index] for target in weighed),
            units=None if recipe.fill_ug is None else int(size),
        )
        for index, size in enumerate(sizes)
    )


def _pour_count(recipe: Recipe, quantity: int) -> int:
    if recipe.pot_ug is None:
        return 1
    if recipe.fill_ug is None:
        return ceil(quantity * recipe.unit_melt / recipe.pot_ug)
    return ceil(Fraction(quantity, recipe.pot_ug // recipe.unit_melt))


def _most_in(recipe: Recipe, count: int) -> int:
    """The largest quantity that `count` pots take; there must be a pot."""
    pot = Fraction(recipe.pot_ug or 0)
    if recipe.fill_ug is None:
        return floor(count * pot / recipe.unit_melt)
    return count * floor(pot / recipe.unit_melt)


def _pour_groups(recipe: Recipe, quantity: int) -> Groups:
    """The quantity in a pour and how many such pours there are; larger pours first."""
    count = _pour_count(recipe, quantity)
    if recipe.fill_ug is None:
        return [(Fraction(quantity, count), count)]
    size, left_over = divmod(quantity, count)
    groups = [(Fraction(size + 1), left_over), (Fraction(size), count - left_over)]
    return [group for group in groups if group[1]]


def _needs(recipe: Recipe, amounts: Amounts, quantity: int) -> dict[int, int]:
    """Item id to the rounded total of all its lines; the totals that the sheet shows, without its detail."""
    groups = _pour_groups(recipe, quantity)
    needs: dict[int, int] = {}
    for line, each in amounts:
        if line.is_weighed:
            total = sum(count * round_to_division(size * each, recipe.division_ug) for size, count in groups)
        else:
            total = ceil(quantity * each)
        needs[line.item_id] = needs.get(line.item_id, 0) + total
    return needs


def _ceiling(recipe: Recipe, amounts: Amounts, available: Mapping[int, int]) -> int:
    """A quantity that the answer cannot exceed.

    A weighed figure is at most half a division below the exact one in each pour, and a count never is, so an
    item's exact need is at most what is there plus that much for every pour of every line.
    """
    most_pours = 1 if recipe.pot_ug is None else POUR_LIMIT
    ceiling = floor(QUANTITY_LIMIT / _largest_amount(recipe, amounts))
    if recipe.pot_ug is not None:
        ceiling = min(ceiling, _most_in(recipe, POUR_LIMIT))
    exact: dict[int, Fraction] = {}
    slack: dict[int, Fraction] = {}
    for line, each in amounts:
        below = Fraction(recipe.division_ug * most_pours, 2) if line.is_weighed else 0
        exact[line.item_id] = exact.get(line.item_id, Fraction(0)) + each
        slack[line.item_id] = slack.get(line.item_id, Fraction(0)) + below
    bounds = [floor((available.get(item, 0) + slack[item]) / exact[item]) for item in exact]
    return max(0, min(ceiling, *bounds))


def _largest_fit(recipe: Recipe, fits: Callable[[int], bool], ceiling: int) -> int:
    """The largest quantity from 1 to `ceiling` that fits, or 0."""
    if ceiling < 1:
        return 0
    for count in range(_pour_count(recipe, ceiling), 0, -1):
        low = 1 if count == 1 else _most_in(recipe, count - 1) + 1
        high = ceiling if recipe.pot_ug is None else min(ceiling, _most_in(recipe, count))
        if not fits(low):
            continue
        while low < high:
            middle = (low + high + 1) // 2
            low, high = (middle, high) if fits(middle) else (low, middle - 1)
        return low
    return 0


def _scarcest(needs: Mapping[int, int], available: Mapping[int, int]) -> int | None:
    """The item short by the largest share of its need, the first of equals; None when nothing is short."""
    short = {
        item: Fraction(need - available.get(item, 0), need)
        for item, need in needs.items()
        if need > available.get(item, 0)
    }
    return max(short, key=lambda item: short[item], default=None)


def _largest_amount(recipe: Recipe, amounts: Amounts) -> Fraction:
    """The most that one unit takes of the melt or of one item, all lines of the item together."""
    of_item: dict[int, Fraction] = {}
    for line, each in amounts:
        of_item[line.item_id] = of_item.get(line.item_id, Fraction(0)) + each
    return max(recipe.unit_melt, *of_item.values())


def _exact_amounts(recipe: Recipe) -> Amounts:
    """Every line with the base units of its item for one unit made, before any rounding."""
    melt = recipe.unit_melt
    wax = melt * recipe.wax_of_melt
    base = {Basis.WAX_SHARE: wax, Basis.OF_WAX: wax, Basis.OF_MELT: melt, Basis.PER_UNIT: Fraction(WHOLE)}

    def amount(line: RecipeLine) -> Fraction:
        if line.basis is Basis.PER_UNIT and line.is_melted:
            # Part of the melt, with its loss; what was once set out to spare is not weighed into a pot.
            return Fraction(line.amount * (WHOLE + recipe.loss_ppm), WHOLE)
        return base[line.basis] * line.amount * (WHOLE + line.spare_ppm) / WHOLE**2

    return [(line, amount(line)) for line in recipe.lines]
