"""What the tests of locks share: a blend of wax alone that a batch is planned of, and books that agree in the end."""

import pytest

from tests.concurrency.overlap import Pause
from tests.house import grams
from tests.inventory.test_concurrency import books_agree


@pytest.fixture
def pause():
    return Pause()


@pytest.fixture
def wax(books):
    """10 kg for 100.00."""
    return books.receive("wax", "10 kg", cost=100)


@pytest.fixture
def blend(books, wax):
    """A version that is nothing but wax."""
    return books.formula("blend", [("wax", "wax_share", 1_000_000)])


@pytest.fixture
def batch(books, blend):
    """1 kg of the blend, planned."""
    return books.plan(blend, grams(1_000))


@pytest.fixture
def both(books):
    """Two lots of 1,000 wicks: 10.00 and 20.00."""
    return books.receive("wick", 1_000, cost=10), books.receive("wick", 1_000, cost=20)


@pytest.fixture(autouse=True)
def agreeing(transactional_db):
    """Proves the books after each test."""
    yield
    assert books_agree()
