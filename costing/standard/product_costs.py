"""What one unit of each product costs at the standard, for a run as it is usually made: what prices are worked out from."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from batches.formulas.approved import made_first
from batches.models import FormulaVersion
from costing.model.unit_cost import UnitCost
from costing.standard.cost_sheet import CostSheet
from costing.standard.standard import Standards
from costing.standard.unit_cost_of import unit_cost
from inventory.models import Item, Kind


@dataclass(frozen=True)
class ProductCost:
    """A product by the version it is poured by, and what a unit of it should cost. `said`: the run it is worked out for."""

    version: FormulaVersion
    sheet: CostSheet
    cost: UnitCost
    said: str

    @property
    def item(self) -> Item:
        """What is sold."""
        return self.version.formula.item

    @property
    def is_known(self) -> bool:
        """Whether there is any cost to price by."""
        return self.cost.total > 0

    @property
    def is_whole(self) -> bool:
        """Whether nothing is missing from it."""
        return not self.sheet.missing


def products(items: Collection[int] | None = None) -> list[FormulaVersion]:
    """The version each product is made by now (see `made_first`), by product's name.

    With its formula, product and lines, in three queries.
    """
    versions = FormulaVersion.objects.filter(formula__item__kind=Kind.FINISHED, formula__item__retired=False)
    if items is not None:
        versions = versions.filter(formula__item__in=items)
    chosen: dict[int, FormulaVersion] = {}
    for version in made_first(versions).select_related("formula__item").prefetch_related("lines__item"):
        chosen.setdefault(version.formula.item_id, version)
    return sorted(chosen.values(), key=lambda version: version.formula.item.name.lower())


def product_costs(on: date, items: Collection[int] | None = None) -> list[ProductCost]:
    """What a unit of every product should cost on a day, in a handful of queries for any number."""
    versions = products(items)
    standards = Standards.read(versions)
    found = []
    for version in versions:
        units, said = standards.usual(version, on)
        sheet = standards.sheet(version, units=units, on=on)
        found.append(ProductCost(version, sheet, unit_cost(sheet), f"{said}, {units} units"))
    return found
