"""What one unit is made of, as plain figures, and everything that can be wrong with it.

Mass is in micrograms and rates in parts per million (ppm); nothing here reads the database or the clock.
"""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from studio.core.percent import WHOLE, format_percent

Problem = tuple[int | None, str]


class Basis(StrEnum):
    """What the amount of a recipe line is measured against."""

    WAX_SHARE = "wax_share"  # ppm of the wax; all such lines come to exactly 1 000 000
    OF_WAX = "of_wax"  # ppm of the wax, on top of it
    OF_MELT = "of_melt"  # ppm of the whole melt
    PER_UNIT = "per_unit"  # base units of the item for each unit made


@dataclass(frozen=True)
class RecipeLine:
    """One item of a recipe. `amount` is ppm, or for PER_UNIT base units of the item per unit made.

    `spare_ppm` is set out beyond the need, for PER_UNIT lines only. `key` names the line to the caller. `is_melted`:
    weighed into the pot even where it is given per unit, as a dye is. `maximum_ppm` is what the item may come to at
    most, of the wax or (`maximum_is_of_melt`) of the melt; of a wax (`is_wax`), what all fragrance together may.
    """

    key: int
    item_id: int
    name: str
    basis: Basis
    amount: int
    spare_ppm: int = 0
    is_fragrance: bool = False
    is_melted: bool = False
    maximum_ppm: int | None = None
    maximum_is_of_melt: bool = False
    is_wax: bool = False

    @property
    def is_weighed(self) -> bool:
        """Whether the line is part of the melt, rather than set out with each unit."""
        return self.basis is not Basis.PER_UNIT or self.is_melted


@dataclass(frozen=True)
class Recipe:
    """What one unit is made of. `fill_ug` is None for a blend, which is planned by weight in µg.

    `loss_ppm` is the loss allowance on the melt, `pot_ug` what one pot takes (None: no limit), `division_ug`
    the smallest step of the scale. The properties hold for a recipe without problems.
    """

    lines: tuple[RecipeLine, ...]
    fill_ug: int | None
    loss_ppm: int
    pot_ug: int | None
    division_ug: int

    @property
    def unit_melt(self) -> Fraction:
        """µg of melt for one unit, or for 1 µg of a blend, with the loss allowance."""
        fill = 1 if self.fill_ug is None else self.fill_ug
        return Fraction(fill * (WHOLE + self.loss_ppm), WHOLE)

    @property
    def wax_of_melt(self) -> Fraction:
        """The part of the melt that is wax: (1 − Σt − Σp/f) / (1 + Σr), or nothing when there is no wax."""
        if not self.has_wax:
            return Fraction(0)
        return (WHOLE - self.of_melt_ppm) / (WHOLE + self.sum_of(Basis.OF_WAX))

    @property
    def of_melt_ppm(self) -> Fraction:
        """ppm of the melt that lines on the melt take, those that are given per unit of the fill among them."""
        per_unit = sum(x.amount for x in self.lines if x.basis is Basis.PER_UNIT and x.is_melted)
        own = Fraction(per_unit * WHOLE, self.fill_ug) if self.fill_ug else Fraction(0)
        return self.sum_of(Basis.OF_MELT) + own

    @property
    def has_wax(self) -> bool:
        return any(line.basis is Basis.WAX_SHARE for line in self.lines)

    @property
    def is_waxless(self) -> bool:
        """A blend of fragrances, dyes or additives alone: every line is a share of the melt."""
        return bool(self.lines) and self.fill_ug is None and {x.basis for x in self.lines} == {Basis.OF_MELT}

    def sum_of(self, basis: Basis) -> int:
        """The amounts on one basis, added up."""
        return sum(line.amount for line in self.lines if line.basis is basis)


class RecipeError(ValueError):
    """A recipe or quantity no sheet can be made from. `problems`: a line's key or None, and a sentence."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(" ".join(sentence for _, sentence in problems))
        self.problems = problems


def check_recipe(recipe: Recipe) -> list[Problem]:
    """Everything that keeps a sheet from being made: a line's key, or None for the whole, and a sentence."""
    problems: list[Problem] = []
    for line in recipe.lines:
        problems += [(line.key, sentence) for sentence in _line_problems(recipe, line)]
    # Sums over lines that are wrong by themselves would only repeat the complaint in a puzzling way.
    if not problems:
        problems += [(None, sentence) for sentence in _share_problems(recipe)]
    return problems + [(None, sentence) for sentence in _vessel_problems(recipe)]


def _line_problems(recipe: Recipe, line: RecipeLine) -> list[str]:
    found = []
    if line.amount <= 0:
        found.append(f"{line.name}: enter an amount above zero, or take the line out.")
    is_rate = line.basis in (Basis.OF_WAX, Basis.OF_MELT)
    if is_rate and line.amount >= WHOLE and not recipe.is_waxless:
        found.append(
            f"{line.name}: {_percent(line.amount)} is too much. Enter a rate below {_percent(WHOLE)}."
        )
    if line.basis is Basis.OF_WAX and recipe.fill_ug is None and not recipe.has_wax:
        found.append(
            f"{line.name} is a rate on the wax, but there is no wax line. Make it a share of the melt."
        )
    if line.spare_ppm < 0:
        found.append(f"{line.name}: the spare allowance cannot be below zero.")
    elif line.spare_ppm and line.basis is not Basis.PER_UNIT:
        found.append(f"{line.name}: a spare allowance is for what is set out per unit. Leave it empty here.")
    if line.basis is Basis.PER_UNIT and recipe.fill_ug is None:
        found.append(f"{line.name}: a blend is made by weight, so nothing goes with each unit. Take it out.")
    if line.is_fragrance and not is_rate:
        found.append(f"{line.name} is a fragrance. Give it as a rate on the wax or on the melt.")
    return found


def _share_problems(recipe: Recipe) -> list[str]:
    of_melt = recipe.sum_of(Basis.OF_MELT)
    if recipe.is_waxless:
        if of_melt == WHOLE:
            return []
        return [
            f"The shares of the melt come to {_percent(of_melt)}. "
            f"Without wax, change them so that they come to {_percent(WHOLE)}."
        ]
    if not recipe.has_wax:
        return [f"There is no wax. Add a wax line; a single wax is {_percent(WHOLE)} of the wax."]
    found = []
    shares = recipe.sum_of(Basis.WAX_SHARE)
    if shares != WHOLE:
        found.append(
            f"The wax shares come to {_percent(shares)}. Change them so that they come to {_percent(WHOLE)}."
        )
    # A fill weight that is itself wrong is complained of by itself.
    taken = recipe.of_melt_ppm if (recipe.fill_ug or 0) > 0 else Fraction(of_melt)
    if taken >= WHOLE:
        found.append(
            f"The rates on the melt come to {format_percent(taken, places=4)}, which leaves no room for wax. Lower them."
        )
    return found


def _vessel_problems(recipe: Recipe) -> list[str]:
    found = []
    if recipe.fill_ug is not None and recipe.fill_ug <= 0:
        found.append("Enter a fill weight above zero.")
    if not 0 <= recipe.loss_ppm < WHOLE:
        found.append(f"Enter a loss allowance from {_percent(0)} to below {_percent(WHOLE)}.")
    if recipe.division_ug <= 0:
        found.append("Enter the scale's division, the smallest step it shows, above zero.")
    if recipe.pot_ug is not None and recipe.pot_ug <= 0:
        found.append("Enter what the pot takes, above zero, or leave it empty.")
    if not found and recipe.pot_ug is not None and recipe.pot_ug < recipe.unit_melt:
        found.append("The pot takes less melt than one vessel needs. Choose a larger pot.")
    return found


def _percent(ppm: int) -> str:
    return format_percent(ppm, places=4)  # four places are every digit that a whole ppm has
