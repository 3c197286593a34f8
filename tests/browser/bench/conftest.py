"""A run of ten candles, what it takes, and somebody who weighs it up."""

from datetime import timedelta

import pytest
from django.utils import timezone

from batches.models import Batch
from inventory.models import Lot
from tests.browser.at_the_bench import TABLET, AtTheBench
from tests.house import Books


@pytest.fixture
def shelf(books: Books) -> dict[str, Lot]:
    """Enough for ten candles, the wax in two lots, on their places."""
    today = timezone.now()
    books.item("fragrance", flash_point_mc=80_000, maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    sent = {"at": today - timedelta(days=9)}
    return {
        "wax": books.receive("wax", "700 g", cost=7, expires_on=today.date() + timedelta(days=90), **sent),
        "more": books.receive("wax", "5 kg", cost=50, **sent),
        "fragrance": books.receive("fragrance", "1 kg", cost=40, **sent),
        "wick": books.receive("wick", 100, cost=10, **sent),
        "vessel": books.receive("vessel", 50, cost=100, **sent),
    }


@pytest.fixture
def batch(books: Books, studio, shelf) -> Batch:
    """Ten candles: 920 g of wax, 80 g of fragrance, ten wicks, ten vessels; heated, stirred, poured."""
    process = {"heat_to_mc": 85_000, "fragrance_at_mc": 70_000, "pour_from_mc": 57_000, "pour_to_mc": 62_000}
    version = books.candle(**process, stir_minutes=2)
    return books.plan(version, 10, on=timezone.localdate())


@pytest.fixture
def bench(sit_down, owner, batch):
    return AtTheBench(sit_down(sign_in=owner, **TABLET), batch)
