"""How long a few items last and by when to order them, for pages about something else."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from inventory.replenishment import facts, forecast_text
from inventory.replenishment.outlook import ReorderForecast
from inventory.replenishment.outlooks import outlooks
from inventory.replenishment.rules import in_force


@dataclass(frozen=True)
class Glance:
    """One item: where it stands as tone and word, how long it lasts, and the last day to order, None where none is near."""

    tone: str
    word: str
    lasts: str
    order_by: date | None
    is_bought: bool

    @property
    def is_pressing(self) -> bool:
        """Whether it needs a hand."""
        return self.tone in {"attention", "problem"}


def glance(outlook: ReorderForecast) -> Glance:
    """An outlook in short."""
    tone, word = forecast_text.state_of(outlook)
    return Glance(tone, word, forecast_text.cover_words(outlook), outlook.order_by, outlook.is_bought)


def of(item_ids: Collection[int], day: date) -> dict[int, Glance]:
    """These items in short, those no longer kept left out; a fixed number of queries."""
    rules = in_force()
    found = outlooks(facts.read(day, window=rules.window_days, item_ids=item_ids), rules)
    return {pk: glance(found[pk]) for pk in item_ids if pk in found}


def to_order(day: date) -> tuple[list[ReorderForecast], list[ReorderForecast]]:
    """What has to be ordered within a week and is on no draft, the most pressing first; and what runs out within a month
    of which nobody can say by when to order. A fixed number of queries."""
    rules = in_force()
    found = outlooks(facts.read(day, window=rules.window_days), rules)
    ranked = [each for each in forecast_text.by_urgency(found.values()) if not each.known.drafted]
    due = [each for each in ranked if forecast_text.group_of(each) == "due"]
    return due, [each for each in ranked if forecast_text.cannot_be_said(each)]
