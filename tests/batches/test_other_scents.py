"""Scents that recovered melt brings into a batch are named where the label is drawn up and checked."""

import pytest

from batches.lineage.other_scents import other_scents
from batches.models import FormulaVersion
from batches.production.finishing import Recovered
from inventory.models import Lot
from tests.house import day, grams

pytestmark = pytest.mark.django_db


def test_the_scent_in_recovered_melt_is_named_with_the_words_it_came_from(books):
    shelf = {name: books.receive(name, "2 kg", cost=20) for name in ("wax", "fragrance")}
    shelf |= {name: books.receive(name, 40, cost=10) for name in ("wick", "vessel")}
    cedar = books.candle()
    FormulaVersion.objects.filter(pk=cedar.pk).update(label_words="Contains limonene.")
    batch = books.plan(cedar, 10)
    books.fill(shelf, batch, at=day(10))
    melt = books.item("Cedar melt", kind="wax", made_here=True)
    books.finish(batch, good=5, recovered=[Recovered(melt, grams(500))], at=day(10), release=False)
    lines = [("Cedar melt", "wax_share", 250_000), ("wax", "wax_share", 750_000)]
    tin = books.plan(books.formula("Tin", lines, fill="100 g", name="Tin"), 10)
    books.draw_into(tin, (Lot.objects.get(item=melt), "250 g"), at=day(11))
    books.draw_into(tin, (shelf["wax"], "750 g"), at=day(11))

    found = other_scents(tin)

    # 250 g of 1,000 g hold 20 g of fragrance: 2 % of the melt.
    assert found.words.replace("\N{NO-BREAK SPACE}", " ") == "fragrance 2 % of the melt"
    assert [version.label_words for version in found.words_of] == ["Contains limonene."]
    # The batch it came from, and one beside it, brought nothing in from anywhere.
    assert not other_scents(batch).any


def test_melt_of_which_nothing_is_known_is_said(books):
    books.item("Old melt", kind="wax", made_here=True)
    lot = books.receive("Old melt", "1 kg", cost=1)
    tin = books.plan(
        books.formula("Tin", [("Old melt", "wax_share", 1_000_000)], fill="100 g", name="Tin"), 1
    )
    books.draw_into(tin, (lot, "100 g"))

    found = other_scents(tin)

    assert (found.scents, found.words_of) == ((), ())
    assert lot.spaced_code in found.unknown
