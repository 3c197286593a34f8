"""The net weight a label states, in both unit systems, rounded so that neither says more than is declared.

Plain arithmetic, no database and no clock. Where the two systems disagree after rounding, the larger is what is
enforced (Uniform Packaging and Labeling Regulation, NIST fact sheet on metric labeling, read), so both are rounded
down: of 8 oz, which are 226.796 g, the label says 226 g and not 227 g.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import floor

from studio.core.numerals import NBSP, decimal_text

G = 1_000_000
OUNCE = Fraction(28_349_523_125, 1_000)  # µg; 28.349 523 125 g exactly
OUNCES_OF_POUND = 16
# The books hold whole micrograms, so 7.7 oz is kept as up to half of one less than it is.
KEPT_TO = Fraction(1, 2)

# Least height of the figures, in µm, by what is declared. From memory, hold against the text: Directive 76/211/EEC
# Annex I 3.1 for the EU and, taken over by it, Great Britain; 16 CFR 500.21 by the area of the main panel for the US.
EU_HEIGHTS = ((50 * G, 2_000), (200 * G, 3_000), (1_000 * G, 4_000))
EU_HEIGHT_MOST = 6_000
SQUARE_INCH = 25_400**2
US_HEIGHTS = ((5 * SQUARE_INCH, 1_588), (25 * SQUARE_INCH, 3_175), (100 * SQUARE_INCH, 4_763))
US_HEIGHT_MOST = 6_350


@dataclass(frozen=True)
class Stated:
    """A weight as it stands on a label: its words, and exactly what they say in µg."""

    words: str
    says_ug: Fraction


@dataclass(frozen=True)
class NetLabel:
    """A declared net weight in both systems. `words` is what is printed."""

    words: str
    metric: Stated
    inch_pound: Stated

    @property
    def enforced_ug(self) -> Fraction:
        """What the packer is held to: the larger of the two."""
        return max(self.metric.says_ug, self.inch_pound.says_ug)


def net_label(declared_ug: int, market: str) -> NetLabel:
    """The net weight line for `declared_ug` in the market "us" (ounces first), "eu" or "gb" (grams first).

    Raises ValueError for a weight too small to state.
    """
    metric, inch_pound = metric_down(declared_ug), inch_pound_down(declared_ug)
    in_ounces = f"Net wt {inch_pound.words} ({metric.words})"
    words = in_ounces if market == "us" else f"Net {metric.words} ({inch_pound.words})"
    return NetLabel(words.replace(" ", NBSP), metric, inch_pound)


def metric_down(amount_ug: int) -> Stated:
    """Grams rounded down: to 0.1 g below 100 g, to whole grams below 1 kg, then kilograms to 0.01 kg."""
    if amount_ug >= 1_000 * G:
        return _down(amount_ug, Fraction(1_000 * G), 2, "kg")
    return _down(amount_ug, Fraction(G), 1 if amount_ug < 100 * G else 0, "g")


def inch_pound_down(amount_ug: int) -> Stated:
    """Ounces rounded down: to 0.01 oz below 1 oz, else to 0.1 oz, from a pound on as pounds and ounces."""
    kept = amount_ug + KEPT_TO
    if kept < OUNCE:
        return _down(amount_ug, OUNCE, 2, "oz")
    if kept < OUNCES_OF_POUND * OUNCE:
        return _down(amount_ug, OUNCE, 1, "oz")
    tenths = floor(kept / (OUNCE / 10))
    pounds, rest = divmod(tenths, 10 * OUNCES_OF_POUND)
    words = f"{pounds:,} lb" + (f" {decimal_text(rest, 1)} oz" if rest else "")
    return Stated(words, tenths * OUNCE / 10)


def _down(amount_ug: int, unit: Fraction, places: int, name: str) -> Stated:
    steps = floor((amount_ug + KEPT_TO) * 10**places / unit)
    if steps <= 0:
        raise ValueError("The declared net weight is too small to state on a label.")
    return Stated(f"{decimal_text(steps, places)} {name}", steps * unit / 10**places)


def least_height_um(declared_ug: int, market: str, panel_um2: int) -> int:
    """How tall the figures of the net weight are at least, in µm; `panel_um2` is the label's area in µm²."""
    if market == "us":
        return next((height for area, height in US_HEIGHTS if panel_um2 <= area), US_HEIGHT_MOST)
    return next((height for most, height in EU_HEIGHTS if declared_ug <= most), EU_HEIGHT_MOST)
