"""Exact chances of as many bad pieces by luck alone, for pieces that share loads and are not independent.

Inside a load: the number bad of each load is taken as given, and every choice of that many of its pieces as equally
likely. So a load that went wrong as a whole accuses no place. Between loads: each load keeps its pieces and its number
bad, and every assignment of the loads to labels is equally likely. No test simulates: the smallest chance that a
simulation can find would never pass a later look.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import accumulate
from typing import TypeVar

from floor.dataclass import dataclass
from floor.figures.convolution import convolve
from floor.figures.distributions import hypergeometric_pmf

MOST_RANKS = 10_000
"""Most different rank sums that are told apart; above, halves of loads are compared."""
_MOST_STEPS = 100_000
"""Most steps spent on the exact sums of loads before they are rounded more coarsely."""
_MOST_LOADS = 900
"""Most loads that differ from the usual one: ways to choose among more do not fit a float."""

Row = Sequence[float]
Label = TypeVar("Label")


@dataclass(frozen=True, slots=True)
class Draw:
    """A load as an urn: ``bad`` of its ``pieces`` are drawn, ``marked`` of them lie in the group that is tested."""

    pieces: int
    marked: int
    bad: int


def compute_group_tail(found: int, draws: Mapping[Draw, int]) -> float:
    """Chance that a group of places has ``found`` or more bad pieces: a sum of hypergeometric counts.

    Right to about 1e-12 of itself; below 1e-25 it may be told as less.

    Args:
        found: Bad pieces in the group, over all loads.
        draws: How many loads there are of each kind.
    """
    sure = 0
    open_draws = []
    for draw, count in draws.items():
        least = max(0, draw.bad + draw.marked - draw.pieces)
        sure += count * least
        if min(draw.bad, draw.marked) > least:
            open_draws.append((draw.pieces, draw.marked, draw.bad, count))
    if found <= sure:
        return 1.0
    tails = _find_group_tails(tuple(sorted(open_draws)))
    return tails[found - sure] if found - sure < len(tails) else 0.0


@lru_cache(maxsize=512)
def _find_group_tails(draws: tuple[tuple[int, int, int, int], ...]) -> Row:
    return _sum_tails([_multiply(_draw_row(*draw), count) for *draw, count in draws])


@lru_cache(maxsize=4096)
def _draw_row(pieces: int, marked: int, bad: int) -> Row:
    return hypergeometric_pmf(pieces, marked, bad)[1]


def compute_order_tail(rank_sum: int, loads: Mapping[tuple[int, int], int]) -> float | None:
    """Chance that the ranks of the bad pieces, 1 for the first of a load, add up to ``rank_sum`` or more.

    Wilcoxon's rank sum, stratified by load.

    Args:
        rank_sum: Over all loads.
        loads: How many loads there are of each (pieces, bad).

    Returns:
        None if there are more than `MOST_RANKS` different sums.
    """
    if sum(count * bad * (pieces - bad) for (pieces, bad), count in loads.items()) > MOST_RANKS:
        return None
    least = sum(count * bad * (bad + 1) // 2 for (_, bad), count in loads.items())
    if rank_sum <= least:
        return 1.0
    tails = _find_order_tails(tuple(sorted((*load, count) for load, count in loads.items())))
    return tails[rank_sum - least] if rank_sum - least < len(tails) else 0.0


def compute_trend_tail(rising: int, ties: Iterable[Sequence[int]]) -> float | None:
    """Chance that at least so many pairs of values rise from the earlier to the later, if all orders are as likely.

    Kendall's test, exact with ties: in each series the values of one size, among those up to that size, have a rank
    sum that is independent of all others, and the pairs that rise are what these are above the least.

    Args:
        rising: Pairs inside a series whose later value is the greater one, over all series.
        ties: For each series, how many values there are of each size.

    Returns:
        None if there are more than `MOST_RANKS` pairs of different values.
    """
    loads: Counter[tuple[int, int]] = Counter()
    for sizes in ties:
        loads.update(zip(accumulate(sizes), sizes, strict=True))
    least = sum(count * size * (size + 1) // 2 for (_, size), count in loads.items())
    return compute_order_tail(least + rising, loads)


@lru_cache(maxsize=64)
def _find_order_tails(loads: tuple[tuple[int, int, int], ...]) -> Row:
    return _sum_tails([_multiply(_rank_sum_row(pieces, bad), count) for pieces, bad, count in loads])


@lru_cache(maxsize=1024)
def _rank_sum_row(pieces: int, bad: int) -> Row:
    """Chance of each rank sum from the least up: the Gaussian binomial coefficients over their total."""
    chosen = min(bad, pieces - bad)
    size = chosen * (pieces - chosen) + 1
    row = [1, *[0] * (size - 1)]
    for n in range(1, chosen + 1):
        for at in range(size - 1, pieces - chosen + n - 1, -1):
            row[at] -= row[at - (pieces - chosen + n)]
        for at in range(n, size):
            row[at] += row[at - n]
    total = math.comb(pieces, chosen)
    return [ways / total for ways in row]


def _sum_tails(rows: list[Row]) -> Row:
    """Chance of each sum or more, of one number from each row; short rows first, as that is quickest."""
    rows = sorted(rows, key=len)
    while len(rows) > 1:
        rows = [*(convolve(one, other) for one, other in zip(rows[::2], rows[1::2], strict=False)),
                *(rows[-1:] if len(rows) % 2 else [])]  # fmt: skip
    return list(accumulate(reversed(rows[0] if rows else [1.0])))[::-1]


def _multiply(row: Row, count: int) -> Row:
    """The law of the sum of so many numbers of one law."""
    result: Row = [1.0]
    while count:
        if count % 2:
            result = convolve(result, row)
        count //= 2
        if count:
            row = convolve(row, row)
    return result


def compute_label_tails(loads: Sequence[tuple[int, int]], labels: Mapping[Label, Iterable[int]]) -> dict[Label, float]:
    """For each label, the chance that its loads are as bad or worse than they are, if labels were dealt out by luck.

    What is compared is the number bad beyond what the overall share lets expect of loads of that size. Where exact
    sums take too long, the excess of each load is rounded to a quarter piece, to a whole one, or to more or not more
    than expected; the chance is exact for what is compared then.

    Args:
        loads: (pieces, bad) of each.
        labels: Indices of the loads with each label.
    """
    pieces, bad = (sum(column) for column in zip(*loads, strict=True)) if loads else (0, 0)
    exact = [bad_here * pieces - size * bad for size, bad_here in loads]
    for unit in (1, pieces / 4, pieces, None):
        excess = [int(each > 0) if unit is None else round(each / unit) for each in exact]
        law = _find_label_law(tuple(sorted(Counter(excess).items())))
        if law:
            return {label: law.find_tail([excess[n] for n in group]) for label, group in labels.items()}
    raise AssertionError("two values always have a law")


@dataclass(frozen=True, slots=True)
class _LabelLaw:
    """The law of the sum over loads drawn without putting back, for any number drawn."""

    loads: int
    usual: int
    """The value most loads have. Values and sums are told from it."""
    unusual: int
    """Loads that have another."""
    sums: list[list[int]]
    """For each number of unusual loads among the drawn: their possible sums, rising."""
    tails: list[list[float]]
    """And the chance of each sum or more."""

    def find_tail(self, drawn: Sequence[int]) -> float:
        total = sum(drawn) - self.usual * len(drawn)
        least, row = hypergeometric_pmf(self.loads, self.unusual, len(drawn))
        chance = 0.0
        for unusual, here in enumerate(row, least):
            at = bisect_left(self.sums[unusual], total)
            if at < len(self.sums[unusual]):
                chance += here * self.tails[unusual][at]
        return min(1.0, chance)


@lru_cache(maxsize=256)
def _find_label_law(kinds: tuple[tuple[int, int], ...]) -> _LabelLaw | None:
    """From (excess, number of loads) of each kind; None if it would take too many steps."""
    loads = sum(count for _, count in kinds)
    usual = max(kinds, key=lambda kind: kind[1], default=(0, 0))[0]
    others = [(value - usual, count) for value, count in kinds if value != usual]
    unusual = sum(count for _, count in others)
    if len(others) == 1:
        value, count = others[0]
        return _LabelLaw(loads, usual, unusual, [[value * n] for n in range(count + 1)], [[1.0]] * (count + 1))
    ways = _count_ways(others) if unusual <= _MOST_LOADS else None
    if ways is None:
        return None
    sums = [sorted(row) for row in ways]
    tails = []
    for row, ordered in zip(ways, sums, strict=True):
        rising = list(accumulate(row[each] for each in reversed(ordered)))[::-1]
        tails.append([each / rising[0] for each in rising])
    return _LabelLaw(loads, usual, unusual, sums, tails)


def _count_ways(kinds: Sequence[tuple[int, int]]) -> list[dict[int, float]] | None:
    """For each number of loads, how many choices of so many have each sum; None if it would take too many steps."""
    ways: list[dict[int, float]] = [{0: 1.0}]
    steps = 0
    for value, count in kinds:
        steps += sum(map(len, ways)) * (count + 1)
        if steps > _MOST_STEPS:
            return None
        choices = [float(math.comb(count, n)) for n in range(count + 1)]
        longer: list[dict[int, float]] = [{} for _ in range(len(ways) + count)]
        for before, row in enumerate(ways):
            for total, number in row.items():
                for n, choice in enumerate(choices):
                    target = longer[before + n]
                    target[total + n * value] = target.get(total + n * value, 0.0) + number * choice
        ways = longer
    return ways
