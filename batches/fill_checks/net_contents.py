"""Whether a lot holds what its labels declare: the lot tests of the average system (EU, UK) and of the US handbook.

Weights are in µg. What was read in its source is named with it; what is from memory is marked `remembered`, and the
page says so. The tests compare squares rather than roots, so that no lot passes or fails by a rounding.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from batches.fill_checks.spread import mean, variance
from studio.core.quantities import format_quantity

GRAM = 1_000_000
TENTH = GRAM // 10
POUND = 453_592_370

LEG_76 = "Directive 76/211/EEC, Annex I"
LEG_UK = "UK SI 2006/659, Schedule 2, paragraph 4"
MEASURING = "Northern Ireland SR 2011/331, Schedule 2, paragraph 1.3"
GUIDANCE = "packers' guidance"
HANDBOOK = "NIST Handbook 133"


class OutsideTables(ValueError):
    """The declared weight lies where the rule has no tolerance. Its text is a sentence for a person."""


class Verdict(StrEnum):
    """What a fill check comes to."""

    PASSED = "passed"
    FAILED = "failed"
    TOO_FEW = "too_few"


@dataclass(frozen=True)
class Finding:
    """One rule of a lot test: what it asks, what was found, whether it is met (None: not to be told yet)."""

    asks: str
    found: str
    met: bool | None
    source: str
    remembered: bool = False


@dataclass(frozen=True)
class Judgement:
    """A lot test as it came out. `tolerance` is what one unit may be short by (µg); `needed` how many are weighed."""

    tolerance: int
    finest: Fraction
    finest_source: str
    needed: int
    weighed: int
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """Failed on what was weighed; or not enough was weighed to tell; or passed."""
        told = [finding.met for finding in self.findings]
        if False in told:
            return Verdict.FAILED
        return Verdict.TOO_FEW if None in told or self.weighed < self.needed else Verdict.PASSED

    @property
    def from_memory(self) -> bool:
        """Whether part of it could not be held against its source."""
        return any(finding.remembered for finding in self.findings)

    def too_coarse(self, division: int) -> bool:
        """Whether a scale with this division (µg) is too coarse for the tolerance."""
        return division > self.finest


Show = Callable[[int | Fraction], str]


def grams(amount: int | Fraction) -> str:
    """A weight in grams, as the sentences show it unless told otherwise."""
    return format_quantity(round(amount), "g", places=2)


# The average system (EU, UK)

# Directive 76/211/EEC, Annex I, 2.4: up to so many grams, a share in parts per million or so many µg.
TNE: tuple[tuple[int, int | None, int], ...] = (
    (50, 90_000, 0),
    (100, None, 4_500_000),
    (200, 45_000, 0),
    (300, None, 9_000_000),
    (500, 30_000, 0),
    (1_000, None, 15_000_000),
    (10_000, 15_000, 0),
)
LEAST_G, MOST_G = 5, 10_000


def tolerable_negative_error(declared: int) -> int:
    """What one unit may be short by under the average system, in µg; shares are rounded up to the next 0.1 g.

    Directive 76/211/EEC, Annex I, 2.4; the rounding from memory, same paragraph. Raises OutsideTables.
    """
    if not LEAST_G * GRAM <= declared <= MOST_G * GRAM:
        raise OutsideTables("The average system speaks of declared weights from 5 g to 10 kg.")
    for most, share, fixed in TNE:
        if declared <= most * GRAM:
            return fixed if share is None else -(-declared * share // (1_000_000 * TENTH)) * TENTH
    raise AssertionError("the last row ends where the tables end")


# UK SI 2006/659, Schedule 2, paragraph 4.5 to 4.7: units weighed, and the share of the standard deviation allowed.
MEAN_FACTORS = ((50, Fraction(379, 1000)), (30, Fraction(503, 1000)))


@dataclass(frozen=True)
class ShortPlan:
    """How many may be short by more than the tolerance: of the first sample, and of both together."""

    first: int
    accept: int
    reject: int
    both: int
    accept_both: int


# From memory: lots up to so many, and the plan for them.
SHORT_PLANS = (
    (500, ShortPlan(30, 1, 3, 60, 4)),
    (3_200, ShortPlan(50, 2, 5, 100, 6)),
    (None, ShortPlan(80, 3, 7, 160, 8)),
)
WHOLE_LOT_BELOW = 100
FEW_ENOUGH = Fraction(25, 1000)


def needed_eu(lot_size: int) -> int:
    """How many units of a lot are weighed: all of fewer than 100, else the larger of the two samples."""
    if lot_size < WHOLE_LOT_BELOW:
        return lot_size
    return max(30 if lot_size <= 500 else 50, _short_plan(lot_size).first)


def _short_plan(lot_size: int) -> ShortPlan:
    return next(plan for most, plan in SHORT_PLANS if most is None or lot_size <= most)


def judge_eu(nets: Sequence[int], declared: int, lot_size: int, show: Show = grams) -> Judgement:
    """The three rules of the average system on net weights (µg) of a lot. Raises OutsideTables."""
    tne = tolerable_negative_error(declared)
    short = sum(net < declared - tne for net in nets)
    far = sum(net < declared - 2 * tne for net in nets)
    findings = (
        _mean_eu(nets, declared, lot_size, show),
        _short_eu(short, len(nets), lot_size, show(tne)),
        Finding(
            f"None short by more than twice the tolerance, {show(2 * tne)}",
            _of(far, len(nets)),
            far == 0,
            f"{LEG_76}, 1.3",
        ),
    )
    return Judgement(tne, Fraction(tne, 5), MEASURING, needed_eu(lot_size), len(nets), findings)


def _mean_eu(nets: Sequence[int], declared: int, lot_size: int, show: Show) -> Finding:
    """The mean against what is declared; a sample large enough may fall short of it by a share of its deviation."""
    middle = mean(nets)
    whole = lot_size < WHOLE_LOT_BELOW or len(nets) >= lot_size
    factor = next((each for least, each in MEAN_FACTORS if len(nets) >= least), None)
    if whole or factor is None:
        asks = f"The mean is at least what is declared, {show(declared)}"
        return Finding(asks, show(middle), middle >= declared, f"{LEG_76}, 1.1; {LEG_UK}")
    asks = f"The mean is at least {show(declared)} less {_plain(factor)} of the standard deviation"
    met = _reaches(middle - declared, factor, variance(nets))
    return Finding(asks, show(middle), met, LEG_UK)


def _short_eu(short: int, weighed: int, lot_size: int, tolerance: str) -> Finding:
    """How many are short by more than the tolerance, against how many may be."""
    asks = f"Few are short by more than {tolerance}"
    found = _of(short, weighed)
    if lot_size < WHOLE_LOT_BELOW or weighed >= lot_size:
        most = int(FEW_ENOUGH * lot_size)
        asks = f"{f'At most {most}' if most else 'None'} of {lot_size} short by more than {tolerance} (2.5 %)"
        return Finding(asks, found, short <= most, f"{LEG_76}, 1.2; the share: {GUIDANCE}", remembered=True)
    plan = _short_plan(lot_size)
    source = f"{LEG_76}, 1.2; the numbers: its double sampling plan"
    if weighed >= plan.both:
        asks = f"At most {plan.accept_both} of {plan.both} short by more than {tolerance}"
        return Finding(asks, found, short <= plan.accept_both, source, remembered=True)
    asks = f"At most {plan.accept} of {plan.first} short by more than {tolerance}; from {plan.reject} on it fails"
    if plan.accept < short < plan.reject:
        return Finding(asks, f"{found}; weigh {plan.both - weighed} more", None, source, remembered=True)
    return Finding(asks, found, short <= plan.accept, source, remembered=True)


# NIST Handbook 133, Category A. No table of it could be read: from memory, the factors supported by t(0.975)/√n.

SAMPLE_FACTORS = {
    2: 8984,
    3: 2484,
    4: 1591,
    5: 1241,
    6: 1050,
    7: 925,
    8: 836,
    9: 769,
    10: 715,
    11: 672,
    12: 635,
    24: 422,
    48: 291,
}
# Labelled weight up to and with so many hundredths of a pound, and the variation allowed in thousandths.
MAV = (
    (12, 8),
    (18, 12),
    (26, 16),
    (34, 20),
    (46, 24),
    (58, 28),
    (70, 32),
    (84, 36),
    (94, 40),
    (108, 44),
    (126, 48),
    (140, 52),
    (154, 56),
    (170, 60),
    (188, 64),
    (214, 70),
    (248, 78),
    (276, 86),
    (320, 94),
)
TEN_PERCENT_BELOW = 8


def maximum_allowable_variation(declared: int) -> int:
    """What one package may be short by under the handbook, in µg; in whole tenths of a gram, never more than stated.

    NIST Handbook 133, Table 2-5, from memory; a package of 113 g has about 7 g. Raises OutsideTables.
    """
    if declared * 100 < TEN_PERCENT_BELOW * POUND:
        return declared // (10 * TENTH) * TENTH
    for most, thousandths in MAV:
        if declared * 100 <= most * POUND:
            return thousandths * POUND // (1_000 * TENTH) * TENTH
    raise OutsideTables("The table kept here ends at 3.20 lb. Look the package up in the handbook itself.")


def sample_factor(weighed: int) -> Fraction | None:
    """The sample correction factor of the largest sample in the table that was weighed; None below two."""
    known = [size for size in SAMPLE_FACTORS if size <= weighed]
    return Fraction(SAMPLE_FACTORS[known[-1]], 1000) if known else None


def needed_us(lot_size: int) -> int:
    """How many packages of a lot are weighed."""
    if lot_size < 12:
        return lot_size
    return 12 if lot_size <= 250 else 24 if lot_size <= 3_200 else 48


def judge_us(nets: Sequence[int], declared: int, lot_size: int, show: Show = grams) -> Judgement:
    """The handbook's two rules on net weights (µg) of a lot. Raises OutsideTables."""
    mav = maximum_allowable_variation(declared)
    short = sum(net < declared - mav for net in nets)
    allowed = 1 if lot_size > 3_200 else 0
    average = mean(nets) - declared
    factor = sample_factor(len(nets))
    reaches = average >= 0 if factor is None else _reaches(average, factor, variance(nets))
    asks = "The average error is not below zero"
    if factor is not None:
        asks += f", {_plain(factor)} of the standard deviation allowed for the sample"
    findings = (
        Finding(asks, _signed(average, show), reaches, f"{HANDBOOK}, Category A", remembered=True),
        Finding(
            f"{'None' if not allowed else 'At most one'} short by more than the maximum allowable variation, {show(mav)}",
            _of(short, len(nets)),
            short <= allowed,
            f"{HANDBOOK}, Table 2-5",
            remembered=True,
        ),
    )
    source = f"{HANDBOOK}, a sixth of the variation, from memory"
    return Judgement(mav, Fraction(mav, 6), source, needed_us(lot_size), len(nets), findings)


def _reaches(over: Fraction, factor: Fraction, square: Fraction | None) -> bool:
    """Whether a mean that lies `over` the declared weight, plus a share of the deviation, is not below it."""
    return over >= 0 or over**2 <= factor**2 * (square or 0)


def _of(count: int, weighed: int) -> str:
    return f"{count} of {weighed}"


def _plain(factor: Fraction) -> str:
    """A factor with its three decimals."""
    return f"{round(factor * 1000) // 1000}.{round(factor * 1000) % 1000:03d}"


def _signed(amount: Fraction, show: Show) -> str:
    """A difference with its sign; `show` writes a minus itself."""
    return f"+{show(amount)}" if amount > 0 else show(amount)
