"""Overhead charged to batches, month by month: the one figure beside what overhead really came to.

Charged is what batches bear by then, those still in progress and those that came to nothing among them, as in the cost of
goods; what is charged otherwise later, as when a batch is opened again after its month was closed, falls to the month in
which that happened. Applied overhead in OpenStax, Principles of Accounting Vol. 2, 4.6.
"""

from collections.abc import Sequence
from datetime import date

from costing.rates.rates import Rates
from costing.valuation.facts import BatchFacts
from costing.valuation.ledger_as_of import Instant
from studio.core.days import begin, first_instant_after


def overhead_charged(months: Sequence[date], through: date, rates: Rates) -> dict[date, int]:
    """Millionths charged in each month, by its first day; in the last one up to a day. A few queries for each month.

    `months` are first days of months one after another, in order.
    """
    starts = [begin(month) for month in months]
    edges = [*starts, first_instant_after(through)]
    upto = [BatchFacts(Instant(edge), rates).added.overhead for edge in edges] if months else []
    return {month: upto[place + 1] - upto[place] for place, month in enumerate(months)}
