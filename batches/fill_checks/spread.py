"""Mean and standard deviation of weights, exact as far as they can be: a root is the only thing that is rounded."""

from collections.abc import Sequence
from decimal import Decimal, localcontext
from fractions import Fraction

# Figures a square root is worked out to.
DIGITS = 28


def mean(figures: Sequence[int | Fraction]) -> Fraction:
    """The arithmetic mean, in the unit of the figures. There is at least one."""
    return Fraction(sum(figures), len(figures))


def variance(figures: Sequence[int | Fraction]) -> Fraction | None:
    """The square of the sample standard deviation (over n − 1); None for fewer than two figures."""
    if len(figures) < 2:
        return None
    middle = mean(figures)
    return sum(((figure - middle) ** 2 for figure in figures), Fraction(0)) / (len(figures) - 1)


def root(square: Fraction) -> Decimal:
    """The square root, to 28 figures. `square` is not below zero."""
    with localcontext() as context:
        context.prec = DIGITS
        return (Decimal(square.numerator) / Decimal(square.denominator)).sqrt()


def deviation(figures: Sequence[int | Fraction]) -> Decimal | None:
    """The sample standard deviation; None for fewer than two figures."""
    square = variance(figures)
    return None if square is None else root(square)
