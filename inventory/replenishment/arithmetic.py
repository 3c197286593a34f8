"""The arithmetic of reordering, as in any operations textbook. Plain numbers in, floats out.

Quantities are in any one unit, times in any one unit of time; both must be the same throughout a call. Demand and lead
time are taken as normal and independent: reorder point = d·L + z·√(L·σd² + d²·σL²), which is d·L + z·σd·√L where the
lead time does not vary and d·L + z·d·σL where demand does not (Stevenson, Operations Management, ch. 13; Taylor,
Introduction to Management Science, ch. 16).

Where use comes in lumps, two things are added, both from memory: by how much one day's use takes the level below the
reorder point before anybody can order (the undershoot of renewal theory; Tijms and Groenevelt, Simple approximations for
the reorder point, EJOR 17, 1984), and that few large uses make a skew distribution, for which a gamma one is taken
(Burgin, The gamma distribution and inventory control, ORQ 26, 1975).
"""

from math import ceil, hypot, isfinite, sqrt
from statistics import NormalDist

WHOLE = 1_000_000
DAYS_IN_A_YEAR = 365
_NORMAL = NormalDist()


def z_of(service_ppm: int) -> float:
    """How many standard deviations above the mean keep this share of order cycles, in ppm, from running out."""
    return _NORMAL.inv_cdf(service_ppm / WHOLE)


def spread_over(demand_sd: float, demand: float, lead: float, lead_sd: float = 0.0) -> float:
    """The standard deviation of what is used while one waits, with demand and lead time both varying."""
    return sqrt(lead * demand_sd**2 + demand**2 * lead_sd**2)


def safety_stock(z: float, spread: float) -> float:
    """What is kept beyond the mean; `spread` is the standard deviation over the time to be bridged."""
    return z * spread


def reorder_point(
    z: float, *, demand: float, demand_sd: float = 0.0, lead: float, lead_sd: float = 0.0
) -> float:
    """The level at which to order: what is used while one waits, and the safety stock."""
    return demand * lead + safety_stock(z, spread_over(demand_sd, demand, lead, lead_sd))


def skewed(z: float, mean: float, spread: float) -> float:
    """What is not exceeded as often as a normal figure stays below `z`, by a gamma distribution of this mean and spread.

    By the cube root that makes it all but normal (Wilson and Hilferty, The distribution of chi-square, PNAS 17, 1931; from
    memory): from a spread as wide as 1.4 means down it is within 3 % between 80 and 99.9 %.
    """
    if not mean or not spread:
        return mean
    ninth = (spread / mean) ** 2 / 9
    return mean * max(1 - ninth + z * sqrt(ninth), 0.0) ** 3


def lumpy_reorder_point(
    z: float,
    *,
    demand: float,
    demand_sd: float,
    lead: float,
    lead_sd: float = 0.0,
    below: float,
    below_sd: float,
) -> float:
    """The level at which to order where use comes in lumps. `below` is by how much one day's use takes the level below it
    on average, `below_sd` the spread of that."""
    spread = hypot(spread_over(demand_sd, demand, lead, lead_sd), below_sd)
    return skewed(z, demand * lead + below, spread)


def order_up_to(z: float, *, demand: float, demand_sd: float, review: float, lead: float) -> float:
    """The level to order up to when orders are only placed every `review`: the fixed interval model."""
    return reorder_point(z, demand=demand, demand_sd=demand_sd, lead=review + lead)


def economic_quantity(
    yearly: float, order_cost: float, holding: float, made_at: float | None = None
) -> float | None:
    """The quantity at which ordering and holding cost the least together; None where holding costs nothing.

    `holding` is what one unit costs on the shelf for a year. With `made_at`, a year's rate of making, the lot comes in
    bit by bit while it is used (the economic production lot). Raises ValueError when it is made slower than used.
    """
    if made_at is not None:
        if made_at <= yearly:
            raise ValueError("More is used than can be made.")
        holding *= 1 - yearly / made_at
    if holding <= 0:
        return None
    return sqrt(2 * yearly * order_cost / holding)


def yearly_cost(
    quantity: float, *, yearly: float, order_cost: float, holding: float, made_at: float | None = None
) -> float:
    """What ordering and holding cost in a year at a quantity, goods left out."""
    share = 1 - yearly / made_at if made_at is not None else 1.0
    return order_cost * yearly / quantity + holding * share * quantity / 2


def up(figure: float) -> int:
    """A float as whole base units, rounded up, so that nothing is left short; a hair above a whole number is that number.

    Raises ValueError for what is no number.
    """
    if not isfinite(figure):
        raise ValueError("This is no quantity.")
    nearest = round(figure)
    return nearest if abs(figure - nearest) <= 1e-9 * max(abs(figure), 1) else ceil(figure)
