"""Quality figures of a large batch: processor time of each, in milliseconds, best of several.

5,000 values of one characteristic, 3,000 loads with their counts, 1,000 subgroups of 5; the drift of 5,000 values with
60 measured loads that count. The first time of a drift has no chances kept from before.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable

from floor.figures.quality.capability import ToleranceLimits, compute_capability
from floor.figures.quality.control_charts import (
    Chart,
    compute_deviation_charts,
    compute_individuals_charts,
    compute_p_chart,
    compute_range_charts,
)
from floor.figures.quality.describe_values import describe_values
from floor.figures.quality.drift import MeasuredPiece, find_drift
from floor.figures.quality.intervals import compute_exact_interval
from floor.figures.quality.run_rules import NELSON, find_run_signals

TIMES = 5


def measure() -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): no ratios."""
    draw = random.Random(1)
    values = [10 + draw.gauss(0, 0.1) for _ in range(5000)]
    groups = [values[n : n + 5] for n in range(0, 5000, 5)]
    counts = [(sum(draw.random() < 0.03 for _ in range(12)), 12) for _ in range(3000)]
    life = [MeasuredPiece(n, value, n // 12) for n, value in enumerate(values)]
    limits = ToleranceLimits(9.5, 10.5)
    started = time.process_time()
    find_drift([life], limits, 5000)
    first = 1000 * (time.process_time() - started)
    return {}, {
        "quality_p_chart_ms": _best(lambda: _judge(compute_p_chart(counts))),
        "quality_individuals_ms": _best(lambda: _judge(compute_individuals_charts(values).location)),
        "quality_ranges_ms": _best(lambda: _judge(compute_range_charts(groups).location)),
        "quality_deviations_ms": _best(lambda: _judge(compute_deviation_charts(groups).location)),
        "quality_capability_ms": _best(lambda: compute_capability(values, limits, 0.1)),
        "quality_describe_ms": _best(lambda: describe_values(values)),
        "quality_interval_ms": _best(lambda: compute_exact_interval(150, 5000)),
        "quality_drift_first_ms": round(first, 1),
        "quality_drift_ms": _best(lambda: find_drift([life], limits, 5000)),
    }


def _judge(chart: Chart) -> object:
    """A chart is drawn with its run signals."""
    return find_run_signals([point.score for point in chart.points], NELSON)


def _best(do: Callable[[], object]) -> float:
    taken = []
    for _ in range(TIMES):
        started = time.process_time()
        do()
        taken.append(time.process_time() - started)
    return round(1000 * min(taken), 2)
