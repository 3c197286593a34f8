"""Where the limits a studio begins with come from, one sentence each; a figure the studio changed is its own.

The standards themselves were not read.
"""

from dataclasses import dataclass
from typing import Any

from batches.models import BurnLimits

COMMON = "Common practice, no source."
FLAME = (
    "EN 15493:2019, as one exporter's page gives it; 3 in in ASTM F2417, from memory and as a trade association's "
    "summary gives it."
)
OWN = "The studio's own figure."
NOT_JUDGED = "Not judged."
NOT_ASKED_FOR = "Not asked for."


@dataclass(frozen=True)
class Default:
    """What a studio begins with, and where that comes from."""

    figure: Any
    source: str


DEFAULTS = {
    "flame_um": Default(75_000, FLAME),
    "full_pool_within_minutes": Default(None, ""),
    "vessel_mc": Default(None, ""),
    "soot": Default("slight", COMMON),
    "mushrooming": Default("slight", COMMON),
    "cycles": Default(3, COMMON),
    "weight_asked": Default(True, COMMON),
    "photo_asked": Default(False, ""),
    "wax_left_um": Default(12_000, "Common practice, no source: 12 mm (1/2 in), also seen as 6 mm (1/4 in)."),
    "end_flame_um": Default(
        75_000, "The limit of EN 15493:2019, as for every cycle; that it holds to the end is from memory."
    ),
    "end_vessel_mc": Default(None, ""),
}
# What is not a limit but comes with a figure beside it.
CYCLE_SOURCE = (
    "Four hours, then cooled for at least three: common practice, as a trade association's protocol gives it."
)


def source_of(name: str, figure: Any) -> str:
    """Where a limit comes from: its source while it is what a studio begins with, else the studio."""
    if figure is None or figure is False:
        return NOT_JUDGED if figure is None else NOT_ASKED_FOR
    default = DEFAULTS[name]
    return default.source if figure == default.figure else OWN


def sources(limits: BurnLimits) -> dict[str, str]:
    """Where each limit of a row comes from, by its column."""
    return {name: source_of(name, getattr(limits, name)) for name in DEFAULTS}
