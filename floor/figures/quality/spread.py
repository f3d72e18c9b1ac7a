"""The middle of values, how far they spread, and how well it is known; whatever law they follow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median, quantiles

from floor.dataclass import dataclass
from floor.figures.distributions import binomial_pmf
from floor.figures.quality.intervals import Interval, require_confidence
from floor.figures.quality.missing import Missing, find_missing

FEWEST_FOR_QUARTILES = 4


@dataclass(frozen=True, slots=True)
class Spread:
    """In the unit of the values."""

    count: int
    median: float
    lower: float
    upper: float
    """Quartiles, between neighbors by their distance; the ends where there are fewer than 4 values."""
    interval: Interval | Missing
    """What holds the median of all that could come; too few values have none."""


def compute_spread(values: Sequence[float], confidence: float = 0.95) -> Spread | Missing:
    """Median, quartiles and the interval of the median."""
    missing = find_missing(values)
    if missing:
        return missing
    ordered = sorted(values)
    lower, upper = ordered[0], ordered[-1]
    if len(ordered) >= FEWEST_FOR_QUARTILES:
        lower, _, upper = quantiles(ordered, n=4, method="inclusive")
    return Spread(len(ordered), median(ordered), lower, upper, compute_median_interval(ordered, confidence))


def compute_median_interval(values: Sequence[float], confidence: float = 0.95) -> Interval | Missing:
    """From the k-th smallest value to the k-th largest, k as large as the confidence lets it be.

    Each value lies below the median with a chance of one half whatever their law is, so how many do is binomial. Holds
    the median at least as often as ``confidence`` says.

    Source: ISO 16269-7, median: estimation and confidence intervals (from memory).
    """
    require_confidence(confidence)
    count = len(values)
    if not count:
        return Missing.EMPTY
    below, cut = 0.0, 0
    while (below := below + binomial_pmf(cut, count, 0.5)) <= (1 - confidence) / 2:
        cut += 1
    if not cut:
        return Missing.TOO_FEW
    ordered = sorted(values)
    return Interval(ordered[cut - 1], ordered[count - cut])


def count_values_for_interval(confidence: float = 0.95) -> int:
    """The fewest values of which the median has an interval: 6 for 95 %."""
    require_confidence(confidence)
    return math.ceil(1 - math.log2(1 - confidence))
