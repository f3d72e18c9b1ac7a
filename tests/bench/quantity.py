"""Speed of the quantity figures: milliseconds, best of several, for the largest batch and a usual one."""

from __future__ import annotations

import time
from collections.abc import Callable

from floor.figures.forecast import InHand, forecast
from floor.figures.quantity import start_quantity
from floor.figures.route import OperationYield
from floor.figures.yields import Counted, learn


def measure() -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): no ratios; start quantity of 5,000 pieces by 40 operations, forecast of 120 by 10."""
    route = [
        OperationYield(f"op {n}", 0.985, 0.01, 0.7, passes=2, back_to=max(0, n - 3) if n % 5 == 0 else None, tests=1)
        for n in range(40)
    ]
    small = [OperationYield(f"op {n}", 0.985, 0.008, 0.7, passes=2) for n in range(10)]
    beliefs = learn(small, [30] * 10, [Counted(good=40, rework=1, scrap=1, saved=1)] * 10)
    in_hand = [InHand(waiting=30, rework=1) if n in (0, 2, 5, 7) else InHand() for n in range(10)]
    return {}, {
        "start_quantity_ms": best_ms(lambda: start_quantity(5000, 0.95, route, lot=12)),
        "forecast_ms": best_ms(lambda: forecast(102, 0, in_hand, beliefs)),
    }


def best_ms(work: Callable[[], object], rounds: int = 7) -> float:
    """Least time of ``rounds`` calls, in milliseconds."""
    times = []
    for _ in range(rounds):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return 1000 * min(times)
