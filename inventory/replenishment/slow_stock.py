"""Stock that sleeps: over a year's cover, not used at all, or going off before its use; with its class by yearly value.

What it is worth is its share of the value of what is on hand. Values in millionths.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from inventory.counting.figures import Classes
from inventory.models import Item
from inventory.replenishment.forecast_text import days_words
from inventory.replenishment.item_forecast import YEAR
from inventory.replenishment.outlook import ReorderForecast


@dataclass(frozen=True)
class Asleep:
    """An item of which too much is there: `surplus` base units beyond a year's use, `lost` going off from `lost_on` on."""

    outlook: ReorderForecast
    letter: str
    year_value: int
    surplus: int
    lost: int
    lost_on: date | None

    @property
    def words(self) -> tuple[str, str]:
        """Tone and word."""
        if self.lost:
            return "problem", "Goes off unused"
        return ("attention", "Not used") if not self.outlook.is_used else ("attention", "Over a year's cover")

    @property
    def cover(self) -> str:
        """How long it lasts, in words; many years are said in years."""
        days = self.outlook.cover
        if days is None:
            return "no use"
        return days_words(days) if days <= 2 * YEAR else f"{days // YEAR} years"

    @property
    def surplus_value(self) -> int:
        """What the surplus is worth."""
        return self._value_of(self.surplus)

    @property
    def lost_value(self) -> int:
        """What goes off is worth."""
        return self._value_of(self.lost)

    def _value_of(self, quantity: int) -> int:
        known = self.outlook.known
        return known.value * quantity // known.on_hand if known.on_hand else 0


def asleep(found: Iterable[ReorderForecast], known: Classes) -> list[Asleep]:
    """What sleeps, the dearest first."""
    rows = []
    for outlook in found:
        if not outlook.known.on_hand:
            continue
        surplus = max(outlook.known.usable - outlook.a_year, 0)
        off = outlook.goes_off
        if surplus or off:
            item_id = outlook.item.pk
            rows.append(
                Asleep(
                    outlook,
                    known.of(item_id).letter,
                    max(known.values.get(item_id, 0), 0),
                    surplus,
                    sum(quantity for _, quantity in off),
                    off[0][0] if off else None,
                )
            )
    return sorted(
        rows, key=lambda row: (-max(row.lost_value, row.surplus_value), row.outlook.item.name.lower())
    )


@dataclass(frozen=True)
class ClassLine:
    """One class: its letter, what is in it, the dearest first, what a year used, what is on the shelf."""

    letter: str
    items: list[Item]
    used: int
    on_shelf: int
    surplus: int


def by_class(found: Iterable[ReorderForecast], known: Classes, sleeping: Iterable[Asleep]) -> list[ClassLine]:
    """The classes A, B and C with what is in them."""
    surplus: dict[str, int] = {}
    for row in sleeping:
        surplus[row.letter] = surplus.get(row.letter, 0) + row.surplus_value
    inside: dict[str, list[ReorderForecast]] = {letter: [] for letter in known.rules}

    def used(outlook: ReorderForecast) -> int:
        return max(known.values.get(outlook.item.pk, 0), 0)

    for outlook in sorted(found, key=lambda each: (-used(each), each.item.name.lower())):
        if outlook.known.on_hand or known.values.get(outlook.item.pk):
            inside[known.of(outlook.item.pk).letter].append(outlook)
    return [
        ClassLine(
            letter,
            [each.item for each in rows],
            sum(map(used, rows)),
            sum(each.known.value for each in rows),
            surplus.get(letter, 0),
        )
        for letter, rows in inside.items()
    ]
