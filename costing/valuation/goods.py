"""What goods were worth at an instant: by class and by item as the books carry them, and what is added to them.

The books carry what was paid for material. Labour and overhead are added from recorded minutes and dated rates, and
abnormal loss is taken out, each shown apart (`costing.valuation.carried`).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from batches.models import Batch
from costing.models import GoodsRule
from costing.rates.rates import Rates
from costing.valuation import ledger_as_of
from costing.valuation.carried import NOTHING, Added, Carried, carried
from costing.valuation.facts import Facts
from costing.valuation.ledger_as_of import Instant
from inventory.models import COMPONENT_KINDS, Item, Kind


class Class(StrEnum):
    """How an accountant sorts stock."""

    MATERIALS = "Raw materials"
    COMPONENTS = "Components"
    BLENDS = "Blends made here"
    IN_PROGRESS = "In progress"
    FINISHED = "Finished goods"


def class_of(item: Item) -> Class:
    """Where an item stands."""
    if item.kind == Kind.FINISHED:
        return Class.FINISHED
    if item.made_here:
        return Class.BLENDS
    return Class.COMPONENTS if item.kind in COMPONENT_KINDS else Class.MATERIALS


USUAL = GoodsRule()
"""What counts as long as the studio has not said otherwise."""


def rule_on(day: date) -> GoodsRule:
    """The rule that holds on a day; the usual one, without a key, where none was set."""
    return GoodsRule.objects.filter(from_on__lte=day).order_by("-from_on", "-pk").first() or USUAL


def included(added: Added, rule: GoodsRule) -> Added:
    """What the rule counts into goods."""
    return Added(
        added.labour if rule.with_labour else 0,
        added.owner if rule.with_owner else 0,
        added.overhead if rule.with_overhead else 0,
        added.material,
    )


@dataclass(frozen=True)
class StockValueRow:
    """An item on the shelf, or what is in pots: base units, millionths by the books, and what is added."""

    of: Class
    item: Item | None
    batch: Batch | None
    quantity: int
    books: int
    added: Added = NOTHING

    @property
    def words(self) -> str:
        """What it is, in words."""
        if self.item:
            return f"{self.item}, {self.item.quantity(self.quantity)}"
        return f"Run {self.batch.spaced_code}, {self.batch.item}" if self.batch else ""

    def worth(self, rule: GoodsRule) -> int:
        """All that the rule counts, in millionths."""
        return self.books + sum(included(self.added, rule).parts)


@dataclass(frozen=True)
class Totals:
    """The sums of some rows, in millionths."""

    books: int = 0
    added: Added = NOTHING

    def worth(self, rule: GoodsRule) -> int:
        """All that the rule counts."""
        return self.books + sum(included(self.added, rule).parts)


@dataclass(frozen=True)
class Goods:
    """Everything at one instant. `lost` is what batches that came to nothing, or gave less than they drew, lost of their
    material until then; `minutes_without_rate` could not be counted, and neither could overhead where no rule holds."""

    at: Instant
    rule: GoodsRule
    rows: list[StockValueRow]
    lost: int
    abnormal: Added
    ever_added: Added
    minutes_without_rate: int = 0
    in_lots: Mapping[int, Added] = field(default_factory=dict)

    def total(self, *of: Class) -> Totals:
        """The sums of some classes, of all where none is named."""
        rows = [row for row in self.rows if not of or row.of in of]
        return Totals(sum(row.books for row in rows), sum((row.added for row in rows), NOTHING))

    @property
    def classes(self) -> list[tuple[Class, Totals]]:
        """Every class with its sums, in the order they become goods."""
        return [(each, self.total(each)) for each in Class]

    @property
    def groups(self) -> list[tuple[str, Totals]]:
        """Raw, in progress and finished, blends where the rule has them."""
        raw, progress = [Class.MATERIALS, Class.COMPONENTS], [Class.IN_PROGRESS]
        (raw if self.rule.blends == GoodsRule.Blends.RAW else progress).append(Class.BLENDS)
        named = (("Raw", raw), ("In progress", progress), ("Finished", [Class.FINISHED]))
        return [(name, self.total(*of)) for name, of in named]

    @property
    def worth(self) -> int:
        """All of it, as the rule counts, in millionths."""
        return self.total().worth(self.rule)


def goods_at(at: Instant, rule: GoodsRule, rates: Rates | None = None) -> Goods:
    """What goods were worth; a constant number of queries."""
    facts = Facts(at, rates or Rates.read())
    told = carried(facts.batches, facts.lots, rule.normal_loss_ppm)
    shelf = ledger_as_of.on_shelf(at)
    items = Item.objects.in_bulk()
    by_item = _by_item(facts, told)
    rows = [
        StockValueRow(
            class_of(items[item_id]), items[item_id], None, quantity, value, by_item.get(item_id, NOTHING)
        )
        for item_id, (quantity, value) in shelf.items()
    ]
    rows += _in_pots(facts, told)
    lost = sum(value for key, value in facts.in_pots.items() if facts.batches[key].over)
    order = list(Class)
    rows.sort(key=lambda row: (order.index(row.of), str(row.item or row.batch).casefold()))
    return Goods(at, rule, rows, lost, told.abnormal, told.added, facts.minutes_without_rate, told.lots)


def _by_item(facts: Facts, told: Carried) -> dict[int, Added]:
    found: dict[int, Added] = {}
    for lot_id, added in told.lots.items():
        item_id = facts.item_of[lot_id]
        found[item_id] = found.get(item_id, NOTHING) + added
    return found


def _in_pots(facts: Facts, told: Carried) -> list[StockValueRow]:
    going_on = {
        key: (value, told.batches.get(key, NOTHING))
        for key, value in facts.in_pots.items()
        if not facts.batches[key].over
    }
    wanted = [key for key, (value, added) in going_on.items() if value or added != NOTHING]
    named = Batch.objects.with_product().in_bulk(wanted)
    return [StockValueRow(Class.IN_PROGRESS, None, named[key], 0, *going_on[key]) for key in wanted]
