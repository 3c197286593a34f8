"""What the tests of batches share: a shelf that ten candles are poured from, and books that agree in the end.

The candle is 100 g of melt: 92 g of wax and 8 g of fragrance, one wick, one vessel. Wax is 5.00 a kilogram,
fragrance 40.00 a kilogram, a wick 0.10, a vessel 2.00.
"""

import pytest

from batches import checks as batch_checks
from inventory import checks


@pytest.fixture
def shelf(books):
    return {
        "wax": books.receive("wax", "10 kg", cost=50),
        "fragrance": books.receive("fragrance", "1 kg", cost=40),
        "wick": books.receive("wick", 100, cost=10),
        "vessel": books.receive("vessel", 50, cost=100),
    }


@pytest.fixture
def version(books):
    return books.candle()


@pytest.fixture
def agreeing(db):
    """Proves the books after the test."""
    yield
    every = (*checks.CHECKS, *batch_checks.CHECKS)
    assert [said for check in every if check is not checks.guards_in_place for said in check()] == []
