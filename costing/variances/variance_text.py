"""What each part of a run's difference comes from, in a sentence."""

from collections.abc import Mapping
from fractions import Fraction

from costing.variances.batch_variances import RunVariance
from costing.variances.variances import MaterialUse, TimeUse, Variances
from inventory.models import Item
from studio.core.money import format_money
from studio.core.numerals import decimal_text
from studio.core.percent import format_percent
from studio.core.quantities import format_quantity

NAMES = {
    "price": "Price",
    "usage": "Usage",
    "yield": "Yield",
    "labour_rate": "Labour rate",
    "labour_time": "Labour time",
    "overhead": "Overhead",
}
# The two or three that made most of it; a list of everything explains nothing.
NAMED = 3
WORTH_NAMING = 50_000


def signed(micros: int, currency: str) -> str:
    """A sum with its direction in words: what was dearer or cheaper."""
    if not round(Fraction(micros, 10_000)):
        return "nothing to speak of"
    return f"{format_money(abs(micros), currency)} {'more' if micros > 0 else 'less'}"


def headline(told: Variances, currency: str) -> str:
    """The difference in all and the largest part of it, in a sentence; and what pulled the other way, where that was more
    than the difference itself."""
    if not round(Fraction(told.difference, 10_000)):
        return "It cost what it should."
    along = {name: part for name, part in told.parts.items() if part * told.difference > 0}
    against = {name: part for name, part in told.parts.items() if part * told.difference < 0}
    said = f"It cost {signed(told.difference, currency)} than it should, mostly {_greatest(along, currency)}"
    if against and max(map(abs, against.values())) > abs(told.difference):
        said += f", against {_greatest(against, currency)}"
    return f"{said}."


def _greatest(parts: Mapping[str, int], currency: str) -> str:
    name = max(parts, key=lambda part: abs(parts[part]))
    return f"{NAMES[name].lower()} ({signed(parts[name], currency)})"


def sentences(run: RunVariance, currency: str) -> dict[str, str]:
    """Each part of the difference explained, by part."""
    figures, item = run.figures, run.batch.item
    return {
        "price": _price(figures.materials, currency),
        "usage": _usage(figures.materials, figures.recovered, currency),
        "yield": _yield(run, item),
        "labour_rate": _rate(figures.work, currency),
        "labour_time": _time(figures.work),
        "overhead": (
            f"Its own overhead came to {format_money(figures.overhead, currency)}; for what was made "
            f"{format_money(figures.standard_overhead, currency)} was to be expected."
        ),
    }


def _largest(uses: tuple[MaterialUse, ...], part: str) -> list[MaterialUse]:
    told = [use for use in uses if abs(getattr(use, part)) >= WORTH_NAMING]
    return sorted(told, key=lambda use: -abs(getattr(use, part)))[:NAMED]


def _price(uses: tuple[MaterialUse, ...], currency: str) -> str:
    named = _largest(uses, "price")
    if not named:
        return "What was used cost what it should, within a few cents."
    each = ", ".join(f"{use.name} {signed(use.price, currency)}" for use in named)
    return f"Against the standard price of that day: {each}."


def _usage(uses: tuple[MaterialUse, ...], recovered: int, currency: str) -> str:
    said = []
    for use in _largest(uses, "usage"):
        off = use.quantity - use.standard_quantity
        more = "more" if off > 0 else "less"
        said.append(
            f"{format_quantity(abs(off), use.unit)} {more} {use.name} ({signed(use.usage, currency)})"
        )
    sentence = (
        f"Against the formula for what was made: {', '.join(said)}."
        if said
        else "As much as the formula says, within a few cents."
    )
    if recovered:
        sentence += f" {format_money(recovered, currency)} went with recovered melt and counts as not used."
    return sentence


def _yield(run: RunVariance, item: Item) -> str:
    figures = run.figures
    if not figures.made:
        return "Nothing came out, so nothing could be good."
    expected = format_percent(figures.spoilage_ppm)
    lost = figures.made - figures.good
    share = format_percent(Fraction(lost * 1_000_000, figures.made))
    return (
        f"{item.quantity(lost)} of {item.quantity(figures.made)} made came out less than good, {share}; "
        f"{expected} was to be expected."
    )


def _rate(work: tuple[TimeUse, ...], currency: str) -> str:
    minutes = sum(use.minutes for use in work)
    if not minutes:
        return "No time was noted."
    paid = sum(use.actual for use in work)
    standard = sum(round(use.minutes * use.per_hour / 60) for use in work)
    return (
        f"Those who worked cost {format_money(round(Fraction(paid * 60, minutes)), currency)} an hour; "
        f"the rate is {format_money(round(Fraction(standard * 60, minutes)), currency)}."
    )


def _time(work: tuple[TimeUse, ...]) -> str:
    spent = sum(use.minutes for use in work)
    planned = sum((use.standard_minutes for use in work), Fraction(0))
    said = f"{spent:,} minutes were noted; {minutes_text(planned)} were to be expected for what was made."
    far = max(work, key=lambda use: abs(use.time), default=None)
    if far and abs(far.time) >= WORTH_NAMING:
        said += f" Most of the difference is {far.name.lower()}."
    return said


def minutes_text(minutes: Fraction) -> str:
    """Minutes to a tenth below a hundred, whole from there on."""
    tenths = round(minutes * 10) if minutes < 100 else round(minutes) * 10
    return decimal_text(tenths, 1)
