"""How far a weight may be off its target: plain arithmetic in µg, rates in parts per million.

A tolerance is a share of the target where the formula gives one, and one step of the scale where it gives none. The
scale cannot tell less than its step, so a share is rounded down to whole steps and is one step at least.
"""

from collections.abc import Iterable
from fractions import Fraction

from studio.core.percent import WHOLE, format_percent

TOLERANCE_MOST_PPM = WHOLE // 2
# A load below so many steps is known too badly, since a reading is sure to half a step: Oregon Department of Agriculture
# on suitable equipment, NIST Handbook 44, G-UR.1.1; read.
LEAST_STEPS = 50


def tolerance_problem(tolerance_ppm: int | None, *, is_weighed: bool) -> str:
    """What is wrong with a line's tolerance, as a sentence; "" when nothing is."""
    if tolerance_ppm is None:
        return ""
    if not is_weighed:
        return "A tolerance is for what is weighed into the pot. Leave it empty here."
    if not 0 < tolerance_ppm <= TOLERANCE_MOST_PPM:
        return "Enter a tolerance above 0 and up to 50 % of the target, or leave it empty for one step of the scale."
    return ""


def tolerance_of(target_ug: int, tolerance_ppm: int | None, division_ug: int) -> int:
    """What a weight may be off by either way, in µg: whole steps of the scale, one at least."""
    if tolerance_ppm is None:
        return division_ug
    steps = target_ug * tolerance_ppm // (WHOLE * division_ug)
    return max(steps, 1) * division_ug


def too_coarse(pours_ug: Iterable[int], division_ug: int) -> str:
    """In a sentence, how badly a scale of such steps knows the smallest of these weights; "" where it knows it well.

    What the scale cannot show at all is not spoken of.
    """
    least = min((pour for pour in pours_ug if pour > 0), default=0)
    if not 0 < least < LEAST_STEPS * division_ug:
        return ""
    share = format_percent(Fraction(division_ug * WHOLE, 2 * least), 1)
    return f"Half a step of this scale is {share} of it: a finer scale serves better."


def tolerance_in_all(pours_ug: Iterable[int], tolerance_ppm: int | None, division_ug: int) -> int:
    """What all pours together may be off by, each weighed by itself; µg."""
    return sum(tolerance_of(pour, tolerance_ppm, division_ug) for pour in pours_ug)
