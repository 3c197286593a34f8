"""How much melt a vessel takes: from the water it holds, from its volume, or from one that was filled.

Exact fractions throughout; mass is in micrograms, volume in millilitres, density in micrograms per millilitre,
temperature in thousandths of a degree Celsius. Nothing here reads the database or the clock.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.core.percent import WHOLE

# US, not imperial: 1 US fl oz is 29.5735295625 mL exactly (a gallon of 231 cubic inches is 128 of them).
ML_IN = {"mL": Fraction(1), "fl oz": Fraction("29.5735295625")}

WATER_FROM_MC, WATER_TO_MC = 0, 40_000
"""Where the formula below holds: liquid water from 0 to 40 °C."""


def water_density(milli_c: int) -> Fraction:
    """µg of pure water in a millilitre at a temperature, at one atmosphere.

    M. Tanaka et al., "Recommended table for the density of water between 0 °C and 40 °C based on recent experimental
    reports", Metrologia 38 (2001) 301, adopted by the CIPM; formula and constants from memory. Weighing in air reads
    about a thousandth less than the mass, which is left out: a scale's division is coarser.

    Raises ValueError beyond 0 to 40 °C.
    """
    if not WATER_FROM_MC <= milli_c <= WATER_TO_MC:
        raise ValueError("Use water between 0 °C and 40 °C.")
    t = Fraction(milli_c, 1000)
    shape = (t - Fraction("3.983035")) ** 2 * (t + Fraction("301.797"))
    per_litre = Fraction("999.974950") * (1 - shape / (Fraction("522528.9") * (t + Fraction("69.34881"))))
    return per_litre * 1000


def volume_of_water(water_ug: int, density: Fraction) -> Fraction:
    """The millilitres that so much water fills."""
    return water_ug / density


def melt_density(parts: Sequence[tuple[Fraction, int]]) -> Fraction:
    """µg of melt in a millilitre: Σm / Σ(m/ρ), from pairs of mass and density; there must be one at least.

    As if volumes simply add up, which waxes and oils nearly do. Derived.
    """
    return sum((mass for mass, _ in parts), Fraction(0)) / sum(
        (mass / density for mass, density in parts), Fraction(0)
    )


def fill_of_volume(volume_ml: Fraction, density: Fraction, share_ppm: int = WHOLE) -> Fraction:
    """µg of melt that fill a share of the volume."""
    return volume_ml * density * Fraction(share_ppm, WHOLE)


@dataclass(frozen=True)
class Filled:
    """A vessel weighed full and empty, µg."""

    full_ug: int
    empty_ug: int

    def fill(self, share_ppm: int = WHOLE) -> Fraction:
        """µg of melt that fill a share of what was in it."""
        return (self.full_ug - self.empty_ug) * Fraction(share_ppm, WHOLE)
