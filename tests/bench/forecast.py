"""How far the chance to fill an order is off, over rework of every size, and how long the forecast takes.

Each chance is compared with the count of all cases at one operation, with exact fractions for a few pieces, and over
whole routes with drawn batches (`tests/figures/rework_count.py`). The error is that of the worst order.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from floor.figures.forecast import GoodCountDistribution, WorkInProcess, compute_good_count_distribution
from floor.figures.yields import Beta, OperationBelief
from tests.bench.quantity import best_ms
from tests.figures.rework_count import Station, counted_out, drawn_out, exactly_out, station

COUNTED = 300
DRAWN = 100
MANY, MOST = 250_000, 2_000_000
"""Batches drawn for a route, and for every tenth; the worst of 100 is off by 0.002 by the luck of the draw."""


def measure() -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): no ratios."""
    draw = random.Random(5)
    few = [_off(_law([at]), np.array([float(chance) for chance in exactly_out(at)])) for at in _alone(draw, 60, [3, 6])]
    one = [_off(_law([at]), counted_out(at)) for at in _alone(draw, COUNTED, [10, 50, 150, 201, 250, 400, 800, 1200])]
    routes = []
    for n in range(DRAWN):
        route = _route(draw)
        drawn = drawn_out(route, MOST if n % 10 == 0 else MANY, n)
        routes.append(_off(_law(route), np.bincount(drawn) / len(drawn)))
    known = station(0.98, 0.02, 0.5, 2, 30, (0, 0, 0, 0, 0), 221, 20)
    return {}, {
        "forecast_worst_error": max(*few, *one, *routes),
        "forecast_worst_error_few_pieces": max(few),
        "forecast_worst_error_one_operation": max(one),
        "forecast_worst_error_routes": max(routes),
        "forecast_mean_error_one_operation": float(np.mean(one)),
        "forecast_mean_error_routes": float(np.mean(routes)),
        "forecast_rework_hardly_known": _off(_law([known]), counted_out(known)),
        "forecast_large_ms": best_ms(_fresh(_large(0.0)), 3),
        "forecast_large_rework_ms": best_ms(_fresh(_large(0.02)), 3),
    }


def _alone(draw: random.Random, number: int, sizes: Sequence[int]) -> Iterator[Station]:
    """One operation each: from a yield of a half to one nearly sure, from a guess to a long experience."""
    for _ in range(number):
        yield _station(draw, draw.choice(sizes), draw.choice([0, 0, 1, 3, 20, 60]) if max(sizes) > 10 else 2)


def _station(draw: random.Random, waiting: int, in_rework: int, good: float | None = None) -> Station:
    good = good or draw.choice([0.5, 0.8, 0.9, 0.95, 0.98, 0.995])
    rework = round((1 - good) * draw.choice([0.2, 0.5, 0.9, 1.0]), 6)
    saves, passes = draw.choice([0.1, 0.3, 0.5, 0.75, 0.95]), draw.choice([1, 2, 3, 9])
    seen = draw.choice([0, 0, 20, 300])
    sent = round(seen * rework)
    back = draw.choice([0, sent])
    saved = round(back * draw.random())
    counted = (seen - sent, sent, 0, saved, back - saved)
    return station(good, rework, saves, passes, draw.choice([1, 3, 10, 30, 100]), counted, waiting, in_rework)


def _route(draw: random.Random) -> list[Station]:
    """Two to forty operations, 10 to 5,000 pieces all over them, or all at the first."""
    operations, pieces = draw.choice([2, 3, 5, 10, 20, 40]), draw.choice([10, 60, 180, 220, 300, 600, 1500, 5000])
    fresh = draw.random() < 0.3
    share = [draw.random() ** 3 for _ in range(operations)]
    waiting = [round(pieces * one / sum(share)) for one in share]
    if fresh:
        waiting = [pieces, *[0] * (operations - 1)]
    kind = draw.choice([None, 0.98, 0.995, 0.95])
    return [
        _station(draw, there, 0 if fresh else draw.choice([0, 0, 1, 4, there // 10]), kind or draw.choice([0.9, 0.97]))
        for there in waiting
    ]


def _large(rework: float) -> list[Station]:
    """5,000 pieces all over 40 operations, each yield from a guess of 30 pieces."""
    return [
        station(0.98, rework, 0.6, 2, 30, (0, 0, 0, 0, 0), 123 if rework else 125, 2 if rework else 0)
        for _ in range(40)
    ]


def _known(route: Sequence[Station]) -> tuple[tuple[WorkInProcess, ...], tuple[OperationBelief, ...]]:
    hand = tuple(WorkInProcess(at.waiting, at.in_rework) for at in route)
    beliefs = tuple(
        OperationBelief(Beta(*at.good), Beta(*at.sent), Beta(*at.saved))
        if at.sent[0] > 0
        else OperationBelief(Beta(*at.good))
        for at in route
    )
    return hand, beliefs


def _law(route: Sequence[Station]) -> GoodCountDistribution:
    return compute_good_count_distribution(0, *_known(route))


def _fresh(route: Sequence[Station]) -> Callable[[], GoodCountDistribution]:
    known = _known(route)

    def worked_out() -> GoodCountDistribution:
        compute_good_count_distribution.cache_clear()
        return compute_good_count_distribution(0, *known)

    return worked_out


def _off(law: GoodCountDistribution, chances: np.ndarray) -> float:
    """The greatest difference between the chances of at least so many good pieces."""
    size = max(len(chances), law.first + len(law.chances))
    seen, right = np.zeros(size), np.zeros(size)
    seen[law.first : law.first + len(law.chances)] = law.chances
    right[: len(chances)] = chances
    return float(np.abs(np.cumsum(seen - right)).max())
