"""How far apart chance alone would set things: ranks, permutation tests, intervals, and several tests at once.

Plain Python over readings and shares, which are statistics and not books, so floats are in order. Tests take whole runs:
`outcomes` has one figure for each run, and chance is what comes of shuffling these figures among the runs of one
stratum (one formula, say), so that what sets the strata apart is never taken for an effect. All of it is common
practice written from memory; the tests hold it against an independent implementation.
"""

import math
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, product
from operator import mul
from random import Random

# Every arrangement is looked at where there are so few; else so many are drawn, fewer once that many of them were as
# far apart (Besag and Clifford 1991, Sequential Monte Carlo p-values).
ARRANGEMENTS_AT_MOST = 5_000
DRAWN_AT_MOST = 1_999
HITS_ENOUGH = 50
SEED = 9
# Beyond so many runs what shuffling comes to is known well enough by its mean and variance.
SHUFFLED_AT_MOST = 300
# The 97.5 % point of the normal distribution, for intervals of 95 %.
NORMAL_975 = 1.959963984540054
# Figures closer than this are one: sums in another order differ in the last place.
SAME = 1e-9


@dataclass(frozen=True)
class Tested:
    """How a test came out: the chance of something as far apart by chance alone, how far apart it is, and of how many.

    `apart` is a rank correlation from −1 to 1, or for groups the share of the ranks' spread that lies between them.
    `p` is None where nothing can be told: all figures alike, or nothing to compare within a stratum.
    """

    p: float | None
    apart: float
    runs: int


def midranks(figures: Sequence[float]) -> list[float]:
    """Ranks from 1; figures that are alike share the mean of their ranks."""
    order = sorted(range(len(figures)), key=figures.__getitem__)
    ranks = [0.0] * len(figures)
    start = 0
    while start < len(order):
        end = start
        while end + 1 < len(order) and figures[order[end + 1]] == figures[order[start]]:
            end += 1
        for place in range(start, end + 1):
            ranks[order[place]] = (start + end) / 2 + 1
        start = end + 1
    return ranks


def less_their_mean(figures: Sequence[float], strata: Sequence[Hashable]) -> list[float]:
    """Each figure less the mean of its stratum."""
    sums: dict[Hashable, float] = {}
    for figure, stratum in zip(figures, strata, strict=True):
        sums[stratum] = sums.get(stratum, 0.0) + figure
    sizes = Counter(strata)
    return [figure - sums[stratum] / sizes[stratum] for figure, stratum in zip(figures, strata, strict=True)]


def rank_test(causes: Sequence[float], outcomes: Sequence[float], strata: Sequence[Hashable]) -> Tested:
    """Whether outcomes rise or fall with a cause: Spearman's rank correlation, within strata.

    Ranks are taken over all runs, then less the mean of the stratum: with one stratum this is Spearman's own. Two-sided.
    """
    order = _comparable(causes, strata)
    strata = [strata[place] for place in order]
    first = less_their_mean(midranks([causes[place] for place in order]), strata)
    second = less_their_mean(midranks([outcomes[place] for place in order]), strata)
    wide = math.sqrt(math.fsum(map(mul, first, first)) * math.fsum(map(mul, second, second)))
    if wide < SAME:
        return Tested(None, 0.0, len(order))
    apart = math.fsum(map(mul, first, second)) / wide

    if len(order) > SHUFFLED_AT_MOST:
        variance = math.fsum(
            spread * _squares(first, places) for places, spread in _spreads(second, strata).items()
        )
        p = math.erfc(abs(apart) * wide / math.sqrt(2 * variance))
    else:
        p = _chance(second, strata, lambda shuffled: abs(sum(map(mul, first, shuffled))) / wide)
    return Tested(p, apart, len(order))


def group_test(groups: Sequence[Hashable], outcomes: Sequence[float], strata: Sequence[Hashable]) -> Tested:
    """Whether outcomes differ among groups, within strata: the spread of the groups' mean ranks.

    With one stratum this is the test of Kruskal and Wallis, and with two groups of yes and no Fisher's exact test.
    """
    order = _comparable(groups, strata)
    strata = [strata[place] for place in order]
    names = {name: number for number, name in enumerate(dict.fromkeys(groups[place] for place in order))}
    numbers = [names[groups[place]] for place in order]
    ranks = less_their_mean(midranks([outcomes[place] for place in order]), strata)
    wide = math.fsum(map(mul, ranks, ranks))
    if wide < SAME:
        return Tested(None, 0.0, len(order))
    sizes = Counter(numbers)

    def between(shuffled: Sequence[float]) -> float:
        sums = [0.0] * len(names)
        for number, rank in zip(numbers, shuffled, strict=True):
            sums[number] += rank
        return sum(total * total / sizes[number] for number, total in enumerate(sums)) / wide

    many = len(order) > SHUFFLED_AT_MOST
    p = _mean_scores(numbers, ranks, strata) if many else _chance(ranks, strata, between)
    return Tested(p, between(ranks), len(order))


def _comparable(causes: Sequence[Hashable], strata: Sequence[Hashable]) -> list[int]:
    """The places of runs, stratum by stratum, in which the cause is not the same for all.

    The others say nothing about it.
    """
    met: dict[Hashable, list[int]] = {}
    for place, stratum in enumerate(strata):
        met.setdefault(stratum, []).append(place)
    telling = (places for places in met.values() if len({causes[place] for place in places}) > 1)
    return list(chain.from_iterable(telling))


def _squares(figures: Sequence[float], places: range) -> float:
    return math.fsum(figures[place] ** 2 for place in places)


def _strata(strata: Sequence[Hashable]) -> list[range]:
    """The places of each stratum, where runs are sorted by it."""
    starts = [place for place, each in enumerate(strata) if not place or strata[place - 1] != each]
    return [range(start, end) for start, end in zip(starts, [*starts[1:], len(strata)], strict=True)]


def _spreads(ranks: Sequence[float], strata: Sequence[Hashable]) -> dict[range, float]:
    """Of each stratum of two or more: the variance of its ranks, over n − 1."""
    return {
        places: _squares(ranks, places) / (len(places) - 1) for places in _strata(strata) if len(places) > 1
    }


def _chance(
    ranks: Sequence[float], strata: Sequence[Hashable], statistic: Callable[[Sequence[float]], float]
) -> float:
    """The share of arrangements whose statistic is no smaller than the one met with; a large one is far apart."""
    places = _strata(strata)
    least = statistic(ranks) - SAME
    pools = [Counter(ranks[place] for place in each) for each in places]
    ways = math.prod(_ways(pool) for pool in pools)
    if ways <= ARRANGEMENTS_AT_MOST:
        parts = [list(_arrangements(pool, pool.total())) for pool in pools]
        return sum(statistic(list(chain(*each))) >= least for each in product(*parts)) / ways
    rng = Random(SEED)  # noqa: S311 — the same page says the same every time
    bases = [number for number, each in enumerate(places) for _ in each]
    hits = 0
    for drawn in range(1, DRAWN_AT_MOST + 1):
        keys = [base + rng.random() for base in bases]
        shuffled = [ranks[place] for place in sorted(range(len(keys)), key=keys.__getitem__)]
        hits += statistic(shuffled) >= least
        if hits == HITS_ENOUGH:
            return hits / drawn
    return (hits + 1) / (DRAWN_AT_MOST + 1)


def _ways(pool: Counter[float]) -> int:
    return math.factorial(pool.total()) // math.prod(math.factorial(times) for times in pool.values())


def _arrangements(pool: Counter[float], length: int) -> Iterator[tuple[float, ...]]:
    """Every order of the figures, those that look alike once."""
    if not length:
        yield ()
        return
    for figure in list(pool):
        if pool[figure]:
            pool[figure] -= 1
            for rest in _arrangements(pool, length - 1):
                yield (figure, *rest)
            pool[figure] += 1


def _mean_scores(numbers: Sequence[int], ranks: Sequence[float], strata: Sequence[Hashable]) -> float:
    """What shuffling within strata comes to for many runs: the groups' sums against their covariance, as chi-square.

    The mean score statistic of Mantel; with one stratum that of Kruskal and Wallis. The sums hang together, so the
    covariance is worked off row by row and rows that say nothing new are passed over.
    """
    many = max(numbers) + 1
    sums, covariance = [0.0] * many, [[0.0] * many for _ in range(many)]
    for number, rank in zip(numbers, ranks, strict=True):
        sums[number] += rank
    for places, spread in _spreads(ranks, strata).items():
        sizes = Counter(numbers[place] for place in places)
        for one, many_of_one in sizes.items():
            covariance[one][one] += spread * many_of_one
            for other, many_of_other in sizes.items():
                covariance[one][other] -= spread * many_of_one * many_of_other / len(places)
    least = SAME * max(covariance[each][each] for each in range(many))
    apart, freedom = 0.0, 0
    for row in range(many):
        pivot = covariance[row][row]
        if pivot <= least:
            continue
        apart += sums[row] ** 2 / pivot
        freedom += 1
        for below in range(row + 1, many):
            factor = covariance[below][row] / pivot
            sums[below] -= factor * sums[row]
            covariance[below] = [
                mine - factor * theirs
                for mine, theirs in zip(covariance[below], covariance[row], strict=True)
            ]
    return chi_square_tail(apart, freedom)


def chi_square_tail(figure: float, freedom: int) -> float:
    """The chance of a chi-square of so many degrees of freedom, at least one, beyond a figure."""
    half = figure / 2
    first = 0.5 if freedom % 2 else 0.0
    powers = (first + number for number in range(freedom // 2))
    terms = (
        math.fsum(math.exp(power * math.log(half) - math.lgamma(power + 1) - half) for power in powers)
        if half
        else (1.0 if freedom > 1 and not first else 0.0)
    )
    return min((math.erfc(math.sqrt(half)) if first else 0.0) + terms, 1.0)


def together(chances: Sequence[float]) -> list[float]:
    """The same chances where as many things were tested at once, in their order.

    Holm 1979, A simple sequentially rejective multiple test procedure: the smallest times their number, the next times
    one less, none below the one before it, none above 1.
    """
    adjusted, highest = [0.0] * len(chances), 0.0
    for done, place in enumerate(sorted(range(len(chances)), key=chances.__getitem__)):
        highest = max(highest, min(chances[place] * (len(chances) - done), 1.0))
        adjusted[place] = highest
    return adjusted


def wilson(hits: float, of: float) -> tuple[float, float]:
    """The interval of 95 % about a share: Wilson 1927, without correction for continuity. `of` is above 0."""
    share, square = hits / of, NORMAL_975**2
    middle = (share + square / (2 * of)) / (1 + square / of)
    half = NORMAL_975 / (1 + square / of) * math.sqrt(share * (1 - share) / of + square / (4 * of * of))
    # At no hits and at nothing but hits the end is the end, but for the last place.
    return (max(middle - half, 0.0) if hits else 0.0), (min(middle + half, 1.0) if hits < of else 1.0)


def crowding(runs: Iterable[tuple[int, int]]) -> float:
    """How many units of a run tell as much as one that stands alone: the design effect of Kish, at least 1.

    `runs` are hits and units of each. Units of one run share a pot and a day: the variance of a share from run to run
    over the one that units alone would give.
    """
    pairs = [(hits, units) for hits, units in runs if units]
    units = sum(of for _, of in pairs)
    share = sum(hits for hits, _ in pairs) / units if units else 0.0
    if len(pairs) < 2 or not 0 < share < 1:
        return 1.0
    squares = math.fsum((hits - share * of) ** 2 for hits, of in pairs)
    return max(len(pairs) / (len(pairs) - 1) * squares / (units * share * (1 - share)), 1.0)
