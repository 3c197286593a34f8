"""What a run is to those who learn from it, what can be looked at of it, and what may have mattered.

Plain Python, no database and no clock. Shares are of what came out of a run; floats, since these are statistics and no
books.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property


@dataclass(frozen=True)
class Level:
    """One of what a factor may be: a lot, a fragrance, a person; or the rest of them together.

    `about` says more and tells two of one name apart, `code` is a lot's own.
    """

    words: str
    about: str = ""
    code: str = ""
    is_rest: bool = False


@dataclass(frozen=True)
class Run:
    """A run as it ended. Counts are units; `theoretical` is what the melt drawn would give, None where none was drawn.

    `scrap` is by defect, `flawed` of how many seconds which defect is known.
    `temperatures` are by kind of reading in thousandths of a degree Celsius, `levels` by the key of a factor,
    `wax_days` how long the wax had been here. `lots` are all that were drawn, by kind, for the export.
    """

    code: str
    formula: str
    product: str
    day: date
    good: int = 0
    seconds: int = 0
    rework: int = 0
    scrap: Mapping[str, int] = field(default_factory=dict)
    flawed: Mapping[str, int] = field(default_factory=dict)
    theoretical: float | None = None
    temperatures: Mapping[str, float] = field(default_factory=dict)
    wax_days: float | None = None
    levels: Mapping[str, Level] = field(default_factory=dict)
    lots: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    given_up: bool = False

    @cached_property
    def scrapped(self) -> int:
        """Units that were thrown away."""
        return sum(self.scrap.values())

    def with_defect(self, words: str) -> int:
        """Units that had a defect, scrap and seconds."""
        return self.scrap.get(words, 0) + self.flawed.get(words, 0)

    @cached_property
    def made(self) -> int:
        """Every unit that came out, whatever became of it."""
        return self.good + self.seconds + self.rework + self.scrapped

    @property
    def reached(self) -> float | None:
        """Good and seconds over the theoretical yield."""
        return (self.good + self.seconds) / self.theoretical if self.theoretical else None


@dataclass(frozen=True)
class Look:
    """An outcome that is looked at. `hits` counts the units it befell; None for the yield, which is no count.

    `words` name it in a heading, `phrase` takes a share and makes it part of a sentence.
    """

    key: str
    words: str
    phrase: str
    hits: Callable[[Run], int] | None = None

    def of(self, run: Run) -> float | None:
        """The share of one run; None where it has none."""
        if self.hits is None:
            return run.reached
        return self.hits(run) / run.made if run.made else None

    def said(self, share: str) -> str:
        """A share of it, written out, as part of a sentence."""
        return self.phrase.format(share)


YIELD = Look("yield", "Yield of theoretical", "a yield of {}")
SCRAP = Look("scrap", "Scrap", "{} of the units were scrap", lambda run: run.scrapped)
SECONDS = Look("seconds", "Seconds", "{} of the units were seconds", lambda run: run.seconds)


def defect(words: str) -> Look:
    """One defect, in the studio's words."""
    phrase = words.lower().replace("{", "{{").replace("}", "}}") + " in {} of the units"
    return Look(f"defect:{words}", words, phrase, lambda run: run.with_defect(words))


@dataclass(frozen=True)
class Factor:
    """Something that may matter. `less` and `more` name runs on either side of a figure, and of what is usual.

    `of` gives its figure or its level for a run, `stratum` what runs must have in common to be compared, with the
    word for it.
    """

    key: str
    words: str
    of: Callable[[Run], float | Level | None]
    stratum: Callable[[Run], str] = lambda run: run.formula
    within: str = "formula"
    numeric: bool = True
    is_heat: bool = True
    sides: tuple[str, str, str, str] = ("", "", "", "")


def _heat(kind: str, words: str, *sides: str) -> Factor:
    below, from_there, cooler, warmer = sides
    return Factor(
        kind, words, lambda run: run.temperatures.get(kind), sides=(below, from_there, cooler, warmer)
    )


def _level(
    key: str, words: str, stratum: Callable[[Run], str] = lambda run: run.formula, within: str = "formula"
) -> Factor:
    return Factor(key, words, lambda run: run.levels.get(key), stratum, within, numeric=False)


def _words_of(key: str) -> Callable[[Run], str]:
    return lambda run: run.levels[key].words if key in run.levels else ""


POUR = _heat(
    "pour", "Pour temperature", "poured below {}", "poured at {} and above", "poured cooler", "poured warmer"
)
FACTORS = (
    POUR,
    _heat(
        "fragrance",
        "Temperature when fragrance was added",
        "with fragrance added below {}",
        "with it added at {} and above",
        "with fragrance added cooler",
        "with it added warmer",
    ),
    _heat(
        "room",
        "Room temperature",
        "in a room below {}",
        "in a room of {} and above",
        "in a cooler room",
        "in a warmer room",
    ),
    Factor(
        "wax_days",
        "Days the wax had been here",
        lambda run: run.wax_days,
        is_heat=False,
        sides=(
            "of wax that had been here for less than {}",
            "of wax that had been here for {} and more",
            "of wax that had been here for less",
            "of wax that had been here for longer",
        ),
    ),
    _level("wax_lot", "Wax lot"),
    _level("fragrance_lot", "Fragrance lot"),
    # These come with the formula, so they are compared among runs that have the other in common.
    _level("scent", "Fragrance", _words_of("vessel"), "vessel"),
    _level("vessel", "Vessel", _words_of("scent"), "fragrance"),
    _level("person", "Person who poured"),
)
