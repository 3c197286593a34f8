"""How much to order of whom: what a year costs at every offer and price break, in whole packs.

A year's cost is what is bought, plus placing the orders and their freight, plus what lies on the shelf: half an order on
average, at the carrying rate. Price breaks are all-units: every pack has the price of the break reached (Snyder and Shen,
Fundamentals of Supply Chain Theory, 2nd ed., section 3.4). Within a break, and above or below where freight is free, the
cost is convex, so its least over whole packs lies at the economic quantity rounded down or up, or at an end. Everything is
exact: whole base units, millionths of the currency, fractions. Plain Python.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import isqrt

from inventory.replenishment.arithmetic import WHOLE

FREIGHT_IS_FREE = "freight is free from so many on"


@dataclass(frozen=True)
class PackOffer:
    """A pack a supplier sells: its size in base units, the least packs of an order, and breaks (from packs, price).

    `freight` of an order in millionths, nothing from goods of `free_from` on.
    """

    key: int
    pack: int
    least_packs: int
    breaks: tuple[tuple[int, int], ...]
    freight: int = 0
    free_from: int | None = None

    def price_of(self, packs: int) -> int:
        """What a pack costs when so many are bought."""
        return next((price for begins, price in reversed(self.breaks) if begins <= packs), self.breaks[0][1])


@dataclass(frozen=True)
class Limits:
    """Between what an order may lie, in base units: at least `least`, at most `most`, each with its reason."""

    least: int = 0
    most: int | None = None
    because: str = ""
    least_because: str = "the least that brings the stock back"


# A year's use in base units, what placing an order costs in millionths, the carrying rate in ppm.
Costs = tuple[Fraction, int, int]


@dataclass(frozen=True)
class Option:
    """One way to buy: so many packs of one offer at one price. Money in millionths; a year's costs are fractions.

    `yearly` and its parts are None where nothing tells a year's use. `too_much` is by how many base
    units even the smallest order is above the limit, `too_little` what it lacks of what should come at least.
    `why_so_many` says what decided the number of packs.
    """

    key: int
    packs: int
    pack: int
    price: int
    freight: int
    yearly: Fraction | None
    ordering: Fraction | None
    holding: Fraction | None
    why_so_many: str
    too_much: int = 0
    too_little: int = 0

    @property
    def quantity(self) -> int:
        """In base units."""
        return self.packs * self.pack

    @property
    def goods(self) -> int:
        """What the packs cost, in millionths."""
        return self.packs * self.price

    @property
    def tied_up(self) -> Fraction:
        """What lies on the shelf on average, in millionths: half an order."""
        return Fraction(self.goods, 2)


def options(
    offers: Iterable[PackOffer],
    *,
    yearly: Fraction,
    order_cost: int | None,
    carrying_ppm: int,
    limits: Limits = Limits(),  # frozen
    cover: int = 0,
) -> list[Option]:
    """The best order of every offer at every price, the cheapest first.

    `yearly` is a year's use in base units, `order_cost` what placing one order costs. Where that is not known, an order
    covers at least `cover` base units, and a year is told without the cost of placing orders. Where nothing tells a
    year's use, the order that covers it for the least money is the best. Where the limits leave room for no order of an
    offer, its smallest is given, last, and by how much it is too much. What may be bought at most comes before what
    should be bought at least.
    """
    if (order_cost is None or not yearly) and cover > limits.least:
        limits = replace(limits, least=cover, least_because="what four weeks use")
    costs = (yearly, order_cost or 0, carrying_ppm) if yearly else None
    found: dict[tuple[int, int], Option] = {}
    for offer in offers:
        orders = [
            _best(offer, piece, costs, limits)
            if costs
            else _option(offer, piece, piece.first, None, piece.at_first, limits)
            for piece in _pieces(offer, limits)
        ]
        for option in sorted(orders or [_smallest(offer, costs, limits)], key=_rank):
            found.setdefault((option.key, option.price), option)
    return sorted(found.values(), key=_rank)


def _rank(option: Option) -> tuple[Fraction | int | bool, ...]:
    first = option.goods + option.freight if option.yearly is None else option.yearly
    return option.too_much > 0, option.too_little > 0, first, option.quantity, option.key


@dataclass(frozen=True)
class _Piece:
    """Orders of `first` to `last` packs (None: any number) that cost the same a pack and the same freight."""

    first: int
    last: int | None
    price: int
    freight: int
    at_first: str
    at_last: str


def _pieces(offer: PackOffer, limits: Limits) -> Iterator[_Piece]:
    """The stretches of an offer within its limits in which only the number of packs differs."""
    lowest = -(-limits.least // offer.pack)
    highest = None if limits.most is None else limits.most // offer.pack
    if highest is not None:
        lowest = min(lowest, highest)
    ends: Sequence[int | None] = [packs - 1 for packs, _ in offer.breaks[1:]] + [None]
    for (begins, price), ends_at in zip(offer.breaks, ends, strict=True):
        first = max(begins, offer.least_packs, 1)
        why = f"the price from {begins} packs on" if begins > offer.breaks[0][0] else "the smallest order"
        cuts = [(first, why, offer.freight)]
        if offer.free_from is not None and offer.freight and price:
            free = -(-offer.free_from // price)
            if free <= first:
                cuts = [(first, why, 0)]
            elif ends_at is None or free <= ends_at:
                cuts.append((free, FREIGHT_IS_FREE, 0))
        for number, (start, reason, freight) in enumerate(cuts):
            end = cuts[number + 1][0] - 1 if number + 1 < len(cuts) else ends_at
            at_last = "the most before the price or the freight changes"
            if highest is not None and (end is None or highest < end):
                end, at_last = highest, limits.because
            if lowest > start:
                start, reason = lowest, f"{limits.least_because}, in whole packs"
            if end is None or start <= end:
                yield _Piece(start, end, price, freight, reason, at_last)


def _option(
    offer: PackOffer,
    piece: _Piece,
    packs: int,
    costs: Costs | None,
    why: str,
    limits: Limits,
) -> Option:
    """With `costs` (a year's use, the cost of an order, the carrying rate) what a year comes to."""
    ordering = holding = total = None
    if costs:
        yearly, order_cost, carrying_ppm = costs
        ordering = yearly / (packs * offer.pack) * (order_cost + piece.freight)
        holding = Fraction(packs * piece.price * carrying_ppm, 2 * WHOLE)
        total = yearly * piece.price / offer.pack + ordering + holding
    quantity = packs * offer.pack
    too_much = 0 if limits.most is None else max(quantity - limits.most, 0)
    too_little = max(limits.least - quantity, 0)
    bought = (offer.key, packs, offer.pack, piece.price, piece.freight)
    return Option(*bought, total, ordering, holding, why, too_much, too_little)


def _best(offer: PackOffer, piece: _Piece, costs: Costs, limits: Limits) -> Option:
    """The cheapest number of packs of one piece."""
    yearly, order_cost, carrying_ppm = costs
    under = offer.pack * piece.price * carrying_ppm
    if under:
        square = 2 * yearly * (order_cost + piece.freight) * WHOLE / under
        economic = isqrt(square.numerator // square.denominator)
    else:
        # What costs nothing to keep is bought for as long as may be: a year, where nothing else limits it.
        economic = -(-yearly.numerator // (yearly.denominator * offer.pack))
    last = max(economic + 1, piece.first) if piece.last is None else piece.last
    found = []
    for packs in {min(max(each, piece.first), last) for each in (economic, economic + 1)}:
        why = "the cheapest between ordering often and holding much"
        if packs == piece.first and packs > economic:
            why = piece.at_first
        elif packs == piece.last and packs <= economic:
            why = piece.at_last
        found.append(_option(offer, piece, packs, costs, why, limits))
    return min(found, key=_rank)


def _smallest(offer: PackOffer, costs: Costs | None, limits: Limits) -> Option:
    packs = max(offer.least_packs, offer.breaks[0][0], 1)
    price = offer.price_of(packs)
    free = offer.free_from is not None and packs * price >= offer.free_from
    piece = _Piece(packs, packs, price, 0 if free else offer.freight, "", "")
    return _option(offer, piece, packs, costs, "the smallest order there is", limits)
