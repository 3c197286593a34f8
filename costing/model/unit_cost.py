"""What one unit costs, as the arithmetic of prices wants it."""

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class UnitCost:
    """What one unit costs, in millionths, and the hands and melt that it takes.

    `material` is all that is used up for it, spoilage included; `minutes` are hands-on; `melt_ug` is poured for it.
    """

    material: Fraction
    labour: Fraction = Fraction(0)
    overhead: Fraction = Fraction(0)
    minutes: Fraction = Fraction(0)
    melt_ug: Fraction = Fraction(0)

    @property
    def total(self) -> Fraction:
        """Material, labour and overhead."""
        return self.material + self.labour + self.overhead
