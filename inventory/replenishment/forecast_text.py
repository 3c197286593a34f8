"""An outlook in words: where an item stands, why, what is missing, and where that is entered."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from inventory.replenishment.demand import LITTLE_DAYS, LITTLE_USES
from inventory.replenishment.facts import Coming
from inventory.replenishment.outlook import ReorderForecast
from studio.core.codes import spaced
from studio.core.durations import days_words
from studio.core.percent import format_percent

SOON_DAYS = 7
# Of what has no lead time it is said so long before it runs out. Common practice, no source.
UNKNOWN_SOON_DAYS = 30
# What a list can be narrowed to, by the word in its address.
SHOWN = {
    "due": "To be ordered now or this week",
    "later": "To be ordered later",
    "enough": "Enough for now",
    "missing": "Something is missing",
    "idle": "No use expected",
    "made": "Made here",
    "ended": "No longer bought",
}


@dataclass(frozen=True)
class MissingFact:
    """A fact that is missing: what it blocks, and where it is entered (`costs`: only for who sees costs)."""

    sentence: str
    url: str
    press: str
    who: str = "makes"


def day_words(day: date) -> str:
    """A day as pages write it: 3 Mar 2026."""
    return f"{day.day} {day:%b %Y}"


def group_of(outlook: ReorderForecast) -> str:
    """The word of SHOWN an item falls under."""
    if not outlook.is_bought:
        return "made"
    if outlook.item.no_longer_bought:
        return "ended"
    if not outlook.is_used:
        return "idle"
    if outlook.lead is None:
        return "missing"
    if outlook.order_in is None:
        return "enough"
    return "due" if outlook.order_in <= SOON_DAYS else "later"


def cannot_be_said(outlook: ReorderForecast) -> bool:
    """Whether it runs out within a month and nobody knows how long a delivery takes."""
    return (
        group_of(outlook) == "missing"
        and outlook.runs_out is not None
        and outlook.runs_out <= UNKNOWN_SOON_DAYS
    )


def late_order(outlook: ReorderForecast) -> Coming | None:
    """The order that should have come and that the item waits for: without it, it is used up before another would come."""
    lead, cover = outlook.lead, outlook.cover
    if lead is None or cover is None or cover > lead.days:
        return None
    day = outlook.day
    return next((each for each in outlook.known.coming if each.expected_on and each.expected_on < day), None)


def state_of(outlook: ReorderForecast) -> tuple[str, str]:
    """Tone and word."""
    group = group_of(outlook)
    if group in {"enough", "later"} and late_order(outlook):
        return "problem", "Delivery late"
    if group == "due" and outlook.known.drafted:
        return "attention", "On a draft"
    if group == "due" and outlook.order_in is not None:
        if outlook.order_in < 0:
            return "problem", "Order now, late"
        return ("problem", "Order today") if outlook.order_in == 0 else ("attention", "Order this week")
    if group == "missing":
        return "attention", "No lead time"
    if group in {"made", "ended"} and outlook.runs_out is not None and outlook.runs_out <= SOON_DAYS:
        return "attention", "Runs out" if group == "ended" else "Make more"
    plain = {"made": "Made here", "ended": "No longer bought", "idle": "Not used", "later": "Order later"}
    return ("good", "Enough") if group == "enough" else ("plain", plain[group])


def cover_words(outlook: ReorderForecast) -> str:
    """Days of cover as a cell: "34 days", "over a year", "no use"."""
    if outlook.cover is None:
        return "no use" if outlook.known.usable else "–"
    if not outlook.known.usable and outlook.cover:
        return f"wanted in {days_words(outlook.cover + 1)}"
    return "over a year" if outlook.cover > 365 else days_words(outlook.cover)


def why(outlook: ReorderForecast) -> str:
    """In a sentence, why it is to be ordered by that day, or why not."""
    group, item = group_of(outlook), outlook.item
    if group == "idle":
        return f"Nothing was used in {outlook.rules.window_days} days and nothing is planned."
    if group == "ended":
        return _ended(outlook)
    if outlook.runs_out is None:
        ends = f"Lasts beyond {day_words(_horizon(outlook))}"
    elif outlook.runs_out <= 0:
        ends = "Nothing is left to use" if outlook.known.usable == 0 else "Not enough for what is due today"
    elif not outlook.known.usable and not outlook.known.on_order:
        ends = f"None is there; wanted from {day_words(outlook.on(outlook.runs_out + 1) or outlook.day)} on"
    else:
        gone_off = sum(outlook.levels.expired[: outlook.runs_out + 1])
        off = f" because {item.quantity(gone_off)} goes off" if gone_off else ""
        ends = f"Runs out on {day_words(outlook.day_out or outlook.day)}{off}"
    on_order = f", with {item.quantity(outlook.known.on_order)} on order" if outlook.known.on_order else ""
    if group == "made":
        return f"{ends}."
    if outlook.lead is None:
        return f"{ends}{on_order}. How long a delivery takes is not known."
    late = late_order(outlook)
    if late and late.expected_on:
        return (
            f"Lasts {cover_words(outlook)}; order {spaced(late.code)} should have brought "
            f"{item.quantity(late.quantity)} on {day_words(late.expected_on)}. Ask the supplier."
        )
    return f"{ends}{on_order}; a delivery takes {days_words(outlook.lead.mean)}."


def hurry(outlook: ReorderForecast) -> str:
    """Where an order of today would come after nothing is left: when, and who would bring it sooner. Else nothing."""
    best, sooner = outlook.best, outlook.sooner
    if best is None or not best.too_late or best.there_on is None or outlook.order_in is None:
        return ""
    words = f"Ordered today of {best.source.supplier} it comes about {day_words(best.there_on)}, after it runs out."
    if sooner and sooner.there_on:
        words += f" {sooner.source.supplier} would bring it about {day_words(sooner.there_on)}."
    return words


def stand_in(outlook: ReorderForecast) -> str:
    """What may take the place of an item that is due, and how much of it is to spare; else nothing."""
    other = outlook.other
    if other is None or (group_of(outlook) not in {"due", "missing"} and not late_order(outlook)):
        return ""
    if not other.to_spare:
        return f"{other.item} can take its place, but none of it is to spare."
    spare = f"{other.item} can take its place: {other.item.quantity(other.to_spare)} of it is to spare"
    a_day = outlook.expected_a_day
    return f"{spare}, enough for {days_words(other.to_spare // a_day)} at this use." if a_day else f"{spare}."


def lumps_words(outlook: ReorderForecast) -> str:
    """Where use comes in lumps: that it does, and how it is reckoned with; else nothing."""
    found = outlook.leaning_on
    if not found.is_lumpy or outlook.point is None:
        return ""
    return (
        f"Use comes in lumps, on {found.uses} of {found.days} days: one day's use takes the level below the reorder point "
        f"before anybody can order, by {outlook.item.quantity(outlook.below)} on average. The safety stock has that in it."
    )


def _ended(outlook: ReorderForecast) -> str:
    new = outlook.item.replaced_by
    takes_over = f" {new} takes its place." if new else ""
    if outlook.runs_out is None:
        return f"No longer bought.{takes_over}"
    last = day_words(outlook.day_out or outlook.day)
    when = "is used up" if outlook.runs_out <= 0 else f"lasts until {last}"
    return f"No longer bought; what is left {when}.{takes_over}"


def _horizon(outlook: ReorderForecast) -> date:
    return outlook.on(outlook.forecast.last) or outlook.day


def missing_of(outlook: ReorderForecast) -> list[MissingFact]:
    """What is not known and what it blocks."""
    if not outlook.may_be_bought or not outlook.is_used:
        return []
    item, source = outlook.item, outlook.source
    found = []
    if source is None:
        found.append(
            MissingFact(
                "Nobody offers it and it was never delivered: it cannot be said from whom to buy, how much and by when.",
                f"{reverse('inventory:offer-add')}?item={item.pk}",
                "Enter an offer",
                "quotes",
            )
        )
    else:
        if outlook.lead is None:
            found.append(
                MissingFact(
                    f"{source.supplier} states no lead time and no order of it was ever received: the reorder point and "
                    "the last day to order cannot be said.",
                    reverse("inventory:supplier-change", args=[source.supplier.pk]),
                    "Enter the stated lead time",
                )
            )
        if source.offer_id is None:
            found.append(
                MissingFact(
                    "No offer is on record: the pack is the one that came last, at the price paid then.",
                    f"{reverse('inventory:offer-add')}?item={item.pk}",
                    "Enter an offer",
                    "quotes",
                )
            )
    if outlook.rules.order_cost is None:
        found.append(
            MissingFact(
                "Nobody said what placing an order costs: a year's cost is told without it, and no order is proposed for "
                "less than four weeks' use.",
                reverse("inventory:reorder-rules"),
                "Set the rules",
                "owns",
            )
        )
    return found


def demand_words(outlook: ReorderForecast) -> list[str]:
    """What the past says, in sentences."""
    past, item = outlook.past, outlook.item
    said = []
    if outlook.then:
        names = ", ".join(str(old) for old in item.replaces.all())
        said.append(
            f"It takes the place of {names}, and from {day_words(outlook.on(outlook.then[0]) or outlook.day)} on what "
            "was used of both is expected of it."
        )
    if not past.days:
        return ["It has no past yet: only what is planned and ordered counts.", *said]
    if past.days < past.wanted_days:
        said.append(f"It has been here for {days_words(past.days)}; all of them count.")
    if not past.used:
        said.append(f"Nothing was used in {days_words(past.days)}; only what is planned and ordered counts.")
        return said
    if past.is_little:
        said.append(
            f"Little to go by: used on {days_words(past.uses)} out of {past.days}. Below {LITTLE_USES} days of use, or "
            f"{LITTLE_DAYS} days in all, mean and spread say little; look at what is planned."
        )
    said.append(f"Trend: {past.trend.sentence}.")
    if lumps := lumps_words(outlook):
        said.append(lumps)
    if past.season:
        alike = len(set(past.factors)) == 1
        weeks = 4 * len(past.factors) if alike else 4
        said.append(
            f"Season: by the same {weeks} weeks of last year {float(past.factors[0]):.2g} times the use of the "
            f"{past.wanted_days} days before them is expected."
        )
    return said


def service_words(outlook: ReorderForecast) -> str:
    """The service level and whose it is."""
    shown = format_percent(outlook.service_ppm)
    if outlook.rules.tried_ppm:
        return f"{shown}, tried out"
    if outlook.item.service_ppm:
        return f"{shown}, this item's own"
    return f"{shown}, the studio's" if outlook.rules.own else f"{shown}, common practice"


def by_urgency(found: Iterable[ReorderForecast]) -> list[ReorderForecast]:
    """Those to be ordered first, first; then what lasts shortest; then by name."""
    never = 10**6

    def rank(each: ReorderForecast) -> tuple[int, int, int, str]:
        ranks = {"due": 0, "missing": 1, "later": 2, "enough": 3, "ended": 4, "made": 5, "idle": 6}
        order_in = never if each.order_in is None else each.order_in
        cover = never if each.cover is None else each.cover
        waits = group_of(each) in {"enough", "later"} and late_order(each)
        return 0 if waits else ranks[group_of(each)], order_in, cover, each.item.name.lower()

    return sorted(found, key=rank)
