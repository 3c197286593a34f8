"""When fragrance went over at the scale: the load as it is, and the wax that brings it back.

Exact fractions over micrograms; nothing here reads the database or the clock. It computes, and does not
certify: the tested maximum, the supplier's data sheet and local rules decide what may be poured.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from studio.core.percent import WHOLE


@dataclass(frozen=True)
class Overshoot:
    """The load as weighed, both ways, and what follows from bringing it back.

    `wax_to_add_ug` is 0 when the load is not above what is wanted. `melt_ug` is the melt with that wax in it
    and `units` how many vessels it fills (None for a blend). `above_maximum` speaks of the load as weighed.
    `over_pot_ug` is how much more than its pot takes that melt is, 0 where it fits or the pot has no limit.
    """

    load_of_wax: Fraction
    load_of_melt: Fraction
    wax_to_add_ug: int
    melt_ug: int
    units: int | None
    above_maximum: bool
    over_pot_ug: int = 0


def overshoot(
    fragrance_ug: int,
    wax_ug: int,
    wanted_load: Fraction,
    fill_ug: int | None,
    loss_ppm: int,
    maximum: Fraction | None,
    *,
    maximum_of_melt: Fraction | None = None,
    other_ug: int = 0,
    pot_ug: int | None = None,
) -> Overshoot:
    """Work out the wax to add. Weights are in µg; `other_ug` is dye and additives already in the melt.
    `pot_ug` is what the pot takes, None for no limit.

    `wanted_load` and `maximum` are of wax, as wax makers state them; `maximum_of_melt` is of the whole melt,
    as limits on the finished product are stated (IFRA, CLP). The wax is enough for the wanted load and for
    both limits, rounded up to a whole µg, so that the load never stays above any of them.

    Raises ValueError, with a sentence, for weights, loads or an allowance that cannot be.
    """
    if wax_ug <= 0 or fragrance_ug < 0 or other_ug < 0:
        raise ValueError("Weigh the wax first; no weight can be below zero.")
    if any(load is not None and load <= 0 for load in (wanted_load, maximum, maximum_of_melt)):
        raise ValueError("Enter a fragrance load above zero.")
    if (fill_ug is not None and fill_ug <= 0) or loss_ppm < 0:
        raise ValueError("Enter a fill weight above zero and a loss allowance of zero or more.")
    load_of_wax = Fraction(fragrance_ug, wax_ug)
    load_of_melt = Fraction(fragrance_ug, fragrance_ug + wax_ug + other_ug)
    wax_needed = [fragrance_ug / wanted_load]
    if maximum is not None:
        wax_needed.append(fragrance_ug / maximum)
    if maximum_of_melt is not None:
        wax_needed.append(fragrance_ug / maximum_of_melt - fragrance_ug - other_ug)
    wax_to_add = max(0, ceil(max(wax_needed)) - wax_ug)
    melt = fragrance_ug + wax_ug + other_ug + wax_to_add
    return Overshoot(
        load_of_wax=load_of_wax,
        load_of_melt=load_of_melt,
        wax_to_add_ug=wax_to_add,
        melt_ug=melt,
        units=None if fill_ug is None else melt * WHOLE // (fill_ug * (WHOLE + loss_ppm)),
        above_maximum=(maximum is not None and load_of_wax > maximum)
        or (maximum_of_melt is not None and load_of_melt > maximum_of_melt),
        over_pot_ug=0 if pot_ug is None else max(melt - pot_ug, 0),
    )
