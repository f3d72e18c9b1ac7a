"""Figures of lessons: how far what was seen spreads, rounded to what can be told, written as the checklist does."""

from __future__ import annotations

import math
from collections.abc import Sequence

from floor.figures.quality.missing import Missing
from floor.figures.quality.spread import Spread, compute_spread, count_values_for_interval

FEWEST = count_values_for_interval()
"""Times, or tools, that a lesson takes: the interval of a median, by order statistics, needs as many."""

LEAST_CHANGE = 0.05
"""Share by which a time or tool life must differ: less changes no quote (shop decision)."""


def measure_spread(values: Sequence[float]) -> Spread:
    """Of one value at least."""
    found = compute_spread(values)
    assert not isinstance(found, Missing), "there is one value at least"
    return found


def round_sensibly(value: float, low: float, high: float) -> float:
    """Rounded to what the interval can tell: to the largest power of ten within half of it, to two or three digits."""
    if value <= 0:
        return 0.0
    size = math.floor(math.log10(value))
    known = math.floor(math.log10((high - low) / 2)) if high > low else size - 2
    return round(value, -min(max(known, size - 2), size - 1))


def format_number(number: float) -> str:
    """``12.4``, ``120``; never with an exponent."""
    return f"{number:.9f}".rstrip("0").rstrip(".")
