"""Scents that are only thought of, as tests think of them."""

from batches.models import FormulaVersion
from costing.models import Scenario
from costing.new_products import keeping as scenarios
from inventory.models import Item
from tests.house import Books, grams, money


def think(
    books: Books, name: str, version: FormulaVersion, *, scent: str = "", load: int | None = None, **said
) -> Scenario:
    """A scenario from a version, its own parts as they are: 24 at first, 48 a run, 300 a year.

    A scent that is not an item is only named, and quoted at 40.00 for 0.5 kg and 150.00 for 2.5 kg. Test pours for
    60.00 and a certificate for 90.00.
    """
    known = Item.objects.filter(name=scent).first() if scent else None
    price = said.pop("price", None)
    columns = {
        "name": name,
        "version": version,
        "fragrance": known,
        "fragrance_name": "" if known else scent or f"{name} oil",
        "load_ppm": load,
        "fill_ug": version.fill_ug,
        "first_units": 24,
        "run_units": 48,
        "year_units": 300,
        "price_micros": None if price is None else money(price),
        **said,
    }
    per_unit = version.lines.filter(basis="per_unit")
    parts = [{"item": line.item, "amount": line.amount, "spare_ppm": line.spare_ppm} for line in per_unit]
    packs = (("0.5 kg", 500, "40"), ("2.5 kg", 2500, "150"))
    quotes = [
        {"typed_pack": typed, "pack_quantity": grams(holds), "price_micros": money(asks)}
        for typed, holds, asks in packs
    ]
    expenses = [
        {"kind": "pour", "number": 4, "each_micros": money(15)},
        {"kind": "certificate", "number": 1, "each_micros": money(90)},
    ]
    idea = scenarios.Idea(columns, parts, [] if known else quotes, expenses)
    return scenarios.keep(idea, signature=books.sign())
