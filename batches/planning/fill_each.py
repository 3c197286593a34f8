"""The pourer's one number: what each vessel is filled to, and what a melt of another weight than planned fills."""

from collections.abc import Sequence
from dataclasses import dataclass

from batches.formulas.fine_weights import fine_unit, shown
from batches.models import FormulaVersion
from batches.planning.planning import Need
from studio.core.percent import WHOLE, format_percent
from studio.models import Studio


@dataclass(frozen=True)
class Fill:
    """Weights in µg. `melt_ug` is what was weighed into all pots, None until every weight of the melt is in or where it is
    as planned; `units` is how many vessels it fills."""

    each_ug: int
    loss_ppm: int
    planned_ug: int
    melt_ug: int | None = None

    @property
    def units(self) -> int | None:
        """Vessels that the melt fills at the planned weight, after the loss the formula allows for."""
        return (
            None if self.melt_ug is None else self.melt_ug * WHOLE // (self.each_ug * (WHOLE + self.loss_ppm))
        )


def fill_of(version: FormulaVersion, weighed: Sequence[Need]) -> Fill | None:
    """What a batch of a version fills each vessel to. `weighed` is what goes into the pot; None where nothing is filled."""
    if version.fill_ug is None:
        return None
    planned = sum(need.target.total for need in weighed)
    fill = Fill(version.fill_ug, version.loss_ppm, planned)
    melt = sum(need.drawn for need in weighed)
    off = abs(melt - planned) > sum(need.tolerance for need in weighed)
    if not off or not all(need.is_covered for need in weighed if need.target.total):
        return fill
    return Fill(version.fill_ug, version.loss_ppm, planned, melt)


def each_words(fill: Fill | None, studio: Studio) -> str:
    """The fill weight of one vessel: "205 g"; "" where nothing is filled."""
    return shown(fill.each_ug, fine_unit(studio)) if fill else ""


def melt_words(fill: Fill | None, units: int, studio: Studio) -> str:
    """What a melt of another weight than planned fills, in a sentence; "" where it is as planned or not known yet."""
    if fill is None or fill.melt_ug is None:
        return ""
    unit = fine_unit(studio)
    lost = f" with {format_percent(fill.loss_ppm)} lost" if fill.loss_ppm else ""
    return (
        f"The melt weighs {shown(fill.melt_ug, unit)}, {shown(fill.planned_ug, unit)} was planned: "
        f"it fills {fill.units} at that weight{lost}, {units} planned."
    )
