"""Other ways to say what left and what is left, beside specific lots: first in first out, and averages.

The books follow the lots that were really taken. From the same stream of what came and went this works out what the usual
conventions would say. Exact fractions of the currency's millionths; plain arithmetic. Figures to compare by only: OpenStax,
Principles of Accounting Vol. 1, 10.2 and 10.3, has all of them side by side.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Inflow:
    """Base units that came, worth so many millionths, or (quantity 0) a cost that was added to what is there."""

    quantity: int
    value: int


@dataclass(frozen=True)
class Outflow:
    """Base units that left, and what the lots they were taken from say that they were worth."""

    quantity: int
    value: int


Event = Inflow | Outflow


@dataclass(frozen=True)
class MethodResult:
    """What left and what is left, in millionths: `cost` and `left` come to what was there and what came, exactly."""

    cost: Fraction
    left: Fraction


def specific(events: Sequence[Event]) -> MethodResult:
    """As the lots say that were taken."""
    cost = sum(event.value for event in events if isinstance(event, Outflow))
    came = sum(event.value for event in events if isinstance(event, Inflow))
    return MethodResult(Fraction(cost), Fraction(came - cost))


def first_in_first_out(events: Sequence[Event]) -> MethodResult:
    """What came first leaves first. The same whether it is worked out at each sale or at the end of the period."""
    layers: deque[_Layer] = deque()
    cost = Fraction(0)
    for event in events:
        if isinstance(event, Outflow):
            cost += _take(layers, event.quantity)
        elif event.quantity:
            layers.append(_Layer(event.quantity, event.quantity, Fraction(event.value)))
        elif layers:
            last = layers.pop()
            cost += last.gone
            layers.append(_Layer(last.left, last.left, last.value - last.gone + event.value))
        else:
            cost += event.value
    return MethodResult(
        cost + sum(each.gone for each in layers),
        sum((each.value - each.gone for each in layers), Fraction(0)),
    )


@dataclass
class _Layer:
    """What came at one time: base units, how many of them are left, and what all of them are worth."""

    quantity: int
    left: int
    value: Fraction

    @property
    def gone(self) -> Fraction:
        """What those that left are worth: asked when nothing more leaves, since each fraction takes its time."""
        return self.value * (self.quantity - self.left) / self.quantity


def _take(layers: deque[_Layer], quantity: int) -> Fraction:
    """Take from the oldest; what the layers cost that this used up."""
    cost = Fraction(0)
    while quantity and layers:
        taken = min(layers[0].left, quantity)
        layers[0].left -= taken
        quantity -= taken
        if not layers[0].left:
            cost += layers.popleft().value
    return cost


def moving_average(events: Sequence[Event]) -> MethodResult:
    """Whatever leaves costs what a unit was worth on average at that moment: the same until something comes again."""
    there, left, value, cost = 0, 0, Fraction(0), Fraction(0)
    for event in (*events, Inflow(0, 0)):
        if isinstance(event, Outflow):
            left = max(left - event.quantity, 0)
            continue
        gone = value * (there - left) / there if there else Fraction(0)
        there = left = left + event.quantity
        value, cost = value - gone + event.value, cost + gone
        if not there:
            value, cost = Fraction(0), cost + value
    return MethodResult(cost, value)


def periodic_average(events: Sequence[Event]) -> MethodResult:
    """One average for the whole period, over what was there at its beginning and all that came."""
    value = Fraction(sum(event.value for event in events if isinstance(event, Inflow)))
    came = sum(event.quantity for event in events if isinstance(event, Inflow))
    went = sum(event.quantity for event in events if isinstance(event, Outflow))
    cost = value * min(went, came) / came if came else value
    return MethodResult(cost, value - cost)


def turnover(cost: int | Fraction, opening: int | Fraction, closing: int | Fraction) -> Fraction | None:
    """How many times the average stock went out in the period; None where there was none. OpenStax, Vol. 1, 10.5."""
    average = Fraction(opening + closing) / 2
    return cost / average if average > 0 else None


def days_of_stock(turns: Fraction | None, days: int) -> Fraction | None:
    """How many days the average stock lasted; None where nothing went out."""
    return days / turns if turns else None
