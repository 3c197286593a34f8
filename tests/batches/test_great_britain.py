"""Great Britain as a market of its own: the rules it shares with the European Union, and books from before it."""

from importlib import import_module

import pytest
from django.apps import apps

from batches.fill_checks.checking import JUDGES, TOLERANCES, judged
from batches.models import FillCheck
from batches.records.net_label import least_height_um, net_label
from studio import guards
from studio.core.label_warnings import USUAL, standard_of, warning_words
from studio.models import Market, Studio
from tests.house import day, grams

pytestmark = pytest.mark.django_db


def test_every_market_has_every_rule():
    assert {*Market.values} == {"eu", "gb", "us"} == {*USUAL}
    assert {*JUDGES} == {*TOLERANCES} == {*Market}


@pytest.mark.parametrize(
    ("declared", "tolerated"), [("75", "4.5"), ("170", "7.7"), ("220", "9"), ("453", "13.6"), ("500", "15")]
)
def test_the_average_system_holds_in_great_britain(declared, tolerated):
    # LEG-76 2.4 and SI 2006/659, worked in checks section 2.2 (R, D).
    assert TOLERANCES[Market.GB](grams(declared)) == grams(tolerated)


def test_a_fill_check_is_judged_as_in_the_european_union(books, shelf, version):
    batch = books.plan(version, 4)
    books.fill(shelf, batch, at=day(4))
    books.finish(batch, 4, at=day(5))

    british, european, american = (
        judged(books.check_fill(batch, ["101", "99.6", "100.2", "98"], declared="100 g", market=market))
        for market in ("gb", "eu", "us")
    )

    # 398.8 g in four is 99.7 g, below 100 g: the mean of all units has to reach it (SI 2006/659, Schedule 2).
    assert british == european != american
    assert british.verdict.name == "FAILED"


def test_the_label_puts_grams_first_and_warns_at_least_as_in_the_european_union():
    assert net_label(grams(227), "gb") == net_label(grams(227), "eu") != net_label(grams(227), "us")
    assert least_height_um(grams(220), "gb", 10**9) == least_height_um(grams(220), "eu", 10**9) == 4_000
    assert set(USUAL["gb"].sentences) >= set(USUAL["eu"].sentences)
    assert warning_words("gb") == warning_words("eu")
    assert "EN 15494" in standard_of("gb")


@pytest.mark.parametrize(
    ("market", "currency", "after"),
    [("eu", "GBP", "gb"), ("eu", "EUR", "eu"), ("us", "GBP", "us"), ("us", "USD", "us")],
)
def test_a_studio_in_pounds_is_taken_to_sell_in_great_britain(market, currency, after):
    data = import_module("studio.migrations.0007_market_by_currency")
    Studio.objects.create(pk=1, name="Ninefold Lane", market=market, currency=currency)

    data.part(apps, None)
    assert Studio.objects.get().market == after

    data.join(apps, None)
    assert Studio.objects.get().market == market


def test_going_back_a_check_of_great_britain_is_one_of_the_average_system(books, shelf, version):
    batch = books.plan(version, 2)
    books.fill(shelf, batch, 2, at=day(4))
    books.finish(batch, 2, at=day(5))
    checks = [
        books.check_fill(batch, ["101", "100"], declared="100 g", market=market) for market in ("gb", "us")
    ]

    guards.remove()
    import_module("batches.migrations.0020_one_average_system_again").join(apps, None)

    assert [FillCheck.objects.get(pk=check.pk).market for check in checks] == ["eu", "us"]
