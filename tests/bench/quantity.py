"""Speed of the quantity figures: processor time, best of several, for the largest batch and a usual one."""

from __future__ import annotations

import time
from collections.abc import Callable

from floor.figures.forecast import WorkInProcess, compute_good_count_distribution
from floor.figures.route_yields import OperationYield
from floor.figures.start_at_estimated_yields import estimate_start_quantity
from floor.figures.start_at_known_yields import compute_start_quantity
from floor.figures.top_up import compute_top_up
from floor.figures.yields import YieldCounts, update_beliefs


def measure() -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): no ratios; start quantity of 5,000 pieces by 40 operations, its yields certain and estimated.

    Forecast of 120 pieces by 10 operations with rework; of 5,000 all over 40 operations, with the pieces to start.
    """
    route = [
        OperationYield(f"op {n}", 0.985, 0.01, 0.7, passes=2, back_to=max(0, n - 3) if n % 5 == 0 else None, tests=1)
        for n in range(40)
    ]
    small = [OperationYield(f"op {n}", 0.985, 0.008, 0.7, passes=2) for n in range(10)]
    beliefs = update_beliefs(small, [30] * 10, [YieldCounts(good=40, rework=1, scrap=1, saved=1)] * 10)
    in_hand = [WorkInProcess(waiting=30, rework=1) if n in (0, 2, 5, 7) else WorkInProcess() for n in range(10)]
    plain = [OperationYield(f"op {n}", 0.985) for n in range(40)]
    large, everywhere = update_beliefs(plain, [30] * 40, [YieldCounts()] * 40), [WorkInProcess(125)] * 40

    def outlook() -> None:
        compute_good_count_distribution.cache_clear()
        compute_top_up(3400, 0, everywhere, large, level=0.9, at=0, minutes=[1.0] * 40, most=5000)

    return {}, {
        "start_quantity_ms": best_ms(lambda: compute_start_quantity(5000, 0.95, route, lot=12)),
        "start_quantity_estimated_ms": best_ms(lambda: estimate_start_quantity(5000, 0.95, plain, [30] * 40, lot=12)),
        "forecast_ms": best_ms(lambda: compute_good_count_distribution.__wrapped__(0, tuple(in_hand), tuple(beliefs))),
        "outlook_large_s": best_ms(outlook, 1) / 1000,
    }


def best_ms(work: Callable[[], object], rounds: int = 7) -> float:
    """Least processor time of ``rounds`` calls, in milliseconds."""
    times = []
    for _ in range(rounds):
        started = time.process_time()
        work()
        times.append(time.process_time() - started)
    return 1000 * min(times)
